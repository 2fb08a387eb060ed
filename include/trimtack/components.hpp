// SPDX-License-Identifier: MIT
/// Connected components of a mesh, as flat lists.
#pragma once

#include <span>
#include <vector>

#include "trimtack/mesh.hpp"
#include "trimtack/weld.hpp"

namespace trimtack {

/// Components are numbered by the order of their first faces.
struct ComponentMap {
  std::vector<Index> of_face;            ///< #F
  std::vector<Index> of_welded;          ///< per welded vertex, kNone for one that no face uses
  std::vector<Index> face_offsets{0};    ///< component c owns faces[face_offsets[c], face_offsets[c + 1])
  std::vector<Index> faces;              ///< ascending within a component
  std::vector<Index> vertex_offsets{0};  ///< the same for welded vertices
  std::vector<Index> vertices;           ///< welded vertices, ascending within a component
  std::vector<Index> rank_of_welded;     ///< place of each welded vertex within its component, kNone when unused
  Index count() const { return static_cast<Index>(face_offsets.size() - 1); }
  std::span<const Index> faces_of(Index c) const {
    return {faces.data() + face_offsets[c], face_offsets[c + 1] - face_offsets[c]};
  }
  std::span<const Index> vertices_of(Index c) const {
    return {vertices.data() + vertex_offsets[c], vertex_offsets[c + 1] - vertex_offsets[c]};
  }
};

/// Maximal sets of faces connected through shared welded vertices.
/// Cost: O(#V + #corners), almost linear (union-find). Threads: safe on the same inputs.
ComponentMap find_components(const FaceView& faces, const WeldMap& welded);

}  // namespace trimtack
