// SPDX-License-Identifier: MIT
/// The command line: options, help, man page and shell completion, all from one description.
#pragma once

namespace trimtack::cli {

/// Parses the arguments, runs the command and returns the exit code.
int run_program(int argc, char** argv);

}  // namespace trimtack::cli
