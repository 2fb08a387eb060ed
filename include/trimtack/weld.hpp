// SPDX-License-Identifier: MIT
/// Welding: vertices at exactly the same place become one.
#pragma once

#include <algorithm>
#include <span>
#include <vector>

#include "trimtack/types.hpp"

namespace trimtack {

/// Which vertices coincide: the first one at a place stands for all that are there.
struct WeldMap {
  std::vector<Index> later;     ///< vertices that coincide with an earlier one, ascending
  std::vector<Index> first;     ///< for each of those, the first one at its place
  std::vector<Index> first_at;  ///< where there are many of them, the same for all vertices, else empty
  Index places = 0;             ///< different ones
  Index of(Index v) const {
    if (!first_at.empty()) return first_at[v];
    const auto at = std::lower_bound(later.begin(), later.end(), v);
    return at != later.end() && *at == v ? first[static_cast<std::size_t>(at - later.begin())] : v;
  }
};

/// Welds exactly: two vertices are one if their coordinates compare equal (-0 equals +0). A tolerance would fuse trims
/// with the cloth they touch. A vertex with a non-finite coordinate is never welded.
/// @param positions  #V, any unit, may be empty
/// @param groups  empty, or one number per vertex: only vertices of one group are welded (a cut keeps its sides apart)
/// Cost: expected O(#V) time; 4 bytes a vertex of scratch, 28 more where many coincide. Threads: safe on the same
/// input.
WeldMap weld(std::span<const Vec3> positions, std::span<const Index> groups = {});

/// Numbers of the places, in the order of first occurrence, per vertex.
std::vector<Index> place_numbers(const WeldMap& map, std::size_t vertices);

}  // namespace trimtack
