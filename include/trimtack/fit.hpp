// SPDX-License-Identifier: MIT
/// Measures of fit: how every trim sits on the deformed cloth, held against limits.
#pragma once

#include <array>
#include <memory>
#include <span>
#include <vector>

#include "trimtack/cloth.hpp"
#include "trimtack/fit_result.hpp"
#include "trimtack/follow.hpp"
#include "trimtack/footprint.hpp"
#include "trimtack/parallel.hpp"
#include "trimtack/table.hpp"

namespace trimtack {

struct BoxTree;  // private to the stages

/// A trim's own place on its cloth at rest. Coordinates are those of the place: origin in the middle of the footprint,
/// z along the layer's normal away from the cloth. Point and triangle ranges refer to FitModel.
struct FitPlace {
  Pose to_place;  ///< rest coordinates -> place
  Index first_point = 0, point_count = 0;
  Index first_vertex = 0, vertex_count = 0;      ///< cloth vertices of the patch under and around the footprint
  Index first_triangle = 0, triangle_count = 0;  ///< its triangles, with vertex numbers local to the place
  Index first_under = 0, under_count = 0;        ///< those the footprint stands on
  Index first_clamp = 0, clamp_count = 0;        ///< where it clamps other cloth, by component and sheet
  Index first_within = 0, within_count = 0;      ///< other cloth within its extents at rest, by component
  Index layer = kNone;                           ///< component of the cloth it follows
  Index touched = kNone;                         ///< component it lies on, when another; see touched_place
  double sunk_through = 0;                       ///< depth through its own layer where it lies on the next
  Index touched_place = kNone;                   ///< FitModel::places entry of the patch of that component
  Index first_watch = 0, watch_count = 0;        ///< where other cloth lay over or beneath it at rest
  Box trim, around;                              ///< the trim, and where cloth near it is watched; place coordinates
  Vec3 axis;                                     ///< the trim's own axis in place coordinates
  Vec3 rest_normal;                              ///< layer's normal under the footprint, place coordinates
  double rest_gap_mean = 0;
  double lift_below = 0;         ///< points with a larger rest gap stand off by design and do not count as lifted
  double mean_below = 0;         ///< ... nor in means of gaps; differs where the trim is sunk in
  double width = 0, narrow = 0;  ///< of the footprint
  double edge = 0;               ///< median cloth edge under it
  double sliver = 0;  ///< longest edge over height of the thinnest triangle under the footprint's inner circle
};

/// All that does not change from frame to frame. Lengths in file units.
struct FitModel {
  const ClothMesh* cloth = nullptr;
  const TrimShapes* trims = nullptr;
  const BindTable* table = nullptr;
  double mm_per_unit = 1;
  std::vector<FitPlace> places;     ///< one per trim, then the patches of touched layers
  std::vector<Vec3> point;          ///< footprint points in place coordinates
  std::vector<double> weight;       ///< normalised: sum 1 per place
  std::vector<std::int8_t> side;    ///< +1: the trim is above the cloth there (along z), -1: beneath
  std::vector<std::int8_t> facing;  ///< of the rest triangle it faces: +1 along z, -1 against
  std::vector<double> rest_gap;
  std::vector<Index> vertex;  ///< cloth vertex of each patch vertex
  std::vector<Vec2> rest_xy;  ///< the same in place coordinates
  /// Weight of each patch vertex in where the cloth is at the place's origin and how it slopes there along x and y, by
  /// a quadratic through the patch; all 0 where the patch determines none.
  std::vector<std::array<double, 3>> bent;
  std::vector<Tri> triangle;  ///< local vertex numbers
  std::vector<Index> source_triangle;
  std::vector<std::int8_t> rest_facing;  ///< per triangle: +1 / -1 along / against z at rest, 0: edge-on
  struct Under {
    Index triangle = 0;               ///< of FitModel::triangle, counted from the place's first
    double weight = 0;                ///< share of the footprint, sum 1
    std::array<double, 4> to_rest{};  ///< inverse of the rest edges in the triangle's own tangent basis
    double rest_area = 0;
  };
  std::vector<Under> under;
  /// Two places of the cloth on one line through a trim that clamps both, the one on the sheet that it follows.
  struct Clamp {
    Tri own{}, other{};  ///< cloth vertices
    std::array<double, 3> own_bary{}, other_bary{};
    Vec3 apart;       ///< from the one to the other at rest
    Index sheet = 0;  ///< of that component; 0: the next one to its own
    Index component = kNone;
  };
  std::vector<Clamp> clamp;
  /// Cloth outside its patch that lay within a trim's extents at rest, and how deep it ran into the trim there.
  struct Within {
    Index component = kNone;
    double depth = 0;
  };
  std::vector<Within> within;
  /// A place of cloth that lay over (+1) or beneath (-1) a trim at rest.
  struct Watch {
    Tri corners{};  ///< cloth vertices
    std::array<double, 3> bary{};
    std::int8_t side = 1;
    Index component = kNone;
  };
  std::vector<Watch> watch;
  std::vector<Index> next_in_row;       ///< per trim, kNone at the end
  std::shared_ptr<const BoxTree> tree;  ///< of the whole cloth at rest
};

struct FitOptions {
  FitLimits limits;
  double collapse_ratio = 0.02;  ///< a triangle whose area falls below this share of its rest area has collapsed
  Executor executor;
};

/// Prepares the measures of every trim of `table`. `trims`, `cloth` and `table` must outlive the model.
/// @param feet  one footprint per binding, in table order; an empty one is measured at the anchor alone
/// @param rows  of parts.json, by trim id; may be empty
/// @pre table.bindings, trims.id and feet have the same number of trims.
/// Cost: O(#V + sum of the patches); memory about 2 KB for a stitch, 10 to 20 KB for a button. Same result for any
/// executor.
FitModel prepare_fit(const ClothMesh& cloth, const TrimShapes& trims, const BindTable& table, const Footprints& feet,
                     std::span<const Row> rows, const FitOptions& options);

/// What has to be remembered from one frame to the next; grows with trims, never with trims x frames (the series is
/// thinned).
struct FitState {
  struct Motion {  ///< of the cloth around a trim, as the trim sees it
    Mat3 turn;
    Vec3 move, turn_step, move_step;
    std::uint8_t known = 0;  ///< frames seen, up to 2
  };
  struct Last {
    std::array<Motion, 2> motion;  ///< as a flat patch and as one that bends
    Mat3 rotation;                 ///< of the pose
  };
  std::vector<Last> last;
  std::vector<std::uint8_t> watched;  ///< per FitModel::watch: near its trim ever since it was on its own side
  std::vector<double> mean_sum;
  std::shared_ptr<BoxTree> tree;  ///< refitted to each frame
  FitSummary summary;
};
FitState begin_fit(const FitModel& model, const FitOptions& options);

/// Measures one frame and adds it to the state. Frames must come in order (jitter compares successive ones).
/// @param deformed  #V of the cloth      @param poses, quality  one per binding, as follow() gave them
/// @param[out] out  one per binding
/// Cost: O(#V) for the boxes plus the patches. Same bytes for any executor.
void measure_fit(const FitModel& model, std::span<const Vec3> deformed, std::span<const Pose> poses,
                 std::span<const PoseQuality> quality, std::uint64_t frame, const FitOptions& options, FitState& state,
                 std::span<FitMeasures> out);

/// Verdicts, causes and advice from what was measured so far.
FitSummary finish_fit(const FitModel& model, FitState state, const FitOptions& options);

/// Signed gaps of one place's footprint, in file units.
/// @param[out] gaps  one per footprint point    @return the layer's normal under the footprint, place coordinates
Vec3 place_gaps(const FitModel& model, const FitPlace& place, std::span<const Vec3> deformed, const Pose& pose,
                std::span<double> gaps);

}  // namespace trimtack
