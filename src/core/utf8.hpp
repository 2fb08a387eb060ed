// SPDX-License-Identifier: MIT
/// Names come from files in whatever encoding their program wrote; what is written as UTF-8 must be UTF-8.
#pragma once

#include <string>
#include <string_view>

namespace trimtack {

/// The text, with U+FFFD in place of every byte or unfinished sequence that is not UTF-8 (RFC 3629).
std::string valid_utf8(std::string_view text);

}  // namespace trimtack
