// SPDX-License-Identifier: MIT
/// Lines of one kind in a block of plain lines (TextBlock::plain_lines), found many bytes at a time.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string_view>

#include "core/memory.hpp"

namespace trimtack::obj {

/// Bytes [begin, end) of a text: whole lines, their LFs included.
struct LineRun {
  std::uint32_t begin = 0, end = 0;
};

/// The v (kind 0), vt (1) or vn (2) statements of a block of plain lines, neighbours together. Only the last line of
/// the text may lack its LF. @pre fewer than 2^32 bytes, followed by a zero byte
void find_line_runs(std::string_view text, std::size_t kind, Buffer<LineRun>& runs);

/// Passes over `lines` lines from p on, or to `end`. @return the line there; `lines` gets how many are missing
const char* skip_lines(const char* p, const char* end, std::size_t& lines);

}  // namespace trimtack::obj
