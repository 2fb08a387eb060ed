// SPDX-License-Identifier: MIT
#include "io/work_folder.hpp"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>

#include <chrono>
#include <fstream>
#include <thread>
#include <vector>

#include "io/folder_moves.hpp"

namespace trimtack {
namespace fs = std::filesystem;
namespace {

constexpr const char* kWorkSuffix = ".trimtack-work";

bool is_writable(const fs::path& folder) { return ::access(folder.c_str(), W_OK | X_OK) == 0; }

/// Beside the target when that is on the same file system and may be written, else inside.
fs::path choose_work(const fs::path& target) {
  const fs::path parent = target.parent_path();
  if (!target.has_filename() || !is_writable(parent)) return work_inside(target);
  const auto device = posix::identity(target).first;
  return device != 0 && device != posix::identity(parent).first ? work_inside(target) : work_beside(target);
}

enum class Locked : std::uint8_t { Yes, Busy, Failed };

/// Creates (when asked) and locks `work`. The name may vanish between the two steps, when its owner ends: then again.
Locked lock_work(const fs::path& work, bool create, posix::Descriptor& lock, int& error_number) {
  for (int attempt = 0; attempt < 100; ++attempt) {
    if (create && ::mkdir(work.c_str(), 0777) != 0 && errno != EEXIST) {
      error_number = errno;
      return Locked::Failed;
    }
    posix::Descriptor fd(::open(work.c_str(), O_RDONLY | O_DIRECTORY | O_NOFOLLOW | O_CLOEXEC));
    if (!fd) {
      error_number = errno;
      if (create && errno == ENOENT) continue;
      return Locked::Failed;
    }
    if (!lock_folder(fd.get(), true, 0)) return Locked::Busy;
    if (posix::identity(fd.get()) != posix::identity(work)) continue;
    lock = std::move(fd);
    return Locked::Yes;
  }
  return Locked::Busy;
}

Error busy(const fs::path& target) {
  return Error{ErrorCode::CannotWrite,
               "another trimtack run is writing to this folder; wait until it is done or name another folder",
               target.string(), 0};
}

}  // namespace

fs::path work_beside(const fs::path& target) {
  return target.parent_path() / ("." + target.filename().string() + kWorkSuffix);
}
fs::path work_inside(const fs::path& target) { return target / kWorkSuffix; }

Result<fs::path> resolve_target(const fs::path& folder) {
  std::error_code error;
  const auto fail = [&](const std::string& what) { return Error{ErrorCode::CannotWrite, what, folder.string(), 0}; };
  if (folder.empty()) return fail("no output folder named; name one");
  fs::path path = fs::absolute(folder, error).lexically_normal();
  if (!path.has_filename()) path = path.parent_path();  // a trailing '/'
  const fs::file_status status = fs::status(path, error);
  if (fs::exists(status)) {
    if (!fs::is_directory(status)) return fail("is a file, not a folder; name another output folder");
    const fs::path real = fs::canonical(path, error);
    if (error) return posix::cannot_write(folder, error.value());
    if (!is_writable(real)) return posix::cannot_write(folder, errno);
    return real;
  }
  if (fs::is_symlink(fs::symlink_status(path, error))) {
    return fail("is a link to nothing; remove it or name another output folder");
  }
  const fs::path parent = fs::canonical(path.parent_path(), error);
  if (error) {
    return error.value() == ENOENT
               ? fail("its parent folder " + path.parent_path().string() + " does not exist; create it first")
               : posix::cannot_write(folder, error.value());
  }
  if (!fs::is_directory(parent, error)) return posix::cannot_write(folder, ENOTDIR);
  if (!is_writable(parent)) return posix::cannot_write(folder, errno);
  return parent / path.filename();
}

Result<WorkFolder> open_work(const fs::path& target) {
  WorkFolder folder;
  folder.target = target;
  folder.work = choose_work(target);
  // A run that could not write beside the target (or could, then) may have left its journal in the other place.
  const fs::path other = folder.work == work_inside(target) ? work_beside(target) : work_inside(target);
  for (const fs::path& place : {other, folder.work}) {
    int error_number = 0;
    const bool here = place == folder.work;
    std::error_code ignored;
    if (!here && !fs::exists(fs::symlink_status(place, ignored))) continue;
    posix::Descriptor lock;
    const Locked locked = lock_work(place, here, lock, error_number);
    if (locked == Locked::Busy) return busy(target);
    if (locked == Locked::Failed) {
      if (here) return posix::cannot_write(target, error_number);
      continue;
    }
    if (!finish_leftover(target, place)) {
      return Error{ErrorCode::CannotWrite,
                   "an interrupted run left work that cannot be finished; remove " + place.string(), target.string(),
                   0};
    }
    if (here) {
      folder.lock = std::move(lock);
    } else {
      fs::remove_all(place, ignored);
    }
  }
  if (::mkdir(folder.staged().c_str(), 0777) != 0) {
    const int error_number = errno;
    close_work(folder);
    return posix::cannot_write(target, error_number);
  }
  return folder;
}

bool recover(const fs::path& target) {
  bool whole = true;
  for (const fs::path& place : {work_beside(target), work_inside(target)}) {
    std::error_code ignored;
    if (!fs::exists(place / kJournalName, ignored)) continue;
    posix::Descriptor lock;
    int error_number = 0;
    if (lock_work(place, false, lock, error_number) != Locked::Yes || !finish_leftover(target, place)) {
      whole = false;
      continue;
    }
    fs::remove_all(place, ignored);
  }
  return whole;
}

void close_work(WorkFolder& folder, const Executor& executor) {
  if (!folder.lock) return;
  std::error_code ignored;
  // Letting go of a large file's pages takes the system its time, file by file.
  std::vector<fs::path> files;
  for (const fs::directory_entry& entry : fs::directory_iterator(folder.staged(), ignored)) {
    if (entry.symlink_status(ignored).type() == fs::file_type::regular) files.push_back(entry.path());
  }
  for_ranges(executor, files.size(), 1, [&](std::size_t i, std::size_t) { ::unlink(files[i].c_str()); });
  fs::remove_all(folder.work, ignored);
  folder.lock.reset();
}

bool lock_folder(int fd, bool exclusive, double seconds) {
  const auto end = std::chrono::steady_clock::now() + std::chrono::duration<double>(seconds);
  while (::flock(fd, (exclusive ? LOCK_EX : LOCK_SH) | LOCK_NB) != 0) {
    if (errno == EINTR) continue;
    if (errno != EWOULDBLOCK) return true;
    if (std::chrono::steady_clock::now() >= end) return false;
    std::this_thread::sleep_for(std::chrono::milliseconds(5));
  }
  return true;
}

}  // namespace trimtack
