// SPDX-License-Identifier: MIT
/// How points pull at a rotation that lays some over others.
#pragma once

#include <span>

#include "trimtack/types.hpp"

namespace trimtack {

/// The largest squared distance of q[i] from r * p[i]; adds the torques of all to `torque`, in their order, when given.
/// Gives up when a distance exceeds `far`, and returns one that does.
double pull_at(const Mat3& r, std::span<const Vec3> p, std::span<const Vec3> q, double far, Vec3* torque);

}  // namespace trimtack
