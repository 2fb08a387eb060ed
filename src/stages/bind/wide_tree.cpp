// SPDX-License-Identifier: MIT
// Built top down by halving along the longest axis of the centroids, four halvings a node; leaves are filled to the
// brim so that the tree stays small, which tells where each part of the tree goes before it is built. Sources: Ericson,
// Real-Time Collision Detection (2005), section 6.2; Wald, Benthin, Boulos, "Getting rid of packets" (2008), for nodes
// and leaves as wide as a vector register.
#include "stages/bind/wide_tree.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdint>
#include <limits>

#include "core/memory.hpp"

namespace trimtack {
namespace {

constexpr float kInfinity = std::numeric_limits<float>::infinity();

/// The next float upwards or downwards (std::nextafter is a call). @pre not NaN
float stepped(float f, bool up) {
  if (f == 0) return up ? std::numeric_limits<float>::denorm_min() : -std::numeric_limits<float>::denorm_min();
  if (std::isinf(f) && (f > 0) == up) return f;
  const auto bits = std::bit_cast<std::uint32_t>(f);
  return std::bit_cast<float>((f > 0) == up ? bits + 1 : bits - 1);
}

float rounded_down(double v) {
  const auto f = static_cast<float>(v);
  return static_cast<double>(f) > v ? stepped(f, false) : f;
}
float rounded_up(double v) {
  const auto f = static_cast<float>(v);
  return static_cast<double>(f) < v ? stepped(f, true) : f;
}

// Squared double areas and squared edges between which products of four lengths neither overflow nor lose digits.
constexpr double kLeastFloatArea = 1e-24, kLargestFloatEdge = 1e12;

struct FloatBox {
  std::array<float, 3> low{kInfinity, kInfinity, kInfinity}, high{-kInfinity, -kInfinity, -kInfinity};
  void grow(const FloatBox& other) {
    for (std::size_t k = 0; k < 3; ++k) {
      low[k] = std::min(low[k], other.low[k]);
      high[k] = std::max(high[k], other.high[k]);
    }
  }
};

FloatBox rounded_box(const Vec3& low, const Vec3& high) {
  return {{rounded_down(low.x), rounded_down(low.y), rounded_down(low.z)},
          {rounded_up(high.x), rounded_up(high.y), rounded_up(high.z)}};
}

/// A triangle to be placed: twice its box's middle and its number.
struct Item {
  std::array<float, 3> middle;
  Index triangle;
};

/// Puts the `left` least items along an axis first; ties go to the smaller number. Quickselect (Hoare 1961) whose
/// parting does not branch on what it compares (Lomuto's scheme): half of such branches would be guessed wrong.
void select(std::span<Item> items, std::size_t left, std::size_t axis) {
  const auto less = [axis](const Item& p, const Item& q) {
    const float a = p.middle[axis], b = q.middle[axis];
    return (a < b) | ((a == b) & (p.triangle < q.triangle));
  };
  constexpr std::size_t kFew = 32;
  for (int round = 2 * std::bit_width(items.size()); round > 0 && items.size() > kFew && left > 0; --round) {
    std::array<Item, 3> some{items.front(), items[items.size() / 2], items.back()};
    std::sort(some.begin(), some.end(), less);
    const Item pivot = some[1];
    std::size_t parted = 0;
    for (Item& item : items) {
      const Item here = item;
      item = items[parted];
      items[parted] = here;
      parted += less(here, pivot) ? 1 : 0;
    }
    if (left == parted) return;
    if (left < parted) {
      items = items.first(parted);
    } else {
      items = items.subspan(parted);
      left -= parted;
    }
  }
  std::nth_element(items.begin(), items.begin() + static_cast<std::ptrdiff_t>(left), items.end(), less);
}

/// Consecutive items that hang under one child.
struct Group {
  Index first, count;
};

// Parts of a tree of fewer triangles are not worth handing out.
constexpr Index kLeastShared = 1U << 14;
constexpr std::size_t kItemsPerRange = 1U << 15;

/// What a full child of a node over so many triangles holds: all nodes but those along one edge of the tree are full,
/// so it is a power of sixteen.
Index child_size_of(Index count) {
  std::uint64_t size = WideLeaf::kWidth;
  while (count > size * WideNode::kWidth) size *= WideNode::kWidth;
  return static_cast<Index>(size);
}

/// How many nodes a child of so many triangles needs; none when it is a leaf.
Index nodes_under(Index count) {
  if (count <= WideLeaf::kWidth) return 0;
  const Index child_size = child_size_of(count), full = count / child_size;
  return 1 + full * nodes_under(child_size) + nodes_under(count % child_size);
}

class Builder {
 public:
  Builder(WideTree& tree, std::span<const Vec3> positions, std::span<const Tri> triangles)
      : tree_(tree), positions_(positions), triangles_(triangles) {}

  void run(const Executor& executor) {
    const auto count = static_cast<Index>(list_items(executor));
    if (count == 0) return;
    const std::size_t leaves = (count + WideLeaf::kWidth - 1) / WideLeaf::kWidth;
    const std::size_t nodes = std::max<Index>(nodes_under(count), 1);
    tree_.leaves = {tree_.room_of_leaves.of(leaves), leaves};
    tree_.nodes = {tree_.room_of_nodes.of(nodes), nodes};
    make_node({0, count}, 0, count < kLeastShared ? Executor{} : executor);
  }

 private:
  /// Fills items_. @return how many there are
  std::size_t list_items(const Executor& executor) {
    const std::size_t all = triangles_.size();
    items_ = room_.of(all);
    std::vector<std::size_t> counts((all + kItemsPerRange - 1) / kItemsPerRange);
    for_ranges(executor, all, kItemsPerRange, [&](std::size_t begin, std::size_t end) {
      Item* at = items_ + begin;
      for (std::size_t t = begin; t < end; ++t) {
        const Tri& c = triangles_[t];
        if (!is_finite(positions_[c[0]]) || !is_finite(positions_[c[1]]) || !is_finite(positions_[c[2]])) continue;
        const FloatBox box = box_of(static_cast<Index>(t));
        Item item{{}, static_cast<Index>(t)};
        for (std::size_t k = 0; k < 3; ++k) item.middle[k] = box.low[k] + box.high[k];
        *at++ = item;
      }
      counts[begin / kItemsPerRange] = static_cast<std::size_t>(at - (items_ + begin));
    });
    std::size_t count = 0;
    for (std::size_t range = 0; range < counts.size(); ++range) {
      const Item* const first = items_ + range * kItemsPerRange;
      if (first != items_ + count) std::copy(first, first + counts[range], items_ + count);
      count += counts[range];
    }
    return count;
  }

  FloatBox box_of(Index triangle) const {
    const Tri& c = triangles_[triangle];
    const Vec3 p = positions_[c[0]] - tree_.middle, q = positions_[c[1]] - tree_.middle,
               r = positions_[c[2]] - tree_.middle;
    return rounded_box({std::min({p.x, q.x, r.x}), std::min({p.y, q.y, r.y}), std::min({p.z, q.z, r.z})},
                       {std::max({p.x, q.x, r.x}), std::max({p.y, q.y, r.y}), std::max({p.z, q.z, r.z})});
  }

  /// Halves a group along the longest axis, at a multiple of what a full child holds. @pre more than one child's worth
  std::array<Group, 2> halve(const Group& group, Index child_size) {
    Item *const begin = items_ + group.first, *const end = begin + group.count;
    std::array<float, 3> low = begin->middle, high = begin->middle;
    for (const Item* i = begin; i != end; ++i)
      for (std::size_t k = 0; k < 3; ++k) {
        low[k] = std::min(low[k], i->middle[k]);
        high[k] = std::max(high[k], i->middle[k]);
      }
    std::size_t axis = 0;
    for (std::size_t k = 1; k < 3; ++k)
      if (high[k] - low[k] > high[axis] - low[axis]) axis = k;
    const Index children = (group.count + child_size - 1) / child_size;
    const Index left = children / 2 * child_size;
    select(std::span(begin, end), left, axis);
    return {Group{group.first, left}, Group{group.first + left, group.count - left}};
  }

  /// The groups under a node: a leaf when it is one already, else sixteen parts by four halvings.
  Index split(const Group& whole, const Executor& executor, std::array<Group, WideNode::kWidth>& groups) {
    groups[0] = whole;
    const Index child_size = child_size_of(whole.count);
    struct Cut {
      Index left, right;  ///< places of the halves
    };
    std::array<Cut, WideNode::kWidth / 2> cuts;
    Index count = 1;
    for (int round = 0; round < 4; ++round) {
      std::size_t cut_count = 0;
      for (Index i = count; i-- > 0;)
        if (groups[i].count > child_size) cuts[cut_count++] = {i, count++};
      for_ranges(executor, cut_count, 1, [&](std::size_t begin, std::size_t end) {
        for (std::size_t k = begin; k < end; ++k) {
          const auto halves = halve(groups[cuts[k].left], child_size);
          groups[cuts[k].left] = halves[0];
          groups[cuts[k].right] = halves[1];
        }
      });
    }
    return count;
  }

  /// @param number    of the node; what hangs under it comes right behind it
  /// @param executor  for its parts
  FloatBox make_node(const Group& whole, Index number, const Executor& executor) {
    std::array<Group, WideNode::kWidth> groups;
    const Index count = split(whole, executor, groups);
    WideNode& node = tree_.nodes[number];
    Index next = number + 1;
    for (Index i = 0; i < WideNode::kWidth; ++i) {
      const bool leaf = i < count && groups[i].count <= WideLeaf::kWidth;
      node.child[i] = i >= count ? kNone : (leaf ? groups[i].first / WideLeaf::kWidth | WideNode::kLeafBit : next);
      if (i < count) next += nodes_under(groups[i].count);
    }
    std::array<FloatBox, WideNode::kWidth> boxes;
    for_ranges(executor, count, 1, [&](std::size_t begin, std::size_t end) {
      for (std::size_t i = begin; i < end; ++i)
        boxes[i] =
            (node.child[i] & WideNode::kLeafBit) != 0 ? make_leaf(groups[i]) : make_node(groups[i], node.child[i], {});
    });
    FloatBox all;
    for (std::size_t i = 0; i < WideNode::kWidth; ++i) {
      for (std::size_t k = 0; k < 3; ++k) {
        node.low[k][i] = boxes[i].low[k];
        node.high[k][i] = boxes[i].high[k];
      }
      all.grow(boxes[i]);
    }
    return all;
  }

  FloatBox make_leaf(const Group& group) {
    WideLeaf& leaf = tree_.leaves[group.first / WideLeaf::kWidth];
    // Rounding keeps the order: the least of all, rounded, is the least of what was rounded.
    Vec3 low{1e300, 1e300, 1e300}, high = -low;
    for (Index i = 0; i < group.count; ++i)
      for (const Index v : triangles_[items_[group.first + i].triangle]) {
        const Vec3& p = positions_[v];
        low = {std::min(low.x, p.x), std::min(low.y, p.y), std::min(low.z, p.z)};
        high = {std::max(high.x, p.x), std::max(high.y, p.y), std::max(high.z, p.z)};
      }
    const FloatBox box = rounded_box(low - tree_.middle, high - tree_.middle);
    for (int k = 0; k < 3; ++k) {
      const auto axis = static_cast<std::size_t>(k);
      leaf.middle[k] =
          tree_.middle[k] + 0.5 * (static_cast<double>(box.low[axis]) + static_cast<double>(box.high[axis]));
    }
    double reach = 0, inverse_height = 0;
    for (Index i = 0; i < WideLeaf::kWidth; ++i) {
      const Index triangle = items_[group.first + std::min(i, group.count - 1)].triangle;
      const Tri& c = triangles_[triangle];
      const Vec3 p = positions_[c[0]], q = positions_[c[1]], r = positions_[c[2]];
      const Vec3 a = p - leaf.middle, ab = q - p, ac = r - p;
      for (int k = 0; k < 3; ++k) {
        leaf.a[k][i] = static_cast<float>(a[k]);
        leaf.ab[k][i] = static_cast<float>(ab[k]);
        leaf.ac[k][i] = static_cast<float>(ac[k]);
      }
      leaf.triangle[i] = triangle;
      reach = std::max({reach, squared_length(a), squared_length(q - leaf.middle), squared_length(r - leaf.middle)});
      inverse_height = std::max(inverse_height, inverse_height_of(ab, ac));
    }
    leaf.reach = rounded_up(std::sqrt(reach));
    leaf.inverse_height = rounded_up(inverse_height);
    return box;
  }

  /// Longest edge over double area; infinite for what is too thin, too small or too large for single precision.
  static double inverse_height_of(const Vec3& ab, const Vec3& ac) {
    const double longest = std::max({squared_length(ab), squared_length(ac), squared_length(ac - ab)});
    const double area = squared_length(cross(ab, ac));
    if (!(area > kLeastFloatArea && longest < kLargestFloatEdge)) return std::numeric_limits<double>::infinity();
    return std::sqrt(longest / area);
  }

  WideTree& tree_;
  std::span<const Vec3> positions_;
  std::span<const Tri> triangles_;
  Room<Item> room_;
  Item* items_ = nullptr;
};

}  // namespace

void WideTree::build(std::span<const Vec3> positions, std::span<const Tri> triangles, const Executor& executor) {
  nodes = {};
  leaves = {};
  Vec3 low{1e300, 1e300, 1e300}, high = -low;
  for (const Vec3& p : positions) {
    if (!is_finite(p)) continue;
    low = {std::min(low.x, p.x), std::min(low.y, p.y), std::min(low.z, p.z)};
    high = {std::max(high.x, p.x), std::max(high.y, p.y), std::max(high.z, p.z)};
  }
  middle = low.x <= high.x ? 0.5 * (low + high) : Vec3{};
  Builder(*this, positions, triangles).run(executor);
}

}  // namespace trimtack
