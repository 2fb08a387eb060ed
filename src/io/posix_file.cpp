// SPDX-License-Identifier: MIT
#include "io/posix_file.hpp"

#include <fcntl.h>
#include <sys/stat.h>

#include <cstring>

namespace trimtack::posix {

std::string reason(int error_number) {
  switch (error_number) {
    case EACCES:
    case EPERM:
      return "no permission; choose another place or change its permissions";
    case EROFS:
      return "the file system is read-only; choose another place";
    case ENOSPC:
    case EDQUOT:
      return "the disk is full; make room or choose another place";
    case EFBIG:
      return "the file is larger than the system allows; raise the limit or choose another file system";
    case ENOENT:
      return "its folder does not exist; create it first";
    case ENOTDIR:
      return "part of its path is a file, not a folder; choose another place";
    case EISDIR:
      return "it is a folder; remove it or choose another place";
    case ENAMETOOLONG:
      return "the name is too long; choose a shorter one";
    default: {
      char text[128] = "";
      // The GNU variant returns the text, which may or may not be in the buffer.
      return std::string("the system says: ") + ::strerror_r(error_number, text, sizeof text);
    }
  }
}

Error cannot_write(const std::filesystem::path& path, int error_number) {
  return Error{ErrorCode::CannotWrite, "cannot write: " + reason(error_number), path.string(), 0};
}

int write_all(int fd, std::string_view bytes) {
  constexpr std::size_t kMostAtOnce = std::size_t{1} << 30;  // Linux writes at most 2^31 - 4096 at a time
  while (!bytes.empty()) {
    const ssize_t written = ::write(fd, bytes.data(), std::min(bytes.size(), kMostAtOnce));
    if (written < 0) {
      if (errno == EINTR) continue;
      return errno;
    }
    bytes.remove_prefix(static_cast<std::size_t>(written));
  }
  return 0;
}

void begin_flush(int fd, std::uint64_t offset, std::uint64_t bytes) {
  constexpr std::uint64_t kWorthIt = std::uint64_t{1} << 16;  // small files go with the flush itself
#if defined(__linux__)
  if (bytes >= kWorthIt) {
    (void)::sync_file_range(fd, static_cast<off_t>(offset), static_cast<off_t>(bytes), SYNC_FILE_RANGE_WRITE);
  }
#endif
}

int read_at(int fd, std::uint64_t offset, std::span<char> out) {
  std::size_t done = 0;
  while (done < out.size()) {
    const ssize_t got = ::pread(fd, out.data() + done, out.size() - done, static_cast<off_t>(offset + done));
    if (got < 0 && errno == EINTR) continue;
    if (got <= 0) return got < 0 ? errno : EIO;
    done += static_cast<std::size_t>(got);
  }
  return 0;
}

int flush_files(const std::filesystem::path& folder, const std::vector<std::string>& names, const Executor& executor) {
  constexpr std::size_t kMostAlone = 64;
  // What cannot be flushed by its nature (some network and user file systems say so) is no fault.
  const auto failed = [](int result) { return result != 0 && (errno == EIO || errno == ENOSPC || errno == EDQUOT); };
  const Descriptor directory(::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
  if (!directory) return errno;
  if (names.size() > kMostAlone) return failed(::syncfs(directory.get())) ? errno : 0;
  const auto flush = [&](const std::string& name) {
    const Descriptor file(::open((folder / name).c_str(), O_RDONLY | O_CLOEXEC));
    if (!file || failed(::fsync(file.get()))) return errno;
    if (name.find('/') == std::string::npos) return 0;
    const Descriptor parent(::open((folder / name).parent_path().c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
    return !parent || failed(::fsync(parent.get())) ? errno : 0;
  };
  std::vector<int> errors(names.size());
  for_ranges(executor, names.size(), 1, [&](std::size_t i, std::size_t) { errors[i] = flush(names[i]); });
  for (const int error_number : errors)
    if (error_number != 0) return error_number;
  return failed(::fsync(directory.get())) ? errno : 0;
}

void drop_pages(const std::filesystem::path& path) {
  const Descriptor file(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK));
  if (file) (void)::posix_fadvise(file.get(), 0, 0, POSIX_FADV_DONTNEED);
}

std::pair<std::uint64_t, std::uint64_t> identity(int fd) {
  struct stat info {};
  if (::fstat(fd, &info) != 0) return {0, 0};
  return {info.st_dev, info.st_ino};
}

std::pair<std::uint64_t, std::uint64_t> identity(const std::filesystem::path& path) {
  struct stat info {};
  if (::lstat(path.c_str(), &info) != 0) return {0, 0};
  return {info.st_dev, info.st_ino};
}

}  // namespace trimtack::posix
