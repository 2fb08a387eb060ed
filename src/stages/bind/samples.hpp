// SPDX-License-Identifier: MIT
/// A trim's surface as a few dozen weighted points.
#pragma once

#include <map>
#include <span>
#include <vector>

#include "stages/find/copies.hpp"
#include "trimtack/cloth.hpp"
#include "trimtack/mesh.hpp"
#include "trimtack/types.hpp"

namespace trimtack {

struct TrimSample {
  Vec3 point, normal;  ///< on the surface; outwards (unit) as far as the trim's volume tells
  double weight = 0;   ///< share of the trim's area
};

/// Which trims are copies of one shape: the first trim of every prototype stands for all that fit its vertices moved by
/// their placements.
class SharedShapes {
 public:
  explicit SharedShapes(const TrimShapes& trims);  ///< Cost: linear in the trims. Keeps no reference.
  /// The trim whose samples serve for t, if they fit; t itself when there is no such copy.
  Index model_of(Index t) const { return model_[t]; }
  bool has_copies(Index t) const { return has_copies_[t] != 0; }  ///< another trim has t for its model

 private:
  std::vector<Index> model_;
  std::vector<std::uint8_t> has_copies_;
};

/// Scratch for sampling many trims; one per thread.
class TrimSampler {
 public:
  /// Samples of one trim, in an order that depends on geometry only; in practice about 10 cells^2 / 4, whatever the
  /// number of triangles, and never more than cells and directions allow. One point when no triangle has an area, none
  /// without vertices.
  /// @param cells  cells along the longest side of the trim's box
  /// Method: triangles are bisected until none is longer than a cell, then merged per cell, main direction of their
  /// normals and distance of their planes (thin parts have two faces that look one way in a cell), so that neither the
  /// triangulation nor its order matters beyond rounding.
  std::span<const TrimSample> sample(std::span<const Vec3> vertices, std::span<const Tri> triangles, Index cells);
  /// The samples of `shared`, moved; the sampler then describes the moved trim with these vertices.
  std::span<const TrimSample> move(const TrimSampler& shared, const Pose& motion, std::span<const Vec3> vertices);
  void forget_scratch() { slot_of_ = {}, sums_ = {}; }  ///< only the samples are kept
  std::span<const TrimSample> samples() const { return samples_; }
  const Box& box() const { return box_; }
  double size() const { return size_; }               ///< diagonal of the box
  double cell() const { return cell_; }               ///< samples are merged per cube of this edge
  const Vec3& centroid() const { return centroid_; }  ///< of the surface

 private:
  struct Sum {
    Vec3 moment, area_vector;
    double area = 0;
    Index key = 0;
  };
  std::span<const TrimSample> single_point(std::span<const Vec3> vertices);
  void add_piece(const Vec3& a, const Vec3& b, const Vec3& c);

  Box box_;
  double size_ = 0, cell_ = 0;
  Index cells_ = 0;
  Vec3 centroid_;
  std::vector<Index> slot_of_;
  std::vector<Sum> sums_;
  std::vector<TrimSample> samples_;
};

/// Trims smaller than this across (diagonal of the box) are tiny: sampled coarser, and bound with less cloth.
inline constexpr double kTinyTrimMm = 8;

/// Samples trim t as finely as it deserves: 6 cells, 3 for tiny trims and stitches.
std::span<const TrimSample> sample_trim(TrimSampler& sampler, const TrimShapes& trims, Index t, double mm_per_unit);

/// Samples many trims, each shape once; one per thread.
class ShapeSampler {
 public:
  /// As sample_trim, but a copy of a shape gets the samples of its model, moved. @return the sampler that describes t
  const TrimSampler& sample(const SharedShapes& shared, const TrimShapes& trims, Index t, double mm_per_unit);

 private:
  TrimSampler own_;
  std::map<Index, TrimSampler> models_;  ///< by trim
};

}  // namespace trimtack
