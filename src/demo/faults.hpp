// SPDX-License-Identifier: MIT
/// The faults that can be planted in the demo coat.
#pragma once

#include "demo/panels.hpp"

namespace trimtack::coat {

inline constexpr int kWrongLayerButton = 2, kCollapsedButton = 4, kCollapsedFrame = 17;

/// Puts two needle triangles of `width` mm across pattern place p into the face there.
void plant_sliver(Panel& panel, const Vec2& p, double width);

/// Moves one corner of a triangle onto the middle of the other two, the one with the shortest way.
void flatten_triangle(std::vector<Vec3>& positions, const std::array<Index, 3>& corners);

}  // namespace trimtack::coat
