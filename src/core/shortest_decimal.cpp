// SPDX-License-Identifier: MIT
// R. Giulietti, "The Schubfach way to render doubles" (2020): scaled by the power of ten next below the distance to the
// neighbouring doubles, the numbers that read back to a double lie in an interval as wide as 1 to 10. At most one
// multiple of ten lies in it, and else the whole number nearest to the double is the answer. For doubles from 2^-127 up
// to 2^53 that power of five fits in 128 bits, so that nothing below is approximate; all others go to std::to_chars.
#include "core/shortest_decimal.hpp"

#include <array>
#include <bit>
#include <charconv>
#include <cmath>
#include <cstdint>
#include <cstring>

#include "core/text_number.hpp"

namespace trimtack {
namespace {

#if defined(__SIZEOF_INT128__)
__extension__ using Product = unsigned __int128;

constexpr std::size_t kPowers = 56;  // 5^55 is the last below 2^128

/// 5^n, shifted up so that its highest bit is bit 127.
struct FivePower {
  std::uint64_t high = 0, low = 0;
};

constexpr std::array<FivePower, kPowers> make_five_powers() {
  std::array<FivePower, kPowers> table{};
  Product power = 1;
  for (FivePower& entry : table) {
    Product shifted = power;
    while (static_cast<std::uint64_t>(shifted >> 127U) == 0) shifted <<= 1U;
    entry = {static_cast<std::uint64_t>(shifted >> 64U), static_cast<std::uint64_t>(shifted)};
    power *= 5;
  }
  return table;
}
constexpr auto kFivePowers = make_five_powers();

/// floor(x power / 2^128), with the lowest bit set where that is not exact.
std::uint64_t scaled(const FivePower& power, std::uint64_t x) {
  const Product low = static_cast<Product>(x) * power.low;
  const Product sum = static_cast<Product>(x) * power.high + static_cast<std::uint64_t>(low >> 64U);
  const bool rest = (static_cast<std::uint64_t>(sum) | static_cast<std::uint64_t>(low)) != 0;
  return static_cast<std::uint64_t>(sum >> 64U) | (rest ? 1U : 0U);
}

constexpr int kDigits = 17;  ///< always enough

/// digits 10^exponent
struct Decimal {
  std::uint64_t digits = 0;
  int exponent = 0;
};

/// @param bits  of a double from 2^-127 up to 2^53. @return kDigits digits, with zeros at the end.
Decimal shortest(std::uint64_t bits) {
  constexpr std::uint64_t kHidden = std::uint64_t{1} << 52U, kSmallest = 10'000'000'000'000'000;
  const std::uint64_t fraction = bits & (kHidden - 1), significand = fraction | kHidden;
  const int exponent = static_cast<int>(bits >> 52U) - 1075;  // value = significand 2^exponent
  const bool nearer_below = fraction == 0;                    // the double below is only half as far as the one above
  // k = floor(log10(distance)): the factors are log10(2) and log10(3/4) times 2^22.
  const int k = (exponent * 1262611 - (nearer_below ? 524031 : 0)) >> 22;
  // 10^-k = 5^-k 2^-k with a length of floor(-k log2(5)) + 1 bits; scaled values are in quarters.
  const FivePower& power = kFivePowers[static_cast<std::size_t>(-k)];
  const int shift = exponent - k + ((-k * 1217359) >> 19) + 1;
  const std::uint64_t middle = 4 * significand;
  const std::uint64_t below = scaled(power, (middle - (nearer_below ? 1 : 2)) << shift);
  const std::uint64_t here = scaled(power, middle << shift);
  const std::uint64_t above = scaled(power, (middle + 2) << shift);
  // Halfway to a neighbour reads back where the significand is even. An inexact bound is odd, a multiple of 4 is not.
  const std::uint64_t open = significand & 1U;
  const std::uint64_t lowest = below + open, highest = above - open;
  const std::uint64_t whole = here / 4, ten = whole / 10 * 10;
  const bool ten_below = lowest <= 4 * ten, ten_above = 4 * ten + 40 <= highest;
  const bool lower = lowest <= 4 * whole, upper = 4 * whole + 4 <= highest;
  const std::uint64_t half = 4 * whole + 2;
  const bool nearest = (here > half) | ((here == half) & (whole % 2 != 0));
  std::uint64_t found = whole + ((lower != upper ? upper : nearest) ? 1 : 0);
  found = ten_above ? ten + 10 : found;
  found = ten_below ? ten : found;
  const bool one_less = found < kSmallest;
  return {one_less ? 10 * found : found, one_less ? k - 1 : k};
}

/// The eight digits of a number below 10^8, a byte each, the first one lowest: halves, pairs, digits.
std::uint64_t eight_digits(std::uint64_t value) {
  std::uint64_t x = value / 10000 | (value % 10000) << 32U;
  const std::uint64_t hundreds = (x * 10486) >> 20U & 0x0000007f0000007fU;
  x = hundreds | (x - 100 * hundreds) << 16U;
  const std::uint64_t tens = (x * 103) >> 10U & 0x000f000f000f000fU;
  return tens | (x - 10 * tens) << 8U;
}

/// The digits as text, followed by what is free to be copied along; returns how many are left without zeros at the end.
int put_digits(std::array<char, 40>& text, std::uint64_t digits) {
  constexpr std::uint64_t kZeros = 0x3030303030303030U;
  const std::uint64_t high = digits / 100000000, first = high / 100000000;
  const std::uint64_t middle = eight_digits(high % 100000000), last = eight_digits(digits % 100000000);
  text[0] = static_cast<char>('0' + first);
  const std::uint64_t middle_text = middle + kZeros, last_text = last + kZeros;
  std::memcpy(&text[1], &middle_text, 8);
  std::memcpy(&text[9], &last_text, 8);
  if (last != 0) return kDigits - std::countl_zero(last) / 8;
  return middle != 0 ? 9 - std::countl_zero(middle) / 8 : 1;
}

/// Without an exponent unless that is shorter. Copies are of fixed length, which costs less than the right one.
char* put_decimal(char* out, const Decimal& decimal) {
  std::array<char, 40> text;
  const int count = put_digits(text, decimal.digits), before_point = kDigits + decimal.exponent;
  const int exponent = before_point - count;  // of the last digit
  const int bound = count == 1 ? 1 : 0;       // no point in "1e-05"
  if (exponent < bound - (count + 3) || exponent > 5 - bound) {
    std::memcpy(out + 1, text.data(), kDigits);
    out[0] = text[0];
    out[1] = '.';
    out += count == 1 ? 1 : count + 1;
    *out++ = 'e';
    *out++ = before_point < 1 ? '-' : '+';
    return detail::put_pair(out, static_cast<std::uint32_t>(std::abs(before_point - 1)));
  }
  if (before_point <= 0) {
    constexpr std::array<char, 8> kLeading{'0', '.', '0', '0', '0', '0', '0', '0'};
    std::memcpy(out, kLeading.data(), kLeading.size());
    std::memcpy(out + 2 - before_point, text.data(), kDigits);
    return out + 2 - before_point + count;
  }
  std::memcpy(out, text.data(), kDigits);
  if (exponent >= 0) return out + before_point;
  out[before_point] = '.';
  std::memcpy(out + before_point + 1, &text[static_cast<std::size_t>(before_point)], kDigits - 1);
  return out + count + 1;
}
#endif

}  // namespace

char* format_shortest(char* out, double value) {
#if defined(__SIZEOF_INT128__)
  constexpr double kLeast = 0x1p-127, kBeyond = 0x1p53;
  const double size = std::abs(value);
  if (size >= kLeast && size < kBeyond) {
    *out = '-';
    out += std::signbit(value) ? 1 : 0;
    return put_decimal(out, shortest(std::bit_cast<std::uint64_t>(size)));
  }
#endif
  return std::to_chars(out, out + kMaxShortestText, value).ptr;
}

}  // namespace trimtack
