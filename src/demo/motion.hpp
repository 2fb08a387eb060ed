// SPDX-License-Identifier: MIT
/// The demo coat's frames: a smooth motion of space that everything follows, the hard parts too.
#pragma once

#include "demo/panels.hpp"

namespace trimtack::coat {

/// What the wearer does at one moment.
struct Motion {
  double elbow_rad = 0;  ///< left elbow, forwards
  double twist_rad = 0;  ///< chest against hips
  double growth = 0;     ///< girth, relative
  double wrinkle = 0;    ///< amplitude in mm
  double phase = 0;      ///< of the wrinkles, radians
  double slip = 0;       ///< mm that the under front gives way to the body behind the over front
};
/// `t` runs from 0 (rest) to 1.
Motion motion_at(double t, double seed_phase);
Vec3 moved(const Vec3& rest, const Motion& motion);
/// A point of the under front before moved(): it slides and sinks away behind the overlap, fading out to its seams.
Vec3 slipped(const Vec3& rest, const Motion& motion);

}  // namespace trimtack::coat
