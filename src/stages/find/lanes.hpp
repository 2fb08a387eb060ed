// SPDX-License-Identifier: MIT
/// Four numbers that go through the arithmetic together, a lane each: the same operations whatever the registers are.
/// What is written for lanes L is compiled for one wide register (WideLanes) and for two narrow ones (LanePair).
#pragma once

#include <algorithm>
#include <cmath>
#include <cstring>

#include "trimtack/types.hpp"

#pragma GCC diagnostic ignored "-Wpsabi"  // nothing of this is called, all is inlined
#define TRIMTACK_INLINE [[gnu::always_inline]] inline
#define TRIMTACK_INLINED __attribute__((always_inline))  // of a lambda

namespace trimtack {

typedef double TwoLanes __attribute__((vector_size(16)));
typedef double WideLanes __attribute__((vector_size(32)));

struct LanePair {
  TwoLanes a, b;
  TRIMTACK_INLINE double operator[](int i) const { return i < 2 ? a[i] : b[i - 2]; }
};

TRIMTACK_INLINE LanePair operator+(const LanePair& x, const LanePair& y) { return {x.a + y.a, x.b + y.b}; }
TRIMTACK_INLINE LanePair operator-(const LanePair& x, const LanePair& y) { return {x.a - y.a, x.b - y.b}; }
TRIMTACK_INLINE LanePair operator*(const LanePair& x, const LanePair& y) { return {x.a * y.a, x.b * y.b}; }
TRIMTACK_INLINE LanePair operator/(const LanePair& x, const LanePair& y) { return {x.a / y.a, x.b / y.b}; }
TRIMTACK_INLINE LanePair operator*(double s, const LanePair& x) { return {s * x.a, s * x.b}; }
TRIMTACK_INLINE LanePair& operator+=(LanePair& x, const LanePair& y) { return x = x + y; }

template <class L>
TRIMTACK_INLINE L lanes(double x, double y, double z, double w) {
  if constexpr (requires(L l) { l.a; })
    return {TwoLanes{x, y}, TwoLanes{z, w}};
  else
    return L{x, y, z, w};
}
template <class L>
TRIMTACK_INLINE L all_lanes(double x) {
  return lanes<L>(x, x, x, x);
}

TRIMTACK_INLINE TwoLanes root(const TwoLanes& x) { return TwoLanes{std::sqrt(x[0]), std::sqrt(x[1])}; }
TRIMTACK_INLINE LanePair root(const LanePair& x) { return {root(x.a), root(x.b)}; }
TRIMTACK_INLINE WideLanes root(const WideLanes& x) {
  return WideLanes{std::sqrt(x[0]), std::sqrt(x[1]), std::sqrt(x[2]), std::sqrt(x[3])};
}
TRIMTACK_INLINE LanePair least(const LanePair& x, const LanePair& y) {
  return {y.a < x.a ? y.a : x.a, y.b < x.b ? y.b : x.b};
}
TRIMTACK_INLINE LanePair most(const LanePair& x, const LanePair& y) {
  return {x.a < y.a ? y.a : x.a, x.b < y.b ? y.b : x.b};
}
TRIMTACK_INLINE WideLanes least(const WideLanes& x, const WideLanes& y) { return y < x ? y : x; }
TRIMTACK_INLINE WideLanes most(const WideLanes& x, const WideLanes& y) { return x < y ? y : x; }
template <class L>
TRIMTACK_INLINE double most_of(const L& x) {
  return std::max(std::max(x[0], x[1]), std::max(x[2], x[3]));
}

/// A lane of x in all.
template <int kLane>
TRIMTACK_INLINE WideLanes spread(const WideLanes& x) {
  return __builtin_shufflevector(x, x, kLane, kLane, kLane, kLane);
}
template <int kLane>
TRIMTACK_INLINE LanePair spread(const LanePair& x) {
  const TwoLanes half = kLane < 2 ? x.a : x.b;
  const TwoLanes both = __builtin_shufflevector(half, half, kLane % 2, kLane % 2);
  return {both, both};
}
/// Each lane's next one, the first one last.
TRIMTACK_INLINE WideLanes next_lanes(const WideLanes& x) { return __builtin_shufflevector(x, x, 1, 2, 3, 0); }
TRIMTACK_INLINE LanePair next_lanes(const LanePair& x) {
  return {__builtin_shufflevector(x.a, x.b, 1, 2), __builtin_shufflevector(x.b, x.a, 1, 2)};
}
/// xy, xz, yz of a point.
TRIMTACK_INLINE WideLanes mixed_products(const WideLanes& p) {
  return __builtin_shufflevector(p, p, 0, 0, 1, 3) * __builtin_shufflevector(p, p, 1, 2, 2, 3);
}
TRIMTACK_INLINE LanePair mixed_products(const LanePair& p) {
  return {__builtin_shufflevector(p.a, p.a, 0, 0) * __builtin_shufflevector(p.a, p.b, 1, 2),
          __builtin_shufflevector(p.a, p.b, 1, 3) * p.b};
}

/// A point in the first three lanes.
template <class L>
TRIMTACK_INLINE L load(const Vec3& p) {
  TwoLanes xy;
  std::memcpy(&xy, &p, sizeof xy);
  const TwoLanes z{p.z, 0};
  if constexpr (requires(L l) { l.a; })
    return {xy, z};
  else
    return __builtin_shufflevector(xy, z, 0, 1, 2, 3);
}
template <class L>
TRIMTACK_INLINE Vec3 first_three(const L& p) {
  return {p[0], p[1], p[2]};
}

/// Four points, a lane each.
template <class L>
struct Lanes3 {
  L x, y, z;
};
template <class L>
TRIMTACK_INLINE Lanes3<L> operator-(const Lanes3<L>& p, const Lanes3<L>& q) {
  return {p.x - q.x, p.y - q.y, p.z - q.z};
}
template <class L>
TRIMTACK_INLINE Lanes3<L> operator+(const Lanes3<L>& p, const Lanes3<L>& q) {
  return {p.x + q.x, p.y + q.y, p.z + q.z};
}
template <class L>
TRIMTACK_INLINE L dot(const Lanes3<L>& p, const Lanes3<L>& q) {
  return p.x * q.x + p.y * q.y + p.z * q.z;
}
template <class L>
TRIMTACK_INLINE Lanes3<L> cross(const Lanes3<L>& p, const Lanes3<L>& q) {
  return {p.y * q.z - p.z * q.y, p.z * q.x - p.x * q.z, p.x * q.y - p.y * q.x};
}

TRIMTACK_INLINE Lanes3<WideLanes> side_by_side(const WideLanes& p, const WideLanes& q, const WideLanes& r,
                                               const WideLanes& s) {
  const WideLanes pq_xz = __builtin_shufflevector(p, q, 0, 4, 2, 6);
  const WideLanes pq_y = __builtin_shufflevector(p, q, 1, 5, 3, 7);
  const WideLanes rs_xz = __builtin_shufflevector(r, s, 0, 4, 2, 6);
  const WideLanes rs_y = __builtin_shufflevector(r, s, 1, 5, 3, 7);
  return {__builtin_shufflevector(pq_xz, rs_xz, 0, 1, 4, 5), __builtin_shufflevector(pq_y, rs_y, 0, 1, 4, 5),
          __builtin_shufflevector(pq_xz, rs_xz, 2, 3, 6, 7)};
}
TRIMTACK_INLINE TwoLanes firsts(const TwoLanes& x, const TwoLanes& y) { return __builtin_shufflevector(x, y, 0, 2); }
TRIMTACK_INLINE TwoLanes seconds(const TwoLanes& x, const TwoLanes& y) { return __builtin_shufflevector(x, y, 1, 3); }
TRIMTACK_INLINE Lanes3<LanePair> side_by_side(const LanePair& p, const LanePair& q, const LanePair& r,
                                              const LanePair& s) {
  return {{firsts(p.a, q.a), firsts(r.a, s.a)},
          {seconds(p.a, q.a), seconds(r.a, s.a)},
          {firsts(p.b, q.b), firsts(r.b, s.b)}};
}

/// Adds what four lists hold for each of four items, item by item in their order.
TRIMTACK_INLINE void add_in_order(WideLanes& sum, const WideLanes& p, const WideLanes& q, const WideLanes& r,
                                  const WideLanes& s) {
  const WideLanes pq_low = __builtin_shufflevector(p, q, 0, 4, 2, 6);   // p0 q0 p2 q2
  const WideLanes pq_high = __builtin_shufflevector(p, q, 1, 5, 3, 7);  // p1 q1 p3 q3
  const WideLanes rs_low = __builtin_shufflevector(r, s, 0, 4, 2, 6);
  const WideLanes rs_high = __builtin_shufflevector(r, s, 1, 5, 3, 7);
  sum += __builtin_shufflevector(pq_low, rs_low, 0, 1, 4, 5);
  sum += __builtin_shufflevector(pq_high, rs_high, 0, 1, 4, 5);
  sum += __builtin_shufflevector(pq_low, rs_low, 2, 3, 6, 7);
  sum += __builtin_shufflevector(pq_high, rs_high, 2, 3, 6, 7);
}
TRIMTACK_INLINE void add_in_order(LanePair& sum, const LanePair& p, const LanePair& q, const LanePair& r,
                                  const LanePair& s) {
  sum += {firsts(p.a, q.a), firsts(r.a, s.a)};
  sum += {seconds(p.a, q.a), seconds(r.a, s.a)};
  sum += {firsts(p.b, q.b), firsts(r.b, s.b)};
  sum += {seconds(p.b, q.b), seconds(r.b, s.b)};
}

}  // namespace trimtack
