// SPDX-License-Identifier: MIT
/// What hangs together on the cloth: faces round a welded vertex, normals, branching seams. Built once per bind.
#pragma once

#include <span>
#include <vector>

#include "trimtack/cloth.hpp"

namespace trimtack {

struct ClothTopology {
  const ClothMesh* cloth = nullptr;
  Index welded_count = 0;
  std::vector<Index> ring_offsets{0};    ///< faces round welded vertex w: ring_faces[ring_offsets[w] ...]
  std::vector<Index> ring_faces;         ///< ascending, each face once
  std::vector<Vec3> face_normal;         ///< unit; zero for a face without area
  std::vector<Vec3> vertex_normal;       ///< per welded vertex, unit, area-weighted; zero where faces cancel
  std::vector<std::uint8_t> branching;   ///< per welded vertex: an edge with three or more faces ends here
  std::vector<Index> triangles_of_face;  ///< triangles of face f: [f] to [f + 1)

  std::span<const Index> face(Index f) const {
    return {cloth->face_corners.data() + cloth->face_offsets[f], cloth->face_offsets[f + 1] - cloth->face_offsets[f]};
  }
  std::span<const Index> ring(Index w) const {
    return {ring_faces.data() + ring_offsets[w], ring_offsets[w + 1] - ring_offsets[w]};
  }
  Index welded(Index v) const { return cloth->welded[v]; }
};

/// Cost: O(#V + #C) time and memory. Keeps a pointer to the cloth, which must outlive it.
ClothTopology build_topology(const ClothMesh& cloth, const Executor& executor = {});

/// How far the angles of the faces round a welded vertex are from a full turn, in radians: positive at the tip of a
/// cone, negative in a ruffle, near 0 on cloth that can be laid flat. 0 where the faces are not one closed fan
/// (borders, branching seams). Cost: the vertex's faces.
double angle_deficit(const ClothTopology& topology, Index welded);

/// Whether the angle deficit is surely within a limit, up or down: told without arcs for nearly all that is.
bool surely_flat(const ClothTopology& topology, Index welded, double limit);

/// Vector area of a polygon (half the sum of cross products round it): right for any planar or warped n-gon, and
/// independent of how it is cut into triangles.
Vec3 polygon_area(std::span<const Vec3> positions, std::span<const Index> corners);

}  // namespace trimtack
