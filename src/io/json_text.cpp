// SPDX-License-Identifier: MIT
#include "io/json_text.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>

namespace trimtack::json_text {

void append_string(std::string& out, std::string_view text) {
  const bool plain =
      std::all_of(text.begin(), text.end(), [](char ch) { return ch >= 32 && ch < 127 && ch != '"' && ch != '\\'; });
  if (plain) {
    out += '"';
    out += text;
    out += '"';
  } else {
    out += nlohmann::json(std::string(text)).dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
  }
}

std::string reason_of(const std::exception& error) {
  const std::string what = error.what();
  const std::size_t start = what.find("] ");
  return start == std::string::npos ? what : what.substr(start + 2);
}

}  // namespace trimtack::json_text
