// SPDX-License-Identifier: MIT
/// Output folders that hold either the old or the new set of files, never a mixture.
#pragma once

#include <cstdint>
#include <filesystem>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "trimtack/result.hpp"

namespace trimtack {

/// Collects a run's files in a staging folder beside `folder` and moves them in at commit(). Files of an earlier run
/// that the new one does not write are left alone. A destroyed, uncommitted set leaves no trace.
class FileSet {
 public:
  /// Creates the staging folder and takes the folder's lock. @error CannotWrite (exists as a file, no permission,
  /// another run is at work).
  static Result<FileSet> open(const std::filesystem::path& folder);
  FileSet(FileSet&&) noexcept;
  FileSet& operator=(FileSet&&) noexcept;
  ~FileSet();

  /// A whole file at once. `name` is relative and may hold folders.
  Result<void> write(const std::string& name, std::string_view bytes);
  Result<void> write(const std::string& name, std::span<const std::byte> bytes);
  /// Appends to a file of this set, creating it first (for streams of frames).
  Result<void> append(const std::string& name, std::string_view bytes);
  /// Overwrites bytes already appended (a header whose counts are known at the end).
  Result<void> patch(const std::string& name, std::uint64_t offset, std::string_view bytes);
  /// Flushes everything, writes the manifest and moves all files in.
  Result<void> commit();
  /// Names written so far, in order, with their sizes.
  struct Entry {
    std::string name;
    std::uint64_t bytes = 0;
  };
  const std::vector<Entry>& entries() const;

 private:
  struct Impl;
  explicit FileSet(Impl* impl);
  Impl* impl_ = nullptr;
};

/// Reads a whole file. @error BadInput when it is missing, a folder, or larger than max_bytes (0: no limit).
Result<std::string> read_file(const std::filesystem::path& path, std::uint64_t max_bytes = 0);
/// Writes one file atomically (temporary beside it, then rename).
Result<void> write_file(const std::filesystem::path& path, std::string_view bytes);

}  // namespace trimtack
