// SPDX-License-Identifier: MIT
// CRC-64/XZ: polynomial 0x42F0E1EBA9EA3693 of ECMA-182 in reflected form, initial value and final xor all ones; the
// check value of "123456789" is 0x995DC9BBDF1939FA. Eight bytes a step with eight tables (Kounavis and Berry 2005), in
// four lanes that are put together by the linear map of a lane of zeros. Where the processor multiplies polynomials, 64
// bytes a step are folded instead (Gopal et al., "Fast CRC computation for generic polynomials using PCLMULQDQ", 2009).
// A checksum is linear in the bytes: a patch adds the checksum of the difference, moved on by the bytes behind it.
#include <array>
#include <bit>
#include <cstring>

#if defined(__GNUC__) && defined(__x86_64__)
#include <immintrin.h>
#endif

#include "io/manifest.hpp"
#include "trimtack/io/file_set.hpp"

namespace trimtack {
namespace {

using Tables = std::array<std::array<std::uint64_t, 256>, 8>;

constexpr std::uint64_t kReflected = 0xC96C5795D7870F42ULL;

constexpr Tables make_tables() {
  Tables tables{};
  for (std::uint64_t byte = 0; byte < 256; ++byte) {
    std::uint64_t crc = byte;
    for (int bit = 0; bit < 8; ++bit) crc = (crc & 1U) != 0 ? (crc >> 1U) ^ kReflected : crc >> 1U;
    tables[0][byte] = crc;
  }
  for (std::size_t k = 1; k < 8; ++k) {
    for (std::size_t byte = 0; byte < 256; ++byte) {
      const std::uint64_t previous = tables[k - 1][byte];
      tables[k][byte] = tables[0][previous & 0xffU] ^ (previous >> 8U);
    }
  }
  return tables;
}

constexpr Tables kTables = make_tables();

/// A linear map of 64 bits: the image of each bit.
using Map = std::array<std::uint64_t, 64>;

std::uint64_t image(const Map& map, std::uint64_t bits) {
  std::uint64_t sum = 0;
  for (std::size_t i = 0; bits != 0; ++i, bits >>= 1U) {
    if ((bits & 1U) != 0) sum ^= map[i];
  }
  return sum;
}

/// What a zero byte makes of a checksum.
Map one_zero() {
  Map map{};
  for (std::size_t i = 0; i < 64; ++i) {
    const std::uint64_t bit = std::uint64_t{1} << i;
    map[i] = kTables[0][bit & 0xffU] ^ (bit >> 8U);
  }
  return map;
}

Map twice(const Map& map) {
  Map out{};
  for (std::size_t i = 0; i < 64; ++i) out[i] = image(map, map[i]);
  return out;
}

}  // namespace

std::uint64_t crc64_patched(std::uint64_t crc, std::span<const std::byte> difference, std::uint64_t bytes_behind) {
  // The difference alone, without the initial value; then zero bytes by repeated squaring of the map of one.
  std::uint64_t change = 0;
  for (const std::byte b : difference) {
    change = kTables[0][(change ^ static_cast<std::uint64_t>(b)) & 0xffU] ^ (change >> 8U);
  }
  Map zeros = one_zero();
  for (; bytes_behind != 0; bytes_behind >>= 1U) {
    if ((bytes_behind & 1U) != 0) change = image(zeros, change);
    zeros = twice(zeros);
  }
  return crc ^ change;
}

namespace {

std::uint64_t next_word(std::uint64_t crc, const std::byte* p) {
  static_assert(std::endian::native == std::endian::little, "eight bytes are taken as one little-endian word");
  std::uint64_t word = 0;
  std::memcpy(&word, p, 8);
  word ^= crc;
  return kTables[7][word & 0xffU] ^ kTables[6][(word >> 8U) & 0xffU] ^ kTables[5][(word >> 16U) & 0xffU] ^
         kTables[4][(word >> 24U) & 0xffU] ^ kTables[3][(word >> 32U) & 0xffU] ^ kTables[2][(word >> 40U) & 0xffU] ^
         kTables[1][(word >> 48U) & 0xffU] ^ kTables[0][word >> 56U];
}

// Four pieces of this length at a time: one alone waits for its own table look-ups.
constexpr std::size_t kLane = 16384;

/// What kLane zero bytes make of a checksum, byte by byte.
Tables make_lane_shift() {
  Map map = one_zero();
  for (std::size_t zeros = 1; zeros < kLane; zeros *= 2) map = twice(map);
  Tables shift{};
  for (std::size_t k = 0; k < 8; ++k)
    for (std::uint64_t byte = 0; byte < 256; ++byte) shift[k][byte] = image(map, byte << (8 * k));
  return shift;
}

std::uint64_t shifted(const Tables& shift, std::uint64_t crc) {
  std::uint64_t sum = 0;
  for (std::size_t k = 0; k < 8; ++k) sum ^= shift[k][(crc >> (8 * k)) & 0xffU];
  return sum;
}

std::uint64_t crc_in_lanes(const std::byte*& p, std::size_t& left, std::uint64_t crc) {
  static const Tables shift = make_lane_shift();
  for (; left >= 4 * kLane; left -= 4 * kLane, p += 4 * kLane) {
    std::uint64_t b = 0, c = 0, d = 0;
    for (const std::byte* q = p; q != p + kLane; q += 8) {
      crc = next_word(crc, q);
      b = next_word(b, q + kLane);
      c = next_word(c, q + 2 * kLane);
      d = next_word(d, q + 3 * kLane);
    }
    crc = shifted(shift, shifted(shift, shifted(shift, crc) ^ b) ^ c) ^ d;
  }
  return crc;
}

#if defined(__GNUC__) && defined(__x86_64__)
#define TRIMTACK_FOLD 1

/// x^n modulo the polynomial, reflected.
constexpr std::uint64_t power_of_x(int n) {
  std::uint64_t power = std::uint64_t{1} << 63U;
  for (; n > 0; --n) power = (power & 1U) != 0 ? (power >> 1U) ^ kReflected : power >> 1U;
  return power;
}

/// What moves 128 bits on by `bits`: the lower word counts 64 more. A product of reflected words is one place short.
struct Fold {
  std::uint64_t low = 0, high = 0;
};
constexpr Fold fold_by(int bits) { return {power_of_x(bits + 64 - 1), power_of_x(bits - 1)}; }
constexpr Fold kFoldOne = fold_by(128), kFoldFour = fold_by(512);

__attribute__((target("pclmul"))) inline __m128i fold(__m128i sum, const Fold& by, __m128i next) {
  const __m128i factors = _mm_set_epi64x(static_cast<long long>(by.high), static_cast<long long>(by.low));
  return _mm_xor_si128(
      _mm_xor_si128(_mm_clmulepi64_si128(sum, factors, 0x00), _mm_clmulepi64_si128(sum, factors, 0x11)), next);
}

inline __m128i load_sixteen(const std::byte* p) { return _mm_loadu_si128(reinterpret_cast<const __m128i*>(p)); }

/// @pre left >= 64
__attribute__((target("pclmul"))) std::uint64_t crc_by_folds(const std::byte*& p, std::size_t& left,
                                                             std::uint64_t crc) {
  __m128i a = _mm_xor_si128(load_sixteen(p), _mm_cvtsi64_si128(static_cast<long long>(crc)));
  __m128i b = load_sixteen(p + 16), c = load_sixteen(p + 32), d = load_sixteen(p + 48);
  for (p += 64, left -= 64; left >= 64; p += 64, left -= 64) {
    a = fold(a, kFoldFour, load_sixteen(p));
    b = fold(b, kFoldFour, load_sixteen(p + 16));
    c = fold(c, kFoldFour, load_sixteen(p + 32));
    d = fold(d, kFoldFour, load_sixteen(p + 48));
  }
  a = fold(fold(fold(a, kFoldOne, b), kFoldOne, c), kFoldOne, d);
  std::array<std::byte, 16> rest;
  std::memcpy(rest.data(), &a, sizeof a);
  return next_word(next_word(0, rest.data()), rest.data() + 8);
}
#endif

}  // namespace

std::uint64_t crc64(std::span<const std::byte> bytes, std::uint64_t crc) {
  crc = ~crc;
  const std::byte* p = bytes.data();
  std::size_t left = bytes.size();
#if defined(TRIMTACK_FOLD)
  if (left >= 64 && __builtin_cpu_supports("pclmul")) crc = crc_by_folds(p, left, crc);
#endif
  if (left >= 4 * kLane) crc = crc_in_lanes(p, left, crc);
  for (; left >= 8; left -= 8, p += 8) crc = next_word(crc, p);
  for (; left > 0; --left, ++p) crc = kTables[0][(crc ^ static_cast<std::uint64_t>(*p)) & 0xffU] ^ (crc >> 8U);
  return ~crc;
}

}  // namespace trimtack
