// SPDX-License-Identifier: MIT
/// What is wrong with a file.
#pragma once

#include <cstdint>
#include <string>
#include <utility>

#include "trimtack/result.hpp"

namespace trimtack {

inline Error bad_input(const std::string& file, std::uint64_t line, std::string message) {
  return {ErrorCode::BadInput, std::move(message), file, line};
}
inline Error bad_input(const std::string& file, std::string message) { return bad_input(file, 0, std::move(message)); }

/// The message, and behind a semicolon what to do, unless it says that itself.
std::string with_advice(std::string message, const char* advice);

}  // namespace trimtack
