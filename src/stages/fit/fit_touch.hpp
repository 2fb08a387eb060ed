// SPDX-License-Identifier: MIT
/// Which sheet of cloth a trim really lies on, when that is not the one it follows.
#pragma once

#include <span>
#include <vector>

#include "trimtack/fit.hpp"

namespace trimtack {

inline Vec3 triangle_normal(const ClothMesh& cloth, Index t) {
  const Tri& v = cloth.triangles.triangles[t];
  return normalized(
      cross(cloth.positions[v[1]] - cloth.positions[v[0]], cloth.positions[v[2]] - cloth.positions[v[0]]));
}

/// The sheet that lies nearer to most of a footprint than its own does.
struct Touched {
  Index component = kNone;
  std::vector<FootprintPoint> feet;
  double gap = 0;      ///< mean height of the feet over it; negative: they are sunk in it
  double own_gap = 0;  ///< mean height of the same over the trim's own cloth
};

/// @param feet  the solver's footprint of the trim that `place` belongs to
/// @param stack, found  scratch
/// @return component kNone when the trim lies on its own layer. Cost: one query of the tree, feet x triangles near.
Touched touched_layer(const FitModel& model, const FitPlace& place, std::span<const FootprintPoint> feet,
                      std::vector<Index>& stack, std::vector<Index>& found);

}  // namespace trimtack
