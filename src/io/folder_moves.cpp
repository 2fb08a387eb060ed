// SPDX-License-Identifier: MIT
// Two ways to replace a folder's files so that a kill at any moment leaves the old or the new set:
// 1. exchange: the new folder is completed in staging, untouched files as hard links, and swapped with the old one by
//    renameat2(RENAME_EXCHANGE), which is one step for every observer;
// 2. journal: the list of moves is written whole, then the moves are made; a journal found later is completed.
#include "io/folder_moves.hpp"

#include <fcntl.h>
#include <sys/stat.h>

#include <algorithm>
#include <cstdio>
#include <fstream>
#include <sstream>

#include "io/manifest.hpp"
#include "trimtack/io/file_set.hpp"

namespace trimtack {
namespace fs = std::filesystem;
namespace {

constexpr int kMostLinked = 20'000;  ///< above this many other files, moving is cheaper than linking
constexpr double kReaderSeconds = 10;

/// Names that a manifest in `folder` lists, and the manifest's own; empty when there is none.
std::set<std::string> manifest_names(const fs::path& folder) {
  std::set<std::string> names{kManifestName};
  std::error_code ignored;
  if (!fs::exists(folder / kManifestName, ignored)) return names;
  const Result<std::string> text = read_file(folder / kManifestName);
  if (!text) return names;
  const auto entries = read_manifest(*text, kManifestName);
  if (!entries) return names;
  for (const ManifestEntry& entry : *entries) names.insert(entry.name);
  return names;
}

/// Hard links everything in `from` that `skip` does not name into `to`. False when that cannot be done completely.
bool link_others(const fs::path& from, const fs::path& to, const std::string& prefix, const std::set<std::string>& skip,
                 int& left) {
  std::error_code error;
  for (const fs::directory_entry& entry : fs::directory_iterator(from, error)) {
    const std::string leaf = entry.path().filename().string();
    const std::string name = prefix + leaf;
    if (skip.contains(name)) continue;
    if (--left < 0) return false;
    const fs::file_type type = entry.symlink_status(error).type();
    if (type == fs::file_type::directory) {
      if (posix::identity(entry.path()).first != posix::identity(from).first) return false;  // a mount point
      const bool made = fs::create_directory(to / leaf, entry.path(), error);
      if (error || !link_others(entry.path(), to / leaf, name + "/", skip, left)) return false;
      // A folder that held stale files only goes with them; an empty one of the author's stays.
      if (made && fs::is_empty(to / leaf, error) && !fs::is_empty(entry.path(), error)) fs::remove(to / leaf, error);
    } else if (type == fs::file_type::regular || type == fs::file_type::symlink) {
      if (::linkat(AT_FDCWD, entry.path().c_str(), AT_FDCWD, (to / leaf).c_str(), 0) != 0) return false;
    } else {
      return false;
    }
  }
  return !error;
}

/// After an exchange: what someone else put into the old folder meanwhile comes over, the rest goes.
bool rescue_others(const fs::path& old, const fs::path& target, const std::string& prefix,
                   const std::set<std::string>& replaced) {
  std::error_code error;
  std::vector<fs::directory_entry> entries;
  for (const fs::directory_entry& entry : fs::directory_iterator(old, error)) entries.push_back(entry);
  for (const fs::directory_entry& entry : entries) {
    const std::string leaf = entry.path().filename().string();
    const std::string name = prefix + leaf;
    if (entry.is_directory(error) && !entry.is_symlink(error)) {
      if (!rescue_others(entry.path(), target, name + "/", replaced)) return false;
      continue;
    }
    if (replaced.contains(name) || posix::identity(entry.path()) == posix::identity(target / name)) continue;
    fs::create_directories((target / name).parent_path(), error);
    if (::rename(entry.path().c_str(), (target / name).c_str()) != 0) return false;
  }
  return true;
}

/// The record goes before the old folder does: a kill while that is removed, its manifest first perhaps, must not make
/// its other files look like the author's.
bool finish_exchange(const fs::path& target, const fs::path& work) {
  const fs::path old = work / "new";
  std::set<std::string> replaced = manifest_names(old);
  replaced.merge(manifest_names(target));
  return rescue_others(old, target, "", replaced) && ::unlink((work / kExchangeName).c_str()) == 0;
}

std::string identity_text(const fs::path& folder) {
  const auto [device, inode] = posix::identity(folder);
  return std::to_string(device) + " " + std::to_string(inode) + "\n";
}

bool is_at_or_inside(fs::path path, const fs::path& folder) {
  while (path != folder && path.has_relative_path()) path = path.parent_path();
  return path == folder;
}

/// True when done; false when this folder cannot be exchanged and nothing has changed.
bool try_exchange(const WorkFolder& folder, const Moves& moves, Result<void>& done) {
  std::error_code error;
  if (folder.work != work_beside(folder.target)) return false;
  std::set<std::string> skip = moves.removed;
  skip.insert(moves.written.begin(), moves.written.end());
  int left = kMostLinked;
  const fs::path staged = folder.staged();
  struct stat info {};
  if (::stat(folder.target.c_str(), &info) != 0) return false;
  if (!link_others(folder.target, staged, "", skip, left)) return false;
  if (::chmod(staged.c_str(), info.st_mode & 07777U) != 0) return false;
  if (::chown(staged.c_str(), info.st_uid, info.st_gid) != 0 && (info.st_uid != ::geteuid())) return false;
  if (!write_file(folder.work / kExchangeName, identity_text(folder.target))) return false;
  if (::renameat2(AT_FDCWD, staged.c_str(), AT_FDCWD, folder.target.c_str(), RENAME_EXCHANGE) != 0) return false;
  if (!finish_exchange(folder.target, folder.work)) {
    done =
        Error{ErrorCode::CannotWrite, "files added during the run could not be moved; they are in " + staged.string(),
              folder.target.string(), 0};
  }
  return true;
}

/// A staged file must not meet a folder of its name, nor a staged folder a file.
Result<void> check_places(const WorkFolder& folder, const Moves& moves) {
  for (const std::string& name : moves.written) {
    std::error_code error;
    const fs::path path = folder.target / name;
    if (fs::is_directory(path, error)) return posix::cannot_write(path, EISDIR);
    for (fs::path parent = path.parent_path(); parent != folder.target && parent.has_relative_path();
         parent = parent.parent_path()) {
      if (fs::exists(parent, error) && !fs::is_directory(parent, error)) return posix::cannot_write(path, ENOTDIR);
    }
  }
  return {};
}

int run_journal(const fs::path& target, const fs::path& work) {
  std::ifstream journal(work / kJournalName);
  std::string line;
  while (std::getline(journal, line)) {
    const bool move = line.starts_with("move ");
    const std::string name = line.substr(std::min(line.size(), line.find(' ') + 1));
    if (!is_safe_name(name) || (!move && !line.starts_with("remove "))) return EINVAL;
    std::error_code error;
    if (move) {
      fs::create_directories((target / name).parent_path(), error);
      if (::rename((work / "new" / name).c_str(), (target / name).c_str()) != 0 && errno != ENOENT) return errno;
    } else if (::unlink((target / name).c_str()) == 0) {
      fs::remove((target / name).parent_path(), error);  // only when that leaves it empty
    }
  }
  return ::unlink((work / kJournalName).c_str()) == 0 ? 0 : errno;
}

Result<void> move_by_journal(const WorkFolder& folder, const Moves& moves) {
  std::string journal;
  for (const std::string& name : moves.written) journal += "move " + name + "\n";
  for (const std::string& name : moves.removed) journal += "remove " + name + "\n";
  if (auto written = write_file(folder.work / kJournalName, journal); !written) return written;
  if (const int error_number = posix::flush_files(folder.work, {kJournalName})) {
    return posix::cannot_write(folder.target, error_number);
  }
  const int error_number = run_journal(folder.target, folder.work);
  return error_number == 0 ? Result<void>() : posix::cannot_write(folder.target, error_number);
}

}  // namespace

bool finish_leftover(const fs::path& target, const fs::path& work) {
  std::error_code error;
  const fs::path staged = work / "new";
  if (fs::exists(work / kJournalName, error)) {
    if (run_journal(target, work) != 0) return false;
  } else if (fs::exists(work / kExchangeName, error)) {
    const Result<std::string> recorded = read_file(work / kExchangeName, 128);
    // Only after the exchange does the staging folder have the old folder's identity.
    if (recorded && *recorded == identity_text(staged) && !finish_exchange(target, work)) return false;
  }
  for (const fs::directory_entry& entry : fs::directory_iterator(work, error)) fs::remove_all(entry.path(), error);
  return !error;
}

Result<void> move_in(WorkFolder& folder, const Moves& moves) {
  std::error_code error;
  if (!fs::exists(folder.target, error)) {
    if (::rename(folder.staged().c_str(), folder.target.c_str()) == 0) return {};
    return posix::cannot_write(folder.target, errno);
  }
  if (auto checked = check_places(folder, moves); !checked) return checked;
  const posix::Descriptor old(::open(folder.target.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
  if (!old) return posix::cannot_write(folder.target, errno);
  if (!lock_folder(old.get(), true, kReaderSeconds)) {
    return Error{ErrorCode::CannotWrite, "another trimtack run is reading this folder; wait until it is done",
                 folder.target.string(), 0};
  }
  const fs::path current = fs::current_path(error);
  Result<void> done;  // the working directory must stay the folder that the user is in
  if (!error && !is_at_or_inside(current, folder.target) && try_exchange(folder, moves, done)) {
    return done;
  }
  return move_by_journal(folder, moves);
}

}  // namespace trimtack
