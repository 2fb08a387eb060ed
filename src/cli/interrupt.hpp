// SPDX-License-Identifier: MIT
/// Ctrl-C and requests to end: noted by a handler, acted upon at the next safe place, so that a run removes what it
/// has staged and leaves the old files. A second one ends the program at once; the next run tidies up then.
#pragma once

namespace trimtack::cli {

/// Thrown by stop_if_asked(), caught in main().
struct Interrupted {
  int signal = 0;
};

/// From here on SIGINT, SIGTERM and SIGHUP are noted (not those that the caller has set to be ignored).
void watch_signals();
/// Called between ranges of work and between steps. Throws Interrupted once a signal was noted.
void stop_if_asked();
/// Ends the program by the signal itself, so that the shell knows.
[[noreturn]] void end_by(const Interrupted& interrupted);

}  // namespace trimtack::cli
