// SPDX-License-Identifier: MIT
/// NPY 1.0 / 2.0 arrays of floating point numbers.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "trimtack/parallel.hpp"
#include "trimtack/result.hpp"
#include "trimtack/types.hpp"

namespace trimtack {

/// The 64-aligned header of a C-order float64 ("<f8") or float32 ("<f4") array; `shape` is row-major.
/// Version 1.0, or 2.0 when the text would not fit in 65,535 bytes. The data follows in little-endian order.
std::string npy_header(std::span<const std::uint64_t> shape, bool float64);

struct NpyInfo {
  std::vector<std::uint64_t> shape;
  int item_bytes = 8;
  bool big_endian = false;
  std::uint64_t data_offset = 0;
};
/// @error BadInput for anything but a C-order array of f4 or f8 whose data fits the file's size exactly.
/// Cost: the header alone is read (at most 1 MiB).
Result<NpyInfo> read_npy_info(const std::filesystem::path& path);
/// The same from the first bytes of a file of `file_bytes` bytes; `file` is used in messages. `head` must hold the
/// whole header (npy_head_limit bytes, or the whole file, are enough).
Result<NpyInfo> parse_npy_info(std::string_view head, std::uint64_t file_bytes, const std::string& file);
/// Bytes of a file that parse_npy_info needs at most; longer headers are refused.
inline constexpr std::uint64_t kNpyHeadLimit = std::uint64_t{1} << 20;

/// An open array whose rows (everything behind the first axis) are read as doubles in any order.
class NpyFile {
 public:
  /// @error as read_npy_info.
  static Result<NpyFile> open(const std::filesystem::path& path);
  NpyFile(NpyFile&&) noexcept;
  NpyFile& operator=(NpyFile&&) noexcept;
  ~NpyFile();

  const NpyInfo& info() const;
  /// Reads `out.size()` numbers from number `first` of the array on (row-major), any format to double.
  /// @error BadInput when the range leaves the array or the file has become shorter since it was opened.
  /// Cost: block reads of 256 KiB, converted in the cache. Threads: safe (positional reads), and split over `executor`.
  Result<void> read(std::uint64_t first, std::span<double> out, const Executor& executor = {}) const;

 private:
  struct Impl;
  explicit NpyFile(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

}  // namespace trimtack
