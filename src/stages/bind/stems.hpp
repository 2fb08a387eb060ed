// SPDX-License-Identifier: MIT
/// What of a trim goes on beyond the cloth that the rest of it lies on: a shank, thread, a prong.
#pragma once

#include <array>
#include <span>
#include <vector>

#include "stages/bind/layer.hpp"
#include "trimtack/report.hpp"
#include "trimtack/table.hpp"

namespace trimtack {

/// Where a trim's stem ends.
struct Stem {
  Index face = kNone;     ///< of the next cloth, which it ends at or goes through; kNone: there is none
  Index lies_on = kNone;  ///< component of the cloth that the trim lies on
  bool opening = false;   ///< it passes an opening of that cloth (a buttonhole), else it pierces it
};

/// Scratch for looking for many stems; one per thread.
class StemFinder {
 public:
  StemFinder(const ClothIndex& index, const ClothTopology& topology, double mm_per_unit)
      : index_(&index), topology_(&topology), mm_(1 / mm_per_unit) {}

  /// @param vertices  of the trim that `shape` has just sampled    @param standing  on one sheet, from one side
  /// Cost: linear in the vertices where the trim's box reaches beyond the cloth, else none; where a vertex does, a look
  /// at the triangles near the trim.
  Stem find(std::span<const Vec3> vertices, const TrimSampler& shape, const Standing& standing);

 private:
  bool find_tips(std::span<const Vec3> vertices, const TrimSampler& shape, const Standing& standing);
  void gather_cloth(const Box& box);
  double level_at(double x, double y) const;
  bool lies_at(double x, double y) const;
  Index next_cloth(const Vec3& tip, Index but) const;
  bool lies_all_round(double radius) const;

  /// A triangle in the coordinates of the foot, z away from the cloth.
  struct Near {
    std::array<Vec3, 3> corner;
    Index triangle = kNone;
  };
  const ClothIndex* index_;
  const ClothTopology* topology_;
  double mm_;  ///< one millimetre in file units
  Vec3 foot_, u_, v_, n_;
  double lowest_ = 0;       ///< height of its deepest vertex
  std::vector<Vec3> tips_;  ///< its farthest vertices beyond the cloth
  std::vector<Index> triangles_;
  std::vector<Near> near_;
};

/// Says what the stem tells of the layers: it is sewn to the cloth beyond an opening; where it pierces both it is sewn
/// to both, or to the one beneath and buttoned through.
void note_stem(const Stem& stem, const ClothMesh& cloth, Binding& binding, Report& report);

}  // namespace trimtack
