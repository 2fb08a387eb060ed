// SPDX-License-Identifier: MIT
#include "trimtack/cloth.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <numeric>

#include "core/memory.hpp"
#include "stages/cloth_faces.hpp"
#include "trimtack/weld.hpp"

namespace trimtack {

void complete_cloth(ClothMesh& cloth) {
  cloth.triangles = triangulate({cloth.positions, cloth.face_offsets, cloth.face_corners});
  cloth.welded = place_numbers(weld(cloth.positions), cloth.positions.size());
  cloth.component_of_face.resize(cloth.face_offsets.size() - 1, 0);
}

ClothMesh gather_cloth_faces(const SourceMesh& combined, const Parts& parts, const SplitMaps& maps) {
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
  return cloth;
}

ClothMesh gather_cloth(const SourceMesh& combined, const Parts& parts, const SplitMaps& maps) {
  ClothMesh cloth = gather_cloth_faces(combined, parts, maps);
  complete_cloth(cloth);
  return cloth;
}

namespace {

/// Faces of the trims, grouped: faces of trim t are [offsets[t], offsets[t + 1]), ascending.
struct FacesOfTrim {
  std::vector<Index> offsets, faces;
};

std::vector<Index> faces_of_trims(const SplitMaps& maps) {
  std::vector<Index> faces;
  reserve_large(faces, maps.trims.faces.size() + maps.stitching.faces.size());
  std::merge(maps.trims.faces.begin(), maps.trims.faces.end(), maps.stitching.faces.begin(), maps.stitching.faces.end(),
             std::back_inserter(faces));
  return faces;
}

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

constexpr std::size_t kTrimsPerRange = 256;

/// The vertices of a range of trims: numbers in the combined mesh, ascending within each trim.
struct RangeVertices {
  std::vector<Index> source, count;
};

void add_vertices(const SourceMesh& combined, std::span<const Index> faces, RangeVertices& out) {
  const auto begin = static_cast<std::ptrdiff_t>(out.source.size());
  for (const Index f : faces) {
    const std::span<const Index> face = combined.face(f);
    out.source.insert(out.source.end(), face.begin(), face.end());
  }
  std::sort(out.source.begin() + begin, out.source.end());
  out.source.erase(std::unique(out.source.begin() + begin, out.source.end()), out.source.end());
  out.count.push_back(static_cast<Index>(out.source.size() - static_cast<std::size_t>(begin)));
}

/// What one trim is cut into triangles with, used again from trim to trim.
struct CutScratch {
  std::vector<Index> offsets, corners;
};

/// Fills the places of trim t in `out`. @param source  its vertices
void fill_trim(const SourceMesh& combined, const Parts& parts, std::span<const Index> faces,
               std::span<const Index> source, Index t, CutScratch& scratch, TrimShapes& out) {
  const std::span<Vec3> vertices = std::span(out.vertices).subspan(out.vertex_offsets[t], source.size());
  std::transform(source.begin(), source.end(), vertices.begin(), [&](Index v) { return combined.positions[v]; });
  std::copy(source.begin(), source.end(), out.source_vertex.begin() + out.vertex_offsets[t]);
  scratch.offsets.assign(1, 0);
  scratch.corners.clear();
  for (const Index f : faces) {
    for (const Index v : combined.face(f)) {
      const auto at = std::lower_bound(source.begin(), source.end(), v);
      scratch.corners.push_back(static_cast<Index>(at - source.begin()));
    }
    scratch.offsets.push_back(static_cast<Index>(scratch.corners.size()));
  }
  const Triangles cut = triangulate({vertices, scratch.offsets, scratch.corners});
  const Index first = out.triangle_offsets[t];
  std::copy(cut.triangles.begin(), cut.triangles.end(), out.triangles.begin() + first);
  for (std::size_t k = 0; k < cut.face.size(); ++k)
    out.component_of_triangle[first + k] = parts.component_of_face[faces[cut.face[k]]];
}

}  // namespace

TrimShapes gather_trims(const SourceMesh& combined, const Parts& parts, const SplitMaps& maps,
                        const Executor& executor) {
  const FacesOfTrim groups = faces_by_trim(parts, faces_of_trims(maps));
  const auto faces_of = [&](std::size_t t) {
    return std::span(groups.faces).subspan(groups.offsets[t], groups.offsets[t + 1] - groups.offsets[t]);
  };
  const std::size_t count = parts.trims.size();
  std::vector<RangeVertices> ranges((count + kTrimsPerRange - 1) / kTrimsPerRange);
  for_ranges(executor, count, kTrimsPerRange, [&](std::size_t begin, std::size_t end) {
    for (std::size_t t = begin; t < end; ++t) add_vertices(combined, faces_of(t), ranges[begin / kTrimsPerRange]);
  });
  TrimShapes out;
  for (std::size_t t = 0; t < count; ++t) {
    Index triangles = 0;
    for (const Index f : faces_of(t))
      if (const std::size_t corners = combined.face(f).size(); corners > 2)
        triangles += static_cast<Index>(corners - 2);
    out.vertex_offsets.push_back(out.vertex_offsets.back() + ranges[t / kTrimsPerRange].count[t % kTrimsPerRange]);
    out.triangle_offsets.push_back(out.triangle_offsets.back() + triangles);
  }
  out.source_vertex = filled_large<Index>(out.vertex_offsets.back(), 0);
  out.vertices = filled_large<Vec3>(out.vertex_offsets.back(), {});
  out.triangles = filled_large<Tri>(out.triangle_offsets.back(), {});
  out.component_of_triangle = filled_large<Index>(out.triangle_offsets.back(), 0);
  for_ranges(executor, count, kTrimsPerRange, [&](std::size_t begin, std::size_t end) {
    const RangeVertices& range = ranges[begin / kTrimsPerRange];
    CutScratch scratch;
    std::span<const Index> source = range.source;
    for (std::size_t t = begin; t < end; ++t) {
      const Index own = range.count[t - begin];
      fill_trim(combined, parts, faces_of(t), source.first(own), static_cast<Index>(t), scratch, out);
      source = source.subspan(own);
    }
  });
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
