// SPDX-License-Identifier: MIT
/// Moving packed points on machines with wider registers, several points an instruction. No fused operations, so the
/// bits are those of one point at a time. Private to the library.
#pragma once

#include "runtime/lanes.hpp"

namespace trimtack::frame::wide {

/// How many points to move singly so that the next one begins a line of the cache, which whole registers then fill: the
/// processor need not read a line that is overwritten as a whole. 0 where that is not to be had or not worth it.
inline size_t points_before_line(const void* out, size_t point_bytes, size_t count) {
  constexpr size_t kLine = 64, kWorthIt = 64;
  const auto address = reinterpret_cast<uintptr_t>(out);
  if (count < kWorthIt) return 0;
  for (size_t i = 0; i < kLine / 4; ++i)
    if ((address + i * point_bytes) % kLine == 0) return i;
  return 0;
}

/// The order in which a coordinate's terms are added up.
enum class Sum : uint8_t {
  Pairs,  ///< (r x + r y) + (r z + t), as move_point() in evaluate.cpp
  InTurn  ///< ((r x + r y) + r z) + t, as apply() of types.hpp
};

}  // namespace trimtack::frame::wide

#if defined(TRIMTACK_LANES) && defined(__x86_64__)
#define TRIMTACK_WIDE 1

namespace trimtack::frame::wide {

/// All whole fours of `count` points, Sum::Pairs; returns how many points those were. Reads four before it writes them:
/// in place is fine.
__attribute__((target("avx2"))) inline size_t apply_four(const double r[9], const double t[3], const float* rest,
                                                         size_t count, float* out) {
  const __m256d xx = _mm256_set1_pd(r[0]), xy = _mm256_set1_pd(r[1]), xz = _mm256_set1_pd(r[2]);
  const __m256d yx = _mm256_set1_pd(r[3]), yy = _mm256_set1_pd(r[4]), yz = _mm256_set1_pd(r[5]);
  const __m256d zx = _mm256_set1_pd(r[6]), zy = _mm256_set1_pd(r[7]), zz = _mm256_set1_pd(r[8]);
  const __m256d tx = _mm256_set1_pd(t[0]), ty = _mm256_set1_pd(t[1]), tz = _mm256_set1_pd(t[2]);
  size_t i = 0;
  for (; i + 4 <= count; i += 4) {
    __m128 fx, fy, fz;
    frame::split_points(rest + 3 * i, fx, fy, fz);
    const __m256d x = _mm256_cvtps_pd(fx), y = _mm256_cvtps_pd(fy), z = _mm256_cvtps_pd(fz);
    frame::join_points(_mm256_cvtpd_ps((xx * x + xy * y) + (xz * z + tx)),
                       _mm256_cvtpd_ps((yx * x + yy * y) + (yz * z + ty)),
                       _mm256_cvtpd_ps((zx * x + zy * y) + (zz * z + tz)), out + 3 * i);
  }
  return i;
}

/// Which lanes of two registers, the second's numbered on from the first's, go to each lane; then which of that result
/// and a third.
template <class Lane, size_t kLanes>
struct Shuffle {
  Lane first[kLanes] = {}, second[kLanes] = {};
};

/// One coordinate of as many points as there are lanes, from three registers of packed points.
template <class Lane, size_t kLanes>
constexpr Shuffle<Lane, kLanes> take_coordinate(size_t axis) {
  Shuffle<Lane, kLanes> out;
  for (size_t point = 0; point < kLanes; ++point) {
    const size_t from = 3 * point + axis;
    const bool third = from >= 2 * kLanes;
    out.first[point] = static_cast<Lane>(third ? 0 : from);
    out.second[point] = static_cast<Lane>(third ? from - kLanes : point);
  }
  return out;
}

/// One of three registers of packed points, from the three coordinates.
template <class Lane, size_t kLanes>
constexpr Shuffle<Lane, kLanes> pack_register(size_t which) {
  Shuffle<Lane, kLanes> out;
  for (size_t lane = 0; lane < kLanes; ++lane) {
    const size_t place = kLanes * which + lane, point = place / 3, axis = place % 3;
    out.first[lane] = static_cast<Lane>(axis == 1 ? kLanes + point : (axis == 0 ? point : 0));
    out.second[lane] = static_cast<Lane>(axis == 2 ? kLanes + point : lane);
  }
  return out;
}

template <class Lane, size_t kLanes>
struct Shuffles {
  Shuffle<Lane, kLanes> take[3] = {take_coordinate<Lane, kLanes>(0), take_coordinate<Lane, kLanes>(1),
                                   take_coordinate<Lane, kLanes>(2)};
  Shuffle<Lane, kLanes> pack[3] = {pack_register<Lane, kLanes>(0), pack_register<Lane, kLanes>(1),
                                   pack_register<Lane, kLanes>(2)};
};
inline constexpr Shuffles<int64_t, 8> kShuffleEight;
inline constexpr Shuffles<int32_t, 16> kShuffleSixteen;

__attribute__((target("avx512f"))) inline __m512d shuffled(__m512d a, __m512d b, __m512d c,
                                                           const Shuffle<int64_t, 8>& by) {
  return _mm512_permutex2var_pd(_mm512_permutex2var_pd(a, _mm512_loadu_si512(by.first), b),
                                _mm512_loadu_si512(by.second), c);
}

__attribute__((target("avx512f"))) inline __m512 shuffled(__m512 a, __m512 b, __m512 c,
                                                          const Shuffle<int32_t, 16>& by) {
  return _mm512_permutex2var_ps(_mm512_permutex2var_ps(a, _mm512_loadu_si512(by.first), b),
                                _mm512_loadu_si512(by.second), c);
}

template <Sum order>
__attribute__((target("avx512f"))) inline __m512d one_coordinate(const double row[3], double t, __m512d x, __m512d y,
                                                                 __m512d z) {
  const __m512d rx = _mm512_set1_pd(row[0]), ry = _mm512_set1_pd(row[1]), rz = _mm512_set1_pd(row[2]);
  if constexpr (order == Sum::Pairs) return (rx * x + ry * y) + (rz * z + _mm512_set1_pd(t));
  return ((rx * x + ry * y) + rz * z) + _mm512_set1_pd(t);
}

/// All whole eights of `count` points in double precision; returns how many points those were.
template <Sum order>
__attribute__((target("avx512f"))) inline size_t apply_eight(const double r[9], const double t[3], const double* rest,
                                                             size_t count, double* out) {
  constexpr const auto& kBy = kShuffleEight;
  size_t i = 0;
  for (; i + 8 <= count; i += 8) {
    const double* from = rest + 3 * i;
    double* to = out + 3 * i;
    const __m512d a = _mm512_loadu_pd(from), b = _mm512_loadu_pd(from + 8), c = _mm512_loadu_pd(from + 16);
    const __m512d x = shuffled(a, b, c, kBy.take[0]), y = shuffled(a, b, c, kBy.take[1]),
                  z = shuffled(a, b, c, kBy.take[2]);
    const __m512d u = one_coordinate<order>(r, t[0], x, y, z);
    const __m512d v = one_coordinate<order>(r + 3, t[1], x, y, z);
    const __m512d w = one_coordinate<order>(r + 6, t[2], x, y, z);
    for (size_t k = 0; k < 3; ++k) _mm512_storeu_pd(to + 8 * k, shuffled(u, v, w, kBy.pack[k]));
  }
  return i;
}

// Forms with a mask: those without start from a register that compilers find uninitialised.
constexpr __mmask8 kAllEight = 0xff;

__attribute__((target("avx512f"))) inline __m512d widened(__m512 sixteen, bool upper) {
  const __m512d bits = _mm512_castps_pd(sixteen);
  const __m256d half =
      upper ? _mm512_maskz_extractf64x4_pd(kAllEight, bits, 1) : _mm512_maskz_extractf64x4_pd(kAllEight, bits, 0);
  return _mm512_maskz_cvtps_pd(kAllEight, _mm256_castpd_ps(half));
}

__attribute__((target("avx512f"))) inline __m512 narrowed(__m512d lower, __m512d upper) {
  const __m256d first = _mm256_castps_pd(_mm512_maskz_cvtpd_ps(kAllEight, lower));
  const __m256d second = _mm256_castps_pd(_mm512_maskz_cvtpd_ps(kAllEight, upper));
  return _mm512_castpd_ps(_mm512_maskz_insertf64x4(kAllEight, _mm512_castpd256_pd512(first), second, 1));
}

/// All whole sixteens of `count` points, Sum::Pairs in double precision, and what is left of fours by apply_four().
__attribute__((target("avx512f"))) inline size_t apply_sixteen(const double r[9], const double t[3], const float* rest,
                                                               size_t count, float* out) {
  constexpr const auto& kBy = kShuffleSixteen;
  size_t i = 0;
  for (; i + 16 <= count; i += 16) {
    const float* from = rest + 3 * i;
    float* to = out + 3 * i;
    const __m512 a = _mm512_loadu_ps(from), b = _mm512_loadu_ps(from + 16), c = _mm512_loadu_ps(from + 32);
    const __m512 x = shuffled(a, b, c, kBy.take[0]), y = shuffled(a, b, c, kBy.take[1]),
                 z = shuffled(a, b, c, kBy.take[2]);
    __m512 moved[3];
    for (size_t k = 0; k < 3; ++k) {
      const auto half = [&](bool upper) __attribute__((target("avx512f"))) {
        return one_coordinate<Sum::Pairs>(r + 3 * k, t[k], widened(x, upper), widened(y, upper), widened(z, upper));
      };
      moved[k] = narrowed(half(false), half(true));
    }
    for (size_t k = 0; k < 3; ++k) _mm512_storeu_ps(to + 16 * k, shuffled(moved[0], moved[1], moved[2], kBy.pack[k]));
  }
  return i + apply_four(r, t, rest + 3 * i, count - i, out + 3 * i);
}

}  // namespace trimtack::frame::wide

#endif
