// SPDX-License-Identifier: MIT
#include "core/phrase.hpp"

#include <array>
#include <cassert>
#include <charconv>

namespace trimtack {

std::string phrase(std::string_view format, std::initializer_list<double> numbers) {
  std::string text;
  const double* next = numbers.begin();
  for (std::size_t i = 0; i < format.size(); ++i) {
    if (format[i] != '%' || i + 1 == format.size()) {
      text += format[i];
      continue;
    }
    if (format[i + 1] == '%') {
      text += '%';
      ++i;
      continue;
    }
    assert(i + 3 < format.size() && format[i + 1] == '.' && next != numbers.end());
    std::array<char, 400> digits{};
    const auto how = format[i + 3] == 'f' ? std::chars_format::fixed : std::chars_format::general;
    const char* end =
        std::to_chars(digits.data(), digits.data() + digits.size(), *next++, how, format[i + 2] - '0').ptr;
    text.append(digits.data(), static_cast<std::size_t>(end - digits.data()));
    i += 3;
  }
  return text;
}

}  // namespace trimtack
