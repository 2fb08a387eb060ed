// SPDX-License-Identifier: MIT
/// The numbers of the lines that most files consist of: one blank in front of each, plain decimals or v/vt/vn, nothing
/// behind the last. What these do not take is left to the parser of statements (obj_block.cpp).
#pragma once

#include <bit>
#include <cstddef>
#include <cstdint>

#include "core/digit_ends.hpp"
#include "io/obj_block.hpp"
#include "io/obj_text.hpp"

namespace trimtack::obj {

inline constexpr bool kPlainText = std::endian::native == std::endian::little;

/// A decimal of 1 to 8 digits, and at most 16 behind a point, no exponent. @param p  moved behind it.
/// @return whether it was one. @pre 128 characters can be read at p
inline bool read_plain_decimal(DigitEnds& ends, const char*& p, double& value) {
  const SignedDigits whole = signed_digits(ends, p);
  if ((*p == '-') != (whole.others == 1)) return false;
  const char* stop = whole.end;
  const auto whole_digits = static_cast<unsigned>(stop - whole.begin);
  if (whole_digits - 1U >= 8U) return false;
  std::uint64_t mantissa = detail::value_of_digits(detail::load_eight(whole.begin), whole_digits);
  unsigned places = 0;
  if (*stop == '.') {
    const char* const fraction = stop + 1;
    stop = end_of_digits(ends, fraction);
    places = static_cast<unsigned>(stop - fraction);
    if (places - 1U >= 16U) return false;
    const unsigned first = places < 8 ? places : 8;
    mantissa =
        mantissa * detail::kWholePowersOfTen[first] + detail::value_of_digits(detail::load_eight(fraction), first);
    if (places > 8) {
      mantissa = mantissa * detail::kWholePowersOfTen[places - 8] +
                 detail::value_of_digits(detail::load_eight(fraction + 8), places - 8);
    }
  }
  if (whole_digits + places > 19) return false;  // may have wrapped
  if (mantissa > detail::kExactMantissa) {
    const ScannedDecimal scanned{mantissa, -static_cast<std::ptrdiff_t>(places), whole_digits + places, stop,
                                 whole.others == 1};
    value = convert_decimal(scanned, p, stop).value;
  } else {
    // The sign as a bit: of normals half are negative, which no branch foresees.
    const double quotient = static_cast<double>(mantissa) / detail::kExactPowersOfTen[places];
    value = std::bit_cast<double>(std::bit_cast<std::uint64_t>(quotient) | std::uint64_t{whole.others} << 63U);
  }
  p = stop;
  return true;
}

/// The numbers of a line of exactly `kCount`, p behind the keyword. @return the line's end, or null when it is no
/// plain line, which says nothing yet.
template <int kCount>
const char* read_plain_numbers(DigitEnds& ends, const char* p, const char* end, double* out) {
  constexpr std::ptrdiff_t kLongest = kCount * 28 + 2 * static_cast<std::ptrdiff_t>(kMaskedText);
  if (!kPlainText || end - p < kLongest) return nullptr;
  for (int i = 0; i < kCount; ++i) {
    if (*p != ' ') return nullptr;
    ++p;
    if (!read_plain_decimal(ends, p, out[i])) return nullptr;
  }
  return is_line_end(*p) ? p : nullptr;
}

/// Corners of the form v/vt/vn with plain digits, one blank in front, as long as they come; appended to the block.
/// @return the first place that asks for more than this
const char* read_plain_corners(DigitEnds& ends, const char* p, const char* end, Block& block);

}  // namespace trimtack::obj
