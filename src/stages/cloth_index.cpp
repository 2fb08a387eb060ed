// SPDX-License-Identifier: MIT
// Closest points by a tree of boxes with an exact step in double at the leaves.
// Sources: Ericson, Real-Time Collision Detection (2005), sections 5.1.5 (triangle) and 6.1 (box trees).
#include "trimtack/cloth_index.hpp"

#include <algorithm>
#include <limits>
#include <numeric>

#include "stages/triangle_distance.hpp"

namespace trimtack {
namespace {

/// Box of a node in coordinates relative to the cloth's middle, rounded outwards to float.
struct Node {
  std::array<float, 3> low, high;
  Index first = 0;  ///< leaf: first item; inner: left child (the right one follows it)
  Index count = 0;  ///< leaf: items; inner: 0
};

constexpr Index kLeafSize = 4;

float rounded_down(double v) {
  const auto f = static_cast<float>(v);
  return static_cast<double>(f) > v ? std::nextafter(f, -std::numeric_limits<float>::infinity()) : f;
}
float rounded_up(double v) {
  const auto f = static_cast<float>(v);
  return static_cast<double>(f) < v ? std::nextafter(f, std::numeric_limits<float>::infinity()) : f;
}

double squared_box_distance(const Node& node, const Vec3& p) {
  double sum = 0;
  for (int k = 0; k < 3; ++k) {
    const auto i = static_cast<std::size_t>(k);
    const double d = std::max({static_cast<double>(node.low[i]) - p[k], 0.0, p[k] - static_cast<double>(node.high[i])});
    sum += d * d;
  }
  return sum;
}

bool lexicographic_less(const Vec3& p, const Vec3& q) {
  if (p.x != q.x) return p.x < q.x;
  if (p.y != q.y) return p.y < q.y;
  return p.z < q.z;
}

}  // namespace

struct ClothIndex::Impl {
  const ClothMesh* cloth = nullptr;
  Vec3 middle;
  std::vector<Node> nodes;
  std::vector<Index> items;  ///< triangles in leaf order

  Vec3 corner(Index triangle, std::size_t k) const { return cloth->positions[cloth->triangles.triangles[triangle][k]]; }
  Vec3 centroid(Index t) const { return (1.0 / 3) * (corner(t, 0) + corner(t, 1) + corner(t, 2)); }
  bool usable(Index t) const { return is_finite(corner(t, 0)) && is_finite(corner(t, 1)) && is_finite(corner(t, 2)); }

  void build();
  void fit_box(Node& node, Index first, Index count) const;
  bool wins_tie(const Vec3& query, Index challenger, Index holder) const;
  Surface closest(const Vec3& query, double max_distance) const;
  template <class Visit>
  void visit_within(const Vec3& query, double radius, Visit&& visit) const;
};

void ClothIndex::Impl::fit_box(Node& node, Index first, Index count) const {
  Vec3 low{1e300, 1e300, 1e300}, high{-1e300, -1e300, -1e300};
  for (Index i = first; i < first + count; ++i) {
    for (std::size_t k = 0; k < 3; ++k) {
      const Vec3 p = corner(items[i], k) - middle;
      low = {std::min(low.x, p.x), std::min(low.y, p.y), std::min(low.z, p.z)};
      high = {std::max(high.x, p.x), std::max(high.y, p.y), std::max(high.z, p.z)};
    }
  }
  node.low = {rounded_down(low.x), rounded_down(low.y), rounded_down(low.z)};
  node.high = {rounded_up(high.x), rounded_up(high.y), rounded_up(high.z)};
}

void ClothIndex::Impl::build() {
  const auto count = static_cast<Index>(cloth->triangles.triangles.size());
  for (Index t = 0; t < count; ++t)
    if (usable(t)) items.push_back(t);
  if (items.empty()) return;
  const Box box = bounds(cloth->positions);
  if (is_finite(box.min) && is_finite(box.max)) middle = 0.5 * (box.min + box.max);
  std::vector<Vec3> centroids(count);
  for (const Index t : items) centroids[t] = centroid(t);
  struct Job {
    Index node, first, count;
  };
  nodes.reserve(items.size());
  nodes.push_back({});
  std::vector<Job> jobs{{0, 0, static_cast<Index>(items.size())}};
  while (!jobs.empty()) {
    const Job job = jobs.back();
    jobs.pop_back();
    fit_box(nodes[job.node], job.first, job.count);
    if (job.count <= kLeafSize) {
      nodes[job.node].first = job.first;
      nodes[job.node].count = job.count;
      continue;
    }
    Vec3 low = centroids[items[job.first]], high = low;
    for (Index i = job.first; i < job.first + job.count; ++i) {
      const Vec3& p = centroids[items[i]];
      low = {std::min(low.x, p.x), std::min(low.y, p.y), std::min(low.z, p.z)};
      high = {std::max(high.x, p.x), std::max(high.y, p.y), std::max(high.z, p.z)};
    }
    const Vec3 size = high - low;
    const int axis = size.x >= size.y && size.x >= size.z ? 0 : (size.y >= size.z ? 1 : 2);
    const Index half = job.count / 2;
    const auto begin = items.begin() + job.first;
    std::nth_element(begin, begin + half, begin + job.count, [&](Index i, Index j) {
      const double p = centroids[i][axis], q = centroids[j][axis];
      return p != q ? p < q : i < j;
    });
    const auto left = static_cast<Index>(nodes.size());
    nodes[job.node].first = left;
    nodes[job.node].count = 0;
    nodes.resize(nodes.size() + 2);
    jobs.push_back({left, job.first, half});
    jobs.push_back({left + 1, job.first + half, job.count - half});
  }
}

/// Of two triangles at exactly the same distance the one that faces the query more squarely wins, then the one
/// whose centroid comes first, then the smaller number.
bool ClothIndex::Impl::wins_tie(const Vec3& query, Index challenger, Index holder) const {
  const auto facing = [&](Index t) {
    const Vec3 a = corner(t, 0);
    const Vec3 n = normalized(cross(corner(t, 1) - a, corner(t, 2) - a));
    return std::abs(dot(n, query - a));  // distance of the query from the triangle's plane
  };
  const double f = facing(challenger), g = facing(holder);
  if (f != g) return f > g;
  const Vec3 p = centroid(challenger), q = centroid(holder);
  if (lexicographic_less(p, q)) return true;
  if (lexicographic_less(q, p)) return false;
  return challenger < holder;
}

Surface ClothIndex::Impl::closest(const Vec3& query, double max_distance) const {
  Surface out;
  if (nodes.empty() || !is_finite(query)) return out;
  struct Entry {
    double squared_distance;
    Index node;
  };
  std::array<Entry, 128> stack;
  std::size_t size = 0;
  const Vec3 local = query - middle;
  double best = max_distance * max_distance;
  stack[size++] = {squared_box_distance(nodes[0], local), 0};
  while (size > 0) {
    const Entry entry = stack[--size];
    if (entry.squared_distance > best) continue;
    const Node& node = nodes[entry.node];
    if (node.count == 0) {
      Entry left{squared_box_distance(nodes[node.first], local), node.first};
      Entry right{squared_box_distance(nodes[node.first + 1], local), node.first + 1};
      if (right.squared_distance < left.squared_distance) std::swap(left, right);
      if (right.squared_distance <= best) stack[size++] = right;
      if (left.squared_distance <= best) stack[size++] = left;
      continue;
    }
    for (Index i = node.first; i < node.first + node.count; ++i) {
      const Index t = items[i];
      const TrianglePoint hit = closest_on_triangle(corner(t, 0) - query, corner(t, 1) - query, corner(t, 2) - query);
      if (hit.squared_distance > best) continue;
      if (hit.squared_distance == best && out.triangle != kNone && !wins_tie(query, t, out.triangle)) continue;
      best = hit.squared_distance;
      out.triangle = t;
      out.bary = hit.bary;
      out.point = query + hit.offset;
    }
  }
  if (out.triangle != kNone) out.distance = std::sqrt(best);
  return out;
}

template <class Visit>
void ClothIndex::Impl::visit_within(const Vec3& query, double radius, Visit&& visit) const {
  if (nodes.empty() || !is_finite(query)) return;
  std::vector<Index> stack{0};
  const Vec3 local = query - middle;
  const double limit = radius * radius;
  while (!stack.empty()) {
    const Node& node = nodes[stack.back()];
    stack.pop_back();
    if (squared_box_distance(node, local) > limit) continue;
    if (node.count == 0) {
      stack.push_back(node.first);
      stack.push_back(node.first + 1);
      continue;
    }
    for (Index i = node.first; i < node.first + node.count; ++i) visit(items[i]);
  }
}

ClothIndex::ClothIndex(const ClothMesh& cloth) : impl_(std::make_unique<Impl>()) {
  impl_->cloth = &cloth;
  impl_->build();
}
ClothIndex::~ClothIndex() = default;
ClothIndex::ClothIndex(ClothIndex&&) noexcept = default;
ClothIndex& ClothIndex::operator=(ClothIndex&&) noexcept = default;
const ClothMesh& ClothIndex::cloth() const { return *impl_->cloth; }

void ClothIndex::closest_points(std::span<const Vec3> queries, double max_distance, std::span<Surface> out,
                                const Executor& executor) const {
  for_ranges(executor, queries.size(), 1024, [&](std::size_t begin, std::size_t end) {
    for (std::size_t i = begin; i < end; ++i) out[i] = impl_->closest(queries[i], max_distance);
  });
}

void ClothIndex::triangles_near(const Box& box, std::vector<Index>& out) const {
  out.clear();
  const Impl& impl = *impl_;
  if (impl.nodes.empty()) return;
  const Vec3 low = box.min - impl.middle, high = box.max - impl.middle;
  const auto meets = [&](const Node& node) {
    for (int k = 0; k < 3; ++k) {
      const auto i = static_cast<std::size_t>(k);
      if (static_cast<double>(node.low[i]) > high[k] || static_cast<double>(node.high[i]) < low[k]) return false;
    }
    return true;
  };
  std::array<Index, 128> stack;
  std::size_t size = 0;
  stack[size++] = 0;
  while (size > 0) {
    const Node& node = impl.nodes[stack[--size]];
    if (!meets(node)) continue;
    if (node.count == 0) {
      stack[size++] = node.first;
      stack[size++] = node.first + 1;
      continue;
    }
    for (Index i = node.first; i < node.first + node.count; ++i) {
      const Index t = impl.items[i];
      const Vec3 a = impl.corner(t, 0) - impl.middle, b = impl.corner(t, 1) - impl.middle,
                 c = impl.corner(t, 2) - impl.middle;
      bool apart = false;
      for (int k = 0; k < 3; ++k)
        apart = apart || std::min({a[k], b[k], c[k]}) > high[k] || std::max({a[k], b[k], c[k]}) < low[k];
      if (!apart) out.push_back(t);
    }
  }
  std::sort(out.begin(), out.end());
}

std::vector<Surface> ClothIndex::within(const Vec3& p, double radius) const {
  std::vector<Surface> out;
  impl_->visit_within(p, radius, [&](Index t) {
    const TrianglePoint hit =
        closest_on_triangle(impl_->corner(t, 0) - p, impl_->corner(t, 1) - p, impl_->corner(t, 2) - p);
    if (hit.squared_distance > radius * radius) return;
    out.push_back({t, hit.bary, p + hit.offset, std::sqrt(hit.squared_distance)});
  });
  std::sort(out.begin(), out.end(), [&](const Surface& s, const Surface& t) {
    if (s.distance != t.distance) return s.distance < t.distance;
    return s.triangle != t.triangle && impl_->wins_tie(p, s.triangle, t.triangle);
  });
  return out;
}

}  // namespace trimtack
