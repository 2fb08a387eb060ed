// SPDX-License-Identifier: MIT
/// Made-up hard trims: each model is a few solids in one frame, z away from the cloth, the cloth at z = 0. In mm.
#pragma once

#include <string>
#include <vector>

#include "support/random.hpp"
#include "support/solids.hpp"

namespace trimtack::testing {

struct TrimModel {
  std::string kind;
  std::vector<Solid> parts;
  double reach = 5;  ///< radius of the place it takes
};

TrimModel make_button(Random& random, double diameter, int holes, bool with_thread);
TrimModel make_shank_button(Random& random, double diameter);
TrimModel make_snap(Random& random, double cloth_thickness);
TrimModel make_rivet(Random& random, double cloth_thickness);
TrimModel make_eyelet(Random& random, double cloth_thickness);
TrimModel make_hook(Random& random);
TrimModel make_eye(Random& random);
TrimModel make_buckle(Random& random);
TrimModel make_d_ring(Random& random);
TrimModel make_slider(Random& random, double gauge);
TrimModel make_zipper_element(Random& random, double gauge);
TrimModel make_zipper_stop(Random& random, double gauge);
TrimModel make_bead(Random& random);
TrimModel make_sequin(Random& random);
TrimModel make_rhinestone(Random& random);
TrimModel make_cord_end(Random& random, double cord_radius);
TrimModel make_toggle(Random& random);
TrimModel make_badge(Random& random);
/// A thread piece of a seam, along x, of the given length.
Solid make_stitch(int style, double length, double radius);
inline constexpr int kStitchStyles = 6;

}  // namespace trimtack::testing
