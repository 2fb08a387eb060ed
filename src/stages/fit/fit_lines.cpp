// SPDX-License-Identifier: MIT
#include "stages/fit/fit_lines.hpp"

#include <algorithm>
#include <cmath>

#include "stages/bind/box_tree.hpp"
#include "stages/bind/height_at.hpp"

namespace trimtack {
namespace {

constexpr double kAside = 0.437;  // of a cell: off the planes of symmetric trims and meshes

/// Notes where the lines cross a triangle given in place coordinates.
void note_crossings(const std::array<Vec3, 3>& t, Index triangle, std::vector<FitLine>& lines,
                    std::vector<LineHit> FitLine::*into) {
  const auto [low_x, high_x] = std::minmax({t[0].x, t[1].x, t[2].x});
  const auto [low_y, high_y] = std::minmax({t[0].y, t[1].y, t[2].y});
  const bool faces_up = (t[1].x - t[0].x) * (t[2].y - t[0].y) > (t[1].y - t[0].y) * (t[2].x - t[0].x);
  for (FitLine& line : lines) {
    if (line.x < low_x || line.x > high_x || line.y < low_y || line.y > high_y) continue;
    LineHit hit;
    hit.triangle = triangle, hit.faces_up = faces_up;
    if (!height_at(t, line.x, line.y, hit.z, hit.bary) || !std::isfinite(hit.z)) continue;
    (line.*into).push_back(hit);
  }
}

}  // namespace

std::vector<Vec3> in_place(const FitModel& model, std::size_t trim) {
  const TrimShapes& trims = *model.trims;
  std::vector<Vec3> local;
  for (Index v = trims.vertex_offsets[trim]; v < trims.vertex_offsets[trim + 1]; ++v) {
    local.push_back(apply(model.places[trim].to_place, trims.vertices[v]));
  }
  return local;
}

void look_near(const FitModel& model, std::size_t trim, double aside, double beyond, std::vector<Index>& stack,
               FitLines& out) {
  const ClothMesh& cloth = *model.cloth;
  const FitPlace& place = model.places[trim];
  out.near.clear();
  out.vertices = in_place(model, trim);
  if (out.vertices.empty()) return;
  out.trim = bounds(out.vertices);
  const Vec3 more{aside, aside, beyond};
  out.seen = {out.trim.min - more, out.trim.max + more};
  overlapping(*model.tree, posed(out.seen, inverse(place.to_place)), cloth.positions, cloth.triangles.triangles, stack,
              out.near);
}

namespace {

/// Notes what the lines meet.
void meet_lines(const FitModel& model, std::size_t trim, FitLines& out) {
  const TrimShapes& trims = *model.trims;
  const ClothMesh& cloth = *model.cloth;
  const FitPlace& place = model.places[trim];
  const std::vector<Vec3>& local = out.vertices;
  for (Index k = trims.triangle_offsets[trim]; k < trims.triangle_offsets[trim + 1]; ++k) {
    const Tri& t = trims.triangles[k];
    note_crossings({local[t[0]], local[t[1]], local[t[2]]}, k, out.lines, &FitLine::trim);
  }
  const auto own = model.source_triangle.begin() + place.first_triangle;
  for (const Index t : out.near) {
    std::array<Vec3, 3> c;
    for (std::size_t i = 0; i < 3; ++i) {
      c[i] = apply(place.to_place, cloth.positions[cloth.triangles.triangles[t][i]]);
    }
    const bool is_own = std::binary_search(own, own + place.triangle_count, t);
    note_crossings(c, t, out.lines, is_own ? &FitLine::own : &FitLine::other);
  }
  const auto lower = [](const LineHit& a, const LineHit& b) {
    return a.z != b.z ? a.z < b.z : a.triangle < b.triangle;
  };
  for (FitLine& line : out.lines) {
    for (auto* hits : {&line.own, &line.other, &line.trim}) std::sort(hits->begin(), hits->end(), lower);
    std::erase_if(line.other, [&](const LineHit& h) { return h.z < out.seen.min.z || h.z > out.seen.max.z; });
  }
}

}  // namespace

void lay_lines(const FitModel& model, std::size_t trim, int side, FitLines& out) {
  const Box& seen = out.seen;
  out.lines.clear();
  for (int j = 0; j < side; ++j) {
    for (int i = 0; i < side; ++i) {
      out.lines.push_back({});
      out.lines.back().x = seen.min.x + (i + kAside) / side * (seen.max.x - seen.min.x);
      out.lines.back().y = seen.min.y + (j + kAside) / side * (seen.max.y - seen.min.y);
    }
  }
  meet_lines(model, trim, out);
}

void lay_lines(const FitModel& model, std::size_t trim, std::span<const Vec3> through, FitLines& out) {
  out.lines.clear();
  for (const Vec3& p : through) {
    out.lines.push_back({});
    out.lines.back().x = p.x, out.lines.back().y = p.y;
  }
  meet_lines(model, trim, out);
}

}  // namespace trimtack
