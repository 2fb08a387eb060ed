// SPDX-License-Identifier: MIT
/// Trims that run into one another.
#pragma once

#include <algorithm>
#include <array>
#include <limits>
#include <span>
#include <vector>

#include "stages/bind/box_tree.hpp"
#include "stages/find/copies.hpp"
#include "trimtack/cloth.hpp"
#include "trimtack/parallel.hpp"

namespace trimtack {

inline std::span<const Tri> triangles_of(const TrimShapes& trims, std::size_t t) {
  return {trims.triangles.data() + trims.triangle_offsets[t], trims.triangles.data() + trims.triangle_offsets[t + 1]};
}

inline std::array<Vec3, 3> corners(std::span<const Vec3> vertices, const Tri& t) {
  return {vertices[t[0]], vertices[t[1]], vertices[t[2]]};
}

inline Box box_of(const std::array<Vec3, 3>& t) { return box_of(t[0], t[1], t[2]); }

/// Of points along a direction.
struct Extent {
  double low = std::numeric_limits<double>::infinity(), high = -std::numeric_limits<double>::infinity();
};

inline Extent extent(std::span<const Vec3> points, const Vec3& direction) {
  Extent e;
  for (const Vec3& p : points) {
    const double d = dot(p, direction);
    e.low = std::min(e.low, d), e.high = std::max(e.high, d);
  }
  return e;
}

/// Two trims (of TrimShapes, first < second) that have run into one another.
struct TrimContact {
  Index first = kNone, second = kNone;
  double depth = 0;  ///< beyond what they shared at rest, file units
};

/// Pairs in ascending order. `boxes` holds each trim's posed box. Stitching is left out.
std::vector<TrimContact> measure_collisions(const TrimShapes& trims, std::span<const Box> boxes,
                                            std::span<const Pose> poses, const Executor& executor);

}  // namespace trimtack
