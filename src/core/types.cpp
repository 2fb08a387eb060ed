// SPDX-License-Identifier: MIT
#include "trimtack/types.hpp"

#include <algorithm>

namespace trimtack {

// Shepperd 1978: divide by the largest of the four candidates, so that no pivot is small.
Quat to_quat(const Mat3& r) {
  const double trace = r(0, 0) + r(1, 1) + r(2, 2);
  Quat q;
  if (trace >= r(0, 0) && trace >= r(1, 1) && trace >= r(2, 2)) {
    q = {r(2, 1) - r(1, 2), r(0, 2) - r(2, 0), r(1, 0) - r(0, 1), 1 + trace};
  } else if (r(0, 0) >= r(1, 1) && r(0, 0) >= r(2, 2)) {
    q = {1 + r(0, 0) - r(1, 1) - r(2, 2), r(0, 1) + r(1, 0), r(0, 2) + r(2, 0), r(2, 1) - r(1, 2)};
  } else if (r(1, 1) >= r(2, 2)) {
    q = {r(0, 1) + r(1, 0), 1 + r(1, 1) - r(0, 0) - r(2, 2), r(1, 2) + r(2, 1), r(0, 2) - r(2, 0)};
  } else {
    q = {r(0, 2) + r(2, 0), r(1, 2) + r(2, 1), 1 + r(2, 2) - r(0, 0) - r(1, 1), r(1, 0) - r(0, 1)};
  }
  const double norm = std::sqrt(q.x * q.x + q.y * q.y + q.z * q.z + q.w * q.w);
  const double s = (q.w < 0 ? -1.0 : 1.0) / norm;
  return {s * q.x, s * q.y, s * q.z, s * q.w};
}

Mat3 to_matrix(const Quat& q) {
  const double xx = q.x * q.x, yy = q.y * q.y, zz = q.z * q.z;
  const double xy = q.x * q.y, xz = q.x * q.z, yz = q.y * q.z;
  const double wx = q.w * q.x, wy = q.w * q.y, wz = q.w * q.z;
  return Mat3{{1 - 2 * (yy + zz), 2 * (xy - wz), 2 * (xz + wy),  //
               2 * (xy + wz), 1 - 2 * (xx + zz), 2 * (yz - wx),  //
               2 * (xz - wy), 2 * (yz + wx), 1 - 2 * (xx + yy)}};
}

double rotation_angle_deg(const Mat3& a, const Mat3& b) {
  double sum = 0;
  for (int i = 0; i < 9; ++i) {
    const double d = a.m[static_cast<std::size_t>(i)] - b.m[static_cast<std::size_t>(i)];
    sum += d * d;
  }
  constexpr double kDegPerRad = 57.295779513082320877;
  return 2 * std::asin(std::min(1.0, std::sqrt(sum) / (2 * std::sqrt(2.0)))) * kDegPerRad;
}

}  // namespace trimtack
