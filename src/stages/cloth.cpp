// SPDX-License-Identifier: MIT
#include "trimtack/cloth.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <numeric>

#include "core/memory.hpp"
#include "trimtack/weld.hpp"

namespace trimtack {

void complete_cloth(ClothMesh& cloth) {
  cloth.triangles = triangulate({cloth.positions, cloth.face_offsets, cloth.face_corners});
  cloth.welded = weld(cloth.positions).to_welded;
  cloth.component_of_face.resize(cloth.face_offsets.size() - 1, 0);
}

ClothMesh gather_cloth(const SourceMesh& combined, const Parts& parts, const SplitMaps& maps) {
  const SubsetMap& map = maps.cloth;
  ClothMesh cloth;
  std::vector<Index> renumbered = filled_large(combined.positions.size(), kNone);
  reserve_large(cloth.positions, map.positions.size());
  for (const Index v : map.positions) {
    renumbered[v] = static_cast<Index>(cloth.positions.size());
    cloth.positions.push_back(combined.positions[v]);
  }
  bool has_uv = !combined.corner_texcoord.empty();
  std::size_t corners = 0;
  for (const Index f : map.faces) corners += combined.face(f).size();
  reserve_large(cloth.face_corners, corners);
  if (has_uv) reserve_large(cloth.corner_uv, corners);
  cloth.face_offsets.reserve(map.faces.size() + 1);
  cloth.component_of_face.reserve(map.faces.size());
  for (const Index f : map.faces) {
    for (Index c = combined.face_offsets[f]; c < combined.face_offsets[f + 1]; ++c) {
      cloth.face_corners.push_back(renumbered[combined.corner_position[c]]);
      if (!has_uv) continue;
      const Index uv = combined.corner_texcoord[c];
      if (uv == kNone) {
        has_uv = false;
      } else {
        cloth.corner_uv.push_back(combined.texcoords[uv]);
      }
    }
    cloth.face_offsets.push_back(static_cast<Index>(cloth.face_corners.size()));
    cloth.component_of_face.push_back(parts.component_of_face[f]);
  }
  if (!has_uv) cloth.corner_uv.clear();
  complete_cloth(cloth);
  return cloth;
}

namespace {

/// Faces of the trims, grouped: faces of trim t are [offsets[t], offsets[t + 1]), ascending.
struct FacesOfTrim {
  std::vector<Index> offsets, faces;
};

FacesOfTrim faces_by_trim(const Parts& parts, std::span<const Index> wanted) {
  FacesOfTrim out;
  out.offsets.assign(parts.trims.size() + 1, 0);
  const auto trim_of = [&](Index f) {
    const Index component = parts.component_of_face[f];
    return component == kNone ? kNone : parts.components[component].trim;
  };
  for (const Index f : wanted)
    if (const Index t = trim_of(f); t != kNone) ++out.offsets[t + 1];
  std::partial_sum(out.offsets.begin(), out.offsets.end(), out.offsets.begin());
  out.faces.resize(out.offsets.back());
  std::vector<Index> at(out.offsets.begin(), out.offsets.end() - 1);
  for (const Index f : wanted)
    if (const Index t = trim_of(f); t != kNone) out.faces[at[t]++] = f;
  return out;
}

}  // namespace

TrimShapes gather_trims(const SourceMesh& combined, const Parts& parts, const SplitMaps& maps) {
  std::vector<Index> wanted;
  reserve_large(wanted, maps.trims.faces.size() + maps.stitching.faces.size());
  std::merge(maps.trims.faces.begin(), maps.trims.faces.end(), maps.stitching.faces.begin(), maps.stitching.faces.end(),
             std::back_inserter(wanted));
  const FacesOfTrim groups = faces_by_trim(parts, wanted);
  TrimShapes out;
  const std::size_t count = parts.trims.size();
  std::size_t corner_count = 0;
  for (const Index f : groups.faces) corner_count += combined.face(f).size();
  // All faces with corners in `out.vertices`, cut into triangles at once.
  std::vector<Index> local = filled_large(combined.positions.size(), kNone), offsets, corners, source;
  reserve_large(offsets, groups.faces.size() + 1);
  offsets.push_back(0);
  reserve_large(corners, corner_count);
  reserve_large(out.vertices, corner_count / 3);
  reserve_large(out.source_vertex, corner_count / 3);
  for (Index t = 0; t < count; ++t) {
    const std::span<const Index> faces(groups.faces.data() + groups.offsets[t],
                                       groups.offsets[t + 1] - groups.offsets[t]);
    source.clear();
    for (const Index f : faces)
      for (const Index v : combined.face(f)) {
        if (local[v] == kNone) source.push_back(v);
        local[v] = 0;
      }
    std::sort(source.begin(), source.end());
    for (const Index v : source) {
      local[v] = static_cast<Index>(out.vertices.size());
      out.vertices.push_back(combined.positions[v]);
      out.source_vertex.push_back(v);
    }
    for (const Index f : faces) {
      for (const Index v : combined.face(f)) corners.push_back(local[v]);
      offsets.push_back(static_cast<Index>(corners.size()));
    }
    for (const Index v : source) local[v] = kNone;
    out.vertex_offsets.push_back(static_cast<Index>(out.vertices.size()));
  }
  Triangles cut = triangulate({out.vertices, offsets, corners});
  cut.corners = {};  // given back before more is taken
  offsets = {};
  corners = {};
  local = {};
  out.triangles = std::move(cut.triangles);
  reserve_large(out.component_of_triangle, out.triangles.size());
  for (const Index f : cut.face) out.component_of_triangle.push_back(parts.component_of_face[groups.faces[f]]);
  std::size_t at = 0;
  for (Index t = 0; t < count; ++t) {
    for (; at < out.triangles.size() && cut.face[at] < groups.offsets[t + 1]; ++at)
      for (Index& v : out.triangles[at]) v -= out.vertex_offsets[t];
    out.triangle_offsets.push_back(static_cast<Index>(at));
  }
  for (Index t = 0; t < count; ++t) {
    const Trim& trim = parts.trims[t];
    out.id.push_back(t);
    out.name.push_back(trim.name);
    out.role.push_back(trim.role);
    out.prototype.push_back(trim.prototype);
    out.row.push_back(trim.row);
    out.placement.push_back(trim.placement);
  }
  return out;
}

Result<void> check_reach(std::span<const Vec3> positions, const std::string& subject) {
  constexpr double kFarthest = 1e15;
  for (std::size_t v = 0; v < positions.size(); ++v) {
    const Vec3& p = positions[v];
    const double farthest = std::max({std::abs(p.x), std::abs(p.y), std::abs(p.z)});
    if (!is_finite(p) || farthest <= kFarthest) continue;
    return Error{ErrorCode::BadInput,
                 "vertex " + std::to_string(v) + " has a coordinate beyond 1e15, which no garment has; export it again",
                 subject, 0};
  }
  return {};
}

}  // namespace trimtack
