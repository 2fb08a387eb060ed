// SPDX-License-Identifier: MIT
/// Names for trims and prototypes.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "trimtack/components.hpp"
#include "trimtack/parts.hpp"

namespace trimtack {

/// One distinct name per trim: its object's or group's name where only trims bear it, else "trim-N" or "stitch-N"
/// (N counts from 1). Several trims under one name get "-1", "-2", ...
std::vector<std::string> name_trims(const SourceMesh& mesh, const ComponentMap& components, const Parts& parts);

}  // namespace trimtack
