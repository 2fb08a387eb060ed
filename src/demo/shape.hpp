// SPDX-License-Identifier: MIT
/// The invisible wearer of the demo coat, and small helpers of the pattern cutter. Millimetres, Y up, the wearer looks
/// along +Z, +X is the wearer's left.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <functional>
#include <numbers>
#include <span>
#include <vector>

#include "trimtack/types.hpp"

namespace trimtack::coat {

/// SplitMix64 (Steele, Lea and Flood 2014): the same numbers from every compiler and standard library.
struct Random {
  std::uint64_t state = 1;
  std::uint64_t next() {
    state += 0x9e3779b97f4a7c15ULL;
    std::uint64_t z = state;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ULL;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebULL;
    return z ^ (z >> 31);
  }
  double uniform() { return static_cast<double>(next() >> 11) * 0x1p-53; }  ///< in [0, 1)
  double between(double low, double high) { return low + (high - low) * uniform(); }
};

/// 0 before `from`, 1 after `to` (either may be the larger), with flat ends in between.
inline double ramp(double from, double to, double x) {
  const double t = std::clamp((x - from) / (to - from), 0.0, 1.0);
  return t * t * (3 - 2 * t);
}
inline double mix(double a, double b, double t) { return a + (b - a) * t; }
inline Vec2 mix(const Vec2& a, const Vec2& b, double t) { return {mix(a.x, b.x, t), mix(a.y, b.y, t)}; }
inline Vec3 mix(const Vec3& a, const Vec3& b, double t) { return a + t * (b - a); }
/// Rotates v about the unit vector `axis`.
Vec3 turned(const Vec3& v, const Vec3& axis, double angle_rad);

enum class Half : std::uint8_t { Front, Back };

/// The coat's body as a surface over pattern coordinates: p.x runs around the chest from the centre line (positive to
/// the wearer's left), p.y up along the cloth. Below the chest line it hangs straight (an elliptic cylinder, slightly
/// flared); above it bends over to the shoulder line.
struct Body {
  double half_width = 240, front_depth = 130, back_depth = 122;
  double chest_line = 1290, hem = 815;
  double fold_phase = 0;                        ///< radians, from the seed
  std::vector<double> front_angle, back_angle;  ///< ellipse angle by equal arc length
  double front_quarter = 0, back_quarter = 0;   ///< quarter perimeters in mm

  double quarter(Half half) const { return half == Half::Front ? front_quarter : back_quarter; }
  /// Length of the cloth from the chest line to the shoulder line at pattern x, roughly.
  double rise(Half half, double x) const;
  Vec3 point(Half half, const Vec2& p) const;
  Vec3 normal(Half half, const Vec2& p) const;  ///< outwards
  Vec3 offset(Half half, const Vec2& p, double height) const { return point(half, p) + height * normal(half, p); }
};
Body make_body(std::uint64_t seed);

/// A smooth curve through four control points (cubic Bezier).
Vec2 bezier(const Vec2& a, const Vec2& b, const Vec2& c, const Vec2& d, double t);
Vec3 bezier(const Vec3& a, const Vec3& b, const Vec3& c, const Vec3& d, double t);

/// `segments` + 1 points of a polyline in the pattern, at equal lengths on the lifted curve.
std::vector<Vec2> resample(std::span<const Vec2> line, int segments, const std::function<Vec3(Vec2)>& lift);

}  // namespace trimtack::coat
