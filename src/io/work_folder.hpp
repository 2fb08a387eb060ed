// SPDX-License-Identifier: MIT
/// The staging folder of a file set: its place, its lock, and the two ways to move its files in.
#pragma once

#include <filesystem>
#include <set>
#include <string>
#include <vector>

#include "io/posix_file.hpp"
#include "trimtack/parallel.hpp"
#include "trimtack/result.hpp"

namespace trimtack {

/// Staging of one target folder. While `lock` is open, no other process stages for the same target.
///   work/new/      the files of the run
///   work/exchange  identity of the old folder, written just before the exchange
///   work/journal   the moves to make, written whole before the first of them
struct WorkFolder {
  std::filesystem::path target, work;
  posix::Descriptor lock;

  std::filesystem::path staged() const { return work / "new"; }
};

/// Where the target really is (links followed), for a folder that may not exist yet.
Result<std::filesystem::path> resolve_target(const std::filesystem::path& folder);
/// Both places where staging of `target` may be: beside it, or inside where its parent cannot be written.
std::filesystem::path work_beside(const std::filesystem::path& target);
std::filesystem::path work_inside(const std::filesystem::path& target);

/// Makes and locks the staging folder, empty; first finishes or removes what a killed run left.
Result<WorkFolder> open_work(const std::filesystem::path& target);
/// Finishes or removes what a killed run left, if anything. False when a run is alive, or may not be finished here.
bool recover(const std::filesystem::path& target);
/// Removes staging, its files beside each other, then the lock.
void close_work(WorkFolder& folder, const Executor& executor = {});

/// What a commit does, by name relative to the target.
struct Moves {
  std::vector<std::string> written;  ///< staged files, in order; the manifest last
  std::set<std::string> removed;     ///< files of earlier runs that go
};
/// Moves the staged files in: by one exchange of folders where possible, else by journal.
Result<void> move_in(WorkFolder& folder, const Moves& moves);

/// Locks an open folder for reading (shared) or replacing (exclusive), waiting up to `seconds`. False on time out.
/// File systems without locks count as locked.
bool lock_folder(int fd, bool exclusive, double seconds);

}  // namespace trimtack
