// SPDX-License-Identifier: MIT
/// THE frame maths: weighted sums of a patch -> polar frame -> rigid pose. The runtime, the solver and every exporter
/// evaluate through these functions; there is no second implementation. Plain arrays, no allocation, libm's sqrt only.
///
/// Matrices are row-major 3x3; the columns of a frame are u, v and n = u x v. T is the scalar all arithmetic is done in
/// (double in the runtime; a long double build is used as a reference in tests); positions may be float or double.
///
/// Sources: Higham, "Computing the polar decomposition with applications", SIAM J. Sci. Stat. Comput. 7 (1986): the
/// polar factor is the rotation nearest to a deformation. Closed form for a 3x2 gradient G = [t b] from the square root
/// of the 2x2 matrix C = G^T G by Cayley-Hamilton, sqrt(C) = (C + d I) / s with d = sqrt(det C) = |t x b| and
/// s = sqrt(tr C + 2 d), so that G sqrt(C)^-1 = [(b.b + d) t - (t.b) b, (t.t + d) b - (t.b) t] / (d s).
/// One Newton-Schulz step X (3 I - X^T X) / 2 afterwards (Bjorck & Bowie 1971) squares what rounding left of
/// non-orthogonality.
#pragma once

#include <math.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

namespace trimtack::frame {

/// Smallest over largest principal stretch (nearly: their product over the sum of squares) below which a gradient has
/// no second direction. The closed form loses log10(1 / ratio) digits; at 1e-7 the polish still brings back all of
/// them.
inline constexpr double kRankRatio = 1e-7;
/// Coordinates beyond this (in the unit they come in) count as not finite, so that no sum can overflow.
inline constexpr double kLargestCoordinate = 1e18;

enum class FrameStatus : uint8_t {
  Good,
  Degenerate,  ///< rank 1 or 0: a collapsed or collinear patch
  NotFinite    ///< NaN, infinity or beyond kLargestCoordinate in what went in
};

/// The sums of one patch. The value at the anchor is base + offset, with base the first vertex of the patch: all sums
/// are over differences from it, so that a garment 10 km from the origin is as exact as one at the origin.
template <class T>
struct Sums {
  T base[3];
  T offset[3];
  T t[3];
  T b[3];
  T squared_reach;  ///< largest squared distance from the first vertex
};

/// Square root without touching errno, in the precision of the argument.
inline float root(float x) { return sqrtf(x); }
inline double root(double x) { return sqrt(x); }
inline long double root(long double x) { return sqrtl(x); }

/// condition ? yes : no, in a form that lanes.hpp overloads for several numbers at a time.
inline double select(bool condition, double yes, double no) { return condition ? yes : no; }
inline float select(bool condition, float yes, float no) { return condition ? yes : no; }
inline long double select(bool condition, long double yes, long double no) { return condition ? yes : no; }

template <class T>
T dot(const T p[3], const T q[3]) {
  return p[0] * q[0] + p[1] * q[1] + p[2] * q[2];
}

template <class T>
void cross(const T p[3], const T q[3], T out[3]) {
  out[0] = p[1] * q[2] - p[2] * q[1];
  out[1] = p[2] * q[0] - p[0] * q[2];
  out[2] = p[0] * q[1] - p[1] * q[0];
}

/// Vertex `index` of an array of x y z triples `stride_bytes` apart (any stride, any alignment).
template <class T, class P>
void load_point(const P* positions, size_t stride_bytes, size_t index, T out[3]) {
  P p[3];
  memcpy(p, reinterpret_cast<const unsigned char*>(positions) + index * stride_bytes, sizeof p);
  out[0] = static_cast<T>(p[0]);
  out[1] = static_cast<T>(p[1]);
  out[2] = static_cast<T>(p[2]);
}

/// o = sum c q, t = sum a q, b = sum b q over the patch, relative to its first vertex.
/// @param positions     x y z triples, stride_bytes apart
/// @param vertices      count vertex numbers; count >= 1
/// @param c,a,b         one weight a vertex, `step` scalars apart (1: separate arrays, 3: interleaved)
/// Cost: 27 flops a vertex. Order of summation: as listed, so that results do not depend on the caller.
template <class T, class P, class W>
Sums<T> weighted_sums(const P* positions, size_t stride_bytes, const uint32_t* vertices, size_t count, const W* c,
                      const W* a, const W* b, size_t step) {
  Sums<T> sums{};
  load_point(positions, stride_bytes, vertices[0], sums.base);
  for (size_t i = 1; i < count; ++i) {
    T q[3];
    load_point(positions, stride_bytes, vertices[i], q);
    const T wc = static_cast<T>(c[i * step]);
    const T wa = static_cast<T>(a[i * step]);
    const T wb = static_cast<T>(b[i * step]);
    T squared_distance = 0;
    for (int k = 0; k < 3; ++k) {
      const T difference = q[k] - sums.base[k];
      sums.offset[k] += wc * difference;
      sums.t[k] += wa * difference;
      sums.b[k] += wb * difference;
      squared_distance += difference * difference;
    }
    sums.squared_reach = squared_distance > sums.squared_reach ? squared_distance : sums.squared_reach;
  }
  return sums;
}

/// True when every number is finite and below kLargestCoordinate. Like all tests here: one answer for a single number,
/// a mask for several at a time.
template <class T>
auto usable(const T* numbers, int count) {
  const T limit = static_cast<T>(kLargestCoordinate), lowest = static_cast<T>(-kLargestCoordinate);
  auto good = numbers[0] <= limit;
  good = good & (numbers[0] >= lowest);
  for (int i = 1; i < count; ++i) good = good & (numbers[i] <= limit) & (numbers[i] >= lowest);
  return good;
}

/// Squares and products of a gradient [t b]: all that the tests below need.
template <class T>
struct Gradient {
  T tt, bb, tb;  ///< t.t, b.b, t.b
  T normal[3];   ///< t x b
  T area;        ///< |t x b| = product of the two principal stretches
  T squares;     ///< t.t + b.b = sum of their squares
};

template <class T>
Gradient<T> measure(const T t[3], const T b[3]) {
  Gradient<T> g;
  g.tt = dot(t, t);
  g.bb = dot(b, b);
  g.tb = dot(t, b);
  cross(t, b, g.normal);
  g.area = root(dot(g.normal, g.normal));
  g.squares = g.tt + g.bb;
  return g;
}

/// True when both principal stretches lie in (low, high). Their squares are the roots of x^2 - squares x + area^2, so
/// no square root is needed. False for anything not finite.
template <class T>
auto stretch_within(const Gradient<T>& g, T low, T high) {
  const T two = T(2), none = T(0);
  const T l = low * low;
  const T h = high * high;
  const T d2 = g.area * g.area;
  return (g.squares > two * l) & (g.squares < two * h) & (l * l - g.squares * l + d2 > none) &
         (h * h - g.squares * h + d2 > none);
}

/// The two principal stretches, largest first.
template <class T>
void principal_stretches(const Gradient<T>& g, T out[2]) {
  const T sum = root(g.squares + 2 * g.area);
  const T squared_difference = g.squares - 2 * g.area;
  out[0] = (sum + root(squared_difference > 0 ? squared_difference : T(0))) / 2;
  out[1] = out[0] > 0 ? g.area / out[0] : T(0);
}

/// The closed form and the polish, without any test: columns u v n of the rotation nearest to [t b]. Nonsense for a
/// gradient without rank 2.
template <class T>
void polar_columns(const T t[3], const T b[3], const Gradient<T>& g, T frame[9]) {
  const T d = g.area;
  const T scale = T(1) / (d * root(g.squares + T(2) * d));
  const T u_t = (g.bb + d) * scale;
  const T v_b = (g.tt + d) * scale;
  const T mixed = g.tb * scale;
  T u[3], v[3];
  for (int k = 0; k < 3; ++k) {
    u[k] = u_t * t[k] - mixed * b[k];
    v[k] = v_b * b[k] - mixed * t[k];
  }
  const T half = T(0.5);
  const T uu = T(1.5) - half * dot(u, u);
  const T vv = T(1.5) - half * dot(v, v);
  const T uv = half * dot(u, v);
  T polished_u[3], polished_v[3], n[3];
  for (int k = 0; k < 3; ++k) {
    polished_u[k] = uu * u[k] - uv * v[k];
    polished_v[k] = vv * v[k] - uv * u[k];
  }
  cross(polished_u, polished_v, n);
  for (int k = 0; k < 3; ++k) {
    frame[3 * k] = polished_u[k];
    frame[3 * k + 1] = polished_v[k];
    frame[3 * k + 2] = n[k];
  }
}

/// Polar frame of the gradient [t b]: the proper rotation nearest to it, columns u v n, orthonormal to 1e-15.
/// On anything but Good, `frame` is left untouched. The test is free of scale (t, b between 1e-70 and 1e70).
template <class T>
FrameStatus polar_frame(const T t[3], const T b[3], const Gradient<T>& g, T frame[9]) {
  if (!usable(t, 3) || !usable(b, 3)) return FrameStatus::NotFinite;
  if (!(g.area > static_cast<T>(kRankRatio) * g.squares)) return FrameStatus::Degenerate;
  polar_columns(t, b, g, frame);
  return FrameStatus::Good;
}

template <class T>
FrameStatus polar_frame(const T t[3], const T b[3], T frame[9]) {
  return polar_frame(t, b, measure(t, b), frame);
}

/// rotation = frame rest_frame^T: what takes the rest frame to the frame.
template <class T>
void relative_rotation(const T frame[9], const T rest_frame[9], T rotation[9]) {
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j)
      rotation[3 * i + j] = frame[3 * i] * rest_frame[3 * j] + frame[3 * i + 1] * rest_frame[3 * j + 1] +
                            frame[3 * i + 2] * rest_frame[3 * j + 2];
}

/// translation = base + offset - rotation rest_origin: the motion that takes the rest origin exactly to the anchor.
template <class T>
void translation_of(const T rotation[9], const T base[3], const T offset[3], const T rest_origin[3], T translation[3]) {
  for (int i = 0; i < 3; ++i) {
    const T turned =
        rotation[3 * i] * rest_origin[0] + rotation[3 * i + 1] * rest_origin[1] + rotation[3 * i + 2] * rest_origin[2];
    translation[i] = (base[i] - turned) + offset[i];
  }
}

/// Rotation matrix -> unit quaternion x y z w with w >= 0, dividing by the largest of the four candidates (Shepperd,
/// "Quaternion from rotation matrix", J. Guidance and Control 1 (1978)), so that no pivot is small. Ties go to w, then
/// x, y, z.
template <class T>
void to_quaternion(const T r[9], T q[4]) {
  const T one = T(1);
  const T px = one + r[0] - r[4] - r[8], py = one + r[4] - r[0] - r[8], pz = one + r[8] - r[0] - r[4];
  const T pw = one + r[0] + r[4] + r[8];
  const T xy = r[1] + r[3], xz = r[2] + r[6], yz = r[5] + r[7];
  const T wx = r[7] - r[5], wy = r[2] - r[6], wz = r[3] - r[1];
  q[0] = wx, q[1] = wy, q[2] = wz, q[3] = pw;
  T most = pw;
  const auto better = [&](const T& pivot, const T& x, const T& y, const T& z, const T& w) {
    const auto larger = pivot > most;
    q[0] = select(larger, x, q[0]), q[1] = select(larger, y, q[1]);
    q[2] = select(larger, z, q[2]), q[3] = select(larger, w, q[3]);
    most = select(larger, pivot, most);
  };
  better(px, px, xy, xz, wx);
  better(py, xy, py, yz, wy);
  better(pz, xz, yz, pz, wz);
  const T norm = root(q[0] * q[0] + q[1] * q[1] + q[2] * q[2] + q[3] * q[3]);
  const T scale = select(q[3] < T(0), T(-1), one) / norm;
  for (int k = 0; k < 4; ++k) q[k] = q[k] * scale;
}

/// Quaternion x y z w of any length but 0 -> proper rotation matrix (the length is divided out, so a quaternion rounded
/// to float still gives a rotation, never a scale).
template <class T>
void to_matrix(const T q[4], T r[9]) {
  const T s = T(2) / (q[0] * q[0] + q[1] * q[1] + q[2] * q[2] + q[3] * q[3]);
  const T x = s * q[0], y = s * q[1], z = s * q[2];
  const T xx = x * q[0], yy = y * q[1], zz = z * q[2];
  const T xy = x * q[1], xz = x * q[2], yz = y * q[2];
  const T wx = x * q[3], wy = y * q[3], wz = z * q[3];
  r[0] = T(1) - (yy + zz), r[1] = xy - wz, r[2] = xz + wy;
  r[3] = xy + wz, r[4] = T(1) - (xx + zz), r[5] = yz - wx;
  r[6] = xz - wy, r[7] = yz + wx, r[8] = T(1) - (xx + yy);
}

}  // namespace trimtack::frame
