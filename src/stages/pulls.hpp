// SPDX-License-Identifier: MIT
/// Points side by side, and how they pull at a rotation that lays some over others.
#pragma once

#include <array>
#include <span>

#include "trimtack/types.hpp"

namespace trimtack {

/// How points pull at the rotation (torques), and how far off they are (squared).
struct Pulls {
  static constexpr std::size_t kMost = 64;
  std::array<double, kMost> x, y, z, off;
};

/// Of r * p[i] at q[i]. @pre as many q as p, no more than there is room for.
void measure_pulls(const Mat3& r, std::span<const Vec3> p, std::span<const Vec3> q, Pulls& out);

}  // namespace trimtack
