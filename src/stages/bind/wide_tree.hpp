// SPDX-License-Identifier: MIT
/// A tree of boxes, sixteen to a node, over the triangles of a cloth, sixteen to a leaf.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <span>

#include "core/memory.hpp"
#include "trimtack/mesh.hpp"
#include "trimtack/parallel.hpp"
#include "trimtack/types.hpp"

namespace trimtack {

/// Sixteen boxes in coordinates relative to the tree's middle, rounded outwards to float. A child is a node, or a leaf
/// (kLeafBit set); kNone: no child, its box is empty (low = infinity, high = -infinity).
struct alignas(64) WideNode {
  static constexpr Index kWidth = 16;
  static constexpr Index kLeafBit = 0x80000000U;
  float low[3][kWidth], high[3][kWidth];
  Index child[kWidth];
};

/// Sixteen triangles side by side, rounded to float; a leaf that is not full repeats its last one.
struct alignas(64) WideLeaf {
  static constexpr Index kWidth = 16;
  float a[3][kWidth];                  ///< first corners, relative to `middle`
  float ab[3][kWidth], ac[3][kWidth];  ///< from there to the other two
  Index triangle[kWidth];
  Vec3 middle;
  float reach;           ///< no corner is farther from `middle`
  float inverse_height;  ///< 1 / the least height of all; infinite when single precision cannot tell their shape
};

struct WideTree {
  Vec3 middle;
  std::span<WideNode> nodes;  ///< nodes[0] is the root; none when no triangle has finite corners
  std::span<WideLeaf> leaves;
  Room<WideNode> room_of_nodes;
  Room<WideLeaf> room_of_leaves;

  /// About 50 bytes a triangle. Cost: O(n log n). Deterministic; triangles with non-finite corners are left out.
  void build(std::span<const Vec3> positions, std::span<const Tri> triangles, const Executor& executor = {});
};

/// A query in a node's coordinates: the float interval that holds it.
struct WideQuery {
  float low[3], high[3];
};
inline WideQuery wide_query(const WideTree& tree, const Vec3& p) {
  WideQuery out;
  const Vec3 local = p - tree.middle;
  for (int k = 0; k < 3; ++k) {
    // More than a unit of the float; far from the origin the difference itself is rounded, here as in the boxes.
    const auto rounded = static_cast<float>(local[k]);
    const double off = 1.3e-7 * std::abs(local[k]) + 4.5e-16 * (std::abs(p[k]) + std::abs(tree.middle[k])) + 1e-37;
    const auto slack = static_cast<float>(std::min(off, 1e38));
    out.low[k] = rounded - slack;
    out.high[k] = rounded + slack;
  }
  return out;
}

/// Bounds of squared distances from a query to boxes exceed the true ones by no more than this share.
inline constexpr float kWideSlack = 4e-6F;

/// Least float that is not below a squared distance, with the slack of the bounds.
float wide_limit(double squared_distance);

}  // namespace trimtack
