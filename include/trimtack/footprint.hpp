// SPDX-License-Identifier: MIT
/// Which part of a trim faces which cloth, as weighted points.
#pragma once

#include <span>
#include <vector>

#include "trimtack/cloth.hpp"
#include "trimtack/cloth_index.hpp"
#include "trimtack/parallel.hpp"
#include "trimtack/table.hpp"

namespace trimtack {

/// One point of a trim's underside and the cloth that it faces.
struct FootprintPoint {
  Vec3 point;           ///< on the trim, rest coordinates of the combined export
  double weight = 0;    ///< share of the footprint; the weights of one trim sum to 1
  Surface surface;      ///< the nearest point of the carrying layer at rest (triangle of the cloth, weights)
  double distance = 0;  ///< signed along the layer's normal at `surface`: negative = under the cloth's face
  double side = 1;      ///< 1: this part of the trim lies on the face side, -1: on the back; gap = side * distance
};

/// Points [offsets[t], offsets[t + 1]) belong to trim t of the TrimShapes they were made from. A trim that has no
/// area or no cloth has none.
struct Footprints {
  std::vector<Index> offsets{0};
  std::vector<FootprintPoint> points;
  std::span<const FootprintPoint> of(Index trim) const {
    return {points.data() + offsets[trim], offsets[trim + 1] - offsets[trim]};
  }
};

/// The footprint of every trim on the layer that its binding stands on (the sheet around the binding's anchor).
/// Two-sided parts have points on both faces, with distances of both signs; their weights count both.
/// @param table  one binding per trim of `trims`, in the same order
/// Cost: O(#triangles of the trims) + a few dozen nearest-point queries per trim.
/// Threads: same bytes for any executor. Ties: by geometry, then index.
Footprints find_footprints(const ClothIndex& cloth, const TrimShapes& trims, const BindTable& table,
                           const Executor& executor = {});

}  // namespace trimtack
