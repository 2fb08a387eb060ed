// SPDX-License-Identifier: MIT
/// A tree of boxes, eight to a node, over the triangles of a cloth.
#pragma once

#include <array>
#include <span>
#include <vector>

#include "trimtack/mesh.hpp"
#include "trimtack/types.hpp"

namespace trimtack {

/// Eight boxes in coordinates relative to the tree's middle, rounded outwards to float. A child is a node, or one
/// triangle (kTriangleBit set); kNone: no child, its box is empty (low = infinity, high = -infinity).
struct alignas(32) WideNode {
  static constexpr Index kWidth = 8;
  static constexpr Index kTriangleBit = 0x80000000U;
  float low[3][kWidth], high[3][kWidth];
  Index child[kWidth];
};

struct WideTree {
  Vec3 middle;
  std::vector<WideNode> nodes;  ///< nodes[0] is the root; none when no triangle has finite corners

  /// 32 to 37 bytes a triangle. Cost: O(n log n). Deterministic; triangles with non-finite corners are left out.
  void build(std::span<const Vec3> positions, std::span<const Tri> triangles);
};

/// A query in a node's coordinates: the float interval that holds it.
struct WideQuery {
  float low[3], high[3];
};
WideQuery wide_query(const WideTree& tree, const Vec3& p);

/// Lower bounds of the squared distances from the query to the eight boxes; infinity for no child. Never above the true
/// distance by more than kSlack of itself.
inline constexpr float kWideSlack = 4e-6F;

/// Least float that is not below a squared distance, with the slack of the bounds.
float wide_limit(double squared_distance);

}  // namespace trimtack
