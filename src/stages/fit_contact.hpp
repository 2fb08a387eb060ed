// SPDX-License-Identifier: MIT
/// Trims that run into cloth outside their own patch, and into one another.
#pragma once

#include <functional>
#include <span>
#include <vector>

#include "stages/box_tree.hpp"
#include "trimtack/fit.hpp"

namespace trimtack {

struct RunIn {
  /// How far the trim would have to move along that cloth's normal to be free of it, to the side that it came from.
  double depth = 0;
  double moved = 0;         ///< how far that cloth has moved towards the trim since rest: going back that far is enough
  Index component = kNone;  ///< of the cloth met
};

/// Every trim (stitching excepted: thread runs through all layers) against all cloth outside its own patch.
/// `found` is called once per trim, from any thread, with what was met.
void measure_run_in(const FitModel& model, const BoxTree& tree, std::span<const Vec3> deformed,
                    std::span<const Pose> poses, const Executor& executor,
                    const std::function<void(std::size_t, const RunIn&)>& found);

/// Two trims (table indices, first < second) that have run into one another.
struct TrimContact {
  Index first = kNone, second = kNone;
  double depth = 0;  ///< beyond what they shared at rest, file units
};

/// Pairs in ascending order. `boxes` holds each trim's posed box. Stitching is left out.
std::vector<TrimContact> measure_collisions(const FitModel& model, std::span<const Box> boxes,
                                            std::span<const Pose> poses, const Executor& executor);

}  // namespace trimtack
