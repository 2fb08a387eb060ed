// SPDX-License-Identifier: MIT
/// Where parts of a mesh hang together by less than a seam: at single vertices, or at edges of more than two faces. So
/// they do after vertices that lie close to one another were merged.
#pragma once

#include <array>
#include <vector>

#include "trimtack/components.hpp"
#include "trimtack/mesh.hpp"

namespace trimtack {

/// Sets of faces of a component that hang together over edges.
struct EdgePieces {
  std::vector<std::vector<Index>> faces;       ///< by their first ones; of the combined file, ascending
  std::vector<std::array<Index, 2>> touching;  ///< pieces that share an edge, the smaller first, ascending
};

/// Faces are joined over edges of two faces and, where more meet, two by two: as bodies side by side have them or,
/// where those are not told apart, as they go on one another most smoothly. A face without an inside goes with one at
/// its side. Cost: O(corners log corners) of the component.
EdgePieces pieces_over_edges(const SourceMesh& mesh, const WeldMap& welded, const IndexList& component_faces);

}  // namespace trimtack
