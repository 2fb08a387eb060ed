// SPDX-License-Identifier: MIT
/// The outline of a trim's underside, which the solver's footprint (points inside cells) stops short of.
#pragma once

#include <span>
#include <vector>

#include "trimtack/cloth.hpp"
#include "trimtack/footprint.hpp"

namespace trimtack {

/// Appends the outermost vertices of the part that faces the cloth, with weight 0: gaps are read there, means are not.
/// @param to_place  rest coordinates -> the place's: z away from the cloth, origin in the middle of the footprint
/// @param side      per foot: +1 where the trim is above the cloth (along z), -1 beneath
/// @param reach     how much higher than the lowest vertex the rim may lie, file units
/// Cost: O(vertices of the trim).
void add_rim(const TrimShapes& trims, std::size_t trim, const Pose& to_place, std::span<const FootprintPoint> feet,
             std::span<const std::int8_t> side, double reach, std::vector<FootprintPoint>& out);

/// Share of the trim, seen from above, whose underside is below its own cloth (read from the nearest foot's height).
double sunk_share(const TrimShapes& trims, std::size_t trim, const Pose& to_place,
                  std::span<const FootprintPoint> feet);

}  // namespace trimtack
