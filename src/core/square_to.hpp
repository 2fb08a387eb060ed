// SPDX-License-Identifier: MIT
/// A direction square to another.
#pragma once

#include <cmath>

#include "trimtack/types.hpp"

namespace trimtack {

/// @param axis  a unit vector    @return a unit vector, the same one for the same axis
inline Vec3 square_to(const Vec3& axis) {
  const Vec3 helper = std::abs(axis.x) < 0.6 ? Vec3{1, 0, 0} : Vec3{0, 1, 0};
  return normalized(cross(axis, helper));
}

}  // namespace trimtack
