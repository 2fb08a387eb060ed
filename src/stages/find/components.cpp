// SPDX-License-Identifier: MIT
// Union-find with path halving; the smaller number becomes the root (Tarjan & van Leeuwen 1984).
#include "trimtack/components.hpp"

#include <numeric>
#include <utility>

#include "core/memory.hpp"
#include "stages/find/joined_vertices.hpp"

namespace trimtack {
namespace {

Index find_root(std::vector<Index>& parent, Index v) {
  while (parent[v] != v) {
    parent[v] = parent[parent[v]];
    v = parent[v];
  }
  return v;
}

/// The smaller of two roots becomes the root of both. @return it
Index join_roots(std::vector<Index>& parent, Index a, Index b) {
  if (a < b) std::swap(a, b);
  return parent[a] = b;
}

/// Replaces what leads to the smallest vertex of a component by the component's number in the order of those.
/// @return how many there are
Index number_by_vertex(std::vector<Index>& parent) {
  Index count = 0;
  for (Index v = 0; v < parent.size(); ++v) parent[v] = parent[v] == v ? count++ : parent[parent[v]];
  return count;
}

struct OwnedRun {
  Index owner, first, count;
};

IndexLists list_by_owner(std::span<const OwnedRun> found, Index owners) {
  IndexLists out;
  out.run_offsets = filled_large<Index>(owners + std::size_t{1}, 0);
  out.offsets = filled_large<Index>(owners + std::size_t{1}, 0);
  for (const OwnedRun& run : found) {
    ++out.run_offsets[run.owner + std::size_t{1}];
    out.offsets[run.owner + std::size_t{1}] += run.count;
  }
  std::partial_sum(out.run_offsets.begin(), out.run_offsets.end(), out.run_offsets.begin());
  std::partial_sum(out.offsets.begin(), out.offsets.end(), out.offsets.begin());
  out.runs = filled_large<IndexRun>(found.size(), {});
  std::vector<Index> next(out.run_offsets.begin(), out.run_offsets.end() - 1);
  std::vector<Index> at(out.offsets.begin(), out.offsets.end() - 1);
  for (const OwnedRun& run : found) {
    out.runs[next[run.owner]++] = {run.first, at[run.owner]};
    at[run.owner] += run.count;
  }
  return out;
}

/// Runs of one owner within [begin, end).
void add_runs(std::span<const Index> owner, std::size_t begin, std::size_t end, std::vector<OwnedRun>& out) {
  while (begin < end) {
    const std::size_t first = begin++;
    while (begin < end && owner[begin] == owner[first]) ++begin;
    if (owner[first] != kNone)
      out.push_back({owner[first], static_cast<Index>(first), static_cast<Index>(begin - first)});
  }
}

}  // namespace

std::vector<Index> join_by_faces(const FaceView& faces) {
  std::vector<Index> parent = filled_large<Index>(faces.positions.size(), 0);
  std::iota(parent.begin(), parent.end(), Index{0});
  for (Index f = 0; f < faces.face_count(); ++f) {
    const auto corners = faces.face(f);
    if (corners.empty()) continue;
    Index root = find_root(parent, corners[0]);
    for (const Index v : corners.subspan(1)) {
      if (parent[v] == root) continue;
      const Index other = find_root(parent, v);
      if (other != root) root = join_roots(parent, root, other);
    }
  }
  return parent;
}

ComponentMap find_components(const FaceView& faces, const WeldMap& welded) {
  return find_components(faces, welded, join_by_faces(faces));
}

ComponentMap find_components(const FaceView& faces, const WeldMap& welded, std::vector<Index> joined) {
  for (std::size_t i = 0; i < welded.later.size(); ++i) {
    const Index a = find_root(joined, welded.later[i]);
    const Index b = find_root(joined, welded.first[i]);
    if (a != b) join_roots(joined, a, b);
  }
  ComponentMap map;
  const Index face_count = faces.face_count();
  map.of_vertex = std::move(joined);
  std::vector<Index> number(number_by_vertex(map.of_vertex), kNone);
  map.of_face = filled_large<Index>(face_count, kNone);
  Index count = 0;
  for (Index f = 0; f < face_count; ++f) {
    const auto corners = faces.face(f);
    if (corners.empty()) continue;
    Index& id = number[map.of_vertex[corners[0]]];
    if (id == kNone) id = count++;
    map.of_face[f] = id;
  }
  for (Index& c : map.of_vertex) c = number[c];
  std::vector<OwnedRun> runs;
  reserve_large(runs, count);
  add_runs(map.of_face, 0, face_count, runs);
  map.faces = list_by_owner(runs, count);
  runs.clear();
  std::vector<OwnedRun> later;
  std::size_t begin = 0;
  for (const Index v : welded.later) {
    add_runs(map.of_vertex, begin, v, runs);
    add_runs(map.of_vertex, v, v + std::size_t{1}, later);
    begin = v + std::size_t{1};
  }
  add_runs(map.of_vertex, begin, map.of_vertex.size(), runs);
  map.vertices = list_by_owner(runs, count);
  map.later = list_by_owner(later, count);
  return map;
}

}  // namespace trimtack
