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

namespace {

constexpr std::size_t kTrimsPerRange = 256;

/// The shapes of a range of trims: vertex numbers in the combined mesh, and triangles local to their trim.
struct GatheredRange {
  std::vector<Index> source, component_of_triangle;
  std::vector<Tri> triangles;
  std::vector<Index> vertex_count, triangle_count;  ///< of each trim
};

/// What the trims of one range are gathered with, used again from trim to trim.
struct GatherScratch {
  std::vector<Index> source, offsets, corners;
  std::vector<Vec3> positions;
};

/// Appends one trim: its vertices ascending, its faces cut into triangles.
void gather_one(const SourceMesh& combined, const Parts& parts, std::span<const Index> faces, GatherScratch& s,
                GatheredRange& out) {
  s.source.clear();
  for (const Index f : faces) {
    const std::span<const Index> face = combined.face(f);
    s.source.insert(s.source.end(), face.begin(), face.end());
  }
  std::sort(s.source.begin(), s.source.end());
  s.source.erase(std::unique(s.source.begin(), s.source.end()), s.source.end());
  s.offsets.assign(1, 0);
  s.corners.clear();
  for (const Index f : faces) {
    for (const Index v : combined.face(f))
      s.corners.push_back(static_cast<Index>(std::lower_bound(s.source.begin(), s.source.end(), v) - s.source.begin()));
    s.offsets.push_back(static_cast<Index>(s.corners.size()));
  }
  s.positions.clear();
  for (const Index v : s.source) s.positions.push_back(combined.positions[v]);
  const Triangles cut = triangulate({s.positions, s.offsets, s.corners});
  out.source.insert(out.source.end(), s.source.begin(), s.source.end());
  out.triangles.insert(out.triangles.end(), cut.triangles.begin(), cut.triangles.end());
  for (const Index f : cut.face) out.component_of_triangle.push_back(parts.component_of_face[faces[f]]);
  out.vertex_count.push_back(static_cast<Index>(s.source.size()));
  out.triangle_count.push_back(static_cast<Index>(cut.triangles.size()));
}

/// Ranges one after the other.
void join_ranges(const SourceMesh& combined, std::vector<GatheredRange>& ranges, const Executor& executor,
                 TrimShapes& out) {
  std::vector<std::size_t> first_vertex, first_triangle;
  for (const GatheredRange& range : ranges) {
    first_vertex.push_back(out.vertex_offsets.back());
    first_triangle.push_back(out.triangle_offsets.back());
    for (const Index n : range.vertex_count) out.vertex_offsets.push_back(out.vertex_offsets.back() + n);
    for (const Index n : range.triangle_count) out.triangle_offsets.push_back(out.triangle_offsets.back() + n);
  }
  out.source_vertex = filled_large<Index>(out.vertex_offsets.back(), 0);
  out.vertices = filled_large<Vec3>(out.vertex_offsets.back(), {});
  out.triangles = filled_large<Tri>(out.triangle_offsets.back(), {});
  out.component_of_triangle = filled_large<Index>(out.triangle_offsets.back(), 0);
  for_ranges(executor, ranges.size(), 1, [&](std::size_t begin, std::size_t end) {
    for (std::size_t r = begin; r < end; ++r) {
      const GatheredRange& range = ranges[r];
      std::copy(range.source.begin(), range.source.end(), out.source_vertex.data() + first_vertex[r]);
      std::transform(range.source.begin(), range.source.end(), out.vertices.data() + first_vertex[r],
                     [&](Index v) { return combined.positions[v]; });
      std::copy(range.triangles.begin(), range.triangles.end(), out.triangles.data() + first_triangle[r]);
      std::copy(range.component_of_triangle.begin(), range.component_of_triangle.end(),
                out.component_of_triangle.data() + first_triangle[r]);
      ranges[r] = {};
    }
  });
}

}  // namespace

TrimShapes gather_trims(const SourceMesh& combined, const Parts& parts, const SplitMaps& maps,
                        const Executor& executor) {
  std::vector<Index> wanted;
  reserve_large(wanted, maps.trims.faces.size() + maps.stitching.faces.size());
  std::merge(maps.trims.faces.begin(), maps.trims.faces.end(), maps.stitching.faces.begin(), maps.stitching.faces.end(),
             std::back_inserter(wanted));
  const FacesOfTrim groups = faces_by_trim(parts, wanted);
  const std::size_t count = parts.trims.size();
  std::vector<GatheredRange> ranges((count + kTrimsPerRange - 1) / kTrimsPerRange);
  for_ranges(executor, count, kTrimsPerRange, [&](std::size_t begin, std::size_t end) {
    GatherScratch scratch;
    for (std::size_t t = begin; t < end; ++t)
      gather_one(combined, parts,
                 std::span(groups.faces).subspan(groups.offsets[t], groups.offsets[t + 1] - groups.offsets[t]), scratch,
                 ranges[begin / kTrimsPerRange]);
  });
  TrimShapes out;
  join_ranges(combined, ranges, executor, out);
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
