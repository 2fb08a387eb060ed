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

/// The same with eight; what is left of a four goes to apply_four().
__attribute__((target("avx512f"))) inline size_t apply_eight(const double r[9], const double t[3], const float* rest,
                                                             size_t count, float* out) {
  constexpr __mmask8 kAll = 0xff;  // the forms without a mask start from a register that compilers find uninitialised
  const __m512d xx = _mm512_set1_pd(r[0]), xy = _mm512_set1_pd(r[1]), xz = _mm512_set1_pd(r[2]);
  const __m512d yx = _mm512_set1_pd(r[3]), yy = _mm512_set1_pd(r[4]), yz = _mm512_set1_pd(r[5]);
  const __m512d zx = _mm512_set1_pd(r[6]), zy = _mm512_set1_pd(r[7]), zz = _mm512_set1_pd(r[8]);
  const __m512d tx = _mm512_set1_pd(t[0]), ty = _mm512_set1_pd(t[1]), tz = _mm512_set1_pd(t[2]);
  size_t i = 0;
  for (; i + 8 <= count; i += 8) {
    const float* from = rest + 3 * i;
    float* to = out + 3 * i;
    // Points 0 to 3 in the lower half of each register, 4 to 7 in the upper; shuffles work in halves.
    const __m256 a = _mm256_insertf128_ps(_mm256_castps128_ps256(_mm_loadu_ps(from)), _mm_loadu_ps(from + 12), 1);
    const __m256 b = _mm256_insertf128_ps(_mm256_castps128_ps256(_mm_loadu_ps(from + 4)), _mm_loadu_ps(from + 16), 1);
    const __m256 c = _mm256_insertf128_ps(_mm256_castps128_ps256(_mm_loadu_ps(from + 8)), _mm_loadu_ps(from + 20), 1);
    const __m256 ab = _mm256_shuffle_ps(a, b, _MM_SHUFFLE(1, 0, 2, 1));  // y0 z0 y1 z1
    const __m256 bc = _mm256_shuffle_ps(b, c, _MM_SHUFFLE(2, 1, 3, 2));  // x2 y2 x3 y3
    const __m512d x = _mm512_maskz_cvtps_pd(kAll, _mm256_shuffle_ps(a, bc, _MM_SHUFFLE(2, 0, 3, 0)));
    const __m512d y = _mm512_maskz_cvtps_pd(kAll, _mm256_shuffle_ps(ab, bc, _MM_SHUFFLE(3, 1, 2, 0)));
    const __m512d z = _mm512_maskz_cvtps_pd(kAll, _mm256_shuffle_ps(ab, c, _MM_SHUFFLE(3, 0, 3, 1)));
    const __m256 u = _mm512_maskz_cvtpd_ps(kAll, (xx * x + xy * y) + (xz * z + tx));
    const __m256 v = _mm512_maskz_cvtpd_ps(kAll, (yx * x + yy * y) + (yz * z + ty));
    const __m256 w = _mm512_maskz_cvtpd_ps(kAll, (zx * x + zy * y) + (zz * z + tz));
    const __m256 uv = _mm256_shuffle_ps(u, v, _MM_SHUFFLE(2, 0, 2, 0));  // x0 x2 y0 y2
    const __m256 vw = _mm256_shuffle_ps(v, w, _MM_SHUFFLE(3, 1, 3, 1));  // y1 y3 z1 z3
    const __m256 wu = _mm256_shuffle_ps(w, u, _MM_SHUFFLE(3, 1, 2, 0));  // z0 z2 x1 x3
    const __m256 p = _mm256_shuffle_ps(uv, wu, _MM_SHUFFLE(2, 0, 2, 0));
    const __m256 q = _mm256_shuffle_ps(vw, uv, _MM_SHUFFLE(3, 1, 2, 0));
    const __m256 s = _mm256_shuffle_ps(wu, vw, _MM_SHUFFLE(3, 1, 3, 1));
    _mm256_storeu_ps(to, _mm256_permute2f128_ps(p, q, 0x20));
    _mm256_storeu_ps(to + 8, _mm256_permute2f128_ps(s, p, 0x30));
    _mm256_storeu_ps(to + 16, _mm256_permute2f128_ps(q, s, 0x31));
  }
  return i + apply_four(r, t, rest + 3 * i, count - i, out + 3 * i);
}

template <Sum order>
__attribute__((target("avx512f"))) inline __m512d one_coordinate(const double row[3], double t, __m512d x, __m512d y,
                                                                 __m512d z) {
  const __m512d rx = _mm512_set1_pd(row[0]), ry = _mm512_set1_pd(row[1]), rz = _mm512_set1_pd(row[2]);
  if constexpr (order == Sum::Pairs) return (rx * x + ry * y) + (rz * z + _mm512_set1_pd(t));
  return ((rx * x + ry * y) + rz * z) + _mm512_set1_pd(t);
}

/// Takes from a where the index is below 8, else from b (less 8).
__attribute__((target("avx512f"))) inline __m512d pick(__m512d a, __m512d b, int i0, int i1, int i2, int i3, int i4,
                                                       int i5, int i6, int i7) {
  return _mm512_permutex2var_pd(a, _mm512_setr_epi64(i0, i1, i2, i3, i4, i5, i6, i7), b);
}

/// All whole eights of `count` points in double precision; returns how many points those were.
template <Sum order>
__attribute__((target("avx512f"))) inline size_t apply_eight(const double r[9], const double t[3], const double* rest,
                                                             size_t count, double* out) {
  size_t i = 0;
  for (; i + 8 <= count; i += 8) {
    const double* from = rest + 3 * i;
    double* to = out + 3 * i;
    // x0 y0 z0 x1 y1 z1 x2 y2 | z2 x3 y3 z3 x4 y4 z4 x5 | y5 z5 x6 y6 z6 x7 y7 z7; what a first step leaves open is 0
    const __m512d a = _mm512_loadu_pd(from), b = _mm512_loadu_pd(from + 8), c = _mm512_loadu_pd(from + 16);
    const __m512d x = pick(pick(a, b, 0, 3, 6, 9, 12, 15, 0, 0), c, 0, 1, 2, 3, 4, 5, 10, 13);
    const __m512d y = pick(pick(a, b, 1, 4, 7, 10, 13, 0, 0, 0), c, 0, 1, 2, 3, 4, 8, 11, 14);
    const __m512d z = pick(pick(a, b, 2, 5, 8, 11, 14, 0, 0, 0), c, 0, 1, 2, 3, 4, 9, 12, 15);
    const __m512d u = one_coordinate<order>(r, t[0], x, y, z);
    const __m512d v = one_coordinate<order>(r + 3, t[1], x, y, z);
    const __m512d w = one_coordinate<order>(r + 6, t[2], x, y, z);
    _mm512_storeu_pd(to, pick(pick(u, v, 0, 8, 0, 1, 9, 0, 2, 10), w, 0, 1, 8, 3, 4, 9, 6, 7));
    _mm512_storeu_pd(to + 8, pick(pick(u, v, 0, 3, 11, 0, 4, 12, 0, 5), w, 10, 1, 2, 11, 4, 5, 12, 7));
    _mm512_storeu_pd(to + 16, pick(pick(u, v, 13, 0, 6, 14, 0, 7, 15, 0), w, 0, 13, 2, 3, 14, 5, 6, 15));
  }
  return i;
}

}  // namespace trimtack::frame::wide

#endif
