// SPDX-License-Identifier: MIT
// Invariants first, registration later: the vertices' count and moments tell almost all shapes apart. Laying one over
// the other is left to the search for prototypes.
#include "trimtack/families.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "core/memory.hpp"

namespace trimtack {
namespace {

// Rounding of printed coordinates moves an invariant of a small part by up to some thousandths.
constexpr double kTwinTolerance = 3e-3;
constexpr Index kNumerous = 20;
constexpr double kSameRatio = 1.015;
constexpr double kKinRatio = 1.15;         // of the vertices' spread: bending hardly changes it
constexpr double kKinWidthRatio = 1.2;     // of the second invariant, which tells slender from stout
constexpr double kKinAreaRatio = 1.25;     // of the area for the spread: neither bending nor size changes it much
constexpr double kDisc = 0.8, kRod = 0.5;  // second moment over the first
constexpr double kBlock = 0.3;             // of a ball's volume with as much surface: a cube has 0.52
constexpr double kBlockMoments = 0.15;     // of the first one
constexpr std::size_t kOpenTwins = 24;

/// What shapes are sorted by; those of no like size do not meet.
struct SizeKey {
  Index vertices, item;
  double spread;
  friend bool operator<(const SizeKey& x, const SizeKey& y) {
    if (x.vertices != y.vertices) return x.vertices < y.vertices;
    return x.spread != y.spread ? x.spread < y.spread : x.item < y.item;
  }
};

/// Doubled or collapsed faces do not make another shape.
bool counts_agree(const Shape& a, const Shape& b) {
  const double most = std::max(a.face_count, b.face_count);
  return a.vertex_count == b.vertex_count &&
         std::abs(static_cast<double>(a.face_count) - static_cast<double>(b.face_count)) <= 1 + 0.02 * most;
}

bool twins(const Shape& a, const Shape& b) {
  if (!counts_agree(a, b)) return false;
  const double tolerance = kTwinTolerance * std::max(a.spread[2], b.spread[2]);
  for (std::size_t k = 0; k < a.spread.size(); ++k)
    if (std::abs(a.spread[k] - b.spread[k]) > tolerance) return false;
  return true;
}

/// Boxes of the same spread may be a bar and a block, which their area tells.
bool as_compact(const Shape& a, const Shape& b) {
  const double x = a.area * b.spread[0] * b.spread[0];
  const double y = b.area * a.spread[0] * a.spread[0];
  return x <= kKinAreaRatio * y && y <= kKinAreaRatio * x;
}

/// A cap and a plunger may have the same spread, too; nothing that is bent turns from a rod into a disc.
bool disc_and_rod(const Shape& a, const Shape& b) {
  const auto disc = [](const Shape& s) { return s.moments[1] > kDisc * s.moments[0]; };
  const auto rod = [](const Shape& s) { return s.moments[1] < kRod * s.moments[0]; };
  return (disc(a) && rod(b)) || (rod(a) && disc(b));
}

/// A block cannot be bent at all: one of other proportions is another model (a zipper's stop and its slider's bridge).
bool blocks_differ(const Shape& a, const Shape& b) {
  const auto block = [](const Shape& s) {
    return 36 * std::numbers::pi * s.volume * s.volume > kBlock * s.area * s.area * s.area;
  };
  const auto differ = [&](std::size_t k) {
    return std::abs(a.moments[k] * b.moments[0] - b.moments[k] * a.moments[0]) >
           kBlockMoments * a.moments[0] * b.moments[0];
  };
  return block(a) && block(b) && (differ(1) || differ(2));
}

/// Nearly the same vertices, and no more than a few faces doubled.
bool kin(const Shape& a, const Shape& b, double size_ratio, double width_ratio) {
  const auto near = [&](std::size_t k, double ratio) {
    return a.spread[k] <= ratio * b.spread[k] && b.spread[k] <= ratio * a.spread[k];
  };
  const double most = std::max(a.face_count, b.face_count);
  return a.vertex_count == b.vertex_count && near(0, size_ratio) && near(3, width_ratio) && as_compact(a, b) &&
         !disc_and_rod(a, b) && !blocks_differ(a, b) &&
         std::abs(static_cast<double>(a.face_count) - static_cast<double>(b.face_count)) <= 2 + 0.02 * most;
}

/// Groups of twins in chains of growing size without a jump.
void join_kin(std::span<const Shape> shapes, Families& out) {
  const auto shape_of = [&](Index t) -> const Shape& { return shapes[out.twin_representative[t]]; };
  std::vector<SizeKey> by_size;
  for (Index t = 0; t < out.twins(); ++t) by_size.push_back({shape_of(t).vertex_count, t, shape_of(t).spread[0]});
  std::sort(by_size.begin(), by_size.end());
  out.kin_of_twin.assign(out.twins(), kNone);
  std::vector<Index> last;  // the largest so far of each chain
  std::vector<Index> core;  // its first numerous group
  for (const SizeKey& key : by_size) {
    const Index t = key.item;
    // Two models that are both numerous are two products, however alike: an element is no stitch.
    const bool numerous = out.twin_count[t] >= kNumerous;
    const auto fits = [&](std::size_t k) {
      if (!kin(shape_of(last[k]), shape_of(t), kKinRatio, kKinWidthRatio)) return false;
      return !numerous || core[k] == kNone || kin(shape_of(core[k]), shape_of(t), kSameRatio, kSameRatio);
    };
    Index chain = kNone;
    for (std::size_t k = last.size(); k-- > 0 && last.size() - k <= kOpenTwins && chain == kNone;)
      if (fits(k)) chain = static_cast<Index>(k);
    if (chain == kNone) {
      chain = static_cast<Index>(last.size());
      last.push_back(t);
      core.push_back(kNone);
      out.kin_count.push_back(0);
    }
    last[chain] = t;
    if (numerous && core[chain] == kNone) core[chain] = t;
    out.kin_of_twin[t] = chain;
    out.kin_count[chain] += out.twin_count[t];
  }
}

}  // namespace

Families find_families(std::span<const Shape> shapes) {
  Families out;
  const std::size_t n = shapes.size();
  std::vector<SizeKey> order;
  reserve_large(order, n);
  for (Index c = 0; c < n; ++c) order.push_back({shapes[c].vertex_count, c, shapes[c].spread[0]});
  std::sort(order.begin(), order.end());
  std::vector<Index> group = filled_large<Index>(n, kNone);
  std::vector<Index> leader;
  std::size_t oldest = 0;  // first leader that can still match
  for (std::size_t i = 0; i < n; ++i) {
    const Shape& s = shapes[order[i].item];
    if (leader.size() - oldest > kOpenTwins) oldest = leader.size() - kOpenTwins;
    Index found = kNone;
    for (std::size_t g = leader.size(); g-- > oldest && found == kNone;) {
      const Shape& l = shapes[leader[g]];
      if (l.face_count != s.face_count || l.vertex_count != s.vertex_count || s.area - l.area > kTwinTolerance * s.area)
        continue;
      if (twins(l, s)) found = static_cast<Index>(g);
    }
    if (found == kNone) {
      found = static_cast<Index>(leader.size());
      leader.push_back(order[i].item);
    }
    group[order[i].item] = found;
  }
  // Number by smallest component.
  std::vector<Index> number(leader.size(), kNone);
  out.twin_of_component = filled_large<Index>(n, 0);
  for (std::size_t c = 0; c < n; ++c) {
    Index& id = number[group[c]];
    if (id == kNone) {
      id = out.twins();
      out.twin_representative.push_back(static_cast<Index>(c));
      out.twin_count.push_back(0);
    }
    out.twin_of_component[c] = id;
    ++out.twin_count[id];
  }
  join_kin(shapes, out);
  return out;
}

}  // namespace trimtack
