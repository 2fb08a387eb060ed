// SPDX-License-Identifier: MIT
// Union-find with path halving; the smaller number becomes the root (Tarjan & van Leeuwen 1984).
#include "trimtack/components.hpp"

#include <numeric>

#include "core/memory.hpp"

namespace trimtack {
namespace {

Index find_root(std::vector<Index>& parent, Index v) {
  while (parent[v] != v) {
    parent[v] = parent[parent[v]];
    v = parent[v];
  }
  return v;
}

/// Stable counting sort of items by owner; items without owner are left out.
void group_by_owner(std::span<const Index> owner, Index owners, std::vector<Index>& offsets,
                    std::vector<Index>& items) {
  offsets.assign(owners + std::size_t{1}, 0);
  for (const Index o : owner)
    if (o != kNone) ++offsets[o + std::size_t{1}];
  std::partial_sum(offsets.begin(), offsets.end(), offsets.begin());
  items = filled_large<Index>(offsets.back(), 0);
  std::vector<Index> next(offsets.begin(), offsets.end() - 1);
  for (std::size_t i = 0; i < owner.size(); ++i)
    if (owner[i] != kNone) items[next[owner[i]]++] = static_cast<Index>(i);
}

}  // namespace

ComponentMap find_components(const FaceView& faces, const WeldMap& welded) {
  ComponentMap map;
  const Index face_count = faces.face_count();
  std::vector<Index> parent = filled_large<Index>(welded.count(), 0);
  std::iota(parent.begin(), parent.end(), Index{0});
  for (Index f = 0; f < face_count; ++f) {
    const auto corners = faces.face(f);
    if (corners.empty()) continue;
    Index root = find_root(parent, welded.to_welded[corners[0]]);
    for (std::size_t k = 1; k < corners.size(); ++k) {
      const Index other = find_root(parent, welded.to_welded[corners[k]]);
      if (other == root) continue;
      if (other < root) {
        parent[root] = other;
        root = other;
      } else {
        parent[other] = root;
      }
    }
  }
  std::vector<Index> number = filled_large<Index>(welded.count(), kNone);  // component of each root
  map.of_face = filled_large<Index>(face_count, kNone);
  Index count = 0;
  for (Index f = 0; f < face_count; ++f) {
    const auto corners = faces.face(f);
    if (corners.empty()) continue;
    Index& id = number[find_root(parent, welded.to_welded[corners[0]])];
    if (id == kNone) id = count++;
    map.of_face[f] = id;
  }
  map.of_welded = filled_large<Index>(welded.count(), kNone);
  for (Index v = 0; v < welded.count(); ++v) map.of_welded[v] = number[find_root(parent, v)];
  group_by_owner(map.of_face, count, map.face_offsets, map.faces);
  group_by_owner(map.of_welded, count, map.vertex_offsets, map.vertices);
  map.rank_of_welded = filled_large<Index>(welded.count(), kNone);
  for (Index c = 0; c < count; ++c)
    for (Index i = map.vertex_offsets[c]; i < map.vertex_offsets[c + 1]; ++i)
      map.rank_of_welded[map.vertices[i]] = i - map.vertex_offsets[c];
  return map;
}

}  // namespace trimtack
