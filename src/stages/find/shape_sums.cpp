// SPDX-License-Identifier: MIT
#include "stages/find/shape_sums.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/Dense>

namespace trimtack {
namespace {

void set_axes(Shape& shape, const std::array<double, 6>& c) {
  Eigen::Matrix3d m;
  m << c[0], c[3], c[4], c[3], c[1], c[5], c[4], c[5], c[2];
  Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> solver;
  solver.computeDirect(m);  // closed form: three roots of the characteristic polynomial
  std::array<Vec3, 3> axis;
  for (int k = 0; k < 3; ++k) {
    const auto v = solver.eigenvectors().col(2 - k);
    axis[static_cast<std::size_t>(k)] = {v.x(), v.y(), v.z()};
    shape.moments[static_cast<std::size_t>(k)] = std::max(0.0, solver.eigenvalues()[2 - k]);
  }
  axis[2] = cross(axis[0], axis[1]);
  shape.axes = from_columns(axis[0], axis[1], axis[2]);
}

}  // namespace

void set_spread(Shape& shape, const SpreadSums& sums, std::size_t vertices) {
  const double n = static_cast<double>(vertices);
  const std::array<double, 6>& c = sums.products;
  const double minors = c[0] * c[1] - c[3] * c[3] + c[0] * c[2] - c[4] * c[4] + c[1] * c[2] - c[5] * c[5];
  shape.spread = {std::sqrt((c[0] + c[1] + c[2]) / n), sums.distances / n, std::sqrt(sums.largest_squared),
                  std::sqrt(std::sqrt(std::max(0.0, minors)) / n)};
}

bool set_surface(Shape& shape, const SurfaceSums<double>& sums, const Vec3& origin, Vec3& middle) {
  shape.area = sums.area;
  if (!(shape.area > 0)) {
    // Only degenerate faces: the vertices' own spread has to do.
    shape.centroid = origin;
    for (int k = 0; k < 3; ++k) shape.extents[static_cast<std::size_t>(k)] = shape.box.max[k] - shape.box.min[k];
    std::sort(shape.extents.rbegin(), shape.extents.rend());
    return false;
  }
  const Vec3 c = (1.0 / (3.0 * shape.area)) * Vec3{sums.x, sums.y, sums.z};
  middle = c;
  shape.volume = sums.volume / 6.0;
  shape.centroid = origin + c;
  const double w = 1.0 / (12.0 * shape.area);
  set_axes(shape, {w * sums.xx - c.x * c.x, w * sums.yy - c.y * c.y, w * sums.zz - c.z * c.z, w * sums.xy - c.x * c.y,
                   w * sums.xz - c.x * c.z, w * sums.yz - c.y * c.z});
  return true;
}

void set_extents(Shape& shape, const Vec3& low, const Vec3& high) {
  for (int k = 0; k < 3; ++k) {
    const bool any = high[k] >= low[k];
    shape.extents[static_cast<std::size_t>(k)] = any ? high[k] - low[k] : 0;
    shape.extent_mids[static_cast<std::size_t>(k)] = any ? 0.5 * (high[k] + low[k]) : 0;
  }
}

}  // namespace trimtack
