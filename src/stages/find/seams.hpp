// SPDX-License-Identifier: MIT
/// Borders that run along another piece's border: pieces that were sewn together.
#pragma once

#include <span>

#include "trimtack/roles.hpp"

namespace trimtack {

/// Whether a component has a border, or a rim: closed and as thick as the panels.
bool may_be_sewn(const RoleInput& input, Index component);

/// Share of a component's border or rim that runs along that of another, no copy of it and at least half as large, no
/// further away than `reach` (file units). 0 for a component that may not be sewn.
/// Cost: the faces of the components whose boxes meet this one's.
double seam_share(const RoleInput& input, Index component, double reach);

}  // namespace trimtack
