// SPDX-License-Identifier: MIT
/// Closest point on a triangle, for every shape of triangle including none.
#pragma once

#include <algorithm>
#include <array>

#include "trimtack/types.hpp"

namespace trimtack {

struct TrianglePoint {
  std::array<double, 3> bary{1, 0, 0};
  Vec3 offset;  ///< from the query to the closest point
  double squared_distance = 0;
};

namespace detail {

/// Closest point to the origin on segment a-b; weight of b.
inline double segment_weight(const Vec3& a, const Vec3& b) {
  const Vec3 ab = b - a;
  const double squared = dot(ab, ab);
  return squared > 0 ? std::clamp(-dot(a, ab) / squared, 0.0, 1.0) : 0.0;
}

inline TrianglePoint on_weights(const Vec3& a, const Vec3& b, const Vec3& c, const std::array<double, 3>& w) {
  TrianglePoint out;
  out.bary = w;
  // Summed from one corner, so that equal corners give that corner to the bit.
  out.offset = a + w[1] * (b - a) + w[2] * (c - a);
  out.squared_distance = squared_length(out.offset);
  return out;
}

/// The best of the three edges: right for collinear, repeated and needle corners too.
inline TrianglePoint closest_on_edges(const Vec3& a, const Vec3& b, const Vec3& c) {
  const double t0 = segment_weight(a, b), t1 = segment_weight(b, c), t2 = segment_weight(c, a);
  TrianglePoint best = on_weights(a, b, c, {1 - t0, t0, 0});
  for (const TrianglePoint& other : {on_weights(a, b, c, {0, 1 - t1, t1}), on_weights(a, b, c, {t2, 0, 1 - t2})})
    if (other.squared_distance < best.squared_distance) best = other;
  return best;
}

}  // namespace detail

/// Closest point of triangle abc to the ORIGIN (pass corners relative to the query: no digits are lost far away).
/// Weights are >= 0 and sum to 1. Method: the seven regions of Ericson, Real-Time Collision Detection (2005),
/// section 5.1.5, with every division guarded and needles handed to their edges.
inline TrianglePoint closest_on_triangle(const Vec3& a, const Vec3& b, const Vec3& c) {
  const Vec3 ab = b - a, ac = c - a;
  const double d1 = -dot(ab, a), d2 = -dot(ac, a);
  if (d1 <= 0 && d2 <= 0) return detail::on_weights(a, b, c, {1, 0, 0});
  const double d3 = -dot(ab, b), d4 = -dot(ac, b);
  if (d3 >= 0 && d4 <= d3) return detail::on_weights(a, b, c, {0, 1, 0});
  const double d5 = -dot(ab, c), d6 = -dot(ac, c);
  if (d6 >= 0 && d5 <= d6) return detail::on_weights(a, b, c, {0, 0, 1});
  const double vc = d1 * d4 - d3 * d2, vb = d5 * d2 - d1 * d6, va = d3 * d6 - d5 * d4;
  if (vc <= 0 && d1 >= 0 && d3 <= 0 && d1 - d3 > 0) {
    const double t = d1 / (d1 - d3);
    return detail::on_weights(a, b, c, {1 - t, t, 0});
  }
  if (vb <= 0 && d2 >= 0 && d6 <= 0 && d2 - d6 > 0) {
    const double t = d2 / (d2 - d6);
    return detail::on_weights(a, b, c, {1 - t, 0, t});
  }
  if (va <= 0 && d4 - d3 >= 0 && d5 - d6 >= 0 && (d4 - d3) + (d5 - d6) > 0) {
    const double t = (d4 - d3) / ((d4 - d3) + (d5 - d6));
    return detail::on_weights(a, b, c, {0, 1 - t, t});
  }
  const double sum = va + vb + vc, edge = std::max(squared_length(ab), squared_length(ac));
  // sum is the squared double area. Below this ratio of height to edge (1e-7) it is mostly rounding.
  if (!(sum > 1e-14 * edge * edge)) return detail::closest_on_edges(a, b, c);
  const double v = vb / sum, w = vc / sum;
  return detail::on_weights(a, b, c, {1 - v - w, v, w});
}

}  // namespace trimtack
