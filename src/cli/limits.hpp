// SPDX-License-Identifier: MIT
/// What the process may take from the machine.
#pragma once

#include "cli/commands.hpp"

namespace trimtack::cli {

/// Blocks of up to 32 MiB that are freed are used again instead of going back to the system: frames come and go, and
/// the first touch of new memory costs more than the work on it. At most 128 MiB are kept. Call before any other thread
/// runs.
void keep_freed_memory();

/// Gives what is freed back after all: for a command whose next step needs memory in threads with pools of their own.
void give_back_freed_memory();

/// No more large pages from here on. Once everything a long run needs is there, the system would go on gathering small
/// pages into large ones, some MB a minute, and memory would seem to leak.
void stop_large_pages();

/// Lets allocations beyond --max-memory fail, instead of the machine.
void limit_memory(const CommonOptions& options);

}  // namespace trimtack::cli
