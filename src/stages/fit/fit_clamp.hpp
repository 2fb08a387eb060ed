// SPDX-License-Identifier: MIT
/// Layers that a rivet, snap or eyelet clamps, beyond the one that it follows.
#pragma once

#include <span>

#include "trimtack/fit.hpp"

namespace trimtack {

/// Finds, for every trim with a half on either side of its cloth, the cloth between that and the far half.
/// @pre places, tree and cloth of the model are there. Same result for any executor.
void find_clamps(FitModel& model, const Executor& executor);

/// The sheet that has moved most against the trim's own under it since rest.
struct ClampSlip {
  double moved = 0;         ///< file units, along any direction
  Index component = kNone;  ///< of that sheet
};
ClampSlip measure_clamp(const FitModel& model, const FitPlace& place, std::span<const Vec3> deformed, const Pose& pose);

}  // namespace trimtack
