// SPDX-License-Identifier: MIT
/// Plain geometry types shared by every module. Lengths are in the unit of the file they came from
/// unless a name says otherwise; indices are 0-based.
#pragma once

#include <array>
#include <cmath>
#include <cstdint>

namespace trimtack {

using Index = std::uint32_t;
inline constexpr Index kNone = 0xffffffffU;

struct Vec2 {
  double x = 0, y = 0;
  friend bool operator==(const Vec2&, const Vec2&) = default;
};

struct Vec3 {
  double x = 0, y = 0, z = 0;
  friend bool operator==(const Vec3&, const Vec3&) = default;
  double& operator[](int i) { return i == 0 ? x : (i == 1 ? y : z); }
  double operator[](int i) const { return i == 0 ? x : (i == 1 ? y : z); }
};

inline Vec3 operator+(const Vec3& p, const Vec3& q) { return {p.x + q.x, p.y + q.y, p.z + q.z}; }
inline Vec3 operator-(const Vec3& p, const Vec3& q) { return {p.x - q.x, p.y - q.y, p.z - q.z}; }
inline Vec3 operator-(const Vec3& p) { return {-p.x, -p.y, -p.z}; }
inline Vec3 operator*(double s, const Vec3& p) { return {s * p.x, s * p.y, s * p.z}; }
inline Vec3 operator*(const Vec3& p, double s) { return s * p; }
inline Vec3& operator+=(Vec3& p, const Vec3& q) { return p = p + q; }
inline Vec3& operator-=(Vec3& p, const Vec3& q) { return p = p - q; }
inline double dot(const Vec3& p, const Vec3& q) { return p.x * q.x + p.y * q.y + p.z * q.z; }
inline Vec3 cross(const Vec3& p, const Vec3& q) {
  return {p.y * q.z - p.z * q.y, p.z * q.x - p.x * q.z, p.x * q.y - p.y * q.x};
}
inline double squared_length(const Vec3& p) { return dot(p, p); }
inline double length(const Vec3& p) { return std::sqrt(dot(p, p)); }
/// Unit vector along p; the zero vector (or a non-finite one) gives the zero vector.
inline Vec3 normalized(const Vec3& p) {
  const double l = length(p);
  return l > 0 && std::isfinite(l) ? (1.0 / l) * p : Vec3{};
}
inline bool is_finite(const Vec3& p) { return std::isfinite(p.x) && std::isfinite(p.y) && std::isfinite(p.z); }

using Tri = std::array<Index, 3>;

/// Row-major 3x3 matrix.
struct Mat3 {
  std::array<double, 9> m{1, 0, 0, 0, 1, 0, 0, 0, 1};
  friend bool operator==(const Mat3&, const Mat3&) = default;
  double& operator()(int row, int col) { return m[static_cast<std::size_t>(3) * row + col]; }
  double operator()(int row, int col) const { return m[static_cast<std::size_t>(3) * row + col]; }
  Vec3 column(int c) const { return {(*this)(0, c), (*this)(1, c), (*this)(2, c)}; }
};

inline Vec3 operator*(const Mat3& a, const Vec3& p) {
  return {a(0, 0) * p.x + a(0, 1) * p.y + a(0, 2) * p.z, a(1, 0) * p.x + a(1, 1) * p.y + a(1, 2) * p.z,
          a(2, 0) * p.x + a(2, 1) * p.y + a(2, 2) * p.z};
}
inline Mat3 operator*(const Mat3& a, const Mat3& b) {
  Mat3 r;
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) r(i, j) = a(i, 0) * b(0, j) + a(i, 1) * b(1, j) + a(i, 2) * b(2, j);
  return r;
}
inline Mat3 transposed(const Mat3& a) {
  return Mat3{{a(0, 0), a(1, 0), a(2, 0), a(0, 1), a(1, 1), a(2, 1), a(0, 2), a(1, 2), a(2, 2)}};
}
inline Mat3 from_columns(const Vec3& u, const Vec3& v, const Vec3& n) {
  return Mat3{{u.x, v.x, n.x, u.y, v.y, n.y, u.z, v.z, n.z}};
}

/// Unit quaternion, order x y z w.
struct Quat {
  double x = 0, y = 0, z = 0, w = 1;
  friend bool operator==(const Quat&, const Quat&) = default;
};

/// A rigid motion: x -> rotation * x + translation. For a trim it maps the rest position in the
/// combined export's coordinates to the posed position.
struct Pose {
  Mat3 rotation;
  Vec3 translation;
};
inline Vec3 apply(const Pose& pose, const Vec3& p) { return pose.rotation * p + pose.translation; }
inline Pose inverse(const Pose& pose) {
  const Mat3 back = transposed(pose.rotation);
  return {back, -(back * pose.translation)};
}

/// Rotation matrix -> unit quaternion with w >= 0 (Shepperd's choice of the largest pivot).
Quat to_quat(const Mat3& rotation);
/// Unit quaternion -> rotation matrix. @pre q has unit norm.
Mat3 to_matrix(const Quat& q);
/// Angle between two rotations in degrees: 2 asin(|A-B|_F / (2 sqrt 2)); exact down to rounding for
/// tiny angles, unlike the acos form.
double rotation_angle_deg(const Mat3& a, const Mat3& b);

}  // namespace trimtack
