// SPDX-License-Identifier: MIT
/// Exact, locale-free decimal text <-> double. Reading rounds correctly (to nearest, ties to even); writing gives the
/// shortest digits that read back to the same bits.
/// Method of the fast path: W. D. Clinger, "How to read floating point numbers accurately", PLDI 1990, section 3: an
/// integer up to 2^53 times or over a power of ten up to 10^22 is one correctly rounded operation.
#pragma once

#include <array>
#include <bit>
#include <cstddef>
#include <cstdint>
#include <cstring>

namespace trimtack {

enum class NumberStatus : std::uint8_t {
  Ok,
  NotANumber,  ///< no digits where a number should start
  NotFinite,   ///< the text says nan or infinity
  TooLarge     ///< beyond the largest double
};

/// What a number's text gave. `end` is the first character that does not belong to it.
struct ParsedNumber {
  double value = 0;
  const char* end = nullptr;
  NumberStatus status = NumberStatus::Ok;
};

/// The part that is not worth inlining: many digits, large exponents, nan, infinity, or no number at all.
ParsedNumber parse_double_slow(const char* first, const char* last);

namespace detail {

inline constexpr double kExactPowersOfTen[] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,  1e10, 1e11,
                                               1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};
inline constexpr std::uint64_t kExactMantissa = std::uint64_t{1} << 53;

inline bool is_digit(char c) { return static_cast<unsigned char>(c - '0') < 10; }

inline std::uint64_t load_eight(const char* p) {
  std::uint64_t word = 0;
  std::memcpy(&word, p, sizeof word);
  return word;
}

inline constexpr std::uint64_t kWholePowersOfTen[] = {1, 10, 100, 1000, 10000, 100000, 1000000, 10000000, 100000000};

/// The run of digits at the start of eight bytes: how many, and their value.
struct DigitRun {
  std::uint64_t value = 0;
  unsigned count = 0;
};

inline constexpr std::uint64_t kEightZeros = 0x3030303030303030U;

/// The highest bit of each byte that was no digit, of eight characters after the exclusive or with kEightZeros: such a
/// byte is 10 or more.
inline std::uint64_t others_of(std::uint64_t word) {
  return (word | ((word & 0x7f7f7f7f7f7f7f7fU) + 0x7676767676767676U)) & 0x8080808080808080U;
}

/// The first `count` characters, 1 to 8, which are digits, as numbers at the upper end; zeros come in front.
/// @param word  eight characters as load_eight gives them on a little-endian machine.
inline std::uint64_t aligned_digits(std::uint64_t word, unsigned count) {
  return (word ^ kEightZeros) << (64 - 8 * count);
}

/// The value of eight aligned digits: neighbours are joined to pairs, pairs to fours, fours to eight, each time with
/// one multiplication for all lanes.
inline std::uint64_t value_of_aligned(std::uint64_t word) {
  word = word * 10 + (word >> 8);
  const std::uint64_t low = (word & 0x000000ff000000ffU) * 0x000f424000000064U;
  const std::uint64_t high = ((word >> 16) & 0x000000ff000000ffU) * 0x0000271000000001U;
  return (low + high) >> 32;
}

inline std::uint64_t value_of_digits(std::uint64_t word, unsigned count) {
  return value_of_aligned(aligned_digits(word, count));
}

/// The run of digits at the start of eight characters.
inline DigitRun digits_of(std::uint64_t word) {
  const auto count = static_cast<unsigned>(std::countr_zero(others_of(word ^ kEightZeros))) / 8;  // 8: all are digits
  if (count == 0) return {};
  return {value_of_digits(word, count), count};
}

/// Appends the digits at p to `mantissa` (which wraps when there are too many: the caller counts them).
inline const char* read_digits(const char* p, const char* last, std::uint64_t& mantissa) {
  if constexpr (std::endian::native == std::endian::little) {
    while (last - p >= 8) {
      const DigitRun run = digits_of(load_eight(p));
      mantissa = mantissa * kWholePowersOfTen[run.count] + run.value;
      p += run.count;
      if (run.count != 8) return p;
    }
  }
  for (; p != last && is_digit(*p); ++p) mantissa = mantissa * 10 + static_cast<std::uint64_t>(*p - '0');
  return p;
}

}  // namespace detail

/// A decimal that was scanned but not yet converted: +-mantissa * 10^exponent.
struct ScannedDecimal {
  std::uint64_t mantissa = 0;   ///< wrapped when there are more than 19 digits behind leading zeros
  std::ptrdiff_t exponent = 0;  ///< minus the digits behind the point
  std::ptrdiff_t digits = 0;    ///< all of them, leading zeros included
  const char* end = nullptr;
  bool negative = false;
};
/// Converts when no exponent follows, there are at most 19 digits behind leading zeros and not too many places; else
/// starts again with parse_double_slow.
ParsedNumber convert_decimal(const ScannedDecimal& scanned, const char* first, const char* last);

/// Reads the decimal number at `first`: [+-] digits [. digits] [e|E [+-] digits], at least one digit, nothing skipped
/// in front. A value too small for a double becomes a zero of its sign. Cost: linear in the characters; no allocation.
inline ParsedNumber parse_double(const char* first, const char* last) {
  const char* p = first;
  bool negative = false;
  if (p != last && (*p == '-' || *p == '+')) negative = *p++ == '-';
  std::uint64_t mantissa = 0;
  const char* const digits = p;
  p = detail::read_digits(p, last, mantissa);
  std::ptrdiff_t count = p - digits;
  std::ptrdiff_t exponent = 0;
  if (p != last && *p == '.') {
    const char* const fraction = ++p;
    p = detail::read_digits(p, last, mantissa);
    exponent = fraction - p;
    count -= exponent;
  }
  // 19 digits always fit 64 bits; more, an exponent, or anything unusual ("1.#INF") takes a longer road.
  if (count == 0 || count > 19 || mantissa > detail::kExactMantissa || exponent < -22 ||
      (p != last && (*p == 'e' || *p == 'E' || *p == '#'))) {
    return convert_decimal({mantissa, exponent, count, p, negative}, first, last);
  }
  double value = static_cast<double>(mantissa);
  if (exponent != 0) value /= detail::kExactPowersOfTen[-exponent];
  return {negative ? -value : value, p, NumberStatus::Ok};
}

/// Room that format_double needs: it may write beyond the end that it returns.
inline constexpr std::size_t kMaxDoubleText = 40;

/// Writes the shortest decimal that reads back to the same bits, without an exponent from 1e-7 up to 1e21 (infinities
/// and NaN as "inf", "-inf", "nan").
/// @param out  at least kMaxDoubleText characters. @return one past the last character written; no terminator.
char* format_double(char* out, double value);

namespace detail {

/// "00" to "99".
inline constexpr auto kDigitPairs = [] {
  std::array<char, 200> table{};
  for (std::size_t i = 0; i < 100; ++i) {
    table[2 * i] = static_cast<char>('0' + i / 10);
    table[2 * i + 1] = static_cast<char>('0' + i % 10);
  }
  return table;
}();

inline char* put_pair(char* out, std::uint32_t value) {
  std::memcpy(out, kDigitPairs.data() + 2 * value, 2);
  return out + 2;
}
inline char* put_four(char* out, std::uint32_t value) { return put_pair(put_pair(out, value / 100), value % 100); }

/// @pre value < 10000
inline char* put_up_to_four(char* out, std::uint32_t value) {
  if (value >= 100) {
    const std::uint32_t high = value / 100;
    if (high >= 10) return put_four(out, value);
    *out = static_cast<char>('0' + high);
    return put_pair(out + 1, value % 100);
  }
  if (value >= 10) return put_pair(out, value);
  *out = static_cast<char>('0' + value);
  return out + 1;
}

}  // namespace detail

/// Room that format_whole needs.
inline constexpr std::size_t kMaxWholeText = 10;

/// Writes a whole number. @return one past the last character written; no terminator.
inline char* format_whole(char* out, std::uint32_t value) {
  if (value < 10000) return detail::put_up_to_four(out, value);
  if (value < 100000000) return detail::put_four(detail::put_up_to_four(out, value / 10000), value % 10000);
  const std::uint32_t low = value % 100000000;
  return detail::put_four(detail::put_four(detail::put_up_to_four(out, value / 100000000), low / 10000), low % 10000);
}

}  // namespace trimtack
