// SPDX-License-Identifier: MIT
/// From a combined export to its parts: weld, components, features, roles, trims, prototypes, rows, unit.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "trimtack/identify_options.hpp"
#include "trimtack/mesh.hpp"
#include "trimtack/parallel.hpp"
#include "trimtack/parts.hpp"
#include "trimtack/report.hpp"
#include "trimtack/result.hpp"

namespace trimtack {

/// @error Usage when an override matches nothing (lists near matches); BadInput for a mesh without faces.
/// Deterministic: independent of thread count; ids follow the order of first faces.
Result<Parts> identify(const SourceMesh& mesh, const IdentifyOptions& options, Report& report);

}  // namespace trimtack
