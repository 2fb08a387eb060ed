// SPDX-License-Identifier: MIT
/// The shortest decimal that reads back to the same double, and of those the nearest to it.
#pragma once

#include <cstddef>

namespace trimtack {

/// Room that format_shortest needs: more than the longest text, for it may write beyond the end that it returns.
inline constexpr std::size_t kMaxShortestText = 40;

/// Writes what std::to_chars(out, out + kMaxShortestText, value) writes, in half of the time.
/// @return one past the last character; no terminator.
char* format_shortest(char* out, double value);

}  // namespace trimtack
