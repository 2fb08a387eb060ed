// SPDX-License-Identifier: MIT
// The limits are common practice, no source: a gap of 1 mm is about three thicknesses of shirting and is seen from the
// side; thread and holes of a sew-through button stand about 15 % of stretch; a rivet or snap that holds does not let
// its layers part by a millimetre. Rigidity must be rounding only.
#include "trimtack/fit_result.hpp"

#include <algorithm>
#include <numeric>

namespace trimtack {
namespace {

constexpr std::array<MeasureInfo, kMeasureCount> kInfos{{
    {Measure::Lift, "lift", "mm", 1.0, 2, "growth of the gap under the trim since rest"},
    {Measure::Sink, "sink", "mm", 0.5, 2, "depth in its own layer beyond that at rest"},
    {Measure::Tilt, "tilt", "deg", 10.0, 1, "lean against the layer's normal since rest"},
    {Measure::Stretch, "stretch", "%", 25.0, 1, "largest stretch of the cloth under the trim"},
    {Measure::Squeeze, "squeeze", "%", 30.0, 1, "largest shortening of the cloth under the trim"},
    {Measure::Shear, "shear", "deg", 20.0, 1, "largest change of a right angle drawn on the cloth under the trim"},
    {Measure::OtherLayer, "other-layer", "mm", 0.8, 2, "how far other cloth has run into the trim since rest"},
    {Measure::WrongLayer, "wrong-layer", "mm", 0.5, 2,
     "slip against the layer it lies on while it follows another, or depth through that"},
    {Measure::Clamped, "clamped", "mm", 1.0, 2,
     "how far layers that it clamps have moved against one another under it since rest"},
    {Measure::Jitter, "jitter", "deg", 2.0, 2, "turn between successive frames beyond the cloth's own motion"},
    {Measure::JitterMove, "jitter-move", "mm", 0.5, 2, "shift between successive frames beyond the cloth's own motion"},
    {Measure::Rigidity, "rigidity", "", 1e-6, 9, "largest relative change of an edge's length in the posed trim"},
    {Measure::Collision, "collision", "mm", 0.3, 2, "how far two trims have run into one another since rest"},
    {Measure::Collapse, "collapse", "", 0.0, 0, "collapsed or folded triangles under the trim"},
    {Measure::Lost, "lost", "", 0.0, 0, "1: pose from the fallback patch, 2: no pose, the last good one was kept"},
    {Measure::Sliver, "sliver", "", 25.0, 0, "longest edge over height of the thinnest triangle that carries the trim"},
}};

}  // namespace

std::span<const MeasureInfo, kMeasureCount> measure_infos() { return kInfos; }

FitLimits::FitLimits() : value{} {
  for (std::size_t i = 0; i < kMeasureCount; ++i) value[i] = kInfos[i].limit;
}

const char* to_text(Verdict verdict) {
  static constexpr const char* kWords[] = {"good", "close", "fault"};
  return kWords[static_cast<int>(verdict)];
}

double severity(const TrimFit& trim, const FitLimits& limits) {
  const double value = trim[trim.cause].value, limit = limits[trim.cause];
  if (value <= 0) return 0;
  // A limit of 0 (counts that must not occur) has no ratio; such a fault ranks above twice any other limit.
  return limit > 0 ? value / limit : 2.0 + value;
}

std::vector<Index> worst_first(const FitSummary& summary) {
  std::vector<double> rank(summary.trims.size());
  for (std::size_t i = 0; i < rank.size(); ++i) rank[i] = severity(summary.trims[i], summary.limits);
  std::vector<Index> order(rank.size());
  std::iota(order.begin(), order.end(), Index{0});
  std::stable_sort(order.begin(), order.end(), [&](Index a, Index b) {
    const Verdict va = summary.trims[a].verdict, vb = summary.trims[b].verdict;
    return va != vb ? va > vb : rank[a] > rank[b];
  });
  return order;
}

}  // namespace trimtack
