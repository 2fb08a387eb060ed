// SPDX-License-Identifier: MIT
/// The demo coat's trims, fitted to its pieces.
#pragma once

#include <string>
#include <vector>

#include "demo/hardware.hpp"
#include "demo/panels.hpp"

namespace trimtack::coat {

/// One rigid unit: its parts in local coordinates and where they stand.
struct Fitted {
  std::string name, object, group;
  std::vector<Solid> parts;
  Mat3 axes;  ///< columns: local x, y, z
  Vec3 origin;
  Vec3 world(const Vec3& local) const { return origin + axes * local; }
};

/// Stitches to the inch and their length in mm (ISO 4915 type 301 at 8 to the inch, usual for work clothes).
inline constexpr double kStitchesPerInch = 8, kStitchPitch = 25.4 / kStitchesPerInch;

/// Everything in the order of the export. `wrong_layer_button` (0-based, -1 for none) is pushed through to the under
/// front; `elbow_bar` adds a stiff bar that is too long for the elbow it sits on.
std::vector<Fitted> fit_trims(const Coat& coat, std::uint64_t seed, int wrong_layer_button, bool elbow_bar);

/// Pattern coordinates of the rivet that gets the sliver, on the left hip pocket and on the left front alike.
Vec2 sliver_rivet_place();
/// Pattern coordinates of the left snap on its flap.
Vec2 left_snap_place();

}  // namespace trimtack::coat
