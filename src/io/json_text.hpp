// SPDX-License-Identifier: MIT
/// JSON text written piece by piece, for files too large for a document tree.
#pragma once

#include <charconv>
#include <concepts>
#include <cstdint>
#include <exception>
#include <string>
#include <string_view>

#include "core/shortest_decimal.hpp"
#include "trimtack/types.hpp"

namespace trimtack::json_text {

/// Shortest decimal that reads back to the same bits; null for a number that JSON cannot hold.
inline void append_number(std::string& out, double value) {
  if (!std::isfinite(value)) {
    out += "null";
    return;
  }
  char text[kMaxShortestText];
  out.append(text, format_shortest(text, value == 0 ? 0.0 : value));
}

template <std::integral T>
void append_number(std::string& out, T value) {
  char text[24];
  const auto end = std::to_chars(text, text + sizeof text, value).ptr;
  out.append(text, end);
}

/// The number, or null for kNone.
inline void append_id(std::string& out, Index id) {
  if (id == kNone) {
    out += "null";
  } else {
    append_number(out, id);
  }
}

/// In quotes, escaped; bytes that are not UTF-8 become U+FFFD.
void append_string(std::string& out, std::string_view text);

/// The sentence of an error that the JSON library threw, without the prefix that names the library's own error class.
std::string reason_of(const std::exception& error);

inline void append_vec3(std::string& out, const Vec3& p) {
  out += '[';
  append_number(out, p.x);
  out += ", ";
  append_number(out, p.y);
  out += ", ";
  append_number(out, p.z);
  out += ']';
}

}  // namespace trimtack::json_text
