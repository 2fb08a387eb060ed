// SPDX-License-Identifier: MIT
/// OBJ text as it is read: in parts, from a file or from memory.
#pragma once

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <string>
#include <vector>

#include "trimtack/mesh.hpp"
#include "trimtack/result.hpp"

namespace trimtack::obj {

struct Input {
  std::uint64_t size = 0;
  std::uint64_t held = 0;  ///< bytes of it in memory
  TextReader read;
};

Input input_of(std::string text);

/// A file, which stays where it is, or a source without a size (a pipe), which is read into memory.
/// @error BadInput when there is no such file, it cannot be read, or it is larger than `max_bytes` (0: no limit).
Result<Input> open_input(const std::filesystem::path& path, std::uint64_t max_bytes);

/// 1-based line of an offset; only for messages. CR LF counts once. 0 when the text cannot be read any more.
std::uint64_t line_at(const Input& input, std::uint64_t offset);

struct TextRange {
  std::uint64_t begin = 0, end = 0;
};

/// The text in ranges of about `block_bytes` that hold whole statements: each ends behind a line feed that no backslash
/// escapes. A byte order mark is left out.
Result<std::vector<TextRange>> cut_blocks(const Input& input, std::size_t block_bytes);

}  // namespace trimtack::obj
