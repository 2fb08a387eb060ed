// SPDX-License-Identifier: MIT
/// Lists of trims taken apart and put together; rigid parts that are long for the bend under them.
#pragma once

#include <span>

#include "trimtack/bind.hpp"
#include "trimtack/types.hpp"

namespace trimtack {

/// Appends trim t of a list to another one, with its vertices and triangles.
void append_trim(const TrimShapes& trims, Index t, TrimShapes& out);

/// Length of a trim along its layer: its longest extent across `normal`, found by walking twice to the farthest point
/// (at worst 13 % short for a round trim seen at an odd angle, exact for long ones). Cost: linear.
double length_along(std::span<const Vec3> points, const Vec3& normal);

}  // namespace trimtack
