// SPDX-License-Identifier: MIT
/// What the process may take from the machine.
#pragma once

#include "cli/commands.hpp"

namespace trimtack::cli {

/// Lets allocations beyond --max-memory fail, instead of the machine.
void limit_memory(const CommonOptions& options);

}  // namespace trimtack::cli
