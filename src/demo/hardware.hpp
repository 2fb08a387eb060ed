// SPDX-License-Identifier: MIT
/// The demo coat's hard parts, each in its own coordinates: z = 0 is the cloth's face, +z outwards, millimetres.
#pragma once

#include <vector>

#include "trimtack/types.hpp"

namespace trimtack::coat {

/// A polygon mesh in local coordinates, faces counter-clockwise from outside.
struct Solid {
  std::vector<Vec3> vertices;
  std::vector<std::vector<Index>> faces;
  bool stitching = false;  ///< else hardware
  const char* material = "";
};

/// 1 ligne is 1/40 inch (button charts of the trade, for instance "Button Size Chart Converting Ligne to Metric mm").
inline constexpr double kLigne = 25.4 / 40;

/// A sew-through button, closed, one handle per hole; `stand` is its back's height over the cloth.
Solid make_button(double diameter, double thickness, int holes, double hole_diameter, double hole_pitch, double stand);
/// The threads of such a button: one bar per pair of holes, its ends in the cloth.
std::vector<Solid> make_button_threads(double thickness, int holes, double hole_pitch, double stand);
/// Cap and socket of a snap; the socket's post goes through the cloth into the cap.
std::vector<Solid> make_snap(double cap_diameter);
/// Burr outside, nail head behind, `grip` mm of cloth between them.
std::vector<Solid> make_rivet(double burr_diameter, double head_diameter, double grip);
/// One zipper element that reaches across the tape's edge (x = 0) towards +x; the row runs along y.
Solid make_zip_element();
/// Slider body and pull, centred on the gap between the tapes, the row along y.
std::vector<Solid> make_zip_slider();
/// Clamps the tapes; `width` across the row (x).
Solid make_zip_stop(double width);
/// One stitch of `length` mm along x, its ends in the cloth.
Solid make_stitch(double length);
/// A stiff flat bar of the given size along x, with round ends and a slot, like the bar of a slide buckle.
Solid make_bar(double length, double width, double thickness);

}  // namespace trimtack::coat
