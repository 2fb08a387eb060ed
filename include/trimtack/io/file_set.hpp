// SPDX-License-Identifier: MIT
/// Output folders that hold either the old or the new set of files, never a mixture.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "trimtack/io/text_sink.hpp"
#include "trimtack/parallel.hpp"
#include "trimtack/result.hpp"

namespace trimtack {

/// The manifest of a folder: every file that trimtack wrote into it, with length and checksum (CRC-64/XZ).
inline constexpr const char* kManifestName = "trimtack.manifest.json";

/// Collects a run's files in a staging folder beside `folder` and moves them in at commit(). Files that the run does
/// not write are left alone, and none is replaced that no run wrote. A destroyed, uncommitted set leaves no trace.
///
/// Guarantee: when the process dies at any moment (also SIGKILL), the folder holds either the old or the new set. The
/// new folder is completed in staging (untouched files are hard links) and then exchanged with the old one in one step
/// of the operating system. Where that is not possible (the folder is the working directory, a mount point, a file
/// system without the exchange, or holds very many other files), a journal is written first, and the next open() or
/// ReadLock of this folder completes the moves. The new files are on the disk before they are moved in, so that a power
/// loss leaves a whole set, too, where the file system keeps the order of its own changes; the manifest's checksums
/// tell. Threads: different files of a set may be written by different threads at a time; all else by one.
class FileSet {
 public:
  /// Creates the staging folder and takes the folder's lock; finishes or removes what a killed run left.
  /// @error CannotWrite: exists as a file, its parent is missing, no permission, another run is writing to it.
  static Result<FileSet> open(const std::filesystem::path& folder);
  FileSet(FileSet&&) noexcept;
  FileSet& operator=(FileSet&&) noexcept;
  ~FileSet();

  /// Names a file that is to be appended to, empty so far: threads that write several at a time keep the order of
  /// entries() by starting them first. Errors as of write().
  Result<void> start(const std::string& name);
  /// A whole file at once. `name` is relative, with '/' between folders. @error CannotWrite (disk full, ...);
  /// Internal for a name that leaves the folder or was written before.
  Result<void> write(const std::string& name, std::string_view bytes);
  Result<void> write(const std::string& name, std::span<const std::byte> bytes);
  /// Appends to a file of this set, creating it first (for streams of frames).
  Result<void> append(const std::string& name, std::string_view bytes);
  /// Overwrites bytes already appended (a header whose counts are known at the end).
  Result<void> patch(const std::string& name, std::uint64_t offset, std::string_view bytes);
  /// What was written so far is complete: it goes to the disk meanwhile, on a thread that only waits, so that commit()
  /// has less to wait for. At most once; files changed later are waited for by commit() as if this had not been asked.
  void flush_meanwhile();
  /// At commit, removes files of earlier runs that this one makes stale: all names in the manifest that equal `prefix`
  /// or, when it ends with '/', start with it. A file edited since then is kept.
  void retire(std::string prefix);
  /// Writes the manifest and moves all files in; what waits for the disk, file by file, does so on `executor`. @error
  /// CannotWrite; the old set is then untouched.
  Result<void> commit(const Executor& executor = {});
  /// Names written so far, in order, with their sizes.
  struct Entry {
    std::string name;
    std::uint64_t bytes = 0;
  };
  const std::vector<Entry>& entries() const;

 private:
  struct Impl;
  explicit FileSet(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

/// Appends all pieces to one file of the set, which must outlive the sink.
inline TextSink sink_into(FileSet& files, std::string name) {
  return [&files, name = std::move(name)](std::string_view piece) { return files.append(name, piece); };
}

/// Holds a folder's set still while several of its files are read: a run that wants to replace them waits.
/// Any number of readers at a time. Finishes what a killed run left, when it may.
class ReadLock {
 public:
  /// @error BadInput: missing, not a folder, or an interrupted change that cannot be finished here.
  static Result<ReadLock> open(const std::filesystem::path& folder);
  ReadLock(ReadLock&& other) noexcept : fd_(other.fd_) { other.fd_ = -1; }
  ReadLock& operator=(ReadLock&& other) noexcept;
  ~ReadLock();

 private:
  explicit ReadLock(int fd) : fd_(fd) {}
  int fd_ = -1;
};

enum class FileState : std::uint8_t { Whole, Edited, Missing };
const char* to_text(FileState state);  ///< "whole", "edited", "missing"
struct CheckedFile {
  std::string name;
  FileState state = FileState::Whole;
  std::uint64_t bytes = 0;  ///< as written
};
/// Compares every file of the manifest with its length and checksum, in the manifest's order.
/// @error BadInput when there is no readable manifest.
Result<std::vector<CheckedFile>> verify_folder(const std::filesystem::path& folder);

/// CRC-64/XZ (ECMA-182 polynomial, reflected) of `bytes`, continuing from `crc` (0 to start).
std::uint64_t crc64(std::span<const std::byte> bytes, std::uint64_t crc = 0);

/// Reads a whole file. @error BadInput when it is missing, a folder, or larger than max_bytes (0: no limit).
Result<std::string> read_file(const std::filesystem::path& path, std::uint64_t max_bytes = 0);
Result<std::vector<std::byte>> read_file_bytes(const std::filesystem::path& path, std::uint64_t max_bytes = 0);
/// Writes one file atomically (temporary beside it, then rename), through links; into a pipe or a device as it is.
/// @error CannotWrite.
Result<void> write_file(const std::filesystem::path& path, std::string_view bytes);

}  // namespace trimtack
