// SPDX-License-Identifier: MIT
/// A tree of axis-aligned boxes over triangles whose topology stays and whose vertices move: built once, refitted per
/// frame in linear time.
#pragma once

#include <cmath>
#include <span>
#include <vector>

#include "trimtack/mesh.hpp"
#include "trimtack/parallel.hpp"
#include "trimtack/types.hpp"

namespace trimtack {

struct BoxTree {
  struct Node {
    Box box;
    Index first = 0, count = 0;  ///< leaf: items [first, first + count); inner: count 0, children first and first + 1
  };
  std::vector<Node> nodes;  ///< children always come after their parent
  std::vector<Index> item;  ///< triangle of each leaf entry
};

/// Splits at the median centroid of the longest side, ties by triangle index. Cost: O(n log n).
BoxTree build_box_tree(std::span<const Vec3> positions, std::span<const Tri> triangles);
/// Fits every box to new positions. Cost: O(n), no allocation.
void refit(BoxTree& tree, std::span<const Vec3> positions, std::span<const Tri> triangles);
/// Triangles whose box overlaps `box`, ascending. `out` is cleared first; `stack` is scratch.
void overlapping(const BoxTree& tree, const Box& box, std::span<const Vec3> positions, std::span<const Tri> triangles,
                 std::vector<Index>& stack, std::vector<Index>& out);

inline bool overlap(const Box& a, const Box& b) {
  return a.min.x <= b.max.x && b.min.x <= a.max.x && a.min.y <= b.max.y && b.min.y <= a.max.y && a.min.z <= b.max.z &&
         b.min.z <= a.max.z;
}
/// Box of a posed box.
inline Box posed(const Box& box, const Pose& pose) {
  const Vec3 centre = apply(pose, 0.5 * (box.min + box.max)), half = 0.5 * (box.max - box.min);
  Vec3 r;
  for (int i = 0; i < 3; ++i) {
    r[i] = std::abs(pose.rotation(i, 0)) * half.x + std::abs(pose.rotation(i, 1)) * half.y +
           std::abs(pose.rotation(i, 2)) * half.z;
  }
  return {centre - r, centre + r};
}
inline Box box_of(const Vec3& p, const Vec3& q, const Vec3& r) {
  return {{std::min({p.x, q.x, r.x}), std::min({p.y, q.y, r.y}), std::min({p.z, q.z, r.z})},
          {std::max({p.x, q.x, r.x}), std::max({p.y, q.y, r.y}), std::max({p.z, q.z, r.z})}};
}
/// Do two triangles share a point? Touching counts; coplanar overlap does not.
bool triangles_meet(const std::array<Vec3, 3>& a, const std::array<Vec3, 3>& b);
/// A point both triangles share, in the middle of their common segment. @pre triangles_meet(a, b)
bool common_point(const std::array<Vec3, 3>& a, const std::array<Vec3, 3>& b, Vec3& out);

}  // namespace trimtack
