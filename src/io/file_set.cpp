// SPDX-License-Identifier: MIT
#include "trimtack/io/file_set.hpp"

#include <fcntl.h>
#include <sys/stat.h>

#include <algorithm>
#include <deque>
#include <future>
#include <map>
#include <mutex>
#include <optional>
#include <set>
#include <span>
#include <system_error>

#include "core/memory.hpp"
#include "io/manifest.hpp"
#include "io/posix_file.hpp"
#include "io/work_folder.hpp"

namespace trimtack {
namespace fs = std::filesystem;

namespace {

constexpr std::size_t kMostOpen = 32;  ///< streams kept open at a time
/// Bytes of a stream that begin their way to the disk together: each time costs as much as writing some 100 KB.
constexpr std::uint64_t kFlushStep = std::uint64_t{4} << 20U;

std::span<const std::byte> as_bytes(std::string_view text) { return std::as_bytes(std::span(text)); }

struct Staged {
  std::string name;
  std::uint64_t bytes = 0, crc = 0;
  std::uint64_t flushing = 0;  ///< so many bytes are on their way to the disk
  posix::Descriptor stream;
  bool busy = false;     ///< being written to
  bool settled = false;  ///< complete, on its way to the disk
};

std::vector<ManifestEntry> old_manifest(const fs::path& target) {
  std::error_code ignored;
  const fs::path path = target / kManifestName;
  if (!fs::exists(path, ignored)) return {};
  const Result<std::string> text = read_file(path);
  if (!text) return {};
  auto entries = read_manifest(*text, path.string());
  return entries ? std::move(*entries) : std::vector<ManifestEntry>{};
}

bool matches(const std::vector<std::string>& prefixes, const std::string& name) {
  return std::any_of(prefixes.begin(), prefixes.end(), [&](const std::string& prefix) {
    return name == prefix || (prefix.ends_with('/') && name.starts_with(prefix));
  });
}

}  // namespace

struct FileSet::Impl {
  WorkFolder folder;
  std::mutex mutex;  ///< for everything but the bytes and the checksum of a file, which only its own writer touches
  std::deque<Staged> files;
  std::vector<Entry> entries;
  std::map<std::string, std::size_t> index;
  std::vector<std::string> retired;
  std::size_t open_streams = 0;
  bool finished = false;
  std::future<int> flushed;  ///< of the settled files: 0, or what went wrong

  ~Impl() {
    if (flushed.valid()) flushed.wait();
    for (Staged& file : files) file.stream.reset();
    close_work(folder);
  }

  Error at_file(const std::string& name, int error_number) const {
    return posix::cannot_write(folder.target / name, error_number);
  }

  /// A new staged file, the last of the list, opened for writing.
  Result<posix::Descriptor> create(const std::string& name) {
    if (finished || !is_safe_name(name) || name == kManifestName || index.contains(name)) {
      return Error{ErrorCode::Internal, "this file cannot be added to the output folder", name, 0};
    }
    const fs::path path = folder.staged() / name;
    if (name.find('/') != std::string::npos) {
      std::error_code error;
      fs::create_directories(path.parent_path(), error);
      if (error) return at_file(name, error.value());
    }
    posix::Descriptor fd(::open(path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666));
    if (!fd) return at_file(name, errno);
    index.emplace(name, files.size());
    files.push_back({name, 0, 0, 0, {}, false, false});
    entries.push_back({name, 0});
    return fd;
  }

  Result<void> close_stream(Staged& file) {
    if (!file.stream) return {};
    --open_streams;
    if (!file.stream.reset()) return at_file(file.name, errno);
    return {};
  }

  /// The staged file's descriptor, opened again when it was put aside.
  Result<int> stream_of(std::size_t i) {
    Staged& file = files[i];
    if (file.stream) return file.stream.get();
    if (open_streams >= kMostOpen) {
      if (auto closed = close_streams(); !closed) return closed.error();
    }
    file.stream = posix::Descriptor(::open((folder.staged() / file.name).c_str(), O_RDWR | O_CLOEXEC));
    if (!file.stream) return at_file(file.name, errno);
    ++open_streams;
    return file.stream.get();
  }

  Result<void> close_streams() {
    for (Staged& file : files) {
      if (file.busy) continue;
      if (auto closed = close_stream(file); !closed) return closed;
    }
    return {};
  }

  /// A file's number and its descriptor, until release().
  Result<std::pair<std::size_t, int>> acquire(const std::string& name, bool may_create) {
    const std::lock_guard lock(mutex);
    if (may_create && !index.contains(name)) {
      const Result<posix::Descriptor> created = create(name);
      if (!created) return created.error();
    }
    const auto found = index.find(name);
    if (found == index.end()) return not_written(name);
    const Result<int> fd = stream_of(found->second);
    if (!fd) return fd.error();
    files[found->second].busy = true;
    files[found->second].settled = false;
    return std::pair{found->second, *fd};
  }
  void release(std::size_t i) {
    const std::lock_guard lock(mutex);
    files[i].busy = false;
    entries[i].bytes = files[i].bytes;
  }
  Staged& file(std::size_t i) {
    const std::lock_guard lock(mutex);  // a list of blocks may grow at its end while it is read
    return files[i];
  }
  static Error not_written(const std::string& name) {
    return Error{ErrorCode::Internal, "only bytes that were written can be patched", name, 0};
  }

  /// Waits until all files are on the disk. @param later  done meanwhile, once for each number below `count`
  template <class Later>
  int flush_all(const Executor& executor, std::size_t count, const Later& later) {
    std::vector<std::string> names{kManifestName};
    for (const Staged& file : files)
      if (!file.settled) names.push_back(file.name);
    int error_number = 0;
    for_ranges(executor, count + 1, 1, [&](std::size_t task, std::size_t) {
      if (task == 0) {
        error_number = posix::flush_files(folder.staged(), names, executor);
      } else {
        later(task - 1);
      }
    });
    const int earlier = flushed.valid() ? flushed.get() : 0;
    return earlier != 0 ? earlier : error_number;
  }

  /// Whether every file that would be replaced is one that an earlier run wrote, or has the same bytes.
  Result<void> check_strangers(std::span<const ManifestEntry> old) const {
    std::set<std::string> known;
    for (const ManifestEntry& entry : old) known.insert(entry.name);
    std::error_code ignored;
    if (known.empty() && fs::exists(folder.target / kManifestName, ignored)) return {};  // damaged: ours all the same
    for (const Staged& file : files) {
      const fs::path there = folder.target / file.name;
      if (known.contains(file.name) || !fs::is_regular_file(there, ignored)) continue;
      if (is_unchanged(folder.target, {file.name, file.bytes, file.crc})) continue;
      return Error{ErrorCode::CannotWrite,
                   "this file was not written by trimtack; name another output folder, or move the file away",
                   there.string(), 0};
    }
    return {};
  }

  /// The manifest's new entries; names of earlier runs that go are added to `moves`.
  std::vector<ManifestEntry> merge_manifest(std::vector<ManifestEntry> old, Moves& moves) const {
    std::vector<ManifestEntry> merged;
    for (const Staged& file : files) {
      merged.push_back({file.name, file.bytes, file.crc});
      moves.written.push_back(file.name);
    }
    for (ManifestEntry& entry : old) {
      if (index.contains(entry.name)) continue;
      if (matches(retired, entry.name) && is_unchanged(folder.target, entry)) {
        moves.removed.insert(entry.name);
        continue;
      }
      std::error_code ignored;
      if (!matches(retired, entry.name) && fs::exists(folder.target / entry.name, ignored)) {
        merged.push_back(std::move(entry));
      }
    }
    std::sort(merged.begin(), merged.end(), [](const auto& a, const auto& b) { return a.name < b.name; });
    moves.written.emplace_back(kManifestName);
    return merged;
  }
};

FileSet::FileSet(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
FileSet::FileSet(FileSet&&) noexcept = default;
FileSet& FileSet::operator=(FileSet&&) noexcept = default;
FileSet::~FileSet() = default;

Result<FileSet> FileSet::open(const fs::path& folder) {
  const Result<fs::path> target = resolve_target(folder);
  if (!target) return target.error();
  Result<WorkFolder> work = open_work(*target);
  if (!work) return work.error();
  auto impl = std::make_unique<Impl>();
  impl->folder = std::move(*work);
  return FileSet(std::move(impl));
}

Result<void> FileSet::start(const std::string& name) {
  const std::lock_guard lock(impl_->mutex);
  const Result<posix::Descriptor> created = impl_->create(name);
  if (!created) return created.error();
  return {};
}

Result<void> FileSet::write(const std::string& name, std::string_view bytes) {
  std::unique_lock lock(impl_->mutex);
  Result<posix::Descriptor> fd = impl_->create(name);
  if (!fd) return fd.error();
  const std::size_t i = impl_->files.size() - 1;
  lock.unlock();
  if (const int error_number = posix::write_all(fd->get(), bytes)) return impl_->at_file(name, error_number);
  posix::begin_flush(fd->get(), 0, bytes.size());
  if (!fd->reset()) return impl_->at_file(name, errno);
  Staged& file = impl_->file(i);
  file.bytes = bytes.size();
  file.crc = crc64(as_bytes(bytes));
  impl_->release(i);
  return {};
}

Result<void> FileSet::write(const std::string& name, std::span<const std::byte> bytes) {
  return write(name, std::string_view(reinterpret_cast<const char*>(bytes.data()), bytes.size()));
}

Result<void> FileSet::append(const std::string& name, std::string_view bytes) {
  const auto acquired = impl_->acquire(name, true);
  if (!acquired) return acquired.error();
  const auto [i, fd] = *acquired;
  Staged& file = impl_->file(i);
  int error_number = ::lseek(fd, 0, SEEK_END) < 0 ? errno : 0;
  if (error_number == 0) error_number = posix::write_all(fd, bytes);
  if (error_number == 0) {
    file.bytes += bytes.size();
    file.crc = crc64(as_bytes(bytes), file.crc);
    if (file.bytes - file.flushing >= kFlushStep) {
      posix::begin_flush(fd, file.flushing, file.bytes - file.flushing);
      file.flushing = file.bytes;
    }
  }
  impl_->release(i);
  if (error_number != 0) return impl_->at_file(name, error_number);
  return {};
}

Result<void> FileSet::patch(const std::string& name, std::uint64_t offset, std::string_view bytes) {
  const auto acquired = impl_->acquire(name, false);
  if (!acquired) return acquired.error();
  const std::size_t i = acquired->first;
  const int fd = acquired->second;
  Staged& file = impl_->file(i);
  Result<void> done = [&]() -> Result<void> {
    if (offset + bytes.size() > file.bytes) return Impl::not_written(name);
    std::string difference(bytes.size(), '\0');
    if (const int error_number = posix::read_at(fd, offset, difference)) return impl_->at_file(name, error_number);
    for (std::size_t k = 0; k < bytes.size(); ++k) difference[k] = static_cast<char>(difference[k] ^ bytes[k]);
    if (::lseek(fd, static_cast<off_t>(offset), SEEK_SET) < 0) return impl_->at_file(name, errno);
    if (const int error_number = posix::write_all(fd, bytes)) return impl_->at_file(name, error_number);
    file.crc = crc64_patched(file.crc, as_bytes(difference), file.bytes - offset - bytes.size());
    return {};
  }();
  impl_->release(i);
  return done;
}

void FileSet::flush_meanwhile() {
  const std::lock_guard lock(impl_->mutex);
  if (impl_->flushed.valid()) return;
  std::vector<std::string> names;
  for (const Staged& file : impl_->files) names.push_back(file.name);
  try {
    impl_->flushed = std::async(std::launch::async, [folder = impl_->folder.staged(), names = std::move(names)] {
      return posix::flush_files(folder, names, {});
    });
  } catch (const std::system_error&) {
    return;  // no thread to be had: commit() waits for all of them
  }
  for (Staged& file : impl_->files) file.settled = true;
}

void FileSet::retire(std::string prefix) { impl_->retired.push_back(std::move(prefix)); }

Result<void> FileSet::commit(const Executor& executor) {
  if (auto closed = impl_->close_streams(); !closed) return closed;
  std::vector<ManifestEntry> before = old_manifest(impl_->folder.target);
  if (auto free = impl_->check_strangers(before); !free) return free;
  Moves moves;
  const std::string manifest = write_manifest(impl_->merge_manifest(std::move(before), moves));
  if (auto written = write_file(impl_->folder.staged() / kManifestName, manifest); !written) return written;
  impl_->finished = true;
  std::vector<std::string> old(moves.removed.begin(), moves.removed.end());
  old.insert(old.end(), moves.written.begin(), moves.written.end());
  const int error_number = impl_->flush_all(executor, old.size(), [&](std::size_t i) {
    posix::drop_pages(impl_->folder.target / old[i]);  // while the disk works
  });
  if (error_number != 0) return posix::cannot_write(impl_->folder.target, error_number);
  auto moved = move_in(impl_->folder, moves);
  try {
    close_work(impl_->folder, executor);
  } catch (...) {
    close_work(impl_->folder);  // an executor that is stopped: the set is in place, which is what the caller is told
  }
  return moved;
}

const std::vector<FileSet::Entry>& FileSet::entries() const { return impl_->entries; }

ReadLock& ReadLock::operator=(ReadLock&& other) noexcept {
  std::swap(fd_, other.fd_);
  return *this;
}
ReadLock::~ReadLock() {
  if (fd_ >= 0) ::close(fd_);
}

Result<ReadLock> ReadLock::open(const fs::path& folder) {
  constexpr double kWriterSeconds = 60;
  const auto fail = [&](const char* what) { return Error{ErrorCode::BadInput, what, folder.string(), 0}; };
  std::error_code error;
  const fs::path target = fs::canonical(folder, error);
  if (error) return fail("no such folder; check the name");
  if (!fs::is_directory(target, error)) return fail("is a file, not a folder that trimtack wrote");
  for (int attempt = 0; attempt < 100; ++attempt) {
    posix::Descriptor fd(::open(target.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
    if (!fd) return fail("cannot be read; check its permissions");
    if (!lock_folder(fd.get(), false, kWriterSeconds)) return fail("another run is replacing its files; try again");
    // Replaced while we waited: then the name means another folder now.
    if (posix::identity(fd.get()) != posix::identity(target)) continue;
    bool journal = false;
    for (const fs::path& work : {work_beside(target), work_inside(target)}) {
      journal = journal || fs::exists(work / "journal", error);
    }
    if (!journal) return ReadLock(fd.release());
    fd.reset();
    if (!recover(target)) break;
  }
  return fail(
      "an interrupted run left it half changed and it cannot be finished from here; run the last command again");
}

namespace {

/// @param Bytes  a string or a list of bytes
template <class Bytes>
Result<Bytes> read_whole(const fs::path& path, std::uint64_t max_bytes) {
  const auto fail = [&](const std::string& what) { return Error{ErrorCode::BadInput, what, path.string(), 0}; };
  const posix::Descriptor fd(::open(path.c_str(), O_RDONLY | O_CLOEXEC));
  if (!fd) {
    return errno == ENOENT ? fail("no such file; check the name") : fail("cannot be opened: " + posix::reason(errno));
  }
  struct stat info {};
  if (::fstat(fd.get(), &info) != 0) return fail("cannot be read: " + posix::reason(errno));
  if (S_ISDIR(info.st_mode)) return fail("is a folder, not a file; name a file in it");
  if (S_ISREG(info.st_mode) && max_bytes != 0 && static_cast<std::uint64_t>(info.st_size) > max_bytes) {
    return fail("is larger than the limit of " + std::to_string(max_bytes) + " bytes");
  }
  Bytes text;
  // One byte more than the size tells the end without another block.
  std::size_t room = S_ISREG(info.st_mode) ? static_cast<std::size_t>(info.st_size) + 1 : std::size_t{1} << 16U;
  std::size_t used = 0;
  while (true) {
    if (used == room) room *= 2;
    if (text.size() < room) {
      text.reserve(room);
      touch_ahead(text.data() + used, room - used);
      text.resize(room);
    }
    const ssize_t got = ::read(fd.get(), text.data() + used, std::min(room - used, std::size_t{1} << 30U));
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) return fail("cannot be read: " + posix::reason(errno));
    if (got == 0) break;
    used += static_cast<std::size_t>(got);
    if (max_bytes != 0 && used > max_bytes) {
      return fail("is larger than the limit of " + std::to_string(max_bytes) + " bytes");
    }
  }
  text.resize(used);
  return text;
}

}  // namespace

Result<std::string> read_file(const fs::path& path, std::uint64_t max_bytes) {
  return read_whole<std::string>(path, max_bytes);
}

Result<std::vector<std::byte>> read_file_bytes(const fs::path& path, std::uint64_t max_bytes) {
  return read_whole<std::vector<std::byte>>(path, max_bytes);
}

namespace {

/// Opens, writes and closes. @return 0 or the number of the first error
int write_whole(const fs::path& path, int how, std::string_view bytes) {
  posix::Descriptor fd(::open(path.c_str(), how | O_WRONLY | O_CLOEXEC, 0666));
  if (!fd) return errno;
  const int error_number = posix::write_all(fd.get(), bytes);
  return !fd.reset() && error_number == 0 ? errno : error_number;
}

}  // namespace

Result<void> write_file(const fs::path& path, std::string_view bytes) {
  std::error_code error;
  const fs::file_status status = fs::status(path, error);
  if (fs::is_directory(status)) return posix::cannot_write(path, EISDIR);
  if (fs::exists(status) && !fs::is_regular_file(status)) {
    // A pipe or a device cannot be replaced.
    const int error_number = write_whole(path, 0, bytes);
    return error_number == 0 ? Result<void>() : posix::cannot_write(path, error_number);
  }
  // What a link points to is replaced, not the link.
  const fs::path target = fs::is_symlink(fs::symlink_status(path, error)) ? fs::canonical(path, error) : path;
  if (target.empty()) return posix::cannot_write(path, error.value());
  constexpr std::size_t kLongest = 200;  // with what is added, a name may have 255 bytes
  const fs::path temporary = target.parent_path() / ("." + target.filename().string().substr(0, kLongest) + "." +
                                                     std::to_string(::getpid()) + ".tmp");
  int error_number = write_whole(temporary, O_CREAT | O_TRUNC, bytes);
  if (error_number == 0 && ::rename(temporary.c_str(), target.c_str()) != 0) error_number = errno;
  if (error_number == 0) return {};
  ::unlink(temporary.c_str());
  return posix::cannot_write(path, error_number);
}

}  // namespace trimtack
