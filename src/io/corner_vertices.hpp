// SPDX-License-Identifier: MIT
/// Formats with one index per corner: a position is repeated for each texture coordinate and normal that it meets.
#pragma once

#include <vector>

#include "trimtack/mesh.hpp"

namespace trimtack {

/// One output vertex: a position with one of the corner data sets that occur there (kNone: none).
struct CornerVertex {
  Index position = kNone, texcoord = kNone, normal = kNone;
};

struct CornerVertices {
  /// In the order of position numbers, then of first corners. A position that no face uses stays, once.
  std::vector<CornerVertex> vertices;
  std::vector<Index> of_corner;  ///< #C
};

/// @param texcoords, normals  whether these tell vertices apart; only where the mesh has them
/// Cost: time and memory linear in #V + #C (times the few data sets that share a position).
CornerVertices split_corners(const SourceMesh& mesh, bool texcoords, bool normals);

}  // namespace trimtack
