// SPDX-License-Identifier: MIT
/// Moving packed float points on machines with wider registers: the arithmetic of move_point() in evaluate.cpp, several
/// points an instruction. No fused operations, so the bits are those of one point at a time. Private to the runtime.
#pragma once

#include "runtime/lanes.hpp"

#if defined(TRIMTACK_LANES) && defined(__x86_64__)
#define TRIMTACK_WIDE 1

namespace trimtack::view::wide {

/// All whole fours of `count` points; returns how many points those were. Reads four before it writes them: in place is
/// fine.
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

}  // namespace trimtack::view::wide

#endif
