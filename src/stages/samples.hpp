// SPDX-License-Identifier: MIT
/// A trim's surface as a few dozen weighted points.
#pragma once

#include <span>
#include <vector>

#include "trimtack/cloth.hpp"
#include "trimtack/mesh.hpp"
#include "trimtack/types.hpp"

namespace trimtack {

struct TrimSample {
  Vec3 point, normal;  ///< on the surface; outwards (unit) as far as the trim's volume tells
  double weight = 0;   ///< share of the trim's area
};

/// Scratch for sampling many trims; one per thread.
class TrimSampler {
 public:
  /// Samples of one trim, in an order that depends on geometry only. At most 6 (cells + 2)^3, in practice about
  /// 10 cells^2 / 4, whatever the number of triangles. One point when no triangle has an area, none without vertices.
  /// @param cells  cells along the longest side of the trim's box
  /// Method: triangles are bisected until none is longer than a cell, then merged per cell and main direction of their
  /// normals, so that neither the triangulation nor its order matters beyond rounding.
  std::span<const TrimSample> sample(std::span<const Vec3> vertices, std::span<const Tri> triangles, Index cells);
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

/// Samples trim t as finely as it deserves: 6 cells, 4 for tiny trims, 3 for stitches.
std::span<const TrimSample> sample_trim(TrimSampler& sampler, const TrimShapes& trims, Index t, double mm_per_unit);

}  // namespace trimtack
