// SPDX-License-Identifier: MIT
/// Rigid parts that are long for the bend under them.
#pragma once

#include <span>

#include "trimtack/types.hpp"

namespace trimtack {

/// Length of a trim along its layer: its longest extent across `normal`, found by walking twice to the farthest point
/// (at worst 13 % short for a round trim seen at an odd angle, exact for long ones). Cost: linear.
double length_along(std::span<const Vec3> points, const Vec3& normal);

}  // namespace trimtack
