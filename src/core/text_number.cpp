// SPDX-License-Identifier: MIT
// Reading: Clinger's exact cases inline (text_number.hpp), the rest by std::from_chars, which the standard requires to
// round correctly. Writing: std::to_chars, which the standard requires to be the shortest that reads back,
// and a short cut for short decimals that gives the same; without an exponent in the range of coordinates.
#include "core/text_number.hpp"

#include <charconv>
#include <cmath>
#include <limits>
#include <system_error>

namespace trimtack {
namespace {

char lower(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }

bool starts_with(const char* p, const char* last, const char* word) {
  for (; *word != '\0'; ++word, ++p) {
    if (p == last || lower(*p) != *word) return false;
  }
  return true;
}

/// "nan", "inf", and what C run-times print for them: "1.#QNAN", "1.#INF", "-1.#IND".
bool says_not_finite(const char* p, const char* last) {
  return starts_with(p, last, "nan") || starts_with(p, last, "inf") || starts_with(p, last, "1.#");
}

/// Where a decimal's leading digit stands: value = d.ddd * 10^result; a zero gives the smallest number.
/// @pre [p, last) is a decimal without sign.
long long leading_exponent(const char* p, const char* last) {
  long long exponent = -1;
  bool seen_point = false;
  bool seen_digit = false;
  long long shift = 0;
  for (; p != last && *p != 'e' && *p != 'E'; ++p) {
    if (*p == '.') {
      seen_point = true;
    } else if (seen_digit || *p != '0') {
      if (!seen_point) ++exponent;
      seen_digit = true;
    } else if (seen_point) {
      --shift;
    }
  }
  if (!seen_digit) return std::numeric_limits<long long>::min();
  long long written = 0;
  if (p != last) {
    bool negative = false;
    ++p;
    if (p != last && (*p == '+' || *p == '-')) negative = *p++ == '-';
    constexpr long long kEnough = 1LL << 40;
    for (; p != last && written < kEnough; ++p) written = written * 10 + (*p - '0');
    if (negative) written = -written;
  }
  return exponent + shift + written;
}

/// Numbers of up to 6 decimals and 15 digits in all, as exporters print them. Returns null for any other.
/// Why it is exact: the quotient below is correctly rounded (Clinger's case), so equality says that the decimal reads
/// back to `value`; and no two decimals of up to 15 digits read back to the same double, so none is shorter.
char* format_short_decimal(char* out, double value) {
  constexpr double kScale = 1e6;
  constexpr std::uint32_t kWholeScale = 1000000;
  const double size = std::abs(value);
  if (!(size < 1e9)) return nullptr;
  const auto scaled = static_cast<std::uint64_t>(size * kScale + 0.5);
  if (scaled >= 1000000000000000U || static_cast<double>(scaled) / kScale != size) return nullptr;
  if (std::signbit(value)) *out++ = '-';
  out = format_whole(out, static_cast<std::uint32_t>(scaled / kWholeScale));
  const auto fraction = static_cast<std::uint32_t>(scaled % kWholeScale);
  if (fraction == 0) return out;
  *out++ = '.';
  out = detail::put_four(detail::put_pair(out, fraction / 10000), fraction % 10000);
  while (out[-1] == '0') --out;
  return out;
}

}  // namespace

ParsedNumber parse_double_slow(const char* first, const char* last) {
  const char* p = first;
  bool negative = false;
  if (p != last && (*p == '-' || *p == '+')) negative = *p++ == '-';
  if (says_not_finite(p, last)) return {0, p, NumberStatus::NotFinite};
  // std::from_chars takes no '+' and would take a second '-', so the sign is dealt with here.
  if (p == last || (!detail::is_digit(*p) && *p != '.')) return {0, first, NumberStatus::NotANumber};
  double value = 0;
  const std::from_chars_result read = std::from_chars(p, last, value, std::chars_format::general);
  if (read.ec == std::errc::invalid_argument) return {0, first, NumberStatus::NotANumber};
  if (read.ec == std::errc::result_out_of_range || std::isinf(value)) {
    if (leading_exponent(p, read.ptr) > 0) return {0, read.ptr, NumberStatus::TooLarge};
    value = 0;
  }
  return {negative ? -value : value, read.ptr, NumberStatus::Ok};
}

char* format_double(char* out, double value) {
  if (char* const end = format_short_decimal(out, value)) return end;
  if (std::isnan(value)) {
    for (const char c : {'n', 'a', 'n'}) *out++ = c;
    return out;
  }
  char* const end = std::to_chars(out, out + kMaxDoubleText, value).ptr;
  // The shortest form of 100000 is 1e+05: in the range of coordinates plain digits are worth a few characters more.
  const double size = std::abs(value);
  const bool plain_would_do = (size >= 1e5 && size < 1e21) || (size >= 1e-7 && size < 1e-3);
  if (!plain_would_do || std::memchr(out, 'e', static_cast<std::size_t>(end - out)) == nullptr) return end;
  return std::to_chars(out, out + kMaxDoubleText, value, std::chars_format::fixed).ptr;
}

}  // namespace trimtack
