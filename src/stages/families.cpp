// SPDX-License-Identifier: MIT
// Invariants first, registration later: the vertices' count and moments tell almost all shapes apart. Laying one over
// the other is left to the search for prototypes.
#include "trimtack/families.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace trimtack {
namespace {

// Rounding of printed coordinates moves an invariant of a small part by up to some thousandths.
constexpr double kTwinTolerance = 3e-3;
constexpr double kKinRatio = 1.15;
constexpr std::size_t kOpenTwins = 24;

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

}  // namespace

Families find_families(std::span<const Shape> shapes) {
  Families out;
  const std::size_t n = shapes.size();
  std::vector<Index> order(n);
  std::iota(order.begin(), order.end(), Index{0});
  std::sort(order.begin(), order.end(), [&](Index a, Index b) {
    const Shape& x = shapes[a];
    const Shape& y = shapes[b];
    if (x.vertex_count != y.vertex_count) return x.vertex_count < y.vertex_count;
    if (x.spread[0] != y.spread[0]) return x.spread[0] < y.spread[0];
    return a < b;
  });
  std::vector<Index> group(n, kNone);
  std::vector<Index> leader;
  std::size_t oldest = 0;  // first leader that can still match
  for (std::size_t i = 0; i < n; ++i) {
    const Shape& s = shapes[order[i]];
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
      leader.push_back(order[i]);
    }
    group[order[i]] = found;
  }
  // Number by smallest component.
  std::vector<Index> number(leader.size(), kNone);
  out.twin_of_component.resize(n);
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
  // Kin: same counts, sizes in a chain without a jump.
  std::vector<Index> by_size(out.twins());
  std::iota(by_size.begin(), by_size.end(), Index{0});
  const auto shape_of = [&](Index t) -> const Shape& { return shapes[out.twin_representative[t]]; };
  std::sort(by_size.begin(), by_size.end(), [&](Index a, Index b) {
    const Shape& x = shape_of(a);
    const Shape& y = shape_of(b);
    if (x.vertex_count != y.vertex_count) return x.vertex_count < y.vertex_count;
    if (x.extents[0] != y.extents[0]) return x.extents[0] < y.extents[0];
    return a < b;
  });
  out.kin_of_twin.resize(out.twins());
  for (std::size_t i = 0; i < by_size.size(); ++i) {
    const Shape& s = shape_of(by_size[i]);
    const bool joins = i > 0 && counts_agree(shape_of(by_size[i - 1]), s) &&
                       s.extents[0] <= kKinRatio * shape_of(by_size[i - 1]).extents[0];
    if (!joins) out.kin_count.push_back(0);
    out.kin_of_twin[by_size[i]] = static_cast<Index>(out.kin_count.size() - 1);
    out.kin_count.back() += out.twin_count[by_size[i]];
  }
  return out;
}

}  // namespace trimtack
