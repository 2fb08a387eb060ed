// SPDX-License-Identifier: MIT
/// Which layer of the cloth carries a trim, where it stands on it, and with which part of itself.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "stages/bind/cloth_topology.hpp"
#include "stages/bind/samples.hpp"
#include "trimtack/cloth_index.hpp"
#include "trimtack/footprint.hpp"
#include "trimtack/types.hpp"

namespace trimtack {

/// Where one sheet of cloth carries the trim; the shares of all feet sum to 1.
struct Foot {
  Surface surface;
  double share = 1;
};

/// How a trim stands on the cloth.
struct Standing {
  std::vector<Foot> feet;                 ///< one; more where the trim bridges panels; none: there is no cloth
  std::vector<FootprintPoint> footprint;  ///< weights sum to 1
  Index layer = kNone, runner_up = kNone;
  double gap = 0;  ///< mean of side * distance over the footprint
  bool two_sided = false, same_cloth_contest = false, layer_missing = false;
};

/// What the caller already knows about the layer.
struct LayerWish {
  Index component = kNone;  ///< must be this component
  Index face = kNone;       ///< must be the sheet round this face
  bool one_sheet = false;   ///< no bridge between panels
};

/// The cloth under a footprint as a whole (at the foot itself may be the edge of a hole).
struct Ground {
  Vec3 foot, normal;  ///< the normal towards the trim; zero where the cloth has none
};
Ground ground_under(const Standing& standing, const ClothTopology& topology);

/// Scratch for finding the layers of many trims; one per thread.
class LayerFinder {
 public:
  LayerFinder(const ClothIndex& index, const ClothTopology& topology, double mm_per_unit);

  /// Cost: one nearest-point query a sample, plus samples x local triangles where several sheets are near.
  /// Ties: sheets that touch equally go to the one whose face side the trim lies on, then by position.
  /// @return overwritten by the next call
  /// @param shape  a sampler that has just sampled the trim
  const Standing& find(const TrimSampler& shape, const LayerWish& wish);

 private:
  /// One sample as seen from one sheet.
  struct View {
    Surface surface;
    Vec3 normal;           ///< of the cloth there
    double height = 0;     ///< signed along the sheet's normal
    bool covered = false;  ///< the sheet lies under the sample, not beside it
    bool over = false;     ///< the same, more strictly
  };
  /// One sample as seen from the cloth that carries it.
  struct Facing {
    const View* view;
    double side;         ///< of the cloth that it is on: 1 or -1
    double facing;       ///< how squarely it looks at the cloth
    std::size_t column;  ///< of the columns along the cloth's normal, apart for the two sides
    bool looks = false;  ///< at the cloth, by its winding
    bool kept = false;   ///< for the footprint
    bool in_middle = false;
    double above() const { return side * view->height; }
  };
  struct Sheet {
    Index seed = kNone;  ///< face
    Vec3 normal;         ///< of the seed
    std::vector<Index> faces;
    std::vector<View> views;  ///< one per sample
    double contact = 0, cover = 0, nearest = 0, mean_height = 0;
  };

  bool collect_local(const Box& box, double reach, Index component);
  void flood(Index seed, Sheet& sheet);
  void add_sheet(Index face);
  void find_sheets(const LayerWish& wish);
  void look(std::span<const TrimSample> samples, double size, Sheet& sheet) const;
  Surface closest_on(const Sheet& sheet, const Vec3& p) const;
  std::size_t pick(const Vec3& centroid, const LayerWish& wish) const;
  std::vector<std::size_t> bridged(std::span<const TrimSample> samples, std::size_t chosen, double size) const;
  Vec3 look_from(std::span<const TrimSample> samples, std::span<const std::size_t> carriers, double size,
                 Standing& out);
  void make_footprint(std::span<const TrimSample> samples, std::span<const std::size_t> carriers,
                      const TrimSampler& shape, Standing& out);
  Index layer_beneath(Standing& standing);
  void make_feet(std::span<const std::size_t> carriers, double size, Standing& out) const;

  const ClothIndex* index_;
  const ClothTopology* topology_;
  double mm_;  ///< one millimetre in file units
  Box cloth_box_;
  std::vector<std::uint8_t> local_;  ///< per face: 0 elsewhere, 1 near, 2 taken by a sheet
  std::vector<Index> local_faces_, triangles_;
  Index floods_ = 0;
  std::vector<Index> exhausted_;  ///< per welded vertex: the flood that has nothing more to take round it
  std::size_t left_ = 0;          ///< near faces that no sheet has taken yet
  std::vector<std::size_t> order_;
  std::vector<Vec3> queries_;
  std::vector<Surface> nearest_;
  std::vector<Sheet> sheets_;
  std::vector<Sheet> spare_;    ///< emptied ones, for their memory
  std::vector<Facing> facing_;  ///< one per sample
  Vec3 middle_;                 ///< of what faces the cloth
  Standing standing_;
};

/// Unit normal of the cloth at a place, blended from the vertex normals on the side of the face's own.
Vec3 smooth_normal(const ClothTopology& topology, const Surface& surface);

}  // namespace trimtack
