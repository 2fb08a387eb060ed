// SPDX-License-Identifier: MIT
/// Disjoint sets of 0 .. n-1. Tarjan 1975, with path halving (Tarjan and van Leeuwen 1984).
#pragma once

#include <algorithm>
#include <numeric>
#include <vector>

#include "trimtack/types.hpp"

namespace trimtack {

/// The least member stands for its set, so that results do not depend on the order of joining.
class UnionFind {
 public:
  explicit UnionFind(Index n) : parent_(n) { std::iota(parent_.begin(), parent_.end(), Index{0}); }
  Index find(Index v) {
    while (parent_[v] != v) v = parent_[v] = parent_[parent_[v]];
    return v;
  }
  void join(Index a, Index b) {
    a = find(a);
    b = find(b);
    parent_[std::max(a, b)] = std::min(a, b);
  }

 private:
  std::vector<Index> parent_;
};

}  // namespace trimtack
