// SPDX-License-Identifier: MIT
// Broad phase: boxes, swept along the longest side (Cohen et al., "I-COLLIDE", 1995). Narrow phase: triangles. Depth:
// the least shift along a fixed set of directions that parts the hulls, beyond what the hulls shared at rest
// (separating axis theorem, Gottschalk 1996, on sampled axes: an upper bound).
#include "stages/bind/trim_collisions.hpp"

#include <cmath>
#include <numbers>
#include <utility>

namespace trimtack {
namespace {

constexpr std::size_t kTrimsPerRange = 16;
constexpr double kTouch = 1e-6;  // shared depth that is rounding, as a share of the trim's size

Pose operator*(const Pose& a, const Pose& b) {
  Pose r;
  r.rotation = a.rotation * b.rotation;
  r.translation = a.rotation * b.translation + a.translation;
  return r;
}

/// How often a closed surface winds around p: 1 inside, 0 outside (Van Oosterom and Strackee 1983, solid angles).
double winding(std::span<const Vec3> vertices, std::span<const Tri> triangles, const Vec3& p) {
  double sum = 0;
  for (const Tri& t : triangles) {
    const Vec3 a = vertices[t[0]] - p, b = vertices[t[1]] - p, c = vertices[t[2]] - p;
    const double la = length(a), lb = length(b), lc = length(c);
    sum += std::atan2(dot(a, cross(b, c)), la * lb * lc + dot(a, b) * lc + dot(b, c) * la + dot(c, a) * lb);
  }
  return sum / (2 * std::numbers::pi);
}

/// Is any of a few face middles of one body inside the other? Finds flush copies, whose faces are coplanar and never
/// cross.
bool reaches_inside(std::span<const Vec3> vertices, std::span<const Tri> triangles, std::span<const Vec3> other,
                    std::span<const Tri> other_triangles, const std::vector<Index>& near) {
  constexpr std::size_t kSamples = 12;
  const std::size_t step = near.size() / kSamples + 1;
  for (std::size_t i = 0; i < near.size(); i += step) {
    const auto c = corners(other, other_triangles[near[i]]);
    if (winding(vertices, triangles, (1.0 / 3) * (c[0] + c[1] + c[2])) > 0.5) return true;
  }
  return false;
}

/// Do two trims share a point? `moved` are b's vertices in a's rest coordinates.
bool bodies_meet(const TrimShapes& trims, Index a, Index b, std::span<const Vec3> moved, std::vector<Index>& of_a,
                 std::vector<Index>& of_b) {
  const auto va = vertices_of(trims, a);
  const auto ta = triangles_of(trims, a), tb = triangles_of(trims, b);
  const Box box_a = bounds(va), box_b = bounds(moved);
  of_a.clear(), of_b.clear();
  for (Index i = 0; i < ta.size(); ++i) {
    if (overlap(box_of(corners(va, ta[i])), box_b)) of_a.push_back(i);
  }
  for (Index i = 0; i < tb.size(); ++i) {
    if (overlap(box_of(corners(moved, tb[i])), box_a)) of_b.push_back(i);
  }
  for (const Index i : of_a) {
    const auto ca = corners(va, ta[i]);
    const Box box = box_of(ca);
    for (const Index k : of_b) {
      const auto cb = corners(moved, tb[k]);
      if (overlap(box, box_of(cb)) && triangles_meet(ca, cb)) return true;
    }
  }
  return reaches_inside(va, ta, moved, tb, of_b) || reaches_inside(moved, tb, va, ta, of_a);
}

/// Shared depth beyond that at rest, in a's rest coordinates.
double shared_depth(const TrimShapes& trims, Index a, Index b, std::span<const Vec3> moved) {
  const auto va = vertices_of(trims, a), vb = vertices_of(trims, b);
  std::vector<Vec3> directions;
  for (int x = -1; x <= 1; ++x) {
    for (int y = -1; y <= 1; ++y) {
      for (int z = 0; z <= 1; ++z) {
        if (z == 1 || y == 1 || (y == 0 && x == 1)) directions.push_back(normalized(Vec3{1.0 * x, 1.0 * y, 1.0 * z}));
      }
    }
  }
  const auto centre = [](std::span<const Vec3> points) {
    Vec3 sum;
    for (const Vec3& p : points) sum += p;
    return (1.0 / static_cast<double>(points.size())) * sum;
  };
  directions.push_back(normalized(centre(moved) - centre(va)));
  // Parting them now takes `least`; going back to how they stood at rest, along the direction that parted them best
  // there, takes `growth`.
  constexpr double kHuge = std::numeric_limits<double>::infinity();
  double least = kHuge, least_at_rest = kHuge, growth = 0;
  for (const Vec3& d : directions) {
    if (squared_length(d) == 0) continue;
    const Extent ea = extent(va, d), eb = extent(moved, d), er = extent(vb, d);
    const double now = std::min(ea.high - eb.low, eb.high - ea.low);
    const double rest = std::min(ea.high - er.low, er.high - ea.low);
    least = std::min(least, now);
    if (rest < least_at_rest) least_at_rest = rest, growth = now - std::max(0.0, rest);
  }
  return std::max(0.0, std::min(least, growth));
}

/// Pairs of overlapping boxes, first < second, in ascending order.
std::vector<std::pair<Index, Index>> overlapping_pairs(std::span<const Box> boxes, std::span<const Index> members) {
  std::vector<std::pair<Index, Index>> pairs;
  Box all;
  bool first = true;
  for (const Index i : members) {
    for (int k = 0; k < 3; ++k) {
      all.min[k] = first ? boxes[i].min[k] : std::min(all.min[k], boxes[i].min[k]);
      all.max[k] = first ? boxes[i].max[k] : std::max(all.max[k], boxes[i].max[k]);
    }
    first = false;
  }
  const Vec3 d = all.max - all.min;
  const int axis = d.x >= d.y && d.x >= d.z ? 0 : (d.y >= d.z ? 1 : 2);
  std::vector<Index> order(members.begin(), members.end());
  std::sort(order.begin(), order.end(), [&](Index a, Index b) {
    return boxes[a].min[axis] != boxes[b].min[axis] ? boxes[a].min[axis] < boxes[b].min[axis] : a < b;
  });
  for (std::size_t i = 0; i < order.size(); ++i) {
    for (std::size_t k = i + 1; k < order.size() && boxes[order[k]].min[axis] <= boxes[order[i]].max[axis]; ++k) {
      if (overlap(boxes[order[i]], boxes[order[k]])) {
        pairs.emplace_back(std::min(order[i], order[k]), std::max(order[i], order[k]));
      }
    }
  }
  std::sort(pairs.begin(), pairs.end());
  return pairs;
}

}  // namespace

std::vector<TrimContact> measure_collisions(const TrimShapes& trims, std::span<const Box> boxes,
                                            std::span<const Pose> poses, const Executor& executor) {
  std::vector<Index> members;
  for (Index t = 0; t < poses.size(); ++t) {
    if (trims.role[t] == Role::Trim && trims.vertex_offsets[t + 1] > trims.vertex_offsets[t]) members.push_back(t);
  }
  const auto pairs = overlapping_pairs(boxes, members);
  std::vector<double> depth(pairs.size(), 0);
  for_ranges(executor, pairs.size(), kTrimsPerRange, [&](std::size_t begin, std::size_t end) {
    std::vector<Vec3> moved;
    std::vector<Index> of_a, of_b;
    for (std::size_t i = begin; i < end; ++i) {
      const auto [a, b] = pairs[i];
      const Pose to_a = inverse(poses[a]) * poses[b];
      moved.clear();
      for (const Vec3& p : vertices_of(trims, b)) moved.push_back(apply(to_a, p));
      const double shared = shared_depth(trims, a, b, moved);
      if (shared > kTouch * length(boxes[a].max - boxes[a].min) && bodies_meet(trims, a, b, moved, of_a, of_b)) {
        depth[i] = shared;
      }
    }
  });
  std::vector<TrimContact> contacts;
  for (std::size_t i = 0; i < pairs.size(); ++i) {
    if (depth[i] > 0) contacts.push_back({pairs[i].first, pairs[i].second, depth[i]});
  }
  return contacts;
}

}  // namespace trimtack
