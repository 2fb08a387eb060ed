// SPDX-License-Identifier: MIT
#include "trimtack/cloth.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <numeric>

#include "core/memory.hpp"
#include "stages/bind/cloth_faces.hpp"
#include "stages/find/copies.hpp"
#include "trimtack/weld.hpp"

namespace trimtack {

void complete_cloth(ClothMesh& cloth) {
  cloth.triangles = triangulate({cloth.positions, cloth.face_offsets, cloth.face_corners});
  cloth.welded = place_numbers(weld(cloth.positions), cloth.positions.size());
  cloth.component_of_face.resize(cloth.face_offsets.size() - 1, 0);
}

ClothMesh gather_cloth_faces(const SourceMesh& combined, const Parts& parts, const SplitMaps& maps, bool with_uv) {
  const SubsetMap& map = maps.cloth;
  ClothMesh cloth;
  std::vector<Index> renumbered = filled_large(combined.positions.size(), kNone);
  reserve_large(cloth.positions, map.positions.size());
  for (const Index v : map.positions) {
    renumbered[v] = static_cast<Index>(cloth.positions.size());
    cloth.positions.push_back(combined.positions[v]);
  }
  bool has_uv = with_uv && !combined.corner_texcoord.empty();
  std::size_t corners = 0;
  for (const Index f : map.faces) corners += combined.face(f).size();
  reserve_large(cloth.face_corners, corners);
  if (has_uv) reserve_large(cloth.corner_uv, corners);
  reserve_large(cloth.face_offsets, map.faces.size() + 1);
  reserve_large(cloth.component_of_face, map.faces.size());
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
  ClothMesh cloth = gather_cloth_faces(combined, parts, maps, true);
  complete_cloth(cloth);
  return cloth;
}

namespace {

/// Faces of the trims, grouped: faces of trim t are [offsets[t], offsets[t + 1]), ascending.
struct FacesOfTrim {
  std::vector<Index> offsets, faces;
};

FacesOfTrim faces_by_trim(const Parts& parts, const SplitMaps& maps) {
  std::vector<Index> merged;
  std::span<const Index> wanted = maps.trims.faces;
  if (!maps.stitching.faces.empty()) {
    reserve_large(merged, maps.trims.faces.size() + maps.stitching.faces.size());
    std::merge(maps.trims.faces.begin(), maps.trims.faces.end(), maps.stitching.faces.begin(),
               maps.stitching.faces.end(), std::back_inserter(merged));
    wanted = merged;
  }
  FacesOfTrim out;
  out.offsets.assign(parts.trims.size() + 1, 0);
  // Exporters write a component in one go.
  Index component = kNone, trim = kNone;
  const auto trim_of = [&](Index f) {
    if (const Index c = parts.component_of_face[f]; c != component) {
      component = c;
      trim = c == kNone ? kNone : parts.components[c].trim;
    }
    return trim;
  };
  for (const Index f : wanted)
    if (const Index t = trim_of(f); t != kNone) ++out.offsets[t + 1];
  std::partial_sum(out.offsets.begin(), out.offsets.end(), out.offsets.begin());
  out.faces = filled_large<Index>(out.offsets.back(), 0);
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

/// @param marks  scratch, used again
void add_vertices(const SourceMesh& combined, std::span<const Index> faces, std::vector<std::uint8_t>& marks,
                  RangeVertices& out) {
  const std::size_t begin = out.source.size();
  Index low = kNone, high = 0;
  std::size_t corners = 0;
  for (const Index f : faces)
    for (const Index v : combined.face(f)) {
      low = std::min(low, v);
      high = std::max(high, v);
      ++corners;
    }
  if (corners > 0 && high - low < 4 * corners) {  // a run, as most are: marking is sorting
    marks.assign(high - low + 1, 0);
    for (const Index f : faces)
      for (const Index v : combined.face(f)) marks[v - low] = 1;
    for (std::size_t i = 0; i < marks.size(); ++i)
      if (marks[i] != 0) out.source.push_back(low + static_cast<Index>(i));
  } else {
    for (const Index f : faces) {
      const std::span<const Index> face = combined.face(f);
      out.source.insert(out.source.end(), face.begin(), face.end());
    }
    const auto first = out.source.begin() + static_cast<std::ptrdiff_t>(begin);
    std::sort(first, out.source.end());
    out.source.erase(std::unique(first, out.source.end()), out.source.end());
  }
  out.count.push_back(static_cast<Index>(out.source.size() - begin));
}

/// What trims are gathered from.
struct Gathering {
  const SourceMesh& combined;
  const Parts& parts;
  FacesOfTrim groups;
  std::vector<RangeVertices> ranges;

  std::size_t count() const { return parts.trims.size(); }
  std::span<const Index> faces_of(std::size_t t) const {
    return std::span(groups.faces).subspan(groups.offsets[t], groups.offsets[t + 1] - groups.offsets[t]);
  }
  /// @param offsets  of the vertices of all trims
  std::span<const Index> source_of(std::size_t t, std::span<const Index> offsets) const {
    const std::size_t range = t / kTrimsPerRange;
    return std::span(ranges[range].source)
        .subspan(offsets[t] - offsets[range * kTrimsPerRange], offsets[t + 1] - offsets[t]);
  }
  Index triangle_count(std::size_t t) const {
    Index triangles = 0;
    for (const Index f : faces_of(t))
      if (const std::size_t corners = combined.face(f).size(); corners > 2)
        triangles += static_cast<Index>(corners - 2);
    return triangles;
  }
};

void gather_vertices(Gathering& from, const Executor& executor, TrimShapes& out) {
  from.ranges.resize((from.count() + kTrimsPerRange - 1) / kTrimsPerRange);
  for_ranges(executor, from.count(), kTrimsPerRange, [&](std::size_t begin, std::size_t end) {
    std::vector<std::uint8_t> marks;
    for (std::size_t t = begin; t < end; ++t)
      add_vertices(from.combined, from.faces_of(t), marks, from.ranges[begin / kTrimsPerRange]);
  });
  out.vertex_offsets.reserve(from.count() + 1);
  for (const RangeVertices& range : from.ranges)
    for (const Index n : range.count) out.vertex_offsets.push_back(out.vertex_offsets.back() + n);
  out.vertices = filled_large<Vec3>(out.vertex_offsets.back(), {});
  for_ranges(executor, from.count(), kTrimsPerRange, [&](std::size_t begin, std::size_t) {
    auto at = out.vertices.begin() + out.vertex_offsets[begin];
    for (const Index v : from.ranges[begin / kTrimsPerRange].source) *at++ = from.combined.positions[v];
  });
}

/// What one trim is cut into triangles with, used again from trim to trim.
struct CutScratch {
  std::vector<Index> offsets, corners;
};

/// Fills the places of the triangles of trim t in `out`.
void fill_triangles(const Gathering& from, std::size_t t, CutScratch& scratch, TrimShapes& out) {
  const std::span<const Index> source = from.source_of(t, out.vertex_offsets), faces = from.faces_of(t);
  scratch.offsets.assign(1, 0);
  scratch.corners.clear();
  for (const Index f : faces) {
    for (const Index v : from.combined.face(f)) {
      const auto at = std::lower_bound(source.begin(), source.end(), v);
      scratch.corners.push_back(static_cast<Index>(at - source.begin()));
    }
    scratch.offsets.push_back(static_cast<Index>(scratch.corners.size()));
  }
  const std::span<const Vec3> vertices = std::span(out.vertices).subspan(out.vertex_offsets[t], source.size());
  const Triangles cut = triangulate({vertices, scratch.offsets, scratch.corners});
  const Index first = out.triangle_offsets[t];
  std::copy(cut.triangles.begin(), cut.triangles.end(), out.triangles.begin() + first);
  if (out.component_of_triangle.empty()) return;
  for (std::size_t k = 0; k < cut.face.size(); ++k)
    out.component_of_triangle[first + k] = from.parts.component_of_face[faces[cut.face[k]]];
}

/// Triangles of all trims, or of those that are models of their own.
void gather_triangles(const Gathering& from, const Executor& executor, TrimShapes& out) {
  const auto has_own = [&](std::size_t t) { return out.model.empty() || out.model[t] == t; };
  out.triangle_offsets.reserve(from.count() + 1);
  for (std::size_t t = 0; t < from.count(); ++t)
    out.triangle_offsets.push_back(out.triangle_offsets.back() + (has_own(t) ? from.triangle_count(t) : 0));
  out.triangles = filled_large<Tri>(out.triangle_offsets.back(), {});
  if (out.model.empty()) out.component_of_triangle = filled_large<Index>(out.triangle_offsets.back(), 0);
  for_ranges(executor, from.count(), kTrimsPerRange, [&](std::size_t begin, std::size_t end) {
    CutScratch scratch;
    for (std::size_t t = begin; t < end; ++t)
      if (has_own(t)) fill_triangles(from, t, scratch, out);
  });
}

/// Fills out.model.
void find_models(const Gathering& from, const Executor& executor, TrimShapes& out) {
  std::vector<Index> triangles(from.count());
  for_ranges(executor, from.count(), kTrimsPerRange, [&](std::size_t begin, std::size_t end) {
    for (std::size_t t = begin; t < end; ++t) triangles[t] = from.triangle_count(t);
  });
  std::vector<Index> model = likely_models(out, triangles);
  std::vector<double> size(from.count(), -1);  // of the models, as far as all their faces are cut
  for (std::size_t t = 0; t < from.count(); ++t) {
    const Index m = model[t];
    if (m == t || size[m] >= 0) continue;
    size[m] = 0;
    Vec3 low{1e300, 1e300, 1e300}, high = -low;
    for (const Index f : from.faces_of(m))
      if (from.combined.face(f).size() > 2)
        for (const Index v : from.combined.face(f)) {
          const Vec3& p = from.combined.positions[v];
          low = {std::min(low.x, p.x), std::min(low.y, p.y), std::min(low.z, p.z)};
          high = {std::max(high.x, p.x), std::max(high.y, p.y), std::max(high.z, p.z)};
        }
    if (low.x <= high.x) size[m] = length(high - low);
  }
  for_ranges(executor, from.count(), kTrimsPerRange, [&](std::size_t begin, std::size_t end) {
    for (std::size_t t = begin; t < end; ++t)
      if (model[t] != t && !fits_model(out, model[t], static_cast<Index>(t), size[model[t]]))
        model[t] = static_cast<Index>(t);
  });
  out.model = std::move(model);
}

}  // namespace

TrimShapes gather_trims(const SourceMesh& combined, const Parts& parts, const SplitMaps& maps, const Executor& executor,
                        TrimLists lists) {
  Gathering from{combined, parts, faces_by_trim(parts, maps), {}};
  TrimShapes out;
  for (auto* list : {&out.id, &out.prototype, &out.row}) list->reserve(from.count());
  out.one_sheet.reserve(from.count());
  out.name.reserve(from.count());
  out.role.reserve(from.count());
  out.placement.reserve(from.count());
  for (Index t = 0; t < from.count(); ++t) {
    const Trim& trim = parts.trims[t];
    out.id.push_back(t);
    out.name.push_back(trim.name);
    out.role.push_back(trim.role);
    out.prototype.push_back(trim.prototype);
    out.row.push_back(trim.row);
    out.one_sheet.push_back(trim.row != kNone && parts.rows[trim.row].kind == RowKind::Zipper ? 1 : 0);
    out.placement.push_back(trim.placement);
  }
  gather_vertices(from, executor, out);
  if (lists == TrimLists::OfSolver) {
    find_models(from, executor, out);
  } else {
    reserve_large(out.source_vertex, out.vertices.size());
    for (const RangeVertices& range : from.ranges)
      out.source_vertex.insert(out.source_vertex.end(), range.source.begin(), range.source.end());
  }
  gather_triangles(from, executor, out);
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
