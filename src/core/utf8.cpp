// SPDX-License-Identifier: MIT
#include "core/utf8.hpp"

#include <algorithm>
#include <cstddef>

namespace trimtack {
namespace {

struct Sequence {
  std::size_t bytes = 1;
  bool whole = false;
};

/// The character at the start of the text, or as much of one as is there.
Sequence first_sequence(std::string_view text) {
  const auto at = [&](std::size_t i) { return static_cast<unsigned char>(text[i]); };
  const unsigned lead = at(0);
  if (lead < 0x80) return {1, true};
  const std::size_t bytes = lead >= 0xf0 ? 4 : (lead >= 0xe0 ? 3 : 2);
  if (lead < 0xc2 || lead > 0xf4) return {1, false};
  for (std::size_t i = 1; i < bytes; ++i) {
    unsigned low = 0x80, high = 0xbf;
    if (i == 1) {
      // No longer form than needed, no surrogates, nothing beyond U+10FFFF.
      if (lead == 0xe0) low = 0xa0;
      if (lead == 0xed) high = 0x9f;
      if (lead == 0xf0) low = 0x90;
      if (lead == 0xf4) high = 0x8f;
    }
    if (i >= text.size() || at(i) < low || at(i) > high) return {i, false};
  }
  return {bytes, true};
}

}  // namespace

std::string valid_utf8(std::string_view text) {
  if (std::all_of(text.begin(), text.end(), [](char c) { return static_cast<unsigned char>(c) < 0x80; }))
    return std::string(text);
  std::string out;
  while (!text.empty()) {
    const Sequence sequence = first_sequence(text);
    if (sequence.whole) {
      out += text.substr(0, sequence.bytes);
    } else {
      out += "\xef\xbf\xbd";
    }
    text.remove_prefix(sequence.bytes);
  }
  return out;
}

}  // namespace trimtack
