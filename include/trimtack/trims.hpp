// SPDX-License-Identifier: MIT
/// Which hard components move together as one trim.
#pragma once

#include <span>
#include <vector>

#include "trimtack/families.hpp"
#include "trimtack/parallel.hpp"
#include "trimtack/parts.hpp"
#include "trimtack/roles.hpp"

namespace trimtack {

/// Trims as flat lists of components, ordered by their smallest component.
struct TrimGroups {
  std::vector<Index> of_component;  ///< kNone for cloth
  std::vector<Index> offsets{0};
  std::vector<Index> components;  ///< ascending within a trim
  Index count() const { return static_cast<Index>(offsets.size() - 1); }
  std::span<const Index> components_of(Index trim) const {
    return {components.data() + offsets[trim], offsets[trim + 1] - offsets[trim]};
  }
};

/// Joins components that touch and belong to one assembly: unlike parts whose kinds meet wherever they occur (a button
/// and its threads, a slider and its pull), and like ones on both faces of the cloth (rivets, eyelets, snaps). Copies
/// in a chain (zipper elements, beads) never join, stitches neither. A thread piece that joins a trim takes its role.
/// @param verdicts  one per component; roles of joined thread pieces are changed
/// Cost: O(n log n) broad phase over the hard components, exact distances for pairs whose boxes meet.
TrimGroups group_trims(const RoleInput& input, std::span<RoleVerdict> verdicts, const Executor& executor = {});

}  // namespace trimtack
