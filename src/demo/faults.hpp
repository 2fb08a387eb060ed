// SPDX-License-Identifier: MIT
/// The faults that can be planted in the demo coat.
#pragma once

#include "demo/panels.hpp"

namespace trimtack::coat {

inline constexpr int kWrongLayerButton = 2, kCollapsedFrame = 17;
inline constexpr double kSliverWidth = 0.2;  ///< mm

/// Puts two needle triangles of `width` mm across pattern place p into the face there.
void plant_sliver(Panel& panel, const Vec2& p, double width);

/// Moves the first corner of a triangle onto the middle of the other two.
void flatten_triangle(std::vector<Vec3>& positions, const std::array<Index, 3>& corners);

}  // namespace trimtack::coat
