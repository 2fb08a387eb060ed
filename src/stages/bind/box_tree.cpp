// SPDX-License-Identifier: MIT
// Tree over boxes with refitting: van den Bergen, "Efficient collision detection of complex deformable models using
// AABB trees", 1997. Triangle against triangle: an edge of one crosses the inside of the other (Moeller and Trumbore,
// "Fast, minimum storage ray/triangle intersection", 1997), six tests.
#include "stages/bind/box_tree.hpp"

#include <algorithm>
#include <limits>
#include <numeric>

namespace trimtack {
namespace {

constexpr Index kLeafItems = 4;

Box empty_box() {
  constexpr double kHuge = std::numeric_limits<double>::infinity();
  return {{kHuge, kHuge, kHuge}, {-kHuge, -kHuge, -kHuge}};
}

void grow(Box& box, const Box& other) {
  for (int i = 0; i < 3; ++i) {
    box.min[i] = std::min(box.min[i], other.min[i]);
    box.max[i] = std::max(box.max[i], other.max[i]);
  }
}

Box triangle_box(std::span<const Vec3> positions, const Tri& t) {
  return box_of(positions[t[0]], positions[t[1]], positions[t[2]]);
}

int longest_side(const Box& box) {
  const Vec3 d = box.max - box.min;
  return d.x >= d.y && d.x >= d.z ? 0 : (d.y >= d.z ? 1 : 2);
}

/// Where the segment p-q crosses triangle t, if it does.
bool crossing(const Vec3& p, const Vec3& q, const std::array<Vec3, 3>& t, Vec3& out) {
  const Vec3 d = q - p, e1 = t[1] - t[0], e2 = t[2] - t[0];
  const Vec3 h = cross(d, e2);
  const double det = dot(e1, h);
  if (det == 0 || !std::isfinite(det)) return false;
  const Vec3 s = p - t[0];
  const double u = dot(s, h) / det;
  if (u < 0 || u > 1) return false;
  const Vec3 k = cross(s, e1);
  const double v = dot(d, k) / det;
  if (v < 0 || u + v > 1) return false;
  const double w = dot(e2, k) / det;
  if (w < 0 || w > 1) return false;
  out = p + w * d;
  return true;
}

}  // namespace

BoxTree build_box_tree(std::span<const Vec3> positions, std::span<const Tri> triangles) {
  BoxTree tree;
  const auto n = static_cast<Index>(triangles.size());
  tree.item.resize(n);
  std::iota(tree.item.begin(), tree.item.end(), Index{0});
  if (n == 0) return tree;
  std::vector<Vec3> centre(n);
  for (Index i = 0; i < n; ++i) {
    const Box box = triangle_box(positions, triangles[i]);
    centre[i] = 0.5 * (box.min + box.max);
    if (!is_finite(centre[i])) centre[i] = Vec3{};
  }
  tree.nodes.reserve(n);
  tree.nodes.push_back({empty_box(), 0, n});
  for (std::size_t at = 0; at < tree.nodes.size(); ++at) {
    const Index first = tree.nodes[at].first, count = tree.nodes[at].count;
    if (count <= kLeafItems) continue;
    Box spread = empty_box();
    for (Index i = first; i < first + count; ++i) grow(spread, {centre[tree.item[i]], centre[tree.item[i]]});
    const int axis = longest_side(spread);
    const auto begin = tree.item.begin() + first;
    const Index half = count / 2;
    std::nth_element(begin, begin + half, begin + count, [&](Index a, Index b) {
      return centre[a][axis] != centre[b][axis] ? centre[a][axis] < centre[b][axis] : a < b;
    });
    const auto child = static_cast<Index>(tree.nodes.size());
    tree.nodes.push_back({empty_box(), first, half});
    tree.nodes.push_back({empty_box(), first + half, count - half});
    tree.nodes[at].first = child;
    tree.nodes[at].count = 0;
  }
  refit(tree, positions, triangles);
  return tree;
}

void refit(BoxTree& tree, std::span<const Vec3> positions, std::span<const Tri> triangles) {
  for (std::size_t at = tree.nodes.size(); at-- > 0;) {
    BoxTree::Node& node = tree.nodes[at];
    node.box = empty_box();
    if (node.count == 0) {
      grow(node.box, tree.nodes[node.first].box);
      grow(node.box, tree.nodes[node.first + 1].box);
    } else {
      for (Index i = node.first; i < node.first + node.count; ++i) {
        grow(node.box, triangle_box(positions, triangles[tree.item[i]]));
      }
    }
  }
}

void overlapping(const BoxTree& tree, const Box& box, std::span<const Vec3> positions, std::span<const Tri> triangles,
                 std::vector<Index>& stack, std::vector<Index>& out) {
  out.clear();
  stack.clear();
  if (!tree.nodes.empty()) stack.push_back(0);
  while (!stack.empty()) {
    const BoxTree::Node& node = tree.nodes[stack.back()];
    stack.pop_back();
    if (!overlap(node.box, box)) continue;
    if (node.count == 0) {
      stack.push_back(node.first);
      stack.push_back(node.first + 1);
      continue;
    }
    for (Index i = node.first; i < node.first + node.count; ++i) {
      if (overlap(triangle_box(positions, triangles[tree.item[i]]), box)) out.push_back(tree.item[i]);
    }
  }
  std::sort(out.begin(), out.end());
}

bool common_point(const std::array<Vec3, 3>& a, const std::array<Vec3, 3>& b, Vec3& out) {
  Vec3 sum, point;
  int found = 0;
  for (std::size_t i = 0; i < 3; ++i) {
    if (crossing(a[i], a[(i + 1) % 3], b, point)) sum += point, ++found;
    if (crossing(b[i], b[(i + 1) % 3], a, point)) sum += point, ++found;
  }
  if (found == 0) return false;
  out = (1.0 / found) * sum;
  return true;
}

bool triangles_meet(const std::array<Vec3, 3>& a, const std::array<Vec3, 3>& b) {
  Vec3 point;
  return common_point(a, b, point);
}

}  // namespace trimtack
