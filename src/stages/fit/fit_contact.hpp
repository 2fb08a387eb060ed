// SPDX-License-Identifier: MIT
/// Trims that run into cloth outside their own patch.
#pragma once

#include <functional>
#include <span>
#include <vector>

#include "stages/bind/box_tree.hpp"
#include "trimtack/fit.hpp"

namespace trimtack {

struct RunIn {
  /// How far the trim would have to move to be free of that cloth, beyond what it ran in at rest: along the cloth's
  /// normal to the side that it came from, but no farther than it has come.
  double depth = 0;
  Index component = kNone;  ///< of the cloth met
};

/// Fills in what cloth lay within each trim's extents at rest.
void find_within(FitModel& model, const Executor& executor);

/// Every trim (stitching excepted: thread runs through all layers) against all cloth outside its own patch.
/// `found` is called once per trim, from any thread, with what was met. @pre find_within
void measure_run_in(const FitModel& model, const BoxTree& tree, std::span<const Vec3> deformed,
                    std::span<const Pose> poses, const Executor& executor,
                    const std::function<void(std::size_t, const RunIn&)>& found);

}  // namespace trimtack
