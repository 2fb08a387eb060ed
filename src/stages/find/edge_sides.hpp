// SPDX-License-Identifier: MIT
/// Sides of faces over welded vertices, to be looked at edge by edge.
#pragma once

#include <algorithm>
#include <span>
#include <vector>

#include "trimtack/mesh.hpp"
#include "trimtack/weld.hpp"

namespace trimtack {

struct FaceSide {
  Index p, q, face;  ///< vertices p < q, the first ones at their places; the face as its lister numbers it
  bool forward;      ///< the face runs from p to q
};

/// Adds the sides of a face, but for those without length.
inline void add_sides(std::span<const Index> corners, const WeldMap& welded, Index face, std::vector<FaceSide>& out) {
  for (std::size_t k = 0; k < corners.size(); ++k) {
    const Index p = welded.of(corners[k]), q = welded.of(corners[k + 1 < corners.size() ? k + 1 : 0]);
    if (p != q) out.push_back({std::min(p, q), std::max(p, q), face, p < q});
  }
}

inline bool same_edge(const FaceSide& a, const FaceSide& b) { return a.p == b.p && a.q == b.q; }

/// By edges, those of one edge by faces.
inline void sort_by_edge(std::vector<FaceSide>& sides) {
  std::sort(sides.begin(), sides.end(), [](const FaceSide& a, const FaceSide& b) {
    if (a.p != b.p) return a.p < b.p;
    return a.q != b.q ? a.q < b.q : a.face < b.face;
  });
}

/// fn(sides) for each edge. @pre sorted by edges
template <class Fn>
void each_edge(std::span<const FaceSide> sides, Fn&& fn) {
  for (std::size_t i = 0; i < sides.size();) {
    std::size_t end = i + 1;
    while (end < sides.size() && same_edge(sides[end], sides[i])) ++end;
    fn(sides.subspan(i, end - i));
    i = end;
  }
}

}  // namespace trimtack
