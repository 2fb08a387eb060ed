// SPDX-License-Identifier: MIT
/// Words of usda text.
#pragma once

#include <array>
#include <charconv>
#include <set>
#include <string>
#include <string_view>

#include "core/utf8.hpp"

namespace trimtack::usd {

/// Shortest decimals that read back to the same float.
inline void append_number(std::string& out, float value) {
  std::array<char, 24> text;
  out.append(text.data(), std::to_chars(text.data(), text.data() + text.size(), value).ptr);
}

/// Shortest decimals that read back to the same double.
inline std::string decimal(double value) {
  std::array<char, 32> text;
  return {text.data(), std::to_chars(text.data(), text.data() + text.size(), value).ptr};
}

/// In double quotes; control characters become spaces, bytes that are not UTF-8 U+FFFD.
inline std::string in_quotes(std::string_view text) {
  std::string out = "\"";
  for (const char c : valid_utf8(text)) {
    if (c == '"' || c == '\\') out += '\\';
    out += static_cast<unsigned char>(c) < 0x20 || c == 0x7f ? ' ' : c;
  }
  return out + '"';
}

/// A prim name made of the text: letters, digits and underscores, not starting with a digit, and not yet in `used`.
inline std::string identifier(std::string_view text, std::set<std::string>& used) {
  std::string name;
  for (const char c : text) {
    const bool letter = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '_';
    const bool digit = c >= '0' && c <= '9';
    if (digit && name.empty()) name += '_';
    name += letter || digit ? c : '_';
  }
  if (name.empty()) name = "_";
  std::string candidate = name;
  for (int i = 2; !used.insert(candidate).second; ++i) candidate = name + "_" + std::to_string(i);
  return candidate;
}

}  // namespace trimtack::usd
