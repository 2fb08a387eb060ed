// SPDX-License-Identifier: MIT
/// Borders that run along another piece's border: pieces that were sewn together.
#pragma once

#include <span>

#include "trimtack/roles.hpp"

namespace trimtack {

/// Share of an open component's border that runs along the border of another, at least half as large one, no further
/// away than `reach` (file units). 0 for a closed component.
/// Cost: the faces of the components whose boxes meet this one's.
double seam_share(const RoleInput& input, Index component, double reach);

}  // namespace trimtack
