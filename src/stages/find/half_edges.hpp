// SPDX-License-Identifier: MIT
/// Sides of faces, to be matched with those of the neighbours.
#pragma once

#include <algorithm>
#include <cstdint>
#include <span>

#include "trimtack/types.hpp"

namespace trimtack {

/// A side of a face, from the smaller of its vertices: the larger one above the face above the direction, so that sides
/// of one edge stand together when they are sorted.
class HalfEdge {
 public:
  HalfEdge() = default;
  HalfEdge(Index to, Index face, bool forward)
      : bits_(std::uint64_t{to} << 32U | std::uint64_t{face} << 1U | (forward ? 1U : 0U)) {}
  Index to() const { return static_cast<Index>(bits_ >> 32U); }
  Index face() const { return static_cast<Index>(bits_) >> 1U; }
  bool forward() const { return (bits_ & 1U) != 0; }  // runs from the smaller to the larger vertex
  friend bool operator<(HalfEdge a, HalfEdge b) { return a.bits_ < b.bits_; }

 private:
  std::uint64_t bits_ = 0;
};

/// Ascending; most vertices have about three edges, for which insertion beats a general sort.
inline void sort_few(std::span<HalfEdge> items) {
  if (items.size() > 16) {
    std::sort(items.begin(), items.end());
    return;
  }
  for (std::size_t i = 1; i < items.size(); ++i) {
    const HalfEdge item = items[i];
    std::size_t j = i;
    for (; j > 0 && item < items[j - 1]; --j) items[j] = items[j - 1];
    items[j] = item;
  }
}

}  // namespace trimtack
