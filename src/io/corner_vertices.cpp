// SPDX-License-Identifier: MIT
#include "io/corner_vertices.hpp"

#include <algorithm>
#include <cstddef>
#include <utility>

namespace trimtack {

CornerVertices split_corners(const SourceMesh& mesh, bool texcoords, bool normals) {
  texcoords = texcoords && !mesh.corner_texcoord.empty();
  normals = normals && !mesh.corner_normal.empty();
  // Chains of the vertices found at each position; chains are short, so that they are searched one by one.
  std::vector<Index> head(mesh.positions.size(), kNone), next, tail(mesh.positions.size(), kNone);
  std::vector<CornerVertex> found;
  std::vector<Index> found_of_corner(mesh.corner_position.size());
  for (std::size_t corner = 0; corner < mesh.corner_position.size(); ++corner) {
    const CornerVertex want{mesh.corner_position[corner], texcoords ? mesh.corner_texcoord[corner] : kNone,
                            normals ? mesh.corner_normal[corner] : kNone};
    Index i = head[want.position];
    while (i != kNone && (found[i].texcoord != want.texcoord || found[i].normal != want.normal)) i = next[i];
    if (i == kNone) {
      i = static_cast<Index>(found.size());
      found.push_back(want);
      next.push_back(kNone);
      (head[want.position] == kNone ? head[want.position] : next[tail[want.position]]) = i;
      tail[want.position] = i;
    }
    found_of_corner[corner] = i;
  }
  CornerVertices result;
  result.vertices.reserve(std::max(found.size(), head.size()));
  std::vector<Index> final_of(found.size());
  for (std::size_t position = 0; position < head.size(); ++position) {
    if (head[position] == kNone) result.vertices.push_back({static_cast<Index>(position), kNone, kNone});
    for (Index i = head[position]; i != kNone; i = next[i]) {
      final_of[i] = static_cast<Index>(result.vertices.size());
      result.vertices.push_back(found[i]);
    }
  }
  for (Index& corner : found_of_corner) corner = final_of[corner];
  result.of_corner = std::move(found_of_corner);
  return result;
}

}  // namespace trimtack
