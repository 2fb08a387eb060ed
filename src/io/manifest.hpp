// SPDX-License-Identifier: MIT
/// The manifest of an output folder as plain data.
#pragma once

#include <cstdint>
#include <filesystem>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "trimtack/result.hpp"

namespace trimtack {

struct ManifestEntry {
  std::string name;
  std::uint64_t bytes = 0;
  std::uint64_t crc = 0;
};

/// True for a relative name that stays in its folder: no empty part, no "." or "..", no leading '/', no control byte.
bool is_safe_name(std::string_view name);
std::string write_manifest(const std::vector<ManifestEntry>& entries);
/// @error BadInput for anything that write_manifest did not make.
Result<std::vector<ManifestEntry>> read_manifest(std::string_view text, const std::string& file);
/// Length and checksum of the file still those of `entry`?
bool is_unchanged(const std::filesystem::path& folder, const ManifestEntry& entry);
/// The checksum of a file after some of its bytes were replaced: `difference` is old xor new, `bytes_behind` the number
/// of bytes after them. Cost: O(difference), not O(file).
std::uint64_t crc64_patched(std::uint64_t crc, std::span<const std::byte> difference, std::uint64_t bytes_behind);

}  // namespace trimtack
