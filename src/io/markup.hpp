// SPDX-License-Identifier: MIT
/// Text in HTML and XML.
#pragma once

#include <string>
#include <string_view>

#include "core/utf8.hpp"

namespace trimtack {

/// Text that a parser of HTML or XML gives back as it was; control characters, which XML 1.0 forbids, become
/// blanks, bytes that are not UTF-8 U+FFFD.
inline std::string escape_markup(std::string_view text) {
  std::string out;
  for (const char c : valid_utf8(text)) {
    if (c == '&') {
      out += "&amp;";
    } else if (c == '<') {
      out += "&lt;";
    } else if (c == '>') {
      out += "&gt;";
    } else if (c == '"') {
      out += "&quot;";
    } else {
      out += static_cast<unsigned char>(c) < 32 ? ' ' : c;
    }
  }
  return out;
}

}  // namespace trimtack
