// SPDX-License-Identifier: MIT
#include "trimtack/rows.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

#include <nanoflann.hpp>

namespace trimtack {
namespace {

constexpr std::size_t kNeighbours = 6;

struct Cloud {
  std::span<const Vec3> points;
  std::size_t kdtree_get_point_count() const { return points.size(); }
  double kdtree_get_pt(std::size_t i, std::size_t k) const { return points[i][static_cast<int>(k)]; }
  template <class B>
  bool kdtree_get_bbox(B& /*box*/) const {
    return false;
  }
};
using Tree = nanoflann::KDTreeSingleIndexAdaptor<nanoflann::L2_Simple_Adaptor<double, Cloud>, Cloud, 3, std::size_t>;

struct Link {
  double distance;
  Index a, b;
};

/// Chains through nearest neighbours: shortest links first, at most two at a trim, no closed loops, no sharp turns.
std::vector<std::vector<Index>> chain(std::span<const Vec3> points) {
  const std::size_t n = points.size();
  const Cloud cloud{points};
  Tree tree(3, cloud, nanoflann::KDTreeSingleIndexAdaptorParams(10));
  std::vector<Link> links;
  std::vector<double> gap(n, std::numeric_limits<double>::infinity());
  for (std::size_t i = 0; i < n; ++i) {
    std::array<std::size_t, kNeighbours> index{};
    std::array<double, kNeighbours> squared{};
    const std::array<double, 3> query{points[i].x, points[i].y, points[i].z};
    const std::size_t found = tree.knnSearch(query.data(), std::min(kNeighbours, n), index.data(), squared.data());
    for (std::size_t k = 0; k < found; ++k) {
      if (index[k] == i || !(squared[k] > 0)) continue;
      const double d = std::sqrt(squared[k]);
      gap[i] = std::min(gap[i], d);
      if (i < index[k] || true)
        links.push_back({d, static_cast<Index>(std::min(i, index[k])), static_cast<Index>(std::max(i, index[k]))});
    }
  }
  std::sort(links.begin(), links.end(), [](const Link& x, const Link& y) {
    if (x.distance != y.distance) return x.distance < y.distance;
    return x.a != y.a ? x.a < y.a : x.b < y.b;
  });
  std::vector<std::array<Index, 2>> next(n, {kNone, kNone});
  std::vector<Index> parent(n);
  for (std::size_t i = 0; i < n; ++i) parent[i] = static_cast<Index>(i);
  const auto root = [&](Index v) {
    while (parent[v] != v) v = parent[v] = parent[parent[v]];
    return v;
  };
  const auto bends = [&](Index v, Index to) {
    if (next[v][0] == kNone) return false;
    const Vec3 d0 = normalized(points[v] - points[next[v][0]]);
    const Vec3 d1 = normalized(points[to] - points[v]);
    return dot(d0, d1) < 0.5;
  };
  for (const Link& l : links) {
    if (next[l.a][1] != kNone || next[l.b][1] != kNone || root(l.a) == root(l.b)) continue;
    if (bends(l.a, l.b) || bends(l.b, l.a)) continue;
    if (l.distance > 1.8 * std::min(gap[l.a], gap[l.b])) continue;
    next[l.a][next[l.a][0] == kNone ? 0 : 1] = l.b;
    next[l.b][next[l.b][0] == kNone ? 0 : 1] = l.a;
    parent[root(l.a)] = root(l.b);
  }
  std::vector<std::vector<Index>> rows;
  std::vector<std::uint8_t> seen(n, 0);
  for (Index i = 0; i < n; ++i) {
    if (seen[i] != 0 || next[i][0] == kNone || next[i][1] != kNone) continue;
    std::vector<Index> row;
    for (Index at = i, from = kNone; at != kNone;) {
      seen[at] = 1;
      row.push_back(at);
      const Index to = next[at][0] == from ? next[at][1] : next[at][0];
      from = at;
      at = to;
    }
    if (row.size() >= 3) rows.push_back(std::move(row));
  }
  return rows;
}

}  // namespace

std::vector<Row> find_rows(std::span<const Trim> trims, std::span<const Vec3> centres, std::span<const double> sizes) {
  std::map<Index, std::vector<Index>> by_prototype;
  for (Index t = 0; t < trims.size(); ++t) by_prototype[trims[t].prototype].push_back(t);
  std::vector<Row> rows;
  for (const auto& [prototype, members] : by_prototype) {
    if (members.size() < 3) continue;
    std::vector<Vec3> points;
    for (const Index t : members) points.push_back(centres[t]);
    for (const auto& line : chain(points)) {
      Row row;
      std::vector<double> gaps;
      for (std::size_t i = 0; i < line.size(); ++i) {
        row.trims.push_back(members[line[i]]);
        if (i > 0) gaps.push_back(length(points[line[i]] - points[line[i - 1]]));
      }
      std::nth_element(gaps.begin(), gaps.begin() + static_cast<std::ptrdiff_t>(gaps.size() / 2), gaps.end());
      row.pitch = gaps[gaps.size() / 2];
      const Trim& first = trims[row.trims.front()];
      if (first.role == Role::Stitching)
        row.kind = RowKind::StitchLine;
      else if (row.trims.size() >= 12 && sizes[row.trims.front()] < 4 * row.pitch &&
               row.pitch < 2.5 * sizes[row.trims.front()])
        row.kind = RowKind::Zipper;
      if (row.trims.back() < row.trims.front()) std::reverse(row.trims.begin(), row.trims.end());
      rows.push_back(std::move(row));
    }
  }
  std::sort(rows.begin(), rows.end(), [](const Row& a, const Row& b) { return a.trims.front() < b.trims.front(); });
  return rows;
}

}  // namespace trimtack
