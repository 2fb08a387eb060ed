// SPDX-License-Identifier: MIT
#include "stages/find/uv_measure.hpp"

#include <array>
#include <cmath>
#include <vector>

#include "stages/find/weighted.hpp"

namespace trimtack {
namespace {

constexpr std::size_t kUvSamples = 1500;

/// Adds the scale and the stretch of a triangle, if it has any.
void add_uv_sample(const SourceMesh& mesh, const Tri& corner, std::vector<Weighted>& scales,
                   std::vector<Weighted>& stretches) {
  std::array<Vec2, 3> t;
  std::array<Vec3, 3> p;
  for (std::size_t i = 0; i < 3; ++i) {
    const Index id = mesh.corner_texcoord[corner[i]];
    if (id == kNone) return;
    t[i] = mesh.texcoords[id];
    p[i] = mesh.positions[mesh.corner_position[corner[i]]];
  }
  const Vec3 e1 = p[1] - p[0];
  const Vec3 e2 = p[2] - p[0];
  const double l1 = length(e1);
  const Vec3 n = cross(e1, e2);
  const double area2 = length(n);
  if (!(area2 > 0) || !(l1 > 0) || !std::isfinite(area2)) return;
  // Triangle laid flat: (0,0), (l1,0), (x,y); Jacobian of the map to UV.
  const double x = dot(e1, e2) / l1;
  const double y = area2 / l1;
  const double du1 = t[1].x - t[0].x;
  const double dv1 = t[1].y - t[0].y;
  const double du2 = t[2].x - t[0].x;
  const double dv2 = t[2].y - t[0].y;
  const double a = du1 / l1;
  const double b = dv1 / l1;
  const double c = (du2 - a * x) / y;
  const double d = (dv2 - b * x) / y;
  const double det = std::abs(a * d - b * c);
  if (!(std::abs(du1 * dv2 - dv1 * du2) > 0)) return;  // edge walls of thick panels often have no UV area
  const double sum = a * a + b * b + c * c + d * d;
  const double root = std::sqrt(std::max(0.0, sum * sum - 4 * det * det));
  const double s1 = std::sqrt(std::max(0.0, 0.5 * (sum + root)));
  const double s2 = s1 > 0 ? det / s1 : 0;
  if (!std::isfinite(s1)) return;
  scales.push_back({std::sqrt(det), area2});
  stretches.push_back({s2 > 1e-6 * s1 && s1 > 0 ? std::min(s1 / s2, 1e6) : 1e6, area2});
}

}  // namespace

void measure_uv(const SourceMesh& mesh, const IndexList& faces, Detail& detail) {
  if (mesh.corner_texcoord.empty()) return;
  std::vector<Weighted> scales;
  std::vector<Weighted> stretches;
  const std::size_t step = std::max<std::size_t>(1, faces.size() / kUvSamples);
  for (std::size_t f = 0; f < faces.size(); f += step) {
    const Index begin = mesh.face_offsets[faces[f]];
    const Index end = mesh.face_offsets[faces[f] + 1];
    for (Index k = begin + 1; k + 1 < end; ++k) add_uv_sample(mesh, {begin, k, k + 1}, scales, stretches);
  }
  if (scales.empty()) return;
  detail.has_uv = true;
  sort_by_value(scales);
  sort_by_value(stretches);
  detail.uv_scale = weighted_quantile(scales, 0.5);
  if (detail.uv_scale > 0)
    detail.uv_scale_spread = (weighted_quantile(scales, 0.75) - weighted_quantile(scales, 0.25)) / detail.uv_scale;
  detail.uv_stretch = weighted_quantile(stretches, 0.5);
}

}  // namespace trimtack
