// SPDX-License-Identifier: MIT
/// Caps of rivets that sit on a piece of hardware. Private to the search for trims.
#pragma once

#include <span>
#include <vector>

#include "stages/find/coaxial.hpp"
#include "stages/find/trim_links.hpp"

namespace trimtack {

/// Makes halves that rest on a hard part wider than they are as deep as the two together: a rivet through the foot of a
/// lace hook, or through a clip, holds the cloth below that, and not what lies between the cap and the cloth.
/// @return whether there is any such half
bool seat_caps(const RoleInput& input, std::span<const RoleVerdict> verdicts, std::span<const Link> links,
               std::vector<Half>& halves);

}  // namespace trimtack
