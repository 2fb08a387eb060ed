// SPDX-License-Identifier: MIT
#include "stages/fit/fit_touch.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

#include "stages/bind/box_tree.hpp"
#include "stages/bind/height_at.hpp"

namespace trimtack {
namespace {

/// The trim lies on another layer when that one is nearer by this much (mm) under most of the footprint.
constexpr double kTouchMargin = 0.05;
/// A stem goes on beyond a layer by more than this, and stands on cloth that it comes as near to as that (mm).
constexpr double kStemMm = 0.2, kStandsMm = 0.5;

/// Whether the trim only lies on that layer with its rim and stands through it on its own cloth: a button on the shank
/// or thread that goes through a buttonhole.
bool stands_through(const FitModel& model, const FitPlace& place, const Touched& touched) {
  const double margin = kStemMm / model.mm_per_unit;
  const double between = touched.own_gap - touched.gap;  // how far the layer lies over the own cloth
  if (between < margin) return false;
  Index beyond = 0;
  double lowest = std::numeric_limits<double>::infinity();
  for (Index k = place.first_point; k < place.first_point + place.point_count; ++k) {
    lowest = std::min(lowest, model.rest_gap[k]);
    if (model.rest_gap[k] < between - margin) ++beyond;
  }
  return beyond > 0 && 2 * beyond < place.point_count && lowest < kStandsMm / model.mm_per_unit;
}

}  // namespace

Touched touched_layer(const FitModel& model, const FitPlace& place, std::span<const FootprintPoint> feet,
                      std::vector<Index>& stack, std::vector<Index>& found) {
  const ClothMesh& cloth = *model.cloth;
  const double margin = kTouchMargin / model.mm_per_unit;
  Touched touched;
  if (std::abs(place.rest_gap_mean) <= margin) return touched;
  double reach = 0;
  for (Index k = 0; k < feet.size(); ++k) {
    reach = std::max(reach, std::abs(model.rest_gap[place.first_point + k]));
  }
  Box box{feet[0].point, feet[0].point};
  for (const FootprintPoint& f : feet) {
    for (int i = 0; i < 3; ++i) {
      box.min[i] = std::min(box.min[i], f.point[i] - reach), box.max[i] = std::max(box.max[i], f.point[i] + reach);
    }
  }
  overlapping(*model.tree, box, cloth.positions, cloth.triangles.triangles, stack, found);
  // Candidates outside the own patch, in place coordinates.
  const auto own = model.source_triangle.begin() + place.first_triangle;
  std::erase_if(found, [&](Index t) { return std::binary_search(own, own + place.triangle_count, t); });
  std::vector<std::array<Vec3, 3>> candidate(found.size());
  for (std::size_t i = 0; i < found.size(); ++i) {
    for (std::size_t c = 0; c < 3; ++c) {
      candidate[i][c] = apply(place.to_place, cloth.positions[cloth.triangles.triangles[found[i]][c]]);
    }
  }
  std::map<Index, double> share;  // by component, ascending
  std::vector<Index> nearest(feet.size(), kNone);
  std::vector<double> height(feet.size(), 0);  // over the nearest
  for (Index k = 0; k < feet.size(); ++k) {
    const Vec3& p = model.point[place.first_point + k];
    double best = std::abs(model.rest_gap[place.first_point + k]) - margin;
    for (std::size_t i = 0; i < found.size(); ++i) {
      double z = 0;
      if (!height_at(candidate[i], p.x, p.y, z) || std::abs(p.z - z) >= best) continue;
      height[k] = p.z - z;
      best = std::abs(height[k]);
      nearest[k] = found[i];
    }
    if (nearest[k] == kNone) continue;
    share[cloth.component_of_face[cloth.triangles.face[nearest[k]]]] += model.weight[place.first_point + k];
  }
  double most = 0.5;  // of the footprint's weight
  for (const auto& [component, weight] : share) {
    if (weight > most) most = weight, touched.component = component;
  }
  if (touched.component == kNone) return touched;
  double weight = 0;
  for (Index k = 0; k < feet.size(); ++k) {
    const Index t = nearest[k];
    if (t == kNone || cloth.component_of_face[cloth.triangles.face[t]] != touched.component) continue;
    FootprintPoint foot = feet[k];
    foot.surface.triangle = t;
    foot.side = (place.to_place.rotation * triangle_normal(cloth, t)).z >= 0 ? 1 : -1;
    touched.feet.push_back(foot);
    touched.gap += model.weight[place.first_point + k] * height[k];
    touched.own_gap += model.weight[place.first_point + k] * model.rest_gap[place.first_point + k];
    weight += model.weight[place.first_point + k];
  }
  touched.gap /= weight;
  touched.own_gap /= weight;
  if (stands_through(model, place, touched)) return {};
  return touched;
}

}  // namespace trimtack
