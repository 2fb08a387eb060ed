// SPDX-License-Identifier: MIT
/// What shapes are made of: sums over a component's triangles and vertices. Private to their measuring.
#pragma once

#include <array>
#include <cstddef>

#include "stages/find/lanes.hpp"
#include "trimtack/features.hpp"

namespace trimtack {

/// Integrals over triangles, up to a factor.
template <class T>
struct SurfaceSums {
  T area{}, volume{};  ///< volume times 6
  T x{}, y{}, z{};     ///< first moments times 3
  T xx{}, yy{}, zz{};  ///< second moments times 12
  T xy{}, xz{}, yz{};
};

/// Those of one triangle in each lane.
template <class L>
TRIMTACK_INLINE SurfaceSums<L> sums_of(const Lanes3<L>& p, const Lanes3<L>& q, const Lanes3<L>& r) {
  const Lanes3<L> n = cross(q - p, r - p);
  const L area = 0.5 * root(dot(n, n));
  const Lanes3<L> s = p + q + r;
  return {area,
          dot(p, n),
          area * s.x,
          area * s.y,
          area * s.z,
          area * (s.x * s.x + p.x * p.x + q.x * q.x + r.x * r.x),
          area * (s.y * s.y + p.y * p.y + q.y * q.y + r.y * r.y),
          area * (s.z * s.z + p.z * p.z + q.z * q.z + r.z * r.z),
          area * (s.x * s.y + p.x * p.y + q.x * q.y + r.x * r.y),
          area * (s.x * s.z + p.x * p.z + q.x * q.z + r.x * r.z),
          area * (s.y * s.z + p.y * p.z + q.y * q.z + r.y * r.z)};
}

/// Of vertices about their mean.
struct SpreadSums {
  std::array<double, 6> products{};  ///< xx, yy, zz, xy, xz, yz
  double distances = 0, largest_squared = 0;
};

void set_spread(Shape& shape, const SpreadSums& sums, std::size_t vertices);

/// Sets what does not need the vertices once more.
/// @param origin  the middle of the box, from which the triangles' corners count
/// @param middle  out: of the surface, relative to the origin
/// @return whether there is a surface: the extents along its axes are still to be set
bool set_surface(Shape& shape, const SurfaceSums<double>& sums, const Vec3& origin, Vec3& middle);

/// @param low, high  of the vertices along the axes, from the middle of the surface; beyond numbers without vertices
void set_extents(Shape& shape, const Vec3& low, const Vec3& high);

}  // namespace trimtack
