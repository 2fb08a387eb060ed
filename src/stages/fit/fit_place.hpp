// SPDX-License-Identifier: MIT
/// How one footprint stands on its patch of cloth in one frame.
#pragma once

#include <span>
#include <vector>

#include "trimtack/fit.hpp"

namespace trimtack {

/// Buffers of one worker, kept from trim to trim.
struct PlaceScratch {
  std::vector<Vec3> local;      ///< the patch's vertices in place coordinates
  std::vector<Vec3> normal;     ///< their normals
  std::vector<Vec3> normal_at;  ///< under each footprint point
  std::vector<double> gap;
  std::vector<Index> hit;  ///< triangle of the patch under each footprint point, kNone where it hangs over
};

/// The deformed patch in place coordinates (pose undone), into scratch.local.
void load_patch(const FitModel& model, const FitPlace& place, std::span<const Vec3> deformed, const Pose& pose,
                PlaceScratch& scratch);
/// Gaps into scratch.gap and hits into scratch.hit. @pre load_patch    @return the normal under the footprint
Vec3 measure_gaps(const FitModel& model, const FitPlace& place, PlaceScratch& scratch);

/// Mean of the gaps of what stands on the cloth at rest (place.mean_below), of all where nothing does.
double mean_gap(const FitModel& model, const FitPlace& place, std::span<const double> gap);

struct GapChange {
  double min = 0, mean = 0, max = 0, lift = 0, sink = 0, spread = 0;
  Index lift_point = 0, sink_point = 0;  ///< of the place
};
GapChange gap_change(const FitModel& model, const FitPlace& place, std::span<const double> gap);

struct Strain {
  double stretch = 0, squeeze = 0, shear_deg = 0;
  Index collapsed = 0, first_collapsed = kNone;  ///< how many, and the first one's triangle of the cloth
};
Strain measure_strain(const FitModel& model, const FitPlace& place, double collapse_ratio, const PlaceScratch& scratch);

/// Appends the place's part of FitModel::bent.
void put_bend_weights(const FitPlace& place, FitModel& model);
/// The cloth's own rigid motion under the trim, as the trim sees it: how it has turned and moved relative to it. From
/// the patch as a whole (affine), or from where it is and slopes under the trim while it bends (quadratic).
/// @return false where the patch has no extent, or determines no quadratic
bool patch_motion(const FitModel& model, const FitPlace& place, const PlaceScratch& scratch, Mat3& turn, Vec3& move);
/// @pre put_bend_weights
bool bent_patch_motion(const FitModel& model, const FitPlace& place, const PlaceScratch& scratch, Mat3& turn,
                       Vec3& move);

}  // namespace trimtack
