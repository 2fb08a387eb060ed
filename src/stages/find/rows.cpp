// SPDX-License-Identifier: MIT
// A trim lies in a row where two of its neighbours lie opposite to each other, at equal distances. That is what tells a
// zipper's side (neighbours a pitch ahead and behind) from the zigzag to the other side, which may be nearer.
#include "trimtack/rows.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <cstdint>
#include <iterator>
#include <limits>
#include <numeric>

#include "core/memory.hpp"
#include "core/union_find.hpp"
#include "stages/find/nearest_points.hpp"

namespace trimtack {
namespace {

constexpr std::size_t kNeighbours = 9;  // with the trim itself
constexpr std::size_t kNearest = 5;     // of them, among which the two mostly are
constexpr double kStraight = 0.35;      // of the spacing
constexpr std::size_t kZipperElements = 8;

/// Two points that may follow each other in a row; by distance when sorted.
class Link {
 public:
  Link(double distance, Index a, Index b)
      : distance_(std::bit_cast<std::uint64_t>(distance)),
        ends_(std::uint64_t{std::min(a, b)} << 32U | std::max(a, b)) {}
  Index a() const { return static_cast<Index>(ends_ >> 32U); }
  Index b() const { return static_cast<Index>(ends_); }
  friend bool operator<(const Link& x, const Link& y) {
    return x.distance_ != y.distance_ ? x.distance_ < y.distance_ : x.ends_ < y.ends_;
  }

 private:
  std::uint64_t distance_, ends_;  // bits of numbers that are not negative have their order
};

/// Whether a and b lie opposite to each other as seen from i; reach: the squared distance of the farther one.
bool lie_opposite(std::span<const Vec3> points, Index a, Index b, std::size_t i, double reach) {
  const Vec3 off = points[a] + points[b] - 2.0 * points[i];
  return squared_length(off) <= kStraight * kStraight * reach;
}

/// The nearest two of the neighbours that lie opposite to each other, kNone without.
/// @param near  by distance
std::array<Index, 2> opposite_of(std::span<const NearPoint> near, std::span<const Vec3> points, std::size_t i) {
  double best = std::numeric_limits<double>::infinity();
  std::array<Index, 2> pair{kNone, kNone};
  for (std::size_t j = 0; j < near.size(); ++j)
    for (std::size_t k = j + 1; k < near.size(); ++k) {
      if (near[j].index == i || near[k].index == i || !(near[j].squared_distance > 0)) continue;
      const double reach = near[k].squared_distance;
      if (reach >= best) break;  // those after it are no nearer
      if (!lie_opposite(points, near[j].index, near[k].index, i, reach)) continue;
      best = reach;
      pair = {near[j].index, near[k].index};
    }
  return pair;
}

/// Finds neighbours of points one after the other, which mostly lie beside each other.
class Neighbours {
 public:
  Neighbours(const NearestPoints& nearest, std::span<const Vec3> points) : nearest_(nearest), points_(points) {}

  std::array<Index, 2> opposite(std::size_t i) {
    const double reach = std::min(
        reach_of_last(i), std::min(reach_of_pair(i - 1, i + 1, i), reach_of_pair(last_[0] + 1, last_[1] + 1, i)));
    found_ = nearest_.find(points_[i], std::span(near_).first(kNearest), reach);
    last_ = opposite_of(std::span(near_).first(found_), points_, i);
    if (last_[0] != kNone) return last_;  // none of those farther off would do better
    std::array<NearPoint, kNeighbours> more;
    const std::size_t count = nearest_.find(points_[i], more);
    last_ = opposite_of(std::span(more).first(count), points_, i);
    return last_;
  }

 private:
  /// Squared distance within which the last one's neighbours lie.
  double reach_of_last(std::size_t i) const {
    if (found_ < kNearest) return std::numeric_limits<double>::infinity();
    double reach = 0;
    for (const NearPoint& p : near_) reach = std::max(reach, squared_length(points_[p.index] - points_[i]));
    return reach;
  }

  /// Squared distance within which the wanted two lie, as two places of the list tell if they are opposite.
  double reach_of_pair(std::size_t a, std::size_t b, std::size_t i) const {
    constexpr double kFar = std::numeric_limits<double>::infinity();
    if (a >= points_.size() || b >= points_.size() || a == i || b == i || a == b) return kFar;
    const double to_a = squared_length(points_[a] - points_[i]), to_b = squared_length(points_[b] - points_[i]);
    const double reach = std::max(to_a, to_b);
    const bool apart = std::min(to_a, to_b) > 0;
    return apart && lie_opposite(points_, static_cast<Index>(a), static_cast<Index>(b), i, reach) ? reach : kFar;
  }

  const NearestPoints& nearest_;
  std::span<const Vec3> points_;
  std::array<NearPoint, kNearest> near_;
  std::array<Index, 2> last_{kNone, kNone};
  std::size_t found_ = 0;
};

std::vector<Link> list_links(std::span<const Vec3> points, const Executor& executor) {
  constexpr std::size_t kPointsPerRange = 512;
  const NearestPoints nearest(points);
  std::vector<std::array<Index, 2>> pairs = filled_large<std::array<Index, 2>>(points.size(), {});
  for_ranges(executor, points.size(), kPointsPerRange, [&](std::size_t begin, std::size_t end) {
    Neighbours neighbours(nearest, points);
    for (std::size_t i = begin; i < end; ++i) pairs[i] = neighbours.opposite(i);
  });
  std::vector<Link> links;
  reserve_large(links, 2 * points.size());
  for (Index i = 0; i < pairs.size(); ++i)
    for (const Index other : pairs[i]) {
      if (other == kNone) continue;
      const bool listed = other < i && (pairs[other][0] == i || pairs[other][1] == i);
      if (!listed) links.emplace_back(length(points[other] - points[i]), i, other);
    }
  return links;
}

std::vector<std::vector<Index>> chains(std::span<const Vec3> points, const Executor& executor) {
  const std::size_t n = points.size();
  std::vector<Link> links = list_links(points, executor);
  std::sort(links.begin(), links.end());
  std::vector<std::array<Index, 2>> next = filled_large<std::array<Index, 2>>(n, {kNone, kNone});
  UnionFind joined(static_cast<Index>(n));
  const auto turns_back = [&](Index v, Index to) {
    if (next[v][0] == kNone) return false;
    const Vec3 before = normalized(points[v] - points[next[v][0]]);
    return dot(before, normalized(points[to] - points[v])) < 0.7;
  };
  for (const Link& l : links) {
    const Index a = l.a(), b = l.b();
    if (next[a][1] != kNone || next[b][1] != kNone || joined.find(a) == joined.find(b)) continue;
    if (turns_back(a, b) || turns_back(b, a)) continue;
    next[a][next[a][0] == kNone ? 0 : 1] = b;
    next[b][next[b][0] == kNone ? 0 : 1] = a;
    joined.join(a, b);
  }
  std::vector<std::vector<Index>> rows;
  std::vector<std::uint8_t> seen(n, 0);
  for (Index i = 0; i < n; ++i) {
    if (seen[i] != 0 || next[i][0] == kNone || next[i][1] != kNone) continue;
    std::vector<Index> row;
    Index from = kNone;
    for (Index at = i; at != kNone;) {
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

double median_gap(std::span<const Vec3> centres, std::span<const Index> row) {
  std::vector<double> gaps;
  for (std::size_t i = 1; i < row.size(); ++i) gaps.push_back(length(centres[row[i]] - centres[row[i - 1]]));
  const auto middle = gaps.begin() + static_cast<std::ptrdiff_t>(gaps.size() / 2);
  std::nth_element(gaps.begin(), middle, gaps.end());
  return *middle;
}

/// Rows of trims that are alike.
std::vector<Row> rows_of(const RowInput& in, std::span<const Index> alike, const Executor& executor) {
  std::vector<Vec3> points;
  reserve_large(points, alike.size());
  for (const Index t : alike) points.push_back(in.centres[t]);
  std::vector<Row> rows;
  for (const std::vector<Index>& line : chains(points, executor)) {
    Row row;
    for (const Index i : line) row.trims.push_back(alike[i]);
    if (row.trims.back() < row.trims.front()) std::reverse(row.trims.begin(), row.trims.end());
    row.pitch = median_gap(in.centres, row.trims);
    if (in.trims[row.trims.front()].role == Role::Stitching) row.kind = RowKind::StitchLine;
    rows.push_back(std::move(row));
  }
  return rows;
}

}  // namespace

std::vector<Index> facing_rows(const RowInput& in, std::span<const Row> rows) {
  std::vector<Index> facing(rows.size(), kNone);
  const auto element_rows = [&](Index r) {
    const Index t = rows[r].trims.front();
    return in.trims[t].role == Role::Trim && in.rounds[t] == 0 && rows[r].trims.size() >= kZipperElements &&
           rows[r].pitch < 2.5 * in.sizes[t];
  };
  for (Index a = 0; a < rows.size(); ++a) {
    if (!element_rows(a) || facing[a] != kNone) continue;
    double best = std::numeric_limits<double>::infinity();
    for (Index b = a + 1; b < rows.size(); ++b) {
      if (!element_rows(b) || facing[b] != kNone || std::abs(rows[b].pitch / rows[a].pitch - 1) > 0.15) continue;
      // Middle element of a against the nearest of b.
      const Vec3 p = in.centres[rows[a].trims[rows[a].trims.size() / 2]];
      double d = std::numeric_limits<double>::infinity();
      for (const Index t : rows[b].trims) d = std::min(d, length(in.centres[t] - p));
      if (d < 3 * in.sizes[rows[a].trims.front()] && d < best) {
        best = d;
        facing[a] = b;
      }
    }
    if (facing[a] != kNone) facing[facing[a]] = a;
  }
  return facing;
}

std::vector<Row> find_rows(const RowInput& in, const Executor& executor) {
  std::vector<Index> order = filled_large<Index>(in.trims.size(), 0);
  std::iota(order.begin(), order.end(), Index{0});
  std::stable_sort(order.begin(), order.end(), [&](Index a, Index b) { return in.alike[a] < in.alike[b]; });
  std::vector<std::span<const Index>> groups;
  for (std::size_t begin = 0; begin < order.size();) {
    std::size_t end = begin + 1;
    while (end < order.size() && in.alike[order[end]] == in.alike[order[begin]]) ++end;
    if (end - begin >= 3) groups.push_back(std::span<const Index>(order).subspan(begin, end - begin));
    begin = end;
  }
  std::vector<std::vector<Row>> found(groups.size());
  for_ranges(executor, groups.size(), 1, [&](std::size_t begin, std::size_t end) {
    for (std::size_t g = begin; g < end; ++g) found[g] = rows_of(in, groups[g], executor);
  });
  std::vector<Row> rows;
  for (std::vector<Row>& own : found) std::move(own.begin(), own.end(), std::back_inserter(rows));
  std::sort(rows.begin(), rows.end(), [](const Row& a, const Row& b) { return a.trims.front() < b.trims.front(); });
  const std::vector<Index> facing = facing_rows(in, rows);
  for (Index r = 0; r < rows.size(); ++r)
    if (facing[r] != kNone) rows[r].kind = RowKind::Zipper;
  return rows;
}

}  // namespace trimtack
