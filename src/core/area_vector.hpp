// SPDX-License-Identifier: MIT
/// Area and direction of a polygon in one vector.
#pragma once

#include <span>

#include "trimtack/types.hpp"

namespace trimtack {

/// Twice the area along the normal of a polygon, summed over the triangles of its fan from the first corner; zero for
/// fewer than three corners. Cost: linear in the corners.
inline Vec3 area_vector(std::span<const Vec3> positions, std::span<const Index> corners) {
  Vec3 n;
  for (std::size_t k = 1; k + 1 < corners.size(); ++k) {
    const Vec3& o = positions[corners[0]];
    n += cross(positions[corners[k]] - o, positions[corners[k + 1]] - o);
  }
  return n;
}

}  // namespace trimtack
