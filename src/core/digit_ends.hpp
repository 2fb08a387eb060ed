// SPDX-License-Identifier: MIT
/// Where runs of digits end, read off a mask of 64 characters at a time. What follows a number can then be looked at
/// before the number's value is known, so that one does not wait for the other.
#pragma once

#include <bit>
#include <cstddef>
#include <cstdint>

#if defined(__SSE2__)
#include <emmintrin.h>
#endif

#include "core/text_number.hpp"

namespace trimtack {

/// Characters that one mask tells of.
inline constexpr std::size_t kMaskedText = 64;

/// Bit k is set where p[k] is no digit; eight characters at a time, on any machine that stores the low byte first.
inline std::uint64_t other_than_digits_by_words(const char* p) {
  std::uint64_t mask = 0;
  for (unsigned i = 0; i < kMaskedText; i += 8) {
    const std::uint64_t others = detail::others_of(detail::load_eight(p + i) ^ detail::kEightZeros);
    mask |= ((others >> 7) * 0x0102040810204080U >> 56) << i;
  }
  return mask;
}

/// The same, the fastest way that the compiler's target has.
inline std::uint64_t other_than_digits(const char* p) {
#if defined(__SSE2__)
  std::uint64_t mask = 0;
  for (unsigned i = 0; i < kMaskedText; i += 16) {
    // '0' to '9' become the ten lowest signed bytes.
    const __m128i text = _mm_loadu_si128(reinterpret_cast<const __m128i*>(p + i));
    const __m128i shifted = _mm_sub_epi8(text, _mm_set1_epi8(static_cast<char>('0' + 128)));
    const __m128i others = _mm_cmpgt_epi8(shifted, _mm_set1_epi8(static_cast<char>(9 - 128)));
    mask |= static_cast<std::uint64_t>(static_cast<unsigned>(_mm_movemask_epi8(others))) << i;
  }
  return mask;
#else
  return other_than_digits_by_words(p);
#endif
}

/// The mask of the 64 characters from `base`; begin with base = where the text begins, others = 0.
struct DigitEnds {
  const char* base = nullptr;
  std::uint64_t others = 0;
};

/// The first character at or after p that is no digit; p + 64 when that many digits come.
/// @pre p is not before ends.base, and 64 characters can be read at p
inline const char* end_of_digits(DigitEnds& ends, const char* p) {
  auto at = static_cast<std::size_t>(p - ends.base);
  if (at >= kMaskedText || ends.others >> at == 0) {
    ends = {p, other_than_digits(p)};
    at = 0;
  }
  return p + std::countr_zero(ends.others >> at);
}

/// Digits, and one other character that may stand in front of them.
struct SignedDigits {
  unsigned others = 0;  ///< 1: there is one in front
  const char *begin = nullptr, *end = nullptr;
};

/// The same for a number that may have a sign; no branch asks whether it has one. Runs of 63 digits and more may end
/// anywhere behind the 62nd.
inline SignedDigits signed_digits(DigitEnds& ends, const char* p) {
  auto at = static_cast<std::size_t>(p - ends.base);
  if (at >= kMaskedText || ends.others >> at <= 1) {
    ends = {p, other_than_digits(p)};
    at = 0;
  }
  const std::uint64_t others = ends.others >> at;
  const auto first = static_cast<unsigned>(others & 1U);
  const char* const begin = p + first;
  return {first, begin, begin + std::countr_zero(others >> first)};
}

}  // namespace trimtack
