// SPDX-License-Identifier: MIT
/// The demo coat through the whole flow up to the measures of fit, for tests.
#pragma once

#include <algorithm>
#include <string>
#include <vector>

#include "trimtack/bind.hpp"
#include "trimtack/demo.hpp"
#include "trimtack/fit.hpp"
#include "trimtack/follow.hpp"
#include "trimtack/footprint.hpp"
#include "trimtack/identify.hpp"
#include "trimtack/seat.hpp"
#include "trimtack/split.hpp"

namespace trimtack::test {

struct CoatFit {
  Demo demo;
  Parts parts;
  SplitMaps maps;
  ClothMesh cloth;
  TrimShapes trims;
  BindTable table;
  std::vector<std::byte> bytes;
  Footprints feet;
  FitOptions options;

  std::vector<Vec3> cloth_frame(std::size_t f) const {
    std::vector<Vec3> out;
    for (const Index v : maps.cloth.positions) out.push_back(demo.frames[f][v]);
    return out;
  }
  std::vector<Pose> poses(std::span<const Vec3> deformed, std::vector<PoseQuality>& quality) const {
    std::vector<Pose> out(table.bindings.size());
    quality.resize(out.size());
    if (!follow(bytes, deformed, out, quality)) out.clear();
    return out;
  }
  /// Table index of the trim that owns most of a planted trim's faces, kNone when there is none.
  Index find(Index planted) const {
    std::vector<std::size_t> votes(trims.id.size(), 0);
    for (Index f = 0; f < demo.truth.trim_of_face.size(); ++f) {
      if (demo.truth.trim_of_face[f] != static_cast<int>(planted)) continue;
      const Index trim = parts.components[parts.component_of_face[f]].trim;
      for (std::size_t t = 0; t < trims.id.size(); ++t) votes[t] += trims.id[t] == trim ? 1 : 0;
    }
    std::size_t best = 0;
    for (std::size_t t = 1; t < votes.size(); ++t) best = votes[t] > votes[best] ? t : best;
    return votes.empty() || votes[best] == 0 ? kNone : static_cast<Index>(best);
  }
};

inline CoatFit coat_fit(const DemoOptions& options) {
  CoatFit c;
  c.demo = make_demo(options);
  Report report;
  // A stiff bar looks much like a loop; its author settles it.
  IdentifyOptions settled;
  const auto& owner = c.demo.truth.trim_of_face;
  const Index bar = c.demo.truth.faults.too_long;
  const auto face = std::find(owner.begin(), owner.end(), static_cast<int>(bar));
  if (bar != kNone) {
    settled.overrides.push_back({Role::Trim, SelectorKind::Face, std::to_string(face - owner.begin())});
  }
  c.parts = *identify(c.demo.combined, settled, report);
  c.maps = split(c.demo.combined, c.parts, report);
  c.cloth = gather_cloth(c.demo.combined, c.parts, c.maps);
  c.trims = gather_trims(c.demo.combined, c.parts, c.maps);
  const ClothIndex index(c.cloth);
  c.table = *bind(index, c.trims, c.parts.unit, {}, report);
  c.bytes = *encode(c.table, 1);
  c.feet = find_footprints(index, c.trims, c.table);
  return c;
}

inline FitSummary measure_coat(const CoatFit& c, std::vector<Pose>* last_poses = nullptr) {
  const FitModel model = prepare_fit(c.cloth, c.trims, c.table, c.feet, c.parts.rows, c.options);
  FitState state = begin_fit(model, c.options);
  std::vector<FitMeasures> out(c.table.bindings.size());
  std::vector<PoseQuality> quality;
  for (std::size_t f = 0; f < c.demo.frames.size(); ++f) {
    const std::vector<Vec3> deformed = c.cloth_frame(f);
    const std::vector<Pose> poses = c.poses(deformed, quality);
    measure_fit(model, deformed, poses, quality, f + 1, c.options, state, out);
    if (last_poses != nullptr) *last_poses = poses;
  }
  return finish_fit(model, std::move(state), c.options);
}

}  // namespace trimtack::test
