// SPDX-License-Identifier: MIT
/// Cloth as slender as a cord that runs through a trim lying on other cloth: a stopper, a bead, a slide on its strap.
#pragma once

#include <span>
#include <vector>

#include "stages/bind/layer.hpp"
#include "trimtack/report.hpp"
#include "trimtack/table.hpp"

namespace trimtack {

struct Cord {
  Index component = kNone;  ///< of the cloth that runs through the trim; kNone: none does
  Index lies_on = kNone;    ///< component of the cloth that the trim lies on
  bool carries = false;     ///< the trim does not touch what it lies on, so that the cord alone can hold it
};

/// Scratch for looking for many cords; one per thread.
class CordFinder {
 public:
  CordFinder(const ClothIndex& index, const ClothTopology& topology, double mm_per_unit)
      : index_(&index), topology_(&topology), mm_(1 / mm_per_unit) {}

  /// @param vertices  of the trim that `shape` has just sampled    @param standing  on one sheet, from one side
  /// Cost: a look at the triangles within the trim's box; where some are of other components, linear in the vertices.
  Cord find(std::span<const Vec3> vertices, const TrimSampler& shape, const Standing& standing);

 private:
  bool lies_on_one_side(std::span<const Vec3> vertices, const Standing& standing, double size);
  bool gather_piece(Index component);
  bool runs_through(std::span<const Vec3> vertices) const;

  const ClothIndex* index_;
  const ClothTopology* topology_;
  double mm_;  ///< one millimetre in file units
  Vec3 foot_, n_;
  std::vector<Index> triangles_, components_;
  std::vector<Vec3> piece_;  ///< of the component at hand, about the trim
};

/// Says which cloth runs through the trim, and what to do where both may hold it.
void note_cord(const Cord& cord, Binding& binding, Report& report);

}  // namespace trimtack
