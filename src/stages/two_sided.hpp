// SPDX-License-Identifier: MIT
/// Fronts and backs: rivets, snaps and eyelets have a half on either face of the cloth.
#pragma once

#include <array>
#include <span>
#include <vector>

#include "trimtack/roles.hpp"

namespace trimtack {

/// Pairs of round trims on one axis that clamp cloth between them. What counts is how many layers of cloth lie between
/// the two (a thick panel's two sheets are one layer) and whether each half rests on the layer they share; all
/// distances are compared with the halves' own size. Each component is in one pair at most.
/// @param candidates  components to look at; only round ones with the role Trim are taken
/// Cost: O(n log n) in the candidates, one pass over the faces of the cloth when any two lie on one axis.
std::vector<std::array<Index, 2>> find_two_sided(const RoleInput& input, std::span<const RoleVerdict> verdicts,
                                                 std::span<const Index> candidates);

}  // namespace trimtack
