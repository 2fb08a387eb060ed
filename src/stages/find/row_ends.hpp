// SPDX-License-Identifier: MIT
/// What is fastened to a zipper's tape at the end of a row of elements. Private to the search for trims.
#pragma once

#include <span>
#include <vector>

#include "stages/find/trim_links.hpp"

namespace trimtack {

/// Per component the last element of the row that it goes on beyond: a stop, a pin, the box on its own side; kNone for
/// all others. Only parts with links are looked at, and rows of which an element lies in a slider. Cost: O(n log n) of
/// the elements.
std::vector<Index> find_row_ends(const RoleInput& input, std::span<const RoleVerdict> verdicts,
                                 std::span<const Link> links);

}  // namespace trimtack
