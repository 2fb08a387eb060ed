// SPDX-License-Identifier: MIT
/// Four doubles that go through the frame maths together. Each lane is the same sequence of IEEE operations as a single
/// double (no contraction, no reassociation), so a pose does not depend on the lane, its neighbours or the machine. Two
/// vectors of two, because every 64-bit machine has those without a dispatch, and two independent ones hide the
/// latency of division and square root.
#pragma once

#include "runtime/frame.hpp"

#if defined(__GNUC__) && !defined(TRIMTACK_NO_LANES)
#define TRIMTACK_LANES 1

#if defined(__SSE2__)
#include <immintrin.h>
#endif

namespace trimtack::frame {

typedef double Two __attribute__((vector_size(16)));
typedef int64_t TwoMask __attribute__((vector_size(16)));

inline Two root(Two x) {
#if defined(__SSE2__)
  return _mm_sqrt_pd(x);
#else
  return Two{sqrt(x[0]), sqrt(x[1])};
#endif
}

inline Two select(TwoMask mask, Two yes, Two no) {
  return reinterpret_cast<Two>((mask & reinterpret_cast<TwoMask>(yes)) | (~mask & reinterpret_cast<TwoMask>(no)));
}

struct FourMask {
  TwoMask low, high;
};

struct Four {
  Two low, high;

  Four() = default;  // cppcheck-suppress uninitMemberVar ; filled lane by lane
  Four(Two l, Two h) : low(l), high(h) {}
  explicit Four(double x) : low{x, x}, high{x, x} {}
  Four(double a, double b, double c, double d) : low{a, b}, high{c, d} {}
  static Four load(const double* x) { return {x[0], x[1], x[2], x[3]}; }
  void store(double* x) const { x[0] = low[0], x[1] = low[1], x[2] = high[0], x[3] = high[1]; }
  double lane(int k) const { return k < 2 ? low[k] : high[k - 2]; }
};

inline Four operator+(const Four& x, const Four& y) { return {x.low + y.low, x.high + y.high}; }
inline Four operator-(const Four& x, const Four& y) { return {x.low - y.low, x.high - y.high}; }
inline Four operator*(const Four& x, const Four& y) { return {x.low * y.low, x.high * y.high}; }
inline Four operator/(const Four& x, const Four& y) { return {x.low / y.low, x.high / y.high}; }
inline Four operator-(const Four& x) { return {-x.low, -x.high}; }
inline FourMask operator>(const Four& x, const Four& y) { return {x.low > y.low, x.high > y.high}; }
inline FourMask operator<(const Four& x, const Four& y) { return {x.low < y.low, x.high < y.high}; }
inline FourMask operator>=(const Four& x, const Four& y) { return {x.low >= y.low, x.high >= y.high}; }
inline FourMask operator<=(const Four& x, const Four& y) { return {x.low <= y.low, x.high <= y.high}; }
inline FourMask operator&(const FourMask& x, const FourMask& y) { return {x.low & y.low, x.high & y.high}; }
inline FourMask operator|(const FourMask& x, const FourMask& y) { return {x.low | y.low, x.high | y.high}; }
/// Bit k is lane k.
inline unsigned bits(const FourMask& mask) {
#if defined(__SSE2__)
  return static_cast<unsigned>(_mm_movemask_pd(reinterpret_cast<Two>(mask.low)) |
                               (_mm_movemask_pd(reinterpret_cast<Two>(mask.high)) << 2));
#else
  return (mask.low[0] != 0 ? 1U : 0U) | (mask.low[1] != 0 ? 2U : 0U) | (mask.high[0] != 0 ? 4U : 0U) |
         (mask.high[1] != 0 ? 8U : 0U);
#endif
}
inline Four root(const Four& x) { return {root(x.low), root(x.high)}; }
inline Four select(const FourMask& mask, const Four& yes, const Four& no) {
  return {select(mask.low, yes.low, no.low), select(mask.high, yes.high, no.high)};
}

/// Four packed points as x, y and z of four lanes, and back. Any alignment.
#if defined(__SSE2__)
inline Four widen(__m128 x) { return {_mm_cvtps_pd(x), _mm_cvtps_pd(_mm_movehl_ps(x, x))}; }
inline __m128 narrow(const Four& x) { return _mm_movelh_ps(_mm_cvtpd_ps(x.low), _mm_cvtpd_ps(x.high)); }

inline Four round_to_float(const Four& x) { return widen(narrow(x)); }

inline void split_points(const float* from, __m128& px, __m128& py, __m128& pz) {
  const __m128 a = _mm_loadu_ps(from), b = _mm_loadu_ps(from + 4), c = _mm_loadu_ps(from + 8);
  const __m128 yz = _mm_shuffle_ps(a, b, _MM_SHUFFLE(1, 0, 2, 1));  // y0 z0 y1 z1
  const __m128 xy = _mm_shuffle_ps(b, c, _MM_SHUFFLE(2, 1, 3, 2));  // x2 y2 x3 y3
  px = _mm_shuffle_ps(a, xy, _MM_SHUFFLE(2, 0, 3, 0));
  py = _mm_shuffle_ps(yz, xy, _MM_SHUFFLE(3, 1, 2, 0));
  pz = _mm_shuffle_ps(yz, c, _MM_SHUFFLE(3, 0, 3, 1));
}

inline void join_points(__m128 x, __m128 y, __m128 z, float* to) {
  const __m128 xy = _mm_shuffle_ps(x, y, _MM_SHUFFLE(2, 0, 2, 0));  // x0 x2 y0 y2
  const __m128 yz = _mm_shuffle_ps(y, z, _MM_SHUFFLE(3, 1, 3, 1));  // y1 y3 z1 z3
  const __m128 zx = _mm_shuffle_ps(z, x, _MM_SHUFFLE(3, 1, 2, 0));  // z0 z2 x1 x3
  _mm_storeu_ps(to, _mm_shuffle_ps(xy, zx, _MM_SHUFFLE(2, 0, 2, 0)));
  _mm_storeu_ps(to + 4, _mm_shuffle_ps(yz, xy, _MM_SHUFFLE(3, 1, 2, 0)));
  _mm_storeu_ps(to + 8, _mm_shuffle_ps(zx, yz, _MM_SHUFFLE(3, 1, 3, 1)));
}

inline void load_points(const float* from, Four& px, Four& py, Four& pz) {
  __m128 x, y, z;
  split_points(from, x, y, z);
  px = widen(x), py = widen(y), pz = widen(z);
}

inline void store_points(const Four& px, const Four& py, const Four& pz, float* to) {
  join_points(narrow(px), narrow(py), narrow(pz), to);
}

inline void load_two_points(const double* from, Two& x, Two& y, Two& z) {
  const __m128d a = _mm_loadu_pd(from), b = _mm_loadu_pd(from + 2), c = _mm_loadu_pd(from + 4);
  x = _mm_shuffle_pd(a, b, 2);
  y = _mm_shuffle_pd(a, c, 1);
  z = _mm_shuffle_pd(b, c, 2);
}

inline void store_two_points(Two x, Two y, Two z, double* to) {
  _mm_storeu_pd(to, _mm_shuffle_pd(x, y, 0));
  _mm_storeu_pd(to + 2, _mm_shuffle_pd(z, x, 2));
  _mm_storeu_pd(to + 4, _mm_shuffle_pd(y, z, 3));
}

inline void load_points(const double* from, Four& px, Four& py, Four& pz) {
  load_two_points(from, px.low, py.low, pz.low);
  load_two_points(from + 6, px.high, py.high, pz.high);
}

inline void store_points(const Four& px, const Four& py, const Four& pz, double* to) {
  store_two_points(px.low, py.low, pz.low, to);
  store_two_points(px.high, py.high, pz.high, to + 6);
}
#else
/// The barrier keeps g++ 12 -O3 from dropping the narrowing when it vectorises the round trip.
inline Four round_to_float(const Four& x) {
  double wide[4];
  x.store(wide);
  float narrow[4];
  for (int lane = 0; lane < 4; ++lane) narrow[lane] = static_cast<float>(wide[lane]);
  __asm__("" : "+m"(narrow));
  for (int lane = 0; lane < 4; ++lane) wide[lane] = narrow[lane];
  return Four::load(wide);
}

template <class P>
void load_points(const P* from, Four& px, Four& py, Four& pz) {
  P p[12];
  memcpy(p, from, sizeof p);
  px = {Two{p[0], p[3]}, Two{p[6], p[9]}};
  py = {Two{p[1], p[4]}, Two{p[7], p[10]}};
  pz = {Two{p[2], p[5]}, Two{p[8], p[11]}};
}

template <class P>
void store_points(const Four& px, const Four& py, const Four& pz, P* to) {
  double x[4], y[4], z[4];
  px.store(x), py.store(y), pz.store(z);
  P p[12];
  for (int lane = 0; lane < 4; ++lane) {
    p[3 * lane] = static_cast<P>(x[lane]);
    p[3 * lane + 1] = static_cast<P>(y[lane]);
    p[3 * lane + 2] = static_cast<P>(z[lane]);
  }
  memcpy(to, p, sizeof p);
}
#endif

}  // namespace trimtack::frame

#endif
