// SPDX-License-Identifier: MIT
#include "io/scene_geometry.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

#include "trimtack/io/poses.hpp"

namespace trimtack {
namespace {

// Appends the numbers as float32; false when one is not finite there.
template <std::size_t N>
bool append_floats(std::vector<float>& out, const std::array<double, N>& values) {
  bool finite = true;
  for (const double value : values) {
    out.push_back(static_cast<float>(value));
    finite = finite && std::isfinite(out.back());
  }
  return finite;
}

Error not_finite(const SourceMesh& mesh, const char* what, std::size_t vertex) {
  return {ErrorCode::BadInput,
          std::string(what) + " of vertex " + std::to_string(vertex) + " is not a finite float32 number", mesh.file, 0};
}

bool append_colour(std::vector<float>& out, const Vec3& colour) {
  const auto channel = [](double value) { return std::clamp(std::isnan(value) ? 1.0 : value, 0.0, 1.0); };
  return append_floats<3>(out, {channel(colour.x), channel(colour.y), channel(colour.z)});
}

}  // namespace

HostSpace host_space(const Scene& scene) {
  HostSpace space;
  space.metres_per_unit = scene.unit.mm_per_unit / 1000;
  if (scene.up == UpAxis::Z) space.turn = Mat3{{1, 0, 0, 0, 0, 1, 0, -1, 0}};
  if (scene.cloth == nullptr || scene.cloth->positions.empty()) return space;
  const Box box = bounds(scene.cloth->positions);
  const Vec3 centre = space.point(0.5 * (box.min + box.max));
  if (length(centre) > 2 * space.metres_per_unit * length(box.max - box.min)) {
    space.origin = {std::round(centre.x), std::round(centre.y), std::round(centre.z)};
  }
  return space;
}

std::vector<Vec3> smooth_normals(std::span<const Vec3> positions, std::span<const Tri> triangles) {
  std::vector<Vec3> normals(positions.size());
  for (const Tri& t : triangles) {
    const Vec3 n = cross(positions[t[1]] - positions[t[0]], positions[t[2]] - positions[t[0]]);
    for (const Index v : t) normals[v] += n;
  }
  for (Vec3& n : normals) n = normalized(n);
  return normals;
}

Result<Geometry> make_geometry(const SourceMesh& mesh, const HostSpace& space) {
  Geometry geometry;
  geometry.corners = split_corners(mesh, true, true);
  const Triangles cut = triangulate(view(mesh));
  geometry.position_triangles = cut.triangles;
  std::map<Index, std::size_t> part_of_material;
  for (std::size_t t = 0; t < cut.triangles.size(); ++t) {
    const Index material = state_of(mesh, cut.face[t]).material;
    const auto [at, is_new] = part_of_material.emplace(material, geometry.parts.size());
    if (is_new) geometry.parts.push_back({material == kNone ? std::string() : mesh.materials[material], {}});
    for (const Index corner : cut.corners[t]) {
      geometry.parts[at->second].indices.push_back(geometry.corners.of_corner[corner]);
    }
  }
  const bool has_normals = !mesh.corner_normal.empty(), has_texcoords = !mesh.corner_texcoord.empty();
  std::vector<Vec3> smooth;
  if (has_normals) smooth = smooth_normals(mesh.positions, cut.triangles);
  for (const CornerVertex& vertex : geometry.corners.vertices) {
    const Vec3 p = space.point(mesh.positions[vertex.position]);
    if (!append_floats<3>(geometry.positions, {p.x, p.y, p.z}))
      return not_finite(mesh, "the position", vertex.position);
    if (has_texcoords) {
      const Vec2 uv = vertex.texcoord == kNone ? Vec2{0, 1} : mesh.texcoords[vertex.texcoord];
      if (!append_floats<2>(geometry.texcoords, {uv.x, 1 - uv.y})) {
        return not_finite(mesh, "the texture coordinate", vertex.position);
      }
    }
    if (has_normals) {
      Vec3 n = vertex.normal == kNone ? Vec3{} : normalized(mesh.normals[vertex.normal]);
      if (n == Vec3{}) n = smooth[vertex.position];
      if (n == Vec3{}) n = {0, 0, 1};  // no triangle has an area there: any direction is as good
      n = space.turn * n;
      append_floats<3>(geometry.normals, {n.x, n.y, n.z});
    }
    if (!mesh.colours.empty()) append_colour(geometry.colours, mesh.colours[vertex.position]);
  }
  return geometry;
}

NodePose node_pose(const HostSpace& space, const Scene::Placed& placed, const Pose& pose, Quat& previous) {
  NodePose node;
  previous = short_path(previous, to_quat(space.turn * (pose.rotation * placed.placement.rotation)));
  const Vec3 t = space.point(apply(pose, placed.placement.translation));
  node.translation = {static_cast<float>(t.x), static_cast<float>(t.y), static_cast<float>(t.z)};
  node.rotation = {static_cast<float>(previous.x), static_cast<float>(previous.y), static_cast<float>(previous.z),
                   static_cast<float>(previous.w)};
  return node;
}

}  // namespace trimtack
