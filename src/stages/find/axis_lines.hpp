// SPDX-License-Identifier: MIT
/// Lines along an axis and beside it, since what lies on the axis may have a hole there. Private to the search for
/// trims.
#pragma once

#include <array>
#include <cmath>
#include <cstddef>
#include <numbers>

#include "trimtack/types.hpp"

namespace trimtack {

constexpr std::size_t kRays = 7;       ///< the axis and six lines around it
constexpr double kRingOfLines = 0.35;  ///< how far these lie beside it, of the part's diameter

/// Where the lines lie beside the axis, in rings.
using Lines = std::array<std::array<double, 2>, kRays>;
inline Lines lines_beside() {
  Lines lines{};
  for (std::size_t ray = 1; ray < kRays; ++ray) {
    const double angle = std::numbers::pi / 3 * static_cast<double>(ray) + 0.1;
    lines[ray] = {std::cos(angle), std::sin(angle)};
  }
  return lines;
}

/// fn(line, place along the axis, whether the triangle looks against it) where a triangle meets the lines.
/// @param ring  distance of the lines from the axis
/// @param t     in the lines' frame: beside the axis, beside it, along it
template <class Fn>
void each_crossing(double ring, const Lines& lines, const std::array<Vec3, 3>& t, Fn&& fn) {
  const double area = (t[1].x - t[0].x) * (t[2].y - t[0].y) - (t[1].y - t[0].y) * (t[2].x - t[0].x);
  if (!(std::abs(area) > 0)) return;
  for (std::size_t ray = 0; ray < kRays; ++ray) {
    const double x = ring * lines[ray][0];
    const double y = ring * lines[ray][1];
    std::array<double, 3> w{};
    bool inside = true;
    for (std::size_t i = 0; i < 3 && inside; ++i) {
      const Vec3& p = t[(i + 1) % 3];
      const Vec3& q = t[(i + 2) % 3];
      w[i] = ((p.x - x) * (q.y - y) - (p.y - y) * (q.x - x)) / area;
      inside = w[i] >= -1e-9;
    }
    if (!inside) continue;
    const double at = w[0] * t[0].z + w[1] * t[1].z + w[2] * t[2].z;
    fn(ray, at, area < 0);
  }
}

}  // namespace trimtack
