// SPDX-License-Identifier: MIT
/// frame::weighted_sums on machines with wider registers: x, y and z of a vertex go together, each in its lane the same
/// operations in the same order, so the bits are the same. Private to the runtime.
#pragma once

#include "runtime/frame.hpp"
#include "runtime/layout.hpp"
#include "runtime/wide_apply.hpp"

#ifdef TRIMTACK_WIDE

namespace trimtack::frame::wide {

/// Four lanes of three numbers: nothing behind them is touched.
__attribute__((target("avx2"))) inline __m256i three_lanes() { return _mm256_setr_epi64x(-1, -1, -1, 0); }
__attribute__((target("avx2"))) inline __m256d load_three(const double* positions, size_t stride_bytes, size_t index) {
  const auto* const bytes = reinterpret_cast<const unsigned char*>(positions) + index * stride_bytes;
  return _mm256_maskload_pd(reinterpret_cast<const double*>(bytes), three_lanes());
}
__attribute__((target("avx2"))) inline void store_three(__m256d from, double* out) {
  _mm256_maskstore_pd(out, three_lanes(), from);
}

/// @param positions  any stride, any alignment. @pre count >= 1
__attribute__((target("avx2"))) inline Sums<double> weighted_sums(const double* positions, size_t stride_bytes,
                                                                  const uint32_t* vertices, size_t count,
                                                                  const layout::Weights* weights) {
  const __m256d base = load_three(positions, stride_bytes, vertices[0]);
  __m256d offset = _mm256_setzero_pd(), t = offset, b = offset;
  __m128d reach = _mm_setzero_pd();
  for (size_t i = 1; i < count; ++i) {
    const __m256d difference = load_three(positions, stride_bytes, vertices[i]) - base;
    offset += _mm256_set1_pd(weights[i].c) * difference;
    t += _mm256_set1_pd(weights[i].a) * difference;
    b += _mm256_set1_pd(weights[i].b) * difference;
    const __m256d squares = difference * difference;
    const __m128d xy = _mm256_castpd256_pd128(squares), z = _mm256_extractf128_pd(squares, 1);
    reach = _mm_max_sd(_mm_add_sd(_mm_add_sd(xy, _mm_unpackhi_pd(xy, xy)), z), reach);  // of NaN and reach: reach
  }
  Sums<double> sums;
  store_three(base, sums.base);
  store_three(offset, sums.offset);
  store_three(t, sums.t);
  store_three(b, sums.b);
  sums.squared_reach = _mm_cvtsd_f64(reach);
  return sums;
}

}  // namespace trimtack::frame::wide

#endif
