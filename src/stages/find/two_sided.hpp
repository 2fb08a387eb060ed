// SPDX-License-Identifier: MIT
/// Fronts and backs: rivets, snaps and eyelets have a half on either face of the cloth.
#pragma once

#include <array>
#include <span>
#include <vector>

#include "stages/find/coaxial.hpp"
#include "stages/find/trim_links.hpp"
#include "trimtack/roles.hpp"

namespace trimtack {

/// Pairs of round trims on one axis that clamp cloth between them. What counts is how many layers of cloth lie between
/// the two (a thick panel's two sheets are one layer) and whether each half rests on the layer they share; all
/// distances are compared with the halves' own size. Each component is in one pair at most.
/// @param halves  of round_parts()
/// @param plates  of plates(); one that lies exactly on an axis with another half, cloth between them, is a half as
/// well Cost: O(n log n) in the halves, one pass over the faces of the cloth when any two lie on one axis.
std::vector<std::array<Index, 2>> find_two_sided(const RoleInput& input, std::span<const RoleVerdict> verdicts,
                                                 std::span<const Half> halves, std::span<const Half> plates);

/// Further such pairs, exactly on one axis, of which one half rests on a piece of hardware that it rivets to the cloth:
/// the foot of a lace hook, a clip.
/// @param halves     of round_parts()
/// @param two_sided  pairs found before; their halves are left out
std::vector<std::array<Index, 2>> find_riveted_hardware(const RoleInput& input, std::span<const RoleVerdict> verdicts,
                                                        std::vector<Half> halves, std::span<const Link> links,
                                                        std::span<const std::array<Index, 2>> two_sided);

}  // namespace trimtack
