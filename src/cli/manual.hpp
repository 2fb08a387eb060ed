// SPDX-License-Identifier: MIT
/// The man page and shell completion, made from the description of the command line itself.
#pragma once

#include <CLI/App.hpp>
#include <functional>

namespace trimtack::cli {

/// Adds the commands `manual` and `completion`, which are not listed in --help's overview.
void add_manual_commands(CLI::App& app, std::function<int()>& run);

}  // namespace trimtack::cli
