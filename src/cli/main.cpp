// SPDX-License-Identifier: MIT
#include <csignal>
#include <cstdio>
#include <exception>
#include <new>

#include "cli/arguments.hpp"
#include "cli/exit_codes.hpp"
#include "cli/interrupt.hpp"
#include "cli/limits.hpp"

int main(int argc, char** argv) {
  // A full disk or a closed pipe is an error to be told, not a reason to die.
  std::signal(SIGPIPE, SIG_IGN);
  std::signal(SIGXFSZ, SIG_IGN);
  trimtack::cli::keep_freed_memory();
  trimtack::cli::watch_signals();
  try {
    return trimtack::cli::run_program(argc, argv);
  } catch (const std::bad_alloc&) {
    std::fputs("trimtack: not enough memory for this input; raise --max-memory or use a larger machine\n", stderr);
    return trimtack::cli::kBadInput;
  } catch (const trimtack::cli::Interrupted& interrupted) {
    trimtack::cli::end_by(interrupted);
  } catch (const std::exception& error) {
    std::fprintf(stderr, "trimtack: a fault of the program: %s; please report it\n", error.what());
    return trimtack::cli::kInternal;
  }
}
