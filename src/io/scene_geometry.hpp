// SPDX-License-Identifier: MIT
/// Scenes in the coordinates of hosts: metres, +Y up, float32 triangles with one index per corner.
#pragma once

#include <array>
#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "io/corner_vertices.hpp"
#include "trimtack/io/scene.hpp"
#include "trimtack/mesh.hpp"
#include "trimtack/parallel.hpp"
#include "trimtack/types.hpp"

namespace trimtack {

/// File coordinates -> metres with +Y up, relative to `origin` (metres, whole numbers, often zero).
struct HostSpace {
  double metres_per_unit = 0.001;
  Mat3 turn;    ///< the identity, or a quarter turn about x that lifts +Z to +Y
  Vec3 origin;  ///< in metres, after the turn

  Vec3 point(const Vec3& p) const { return metres_per_unit * (turn * p) - origin; }
};
HostSpace host_space(const Scene& scene);

/// Triangles that share a material; indices into the vertices of their Geometry.
struct MaterialTriangles {
  std::string material;  ///< empty: none
  std::vector<Index> indices;
};

struct Geometry {
  CornerVertices corners;
  std::vector<float> positions, normals, texcoords, colours;  ///< 3, 3, 2, 3 a vertex; the last three may be empty
  std::vector<MaterialTriangles> parts;                       ///< in the order of first faces
  std::vector<Tri> position_triangles;  ///< the same triangles over positions, for deformed normals
};

/// The mesh's points through `scale` * (`turn` * p) - `origin`, then to float32. Texture coordinates get v = 1 - v.
/// @error BadInput naming the vertex when a number is not finite in float32.
Result<Geometry> make_geometry(const SourceMesh& mesh, const HostSpace& space);

/// Area-weighted vertex normals of the positions (unit; zero where no triangle has an area).
std::vector<Vec3> smooth_normals(std::span<const Vec3> positions, std::span<const Tri> triangles);

/// A trim's pose as node transform: translation (metres), rotation (float32 after normalising in double).
struct NodePose {
  std::array<float, 3> translation{};
  std::array<float, 4> rotation{};  ///< x y z w
};
/// `previous` is the rotation of the key before (zero for the first): the sign is chosen for the short path.
NodePose node_pose(const HostSpace& space, const Scene::Placed& placed, const Pose& pose, Quat& previous);

}  // namespace trimtack
