// SPDX-License-Identifier: MIT
/// The faults that can be planted in the demo coat.
#pragma once

#include "demo/panels.hpp"

namespace trimtack::coat {

inline constexpr int kWrongLayerButton = 2, kCollapsedButton = 4, kCollapsedFrame = 17;

/// Puts two needle triangles of `width` mm across pattern place p into the face there.
void plant_sliver(Panel& panel, const Vec2& p, double width);

}  // namespace trimtack::coat
