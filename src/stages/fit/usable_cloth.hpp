// SPDX-License-Identifier: MIT
/// The check of a frame whose coordinates were looked at as they were read. Private to the stages.
#pragma once

#include "trimtack/runtime.h"

namespace trimtack {

/// What tt_check_cloth_f64() tells of a cloth without unusable vertices.
/// @pre the table is open; as many packed x y z triples as its cloth has vertices, all usable
tt_cloth_state check_usable_cloth(const tt_table* table, const double* positions);

}  // namespace trimtack
