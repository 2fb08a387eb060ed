// SPDX-License-Identifier: MIT
#include "io/bad_input.hpp"

namespace trimtack {

std::string with_advice(std::string message, const char* advice) {
  if (message.find(';') == std::string::npos) message.append("; ").append(advice);
  return message;
}

}  // namespace trimtack
