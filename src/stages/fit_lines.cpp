// SPDX-License-Identifier: MIT
#include "stages/fit_lines.hpp"

#include <algorithm>
#include <cmath>

#include "stages/box_tree.hpp"
#include "stages/fit_place.hpp"

namespace trimtack {
namespace {

constexpr int kLines = 7;         // along each side of the trim seen along its axis
constexpr double kAside = 0.437;  // of a cell: off the planes of symmetric trims and meshes

/// Notes where the lines cross a triangle given in place coordinates.
void cross(const std::array<Vec3, 3>& t, Index triangle, std::vector<FitLine>& lines,
           std::vector<LineHit> FitLine::*into) {
  const auto [low_x, high_x] = std::minmax({t[0].x, t[1].x, t[2].x});
  const auto [low_y, high_y] = std::minmax({t[0].y, t[1].y, t[2].y});
  for (FitLine& line : lines) {
    if (line.x < low_x || line.x > high_x || line.y < low_y || line.y > high_y) continue;
    LineHit hit;
    hit.triangle = triangle;
    if (!height_at(t, line.x, line.y, hit.z, hit.bary) || !std::isfinite(hit.z)) continue;
    (line.*into).push_back(hit);
  }
}

}  // namespace

std::vector<FitLine> lines_through(const FitModel& model, std::size_t trim, double beyond, std::vector<Index>& stack,
                                   std::vector<Index>& found) {
  const TrimShapes& trims = *model.trims;
  const ClothMesh& cloth = *model.cloth;
  const FitPlace& place = model.places[trim];
  std::vector<FitLine> lines;
  const Index first = trims.vertex_offsets[trim], end = trims.vertex_offsets[trim + 1];
  if (first == end) return lines;
  std::vector<Vec3> local;
  for (Index v = first; v < end; ++v) local.push_back(apply(place.to_place, trims.vertices[v]));
  const Box seen = bounds(local);
  for (int j = 0; j < kLines; ++j) {
    for (int i = 0; i < kLines; ++i) {
      lines.push_back({});
      lines.back().x = seen.min.x + (i + kAside) / kLines * (seen.max.x - seen.min.x);
      lines.back().y = seen.min.y + (j + kAside) / kLines * (seen.max.y - seen.min.y);
    }
  }
  for (Index k = trims.triangle_offsets[trim]; k < trims.triangle_offsets[trim + 1]; ++k) {
    const Tri& t = trims.triangles[k];
    cross({local[t[0]], local[t[1]], local[t[2]]}, k, lines, &FitLine::trim);
  }
  // The box of what is seen, carried back to the cloth's coordinates.
  std::vector<Vec3> corners;
  const Mat3 back = transposed(place.to_place.rotation);
  for (int k = 0; k < 8; ++k) {
    const Vec3 p{(k & 1) != 0 ? seen.min.x : seen.max.x, (k & 2) != 0 ? seen.min.y : seen.max.y,
                 (k & 4) != 0 ? seen.min.z - beyond : seen.max.z + beyond};
    corners.push_back(back * (p - place.to_place.translation));
  }
  const auto& triangles = cloth.triangles.triangles;
  overlapping(*model.tree, bounds(corners), cloth.positions, triangles, stack, found);
  const auto own = model.source_triangle.begin() + place.first_triangle;
  for (const Index t : found) {
    std::array<Vec3, 3> c;
    for (std::size_t i = 0; i < 3; ++i) c[i] = apply(place.to_place, cloth.positions[triangles[t][i]]);
    const bool is_own = std::binary_search(own, own + place.triangle_count, t);
    cross(c, t, lines, is_own ? &FitLine::own : &FitLine::other);
  }
  const auto lower = [](const LineHit& a, const LineHit& b) {
    return a.z != b.z ? a.z < b.z : a.triangle < b.triangle;
  };
  for (FitLine& line : lines) {
    for (std::vector<LineHit>* hits : {&line.own, &line.other, &line.trim})
      std::sort(hits->begin(), hits->end(), lower);
    std::erase_if(line.other, [&](const LineHit& h) { return h.z < seen.min.z - beyond || h.z > seen.max.z + beyond; });
  }
  return lines;
}

}  // namespace trimtack
