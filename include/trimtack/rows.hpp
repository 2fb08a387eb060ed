// SPDX-License-Identifier: MIT
/// Congruent trims repeated along a line: button fronts, zipper sides, stitch lines.
#pragma once

#include <vector>

#include "trimtack/parts.hpp"
#include "trimtack/prototypes.hpp"

namespace trimtack {

/// Rows of at least three trims with near-equal spacing. A trim is in at most one row.
/// @param centres  per trim, its place;  @param sizes  per trim, its length
std::vector<Row> find_rows(std::span<const Trim> trims, std::span<const Vec3> centres, std::span<const double> sizes);

}  // namespace trimtack
