// SPDX-License-Identifier: MIT
#include "cli/interrupt.hpp"

#include <atomic>
#include <csignal>
#include <cstdio>
#include <cstdlib>

namespace trimtack::cli {
namespace {

// A handler has no other way to tell the program than a variable of the program's.
std::atomic<int> noted{0};
static_assert(std::atomic<int>::is_always_lock_free);

extern "C" void note_signal(int signal) {
  noted.store(signal, std::memory_order_relaxed);
  std::signal(signal, SIG_DFL);
}

}  // namespace

void watch_signals() {
  for (const int signal : {SIGINT, SIGTERM, SIGHUP}) {
    if (std::signal(signal, note_signal) == SIG_IGN) std::signal(signal, SIG_IGN);
  }
}

void stop_if_asked() {
  if (const int signal = noted.load(std::memory_order_relaxed)) throw Interrupted{signal};
}

void end_by(const Interrupted& interrupted) {
  std::fputs("trimtack: interrupted; unfinished output was removed\n", stderr);
  std::signal(interrupted.signal, SIG_DFL);
  std::raise(interrupted.signal);
  std::_Exit(128 + interrupted.signal);
}

}  // namespace trimtack::cli
