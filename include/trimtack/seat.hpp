// SPDX-License-Identifier: MIT
/// Seating: the smallest rigid correction that brings a trim's sink and gap back to what they were at rest.
#pragma once

#include <span>

#include "trimtack/fit.hpp"

namespace trimtack {

struct SeatOptions {
  double max_shift_mm = 6;  ///< a trim is never moved further than this
  double max_tilt_deg = 0;  ///< 0: moved along its own axis only
  double row_slope = 0.05;  ///< along a row the shift may change by this much per unit of spacing
  Executor executor;
};

/// What was done to one trim in one frame, in mm and degrees.
struct Seating {
  float shift = 0;  ///< along its axis, positive = away from the cloth
  float tilt = 0;
  float sink_before = 0, sink_after = 0;  ///< depth beyond that at rest
  float left = 0;                         ///< what of the shift max_shift_mm did not allow
  bool limited = false;  ///< max_shift_mm or max_tilt_deg was reached, or cloth on both sides forbids it
};

/// Corrects the poses of one frame. Needs that frame alone, so any range of frames gives the same bytes.
///
/// Shift: the one nearest to zero for which no footprint point is deeper in the cloth than at rest and at least one has
/// no more gap than at rest. Along a row the shifts are raised (never lowered) until neighbours differ by at most
/// row_slope times their spacing. On a convex bend nothing moves; on a concave cylinder or sphere of radius R a flat
/// disc of diameter d moves out by exactly R - sqrt(R^2 - d^2/4).
/// Tilt (only with max_tilt_deg > 0): the damped least-squares plane through the change of the gap, which varies
/// smoothly with the cloth; the shift comes after it.
/// @param[in,out] poses  one per binding     @param[out] out  one per binding, or empty
/// Stitching is moved like any trim. Trims without a footprint are left alone.
/// Cost: as the gaps of measure_fit, twice (three times with tilt). Same bytes for any executor.
void seat(const FitModel& model, std::span<const Vec3> deformed, const SeatOptions& options, std::span<Pose> poses,
          std::span<Seating> out);

}  // namespace trimtack
