// SPDX-License-Identifier: MIT
/// Small wrappers of POSIX calls for file sets: descriptors that close themselves, errors in plain words.
#pragma once

#include <unistd.h>

#include <cerrno>
#include <cstdint>
#include <filesystem>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "trimtack/parallel.hpp"
#include "trimtack/result.hpp"

namespace trimtack::posix {

/// A file descriptor with one owner.
class Descriptor {
 public:
  Descriptor() = default;
  explicit Descriptor(int fd) : fd_(fd) {}
  Descriptor(Descriptor&& other) noexcept : fd_(std::exchange(other.fd_, -1)) {}
  Descriptor& operator=(Descriptor&& other) noexcept {
    if (this != &other) {
      reset();
      fd_ = std::exchange(other.fd_, -1);
    }
    return *this;
  }
  ~Descriptor() { reset(); }
  int get() const { return fd_; }
  int release() { return std::exchange(fd_, -1); }
  explicit operator bool() const { return fd_ >= 0; }
  /// Closes; false when the system reports a late write error.
  bool reset() { return fd_ < 0 || ::close(std::exchange(fd_, -1)) == 0; }

 private:
  int fd_ = -1;
};

/// What the system's error number means here and what to do about it.
std::string reason(int error_number);
/// CannotWrite for `path` with the reason of `error_number`.
Error cannot_write(const std::filesystem::path& path, int error_number);
/// Writes everything, continuing after partial writes and interrupts; 0 or the error number.
int write_all(int fd, std::string_view bytes);
/// Lets the system begin to put bytes just written onto the disk, without waiting: flush_files() then waits less.
void begin_flush(int fd, std::uint64_t offset, std::uint64_t bytes);
/// Fills `out` from `offset` of an open file; 0 or the error number (EIO where the file ends before).
int read_at(int fd, std::uint64_t offset, std::span<char> out);
/// Puts the named files of a folder, and their names, onto the disk, so that they outlive a power loss; 0 or the error
/// number. Many files are flushed with their whole file system, in one call; a few beside each other, since each waits
/// for the disk on its own.
int flush_files(const std::filesystem::path& folder, const std::vector<std::string>& names,
                const Executor& executor = {});
/// Lets the system forget what it holds in memory of a file that is about to be removed, as far as that is on the disk:
/// the removal then takes no time. Nothing happens to the file itself.
void drop_pages(const std::filesystem::path& path);
/// (device, inode) of an open file or a path (links not followed); {0, 0} when there is none.
std::pair<std::uint64_t, std::uint64_t> identity(int fd);
std::pair<std::uint64_t, std::uint64_t> identity(const std::filesystem::path& path);

}  // namespace trimtack::posix
