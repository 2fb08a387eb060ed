// SPDX-License-Identifier: MIT
#include "io/posix_file.hpp"

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
