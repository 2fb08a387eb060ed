// SPDX-License-Identifier: MIT
#include "stages/find/copies.hpp"

namespace trimtack {
namespace {

// Copies agree this well, as a share of their size: what a file with few digits rounds away.
constexpr double kCopySlack = 1e-3;

}  // namespace

std::span<const Vec3> vertices_of(const TrimShapes& trims, std::size_t t) {
  const Index first = trims.vertex_offsets[t];
  return {trims.vertices.data() + first, trims.vertex_offsets[t + 1] - first};
}

Pose motion_between(const TrimShapes& trims, Index model, Index t) {
  const Mat3 rotation = trims.placement[t].rotation * transposed(trims.placement[model].rotation);
  return {rotation, trims.placement[t].translation - rotation * trims.placement[model].translation};
}

std::vector<Index> likely_models(const TrimShapes& trims, std::span<const Index> triangles) {
  std::vector<Index> model(trims.id.size()), first;
  const auto vertices = [&](Index t) { return trims.vertex_offsets[t + 1] - trims.vertex_offsets[t]; };
  for (Index t = 0; t < model.size(); ++t) {
    model[t] = t;
    const Index prototype = trims.prototype[t];
    if (prototype == kNone) continue;
    if (prototype >= first.size()) first.resize(prototype + 1, kNone);
    if (first[prototype] == kNone) first[prototype] = t;
    const Index m = first[prototype];
    if (trims.role[m] == trims.role[t] && vertices(m) == vertices(t) && triangles[m] == triangles[t]) model[t] = m;
  }
  return model;
}

bool fits_model(const TrimShapes& trims, Index model, Index t, double size) {
  const std::span<const Vec3> vertices = vertices_of(trims, t), of_model = vertices_of(trims, model);
  const Pose motion = motion_between(trims, model, t);
  const double slack = kCopySlack * size, most = slack * slack;
  for (std::size_t v = 0; v < vertices.size(); ++v)
    if (!(squared_length(apply(motion, of_model[v]) - vertices[v]) <= most)) return false;
  return true;
}

}  // namespace trimtack
