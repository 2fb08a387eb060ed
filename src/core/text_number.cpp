// SPDX-License-Identifier: MIT
// Reading: Clinger's exact cases inline (text_number.hpp); 17 to 19 digits by one multiplication with a 128-bit
// reciprocal of the power of five, an idea from D. Lemire, "Number parsing at a gigabyte per second", Software:
// Practice and Experience 51 (2021); the rest by std::from_chars, which the standard requires to round correctly.
// Writing: the shortest that reads back (shortest_decimal.hpp), and a short cut for short decimals that gives the same;
// without an exponent in the range of coordinates.
#include "core/text_number.hpp"

#include <array>
#include <bit>
#include <charconv>
#include <cmath>
#include <cstring>
#include <limits>
#include <system_error>

#include "core/shortest_decimal.hpp"

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

#if defined(__SIZEOF_INT128__)
__extension__ using Wide = unsigned __int128;

/// floor(2^(127 + bits) / 5^k) with `bits` the length of 5^k: its highest bit is bit 127.
struct Reciprocal {
  std::uint64_t high = 0, low = 0;
  int bits = 0;
};
constexpr int kMostPlaces = 27;  // 5^27 is the last to fit 63 bits

constexpr std::array<Reciprocal, kMostPlaces + 1> make_reciprocals() {
  std::array<Reciprocal, kMostPlaces + 1> table{};
  std::uint64_t power = 1;
  for (std::size_t k = 1; k < table.size(); ++k) {
    power *= 5;
    Reciprocal& r = table[k];
    r.bits = std::bit_width(power);
    // Long division, bit by bit.
    std::uint64_t rest = 1;
    for (int i = 0; i < 127 + r.bits; ++i) {
      rest *= 2;
      r.high = r.high << 1 | r.low >> 63;
      r.low <<= 1;
      if (rest >= power) {
        rest -= power;
        r.low |= 1;
      }
    }
  }
  return table;
}
constexpr auto kReciprocals = make_reciprocals();

/// mantissa / 10^places, correctly rounded, into `value`; false where the product does not settle the rounding.
/// With W the mantissa shifted up to 64 bits and R the reciprocal, the true W * 2^(127 + bits) / 5^k lies in
/// [W R, W R + 2^64). So of H = floor(W R / 2^64), whose upper 53 bits become the significand, only a rest of half a
/// unit or one below it leaves open on which side of the half the truth lies.
/// @pre mantissa != 0, 1 <= places <= kMostPlaces
bool divide_by_power(std::uint64_t mantissa, int places, double& value) {
  const Reciprocal& r = kReciprocals[static_cast<std::size_t>(places)];
  const int shift = std::countl_zero(mantissa);
  const std::uint64_t w = mantissa << shift;
  const Wide product = static_cast<Wide>(w) * r.high + static_cast<std::uint64_t>((static_cast<Wide>(w) * r.low) >> 64);
  const int rest_bits = static_cast<int>(product >> 127) != 0 ? 75 : 74;
  const Wide half = static_cast<Wide>(1) << (rest_bits - 1);
  const Wide rest = product & (2 * half - 1);
  if (rest == half || rest == half - 1) return false;
  const auto significand = static_cast<std::uint64_t>(product >> rest_bits) + (rest > half ? 1 : 0);
  const int exponent = rest_bits - 63 - r.bits - shift - places;
  // A power of two in the range of normal numbers: the product is exact.
  value = static_cast<double>(significand) * std::bit_cast<double>(static_cast<std::uint64_t>(1023 + exponent) << 52);
  return true;
}
#else
constexpr int kMostPlaces = 0;
bool divide_by_power(std::uint64_t, int, double&) { return false; }
#endif

/// Numbers of up to 6 decimals and 15 digits in all, as exporters print them. Returns null for any other.
/// Why it is exact: the quotient below is correctly rounded (Clinger's case), so equality says that the decimal reads
/// back to `value`; and no two decimals of up to 15 digits read back to the same double, so none is shorter.
char* format_short_decimal(char* out, double value) {
  constexpr double kScale = 1e6;
  constexpr std::uint32_t kWholeScale = 1000000;
  const double size = std::abs(value);
  if (!(size < 1e9)) return nullptr;
  // A wrong rounding is found by the comparison that follows.  NOLINTNEXTLINE(bugprone-incorrect-roundings)
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

ParsedNumber convert_decimal(const ScannedDecimal& scanned, const char* first, const char* last) {
  const char* const end = scanned.end;
  if (scanned.digits == 0 || scanned.exponent < -kMostPlaces ||
      (end != last && (*end == 'e' || *end == 'E' || *end == '#'))) {
    return parse_double_slow(first, last);
  }
  std::ptrdiff_t digits = scanned.digits;
  if (digits > 19) {
    for (const char* p = first; p != end && (*p == '0' || *p == '.' || *p == '-' || *p == '+'); ++p) {
      if (*p == '0') --digits;
    }
    if (digits > 19) return parse_double_slow(first, last);
  }
  double value = static_cast<double>(scanned.mantissa);  // of a whole number: rounded by the machine
  if (scanned.exponent != 0 && scanned.mantissa != 0 &&
      !divide_by_power(scanned.mantissa, static_cast<int>(-scanned.exponent), value)) {
    return parse_double_slow(first, last);
  }
  return {scanned.negative ? -value : value, end, NumberStatus::Ok};
}

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
  char* const end = format_shortest(out, value);
  // The shortest form of 100000 is 1e+05: in the range of coordinates plain digits are worth a few characters more.
  const double size = std::abs(value);
  const bool plain_would_do = (size >= 1e5 && size < 1e21) || (size >= 1e-7 && size < 1e-3);
  if (!plain_would_do || std::memchr(out, 'e', static_cast<std::size_t>(end - out)) == nullptr) return end;
  return std::to_chars(out, out + kMaxDoubleText, value, std::chars_format::fixed).ptr;
}

}  // namespace trimtack
