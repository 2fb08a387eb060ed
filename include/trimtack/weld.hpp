// SPDX-License-Identifier: MIT
/// Welding: vertices at exactly the same place become one.
#pragma once

#include <span>
#include <vector>

#include "trimtack/types.hpp"

namespace trimtack {

/// Which vertices coincide. Welded numbers are given in the order of first occurrence.
struct WeldMap {
  std::vector<Index> to_welded;       ///< #V
  std::vector<Index> representative;  ///< per welded vertex, its first vertex
  Index count() const { return static_cast<Index>(representative.size()); }
};

/// Welds exactly: two vertices are one if their coordinates compare equal (-0 equals +0). A tolerance would fuse trims
/// with the cloth they touch. A vertex with a non-finite coordinate is never welded.
/// @param positions  #V, any unit, may be empty
/// Cost: expected O(#V) time, 4 indices a vertex of scratch. Threads: safe on the same input.
/// @param groups  empty, or one number per vertex: only vertices of one group are welded (a cut keeps its sides apart)
WeldMap weld(std::span<const Vec3> positions, std::span<const Index> groups = {});

}  // namespace trimtack
