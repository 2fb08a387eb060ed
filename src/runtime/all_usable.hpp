// SPDX-License-Identifier: MIT
/// Whether many numbers are usable, as frame::usable() tells of a few. Private to the library.
#pragma once

#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include "runtime/frame.hpp"

namespace trimtack::frame {

/// Unsigned numbers as wide as the positions.
inline uint32_t as_bits(float x) {
  uint32_t bits;
  memcpy(&bits, &x, sizeof bits);
  return bits;
}
inline uint64_t as_bits(double x) {
  uint64_t bits;
  memcpy(&bits, &x, sizeof bits);
  return bits;
}

namespace usable_bits {

/// In whole numbers: sizes are ordered as their bits are, infinity and NaN last, so the sum below carries into the
/// highest bit for all beyond the limit.
template <class P>
#if defined(__GNUC__)
__attribute__((always_inline))
#endif
inline bool
all(const unsigned char* bytes, size_t count) {
  constexpr P kLimit = static_cast<P>(kLargestCoordinate);
  static_assert(static_cast<double>(kLimit) <= kLargestCoordinate);
  using Bits = decltype(as_bits(kLimit));
  constexpr Bits kSign = Bits{1} << (8 * sizeof(Bits) - 1);
  const Bits to_carry = kSign - 1 - as_bits(kLimit);
  Bits carried = 0;
  for (size_t i = 0; i < count; ++i) {
    P number;
    memcpy(&number, bytes + i * sizeof number, sizeof number);
    carried |= (as_bits(number) & (kSign - 1)) + to_carry;
  }
  return (carried & kSign) == 0;
}

#if defined(__GNUC__) && defined(__x86_64__)
template <class P>
__attribute__((target("avx2"))) bool all_wide(const unsigned char* bytes, size_t count) {
  return all<P>(bytes, count);
}
#endif

}  // namespace usable_bits

/// Whether all of a packed list of any alignment are usable.
template <class P>
bool all_usable(const P* numbers, size_t count) {
  const auto* bytes = reinterpret_cast<const unsigned char*>(numbers);
#if defined(__GNUC__) && defined(__x86_64__)
  if (__builtin_cpu_supports("avx2")) return usable_bits::all_wide<P>(bytes, count);
#endif
  return usable_bits::all<P>(bytes, count);
}

}  // namespace trimtack::frame
