// SPDX-License-Identifier: MIT
/// Trims of a garment that another mesh holds again, whatever their places, turns, vertex order or split vertices.
#pragma once

#include "trimtack/mesh.hpp"
#include "trimtack/parallel.hpp"
#include "trimtack/parts.hpp"

namespace trimtack {

struct TrimsAgain {
  Index wanted = 0;  ///< parts of the garment's trims and stitching
  Index seen = 0;    ///< parts of the other mesh with as many faces and vertices as one of them, and about as large
};

/// Parts meshed like a part of the garment's cloth are not counted as seen: they tell nothing.
/// @pre garment has the faces that `parts` speaks of.
/// Cost: that of the components and shapes of both meshes. Threads: same result for any executor.
TrimsAgain find_trims_again(const SourceMesh& garment, const Parts& parts, const SourceMesh& other,
                            const Executor& executor = {});

}  // namespace trimtack
