// SPDX-License-Identifier: MIT
/// NPY 1.0 / 2.0 arrays of floating point numbers.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <span>
#include <string>
#include <vector>

#include "trimtack/result.hpp"
#include "trimtack/types.hpp"

namespace trimtack {

/// The 64-aligned header of a C-order float64 ("<f8") or float32 ("<f4") array; `shape` is row-major.
std::string npy_header(std::span<const std::uint64_t> shape, bool float64);

struct NpyInfo {
  std::vector<std::uint64_t> shape;
  int item_bytes = 8;
  bool big_endian = false;
  std::uint64_t data_offset = 0;
};
/// @error BadInput for anything but a C-order array of f4 or f8 whose data fits the file's size exactly.
Result<NpyInfo> read_npy_info(const std::filesystem::path& path);

}  // namespace trimtack
