// SPDX-License-Identifier: MIT
#include "stages/bind/pieces.hpp"

#include <algorithm>
#include <cmath>

namespace trimtack {

double bend_standoff(double d, double r) {
  const double inside = r * r - d * d / 4;
  return inside > 0 ? r - std::sqrt(inside) : r;
}

Index pieces_within(double d, double r, double limit) {
  if (!(limit > 0) || !(r > 0) || !(d > 0)) return 1;
  if (limit >= r) return 1;
  // The longest piece that stays within the limit: standoff(d) = limit solved for d.
  const double longest = 2 * std::sqrt(limit * (2 * r - limit));
  return static_cast<Index>(std::min(std::ceil(d / longest - 1e-9), 1e6));
}

double length_along(std::span<const Vec3> points, const Vec3& normal) {
  if (points.empty()) return 0;
  const auto squared_across = [&](const Vec3& p, const Vec3& q) {
    const Vec3 d = p - q;
    const double up = dot(d, normal);
    return squared_length(d) - up * up;
  };
  const auto farthest = [&](const Vec3& from) {
    const Vec3* best = &points[0];
    for (const Vec3& p : points)
      if (squared_across(p, from) > squared_across(*best, from)) best = &p;
    return *best;
  };
  const Vec3 p = farthest(points[0]);
  return std::sqrt(std::max(0.0, squared_across(farthest(p), p)));
}

namespace {

/// The triangles of trim t, component by component; empty when it must stay whole.
struct Piece {
  Index component;
  Vec3 low, high;
};

/// Components of trim t in ascending order, grouped: those that overlap by more than half along the trim's longest axis
/// share a group (a rivet's two halves, a loop through a bar).
std::vector<std::vector<Index>> groups_of(const TrimShapes& trims, Index t) {
  std::vector<Piece> pieces;
  Vec3 low{1e300, 1e300, 1e300}, high{-1e300, -1e300, -1e300};
  for (Index f = trims.triangle_offsets[t]; f < trims.triangle_offsets[t + 1]; ++f) {
    const Index component = trims.component_of_triangle[f];
    auto at = std::find_if(pieces.begin(), pieces.end(), [&](const Piece& p) { return p.component == component; });
    if (at == pieces.end())
      at = pieces.insert(pieces.end(), {component, {1e300, 1e300, 1e300}, {-1e300, -1e300, -1e300}});
    for (const Index local : trims.triangles[f]) {
      const Vec3& p = trims.vertices[trims.vertex_offsets[t] + local];
      for (int k = 0; k < 3; ++k) {
        at->low[k] = std::min(at->low[k], p[k]);
        at->high[k] = std::max(at->high[k], p[k]);
        low[k] = std::min(low[k], p[k]);
        high[k] = std::max(high[k], p[k]);
      }
    }
  }
  const Vec3 size = high - low;
  const int axis = size.x >= size.y && size.x >= size.z ? 0 : (size.y >= size.z ? 1 : 2);
  std::sort(pieces.begin(), pieces.end(), [&](const Piece& p, const Piece& q) {
    const double a = p.low[axis] + p.high[axis], b = q.low[axis] + q.high[axis];
    return a != b ? a < b : p.component < q.component;
  });
  std::vector<std::vector<Index>> groups;
  double first = 0, last = 0;
  for (const Piece& p : pieces) {
    const double shared = std::min(last, p.high[axis]) - std::max(first, p.low[axis]);
    const double shorter = std::min(last - first, p.high[axis] - p.low[axis]);
    if (!groups.empty() && shared > 0.5 * shorter) {
      groups.back().push_back(p.component);
      first = std::min(first, p.low[axis]);
      last = std::max(last, p.high[axis]);
    } else {
      groups.push_back({p.component});
      first = p.low[axis];
      last = p.high[axis];
    }
  }
  return groups;
}

void append_group(const TrimShapes& trims, Index t, std::span<const Index> components, std::size_t number,
                  TrimShapes& out) {
  const Index first = trims.vertex_offsets[t];
  std::vector<Index> local(trims.vertex_offsets[t + 1] - first, kNone);
  const auto start = static_cast<Index>(out.vertices.size());
  for (Index f = trims.triangle_offsets[t]; f < trims.triangle_offsets[t + 1]; ++f) {
    const Index component = trims.component_of_triangle[f];
    if (std::find(components.begin(), components.end(), component) == components.end()) continue;
    Tri triangle = trims.triangles[f];
    for (Index& v : triangle) {
      if (local[v] == kNone) {
        local[v] = static_cast<Index>(out.vertices.size()) - start;
        out.vertices.push_back(trims.vertices[first + v]);
        out.source_vertex.push_back(trims.source_vertex[first + v]);
      }
      v = local[v];
    }
    out.triangles.push_back(triangle);
    out.component_of_triangle.push_back(component);
  }
  out.id.push_back(trims.id[t]);
  out.name.push_back(trims.name[t] + " piece " + std::to_string(number));
  out.role.push_back(trims.role[t]);
  out.prototype.push_back(kNone);
  out.row.push_back(trims.row[t]);
  if (!trims.one_sheet.empty()) out.one_sheet.push_back(trims.one_sheet[t]);
  out.placement.push_back(trims.placement[t]);
  out.vertex_offsets.push_back(static_cast<Index>(out.vertices.size()));
  out.triangle_offsets.push_back(static_cast<Index>(out.triangles.size()));
}

void append_pieces(const TrimShapes& trims, Index t, const std::vector<std::vector<Index>>& groups, TrimShapes& out) {
  for (std::size_t g = 0; g < groups.size(); ++g) append_group(trims, t, groups[g], g + 1, out);
}

}  // namespace

void append_trim(const TrimShapes& trims, Index t, TrimShapes& out) {
  const auto append = [](const auto& from, const std::vector<Index>& offsets, Index of, auto& to) {
    to.insert(to.end(), from.begin() + offsets[of], from.begin() + offsets[of + 1]);
  };
  out.id.push_back(trims.id[t]);
  out.name.push_back(trims.name[t]);
  out.role.push_back(trims.role[t]);
  out.prototype.push_back(trims.prototype[t]);
  out.row.push_back(trims.row[t]);
  if (!trims.one_sheet.empty()) out.one_sheet.push_back(trims.one_sheet[t]);
  out.placement.push_back(trims.placement[t]);
  append(trims.vertices, trims.vertex_offsets, t, out.vertices);
  append(trims.source_vertex, trims.vertex_offsets, t, out.source_vertex);
  append(trims.triangles, trims.triangle_offsets, t, out.triangles);
  append(trims.component_of_triangle, trims.triangle_offsets, t, out.component_of_triangle);
  out.vertex_offsets.push_back(static_cast<Index>(out.vertices.size()));
  out.triangle_offsets.push_back(static_cast<Index>(out.triangles.size()));
}

TrimShapes cut_long_trims(const TrimShapes& trims, const Unit& unit, const BindOptions& options, Report& report) {
  TrimShapes out;
  for (Index t = 0; t < trims.id.size(); ++t) {
    const Box box = bounds(
        {trims.vertices.data() + trims.vertex_offsets[t], trims.vertex_offsets[t + 1] - trims.vertex_offsets[t]});
    const Vec3 size = unit.mm_per_unit * (box.max - box.min);
    const double longest = std::max({size.x, size.y, size.z});
    const bool too_long = trims.role[t] != Role::Stitching && options.bend_radius_mm > 0 &&
                          bend_standoff(longest, options.bend_radius_mm) > options.gap_limit_mm;
    const auto groups = too_long ? groups_of(trims, t) : std::vector<std::vector<Index>>{};
    if (groups.size() < 2) {
      append_trim(trims, t, out);
      continue;
    }
    append_pieces(trims, t, groups, out);
    add_separate(report, {Severity::Note, "trim-in-pieces",
                          "bound as " + std::to_string(groups.size()) + " pieces, each following on its own",
                          trims.name[t], 0, 1});
  }
  return out;
}

}  // namespace trimtack
