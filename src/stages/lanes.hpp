// SPDX-License-Identifier: MIT
/// Four numbers that go through the arithmetic together, a lane each: the same operations whatever the registers are.
/// Only for functions that end up in one compiled for wide registers, and in one that is not.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstring>

#include "trimtack/types.hpp"

#pragma GCC diagnostic ignored "-Wpsabi"  // nothing of this is called, all is inlined
#define TRIMTACK_INLINE [[gnu::always_inline]] inline
#define TRIMTACK_INLINED __attribute__((always_inline))  // of a lambda

namespace trimtack {

typedef double Lanes __attribute__((vector_size(32)));

struct Lanes3 {
  Lanes x, y, z;
};

TRIMTACK_INLINE Lanes3 operator-(const Lanes3& p, const Lanes3& q) { return {p.x - q.x, p.y - q.y, p.z - q.z}; }
TRIMTACK_INLINE Lanes3 operator+(const Lanes3& p, const Lanes3& q) { return {p.x + q.x, p.y + q.y, p.z + q.z}; }
TRIMTACK_INLINE Lanes dot(const Lanes3& p, const Lanes3& q) { return p.x * q.x + p.y * q.y + p.z * q.z; }
TRIMTACK_INLINE Lanes3 cross(const Lanes3& p, const Lanes3& q) {
  return {p.y * q.z - p.z * q.y, p.z * q.x - p.x * q.z, p.x * q.y - p.y * q.x};
}
TRIMTACK_INLINE Lanes root(const Lanes& x) {
  return Lanes{std::sqrt(x[0]), std::sqrt(x[1]), std::sqrt(x[2]), std::sqrt(x[3])};
}
TRIMTACK_INLINE Lanes least(const Lanes& x, const Lanes& y) { return y < x ? y : x; }
TRIMTACK_INLINE Lanes most(const Lanes& x, const Lanes& y) { return x < y ? y : x; }
TRIMTACK_INLINE double most_of(const Lanes& x) { return std::max(std::max(x[0], x[1]), std::max(x[2], x[3])); }

/// A point in the first three lanes.
TRIMTACK_INLINE Lanes load(const Vec3& p) {
  typedef double Two __attribute__((vector_size(16)));
  Two xy;
  std::memcpy(&xy, &p, sizeof xy);
  return __builtin_shufflevector(xy, Two{p.z, 0}, 0, 1, 2, 3);
}
TRIMTACK_INLINE Vec3 first_three(const Lanes& p) { return {p[0], p[1], p[2]}; }

/// Four points, a lane each.
TRIMTACK_INLINE Lanes3 side_by_side(const Lanes& p, const Lanes& q, const Lanes& r, const Lanes& s) {
  const Lanes pq_xz = __builtin_shufflevector(p, q, 0, 4, 2, 6);
  const Lanes pq_y = __builtin_shufflevector(p, q, 1, 5, 3, 7);
  const Lanes rs_xz = __builtin_shufflevector(r, s, 0, 4, 2, 6);
  const Lanes rs_y = __builtin_shufflevector(r, s, 1, 5, 3, 7);
  return {__builtin_shufflevector(pq_xz, rs_xz, 0, 1, 4, 5), __builtin_shufflevector(pq_y, rs_y, 0, 1, 4, 5),
          __builtin_shufflevector(pq_xz, rs_xz, 2, 3, 6, 7)};
}

/// Adds what four lists hold for each of four items, item by item in their order.
TRIMTACK_INLINE void add_in_order(Lanes& sum, const Lanes& p, const Lanes& q, const Lanes& r, const Lanes& s) {
  const Lanes pq_low = __builtin_shufflevector(p, q, 0, 4, 2, 6);   // p0 q0 p2 q2
  const Lanes pq_high = __builtin_shufflevector(p, q, 1, 5, 3, 7);  // p1 q1 p3 q3
  const Lanes rs_low = __builtin_shufflevector(r, s, 0, 4, 2, 6);
  const Lanes rs_high = __builtin_shufflevector(r, s, 1, 5, 3, 7);
  sum += __builtin_shufflevector(pq_low, rs_low, 0, 1, 4, 5);
  sum += __builtin_shufflevector(pq_high, rs_high, 0, 1, 4, 5);
  sum += __builtin_shufflevector(pq_low, rs_low, 2, 3, 6, 7);
  sum += __builtin_shufflevector(pq_high, rs_high, 2, 3, 6, 7);
}

}  // namespace trimtack
