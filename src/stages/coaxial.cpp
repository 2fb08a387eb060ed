// SPDX-License-Identifier: MIT
#include "stages/coaxial.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "core/memory.hpp"
#include "stages/box_sweep.hpp"
#include "stages/nearest_points.hpp"

namespace trimtack {
namespace {

constexpr std::size_t kNeighbours = 6;  // with the part itself
constexpr double kLeastRatio = 0.4;     // of the halves' diameters
constexpr double kOffAxis = 0.15;       // of the smaller diameter
constexpr double kExactOff = 0.02;      // of the same: what is placed by itself lies farther off
constexpr double kExactTurn = 0.9997;   // cosine of the angle between the axes
constexpr double kLongestGap = 0.6;     // between the halves, of the smaller diameter
constexpr double kLongestExact = 0.9;   // the same of halves exactly on one axis: a rivet through felt and a pocket
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
  const Vec3 helper = std::abs(probe.axis.x) < 0.6 ? Vec3{1, 0, 0} : Vec3{0, 1, 0};
  probe.side = normalized(cross(probe.axis, helper));
  probe.other_side = cross(probe.axis, probe.side);
  probe.ring = 0.35 * probe.small;
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

/// Leaves pairs that have no other half between them: of a snap done up, cap, socket, stud and post lie on one axis.
void keep_adjacent(std::vector<Probe>& probes) {
  struct Seen {
    const Half* from;
    const Half* to;
    Vec3 apart;
  };
  std::vector<Seen> seen;
  for (const Probe& p : probes) {
    seen.push_back({p.a, p.b, p.distance * p.axis});
    seen.push_back({p.b, p.a, -p.distance * p.axis});
  }
  std::sort(seen.begin(), seen.end(), [](const Seen& x, const Seen& y) {
    return x.from != y.from ? x.from < y.from : x.to->component < y.to->component;
  });
  const auto has_between = [&](const Probe& p) {
    const auto [low, high] = std::equal_range(seen.begin(), seen.end(), Seen{p.a, nullptr, {}},
                                              [](const Seen& x, const Seen& y) { return x.from < y.from; });
    return std::any_of(low, high, [&](const Seen& s) {
      const double at = dot(s.apart, p.axis);
      return s.to != p.b && at > 0 && at < p.distance;
    });
  };
  std::vector<Probe> kept;
  for (const Probe& p : probes)
    if (!has_between(p)) kept.push_back(p);
  probes = std::move(kept);
}

}  // namespace

std::vector<Half> round_parts(const RoleInput& in, std::span<const RoleVerdict> verdicts,
                              std::span<const Index> candidates) {
  std::vector<Half> halves;
  reserve_large(halves, candidates.size());
  for (const Index c : candidates) {
    const Detail& d = in.twin_details[in.families->twin_of_component[c]];
    const Shape& s = in.shapes[c];
    if (verdicts[c].role == Role::Cloth || d.roundness <= 0.8 || s.extents[1] <= 0.75 * s.extents[0] ||
        s.extents[2] >= 0.8 * s.extents[0])
      continue;
    if (d.closed && d.euler <= -2) continue;  // two holes or more: it is sewn on, to one layer
    Half h;
    h.component = c;
    h.thread = verdicts[c].role == Role::Stitching;
    h.middle = s.centroid;
    for (int k = 0; k < 3; ++k) h.middle += s.extent_mids[static_cast<std::size_t>(k)] * s.axes.column(k);
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
