// SPDX-License-Identifier: MIT
#include "stages/find/coaxial.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <ranges>
#include <utility>

#include "core/memory.hpp"
#include "core/square_to.hpp"
#include "stages/find/axis_lines.hpp"
#include "stages/find/box_sweep.hpp"
#include "stages/find/nearest_points.hpp"

namespace trimtack {
namespace {

constexpr std::size_t kNeighbours = 6;  // with the part itself
constexpr double kLeastRatio = 0.4;     // of the halves' diameters
constexpr double kOffAxis = 0.15;       // of the smaller diameter
constexpr double kExactOff = 0.02;      // of the same: what is placed by itself lies farther off
constexpr double kExactTurn = 0.9997;   // cosine of the angle between the axes
constexpr double kLongestGap = 0.6;     // between the halves, of the smaller diameter
constexpr double kLongestExact = 0.9;   // the same of halves exactly on one axis: a rivet through felt and a pocket
constexpr double kEvenGaps = 0.5;       // of the unevenness of the other way to pair a stud and its socket
constexpr double kLeastLean = 0.1;      // of the half depth of a stud or socket
constexpr Index kFewPlates = 64;        // of a kind: sequins are more, snaps down a front fewer
constexpr double kNarrowest = 0.3;      // of a plate, of its length
constexpr double kFlat = 0.5;           // its depth over its width
constexpr double kBeyond = 0.5;         // how far beyond the halves other layers are looked for, of the same

bool on_one_axis(const Half& a, const Half& b, Probe& probe) {
  if (a.thread && b.thread) return false;
  if (std::abs(dot(a.axis, b.axis)) < 0.95) return false;
  probe.small = 2 * std::min(a.radius, b.radius);
  if (probe.small < kLeastRatio * 2 * std::max(a.radius, b.radius)) return false;
  const Vec3 apart = b.middle - a.middle;
  const Vec3 mean = normalized(a.axis + (dot(a.axis, b.axis) < 0 ? -1.0 : 1.0) * b.axis);
  probe.axis = dot(mean, apart) < 0 ? -mean : mean;
  probe.distance = dot(probe.axis, apart);
  const double off = length(apart - probe.distance * probe.axis);
  if (off > kOffAxis * probe.small) return false;
  probe.exact = off <= kExactOff * probe.small && std::abs(dot(a.axis, b.axis)) >= kExactTurn;
  probe.a = &a;
  probe.b = &b;
  if (!(probe.distance > 0) || probe.gap() > (probe.exact ? kLongestExact : kLongestGap) * probe.small) return false;
  probe.side = square_to(probe.axis);
  probe.other_side = cross(probe.axis, probe.side);
  probe.ring = kRingOfLines * probe.small;
  probe.low = -a.half_depth - kBeyond * probe.small;
  probe.high = probe.distance + b.half_depth + kBeyond * probe.small;
  return true;
}

/// All that lie on one axis near each other, ascending.
std::vector<Probe> aligned_pairs(std::span<const Half> halves) {
  // Balls around the middles meet where the gap is not too long.
  std::vector<Box> boxes;
  reserve_large(boxes, halves.size());
  for (const Half& h : halves) {
    const double reach = (1 + 1e-9) * (h.half_depth + (kLongestExact + kOffAxis) * h.radius);
    boxes.push_back({h.middle - Vec3{reach, reach, reach}, h.middle + Vec3{reach, reach, reach}});
  }
  std::vector<Probe> probes;
  Probe probe;
  sweep_boxes(boxes, {}, [&](Index i, Index k) {
    if (on_one_axis(halves[std::min(i, k)], halves[std::max(i, k)], probe)) probes.push_back(probe);
  });
  std::sort(probes.begin(), probes.end(),
            [](const Probe& x, const Probe& y) { return x.a != y.a ? x.a < y.a : x.b < y.b; });
  return probes;
}

/// Leaves pairs of which one is among the other's nearest.
void leave_neighbours(std::span<const Half> halves, std::vector<Probe>& probes) {
  if (probes.empty()) return;
  std::vector<Vec3> middles;
  reserve_large(middles, halves.size());
  for (const Half& h : halves) middles.push_back(h.middle);
  const NearestPoints nearest(middles);
  const auto is_near = [&](const Half& one, const Half& other) {
    std::array<NearPoint, kNeighbours> near;
    const std::size_t found = nearest.find(one.middle, near);
    return std::any_of(near.begin(), near.begin() + found,
                       [&](const NearPoint& p) { return &halves[p.index] == &other; });
  };
  std::erase_if(probes, [&](const Probe& p) { return !is_near(*p.a, *p.b) && !is_near(*p.b, *p.a); });
}

/// What halves see along their axes of the others they make a pair with.
class Views {
 public:
  struct View {
    const Half* from;
    const Half* to;
    Vec3 apart;
  };
  explicit Views(std::span<const Probe> probes) {
    for (const Probe& p : probes) {
      views_.push_back({p.a, p.b, p.distance * p.axis});
      views_.push_back({p.b, p.a, -p.distance * p.axis});
    }
    std::sort(views_.begin(), views_.end(), [](const View& x, const View& y) {
      return x.from != y.from ? x.from < y.from : x.to->component < y.to->component;
    });
  }
  std::span<const View> of(const Half* half) const {
    const auto [low, high] = std::equal_range(views_.begin(), views_.end(), View{half, nullptr, {}},
                                              [](const View& x, const View& y) { return x.from < y.from; });
    return {low, high};
  }
  /// The nearest half ahead along the axis that both see beyond themselves, null without.
  const Half* beyond(const Half* one, const Half* other, const Vec3& axis) const {
    const View* best = nullptr;
    for (const View& v : of(one)) {
      const double at = dot(v.apart, axis);
      const auto seen_by_other = [&](const View& w) { return w.to == v.to && dot(w.apart, axis) > 0; };
      if (v.to == other || !(at > 0) || (best != nullptr && at >= dot(best->apart, axis))) continue;
      if (std::ranges::any_of(of(other), seen_by_other)) best = &v;
    }
    return best == nullptr ? nullptr : best->to;
  }

 private:
  std::vector<View> views_;
};

using HalfPair = std::array<const Half*, 2>;
HalfPair pair_of(const Half* a, const Half* b) { return std::less<>{}(a, b) ? HalfPair{a, b} : HalfPair{b, a}; }

/// Of a snap done up the stud stands in its socket, and their middles do not tell which of them belongs to the layer
/// above. The two layers are about as thick: what clamps them lies about as far apart. Where a nail reaches through a
/// layer this does not tell; then each is widest where it rests on its own.
struct Interlocked {
  std::vector<HalfPair> right, wrong;  // sorted

  Interlocked(std::span<const Probe> probes, const Views& views) {
    for (const Probe& p : probes) {
      if (p.distance >= std::min(p.a->half_depth, p.b->half_depth)) continue;
      const Half* above = views.beyond(p.a, p.b, p.axis);
      const Half* below = views.beyond(p.a, p.b, -p.axis);
      if (above == nullptr || below == nullptr) continue;
      const auto gap = [](const Half* x, const Half* y) {
        return length(x->middle - y->middle) - x->half_depth - y->half_depth;
      };
      const double one = std::abs(gap(above, p.a) - gap(p.b, below));
      const double other = std::abs(gap(above, p.b) - gap(p.a, below));
      const double lean = dot(p.axis, p.a->lean - p.b->lean);
      const bool even = std::min(one, other) > kEvenGaps * std::max(one, other);
      if (even && std::abs(lean) < kLeastLean * std::min(p.a->half_depth, p.b->half_depth)) continue;
      const bool first = even ? lean > 0 : one < other;
      const Half* upper = first ? p.a : p.b;
      const Half* lower = first ? p.b : p.a;
      right.insert(right.end(), {pair_of(above, upper), pair_of(below, lower)});
      wrong.insert(wrong.end(), {pair_of(above, lower), pair_of(below, upper), pair_of(upper, lower)});
    }
    std::sort(right.begin(), right.end());
    std::sort(wrong.begin(), wrong.end());
  }
};

/// Leaves pairs that have no other half between them: of a snap done up, cap, socket, stud and post lie on one axis.
void keep_adjacent(std::vector<Probe>& probes) {
  const Views views(probes);
  const Interlocked interlocked(probes, views);
  const auto among = [](const std::vector<HalfPair>& pairs, const Probe& p) {
    return std::binary_search(pairs.begin(), pairs.end(), pair_of(p.a, p.b));
  };
  const auto has_between = [&](const Probe& p) {
    return std::ranges::any_of(views.of(p.a), [&](const Views::View& s) {
      const double at = dot(s.apart, p.axis);
      return s.to != p.b && at > 0 && at < p.distance;
    });
  };
  std::vector<Probe> kept;
  for (const Probe& p : probes)
    if (among(interlocked.right, p) || (!among(interlocked.wrong, p) && !has_between(p))) kept.push_back(p);
  probes = std::move(kept);
}

bool is_round(const Shape& s, const Detail& d) {
  return d.roundness > 0.8 && s.extents[1] > 0.75 * s.extents[0] && s.extents[2] < 0.8 * s.extents[0];
}

}  // namespace

std::vector<Half> plates(const RoleInput& in, std::span<const RoleVerdict> verdicts,
                         std::span<const Index> candidates) {
  const Families& fam = *in.families;
  std::vector<Half> halves;
  for (const Index c : candidates) {
    const Index twin = fam.twin_of_component[c];
    const Detail& d = in.twin_details[twin];
    const Shape& s = in.shapes[c];
    if (verdicts[c].role != Role::Trim || fam.kin_count[fam.kin_of_twin[twin]] > kFewPlates || is_round(s, d)) continue;
    if (s.extents[1] < kNarrowest * s.extents[0] || s.extents[2] > kFlat * s.extents[1]) continue;
    if (d.closed && d.euler <= -2) continue;
    Half h;
    h.component = c;
    h.plate = true;
    h.middle = middle_of_extents(s);
    h.axis = s.axes.column(2);
    h.half_depth = 0.5 * s.extents[2];
    h.radius = 0.5 * s.extents[1];
    if (h.radius > 0) halves.push_back(h);
  }
  return halves;
}

std::vector<Half> round_parts(const RoleInput& in, std::span<const RoleVerdict> verdicts,
                              std::span<const Index> candidates) {
  std::vector<Half> halves;
  reserve_large(halves, candidates.size());
  for (const Index c : candidates) {
    const Detail& d = in.twin_details[in.families->twin_of_component[c]];
    const Shape& s = in.shapes[c];
    if (verdicts[c].role == Role::Cloth || !is_round(s, d)) continue;
    if (d.closed && d.euler <= -2) continue;  // two holes or more: it is sewn on, to one layer
    Half h;
    h.component = c;
    h.thread = verdicts[c].role == Role::Stitching;
    h.middle = middle_of_extents(s);
    h.lean = s.centroid - h.middle;
    const auto axis = static_cast<std::size_t>(d.round_axis);
    h.axis = s.axes.column(d.round_axis);
    h.half_depth = 0.5 * s.extents[axis];
    h.radius = 0.5 * std::max(s.extents[(axis + 1) % 3], s.extents[(axis + 2) % 3]);
    if (h.radius > 0) halves.push_back(h);
  }
  return halves;
}

std::vector<Probe> probes_of(std::span<const Half> halves) {
  std::vector<Probe> probes = aligned_pairs(halves);
  leave_neighbours(halves, probes);
  keep_adjacent(probes);
  return probes;
}

}  // namespace trimtack
