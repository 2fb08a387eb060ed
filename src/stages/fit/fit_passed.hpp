// SPDX-License-Identifier: MIT
/// Cloth that has gone wholly through a trim: it lay over it at rest and lies beneath it now, or the other way round.
#pragma once

#include <cstdint>
#include <span>

#include "trimtack/fit.hpp"

namespace trimtack {

/// Finds the cloth that lies over or beneath each trim (stitching excepted) without reaching to its other side.
/// @pre places, tree and cloth of the model are there. Same result for any executor.
void find_watched(FitModel& model, const Executor& executor);

struct Passed {
  double depth = 0;         ///< how far that cloth is from being free on its own side again, file units
  Index component = kNone;  ///< of that cloth
};

/// @param[in,out] watched  FitState::watched; only what belongs to the trim is touched
Passed measure_passed(const FitModel& model, std::size_t trim, std::span<const Vec3> deformed, const Pose& pose,
                      std::span<std::uint8_t> watched);

}  // namespace trimtack
