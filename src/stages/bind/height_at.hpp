// SPDX-License-Identifier: MIT
/// A triangle as a height field over the plane z = 0.
#pragma once

#include <array>

#include "trimtack/types.hpp"

namespace trimtack {

/// The place straight above or below (x, y) in a triangle. @param area2  twice its area in the plane, not 0
/// @return false beside it, but for a slack so that a point on a shared edge is not lost to rounding
inline bool hit_triangle(const Vec3& a, const Vec3& b, const Vec3& c, double area2, double x, double y,
                         std::array<double, 3>& bary) {
  constexpr double kInside = -1e-9;
  bary[0] = ((b.x - x) * (c.y - y) - (c.x - x) * (b.y - y)) / area2;
  bary[1] = ((c.x - x) * (a.y - y) - (a.x - x) * (c.y - y)) / area2;
  bary[2] = 1 - bary[0] - bary[1];
  return bary[0] >= kInside && bary[1] >= kInside && bary[2] >= kInside;
}

/// Height of a triangle straight above or below (x, y). @return false beside it, or when it stands on edge
inline bool height_at(const std::array<Vec3, 3>& triangle, double x, double y, double& z, std::array<double, 3>& bary) {
  const auto& [a, b, c] = triangle;
  const double area2 = (b.x - a.x) * (c.y - a.y) - (c.x - a.x) * (b.y - a.y);
  if (area2 == 0 || !hit_triangle(a, b, c, area2, x, y, bary)) return false;
  z = bary[0] * a.z + bary[1] * b.z + bary[2] * c.z;
  return true;
}

inline bool height_at(const std::array<Vec3, 3>& triangle, double x, double y, double& z) {
  std::array<double, 3> bary{};
  return height_at(triangle, x, y, z, bary);
}

}  // namespace trimtack
