// SPDX-License-Identifier: MIT
/// Which layer of the cloth carries a trim, and where.
#pragma once

#include <string>
#include <vector>

#include "stages/cloth_topology.hpp"
#include "trimtack/cloth_index.hpp"
#include "trimtack/types.hpp"

namespace trimtack {

/// A trim's surface as a few dozen points with area weights (sum 1).
struct TrimSamples {
  std::vector<Vec3> points, normals;
  std::vector<double> weights;
  Vec3 centroid;
  double size = 0;  ///< diagonal of the trim's box
};

/// Where one sheet of cloth carries the trim.
struct Foot {
  Surface surface;
  double share = 1;
};

struct Carrier {
  std::vector<Foot> feet;  ///< one; two or more where the trim bridges panels; none: there is no cloth
  Index layer = kNone, runner_up = kNone;
  double gap = 0;
  std::vector<std::string> notes;
};

}  // namespace trimtack
