// SPDX-License-Identifier: MIT
#include "trimtack/trims_again.hpp"

#include <algorithm>
#include <limits>
#include <map>
#include <utility>
#include <vector>

#include "trimtack/components.hpp"
#include "trimtack/features.hpp"
#include "trimtack/weld.hpp"

namespace trimtack {
namespace {

constexpr double kSameSize = 1.2;  // of the spread about the mean

struct Pieces {
  ComponentMap map;
  std::vector<Shape> shapes;
};

Pieces pieces_of(const SourceMesh& mesh, const Executor& executor) {
  Pieces pieces;
  pieces.map = find_components(view(mesh), weld(mesh.positions));
  pieces.shapes = measure_shapes(view(mesh), pieces.map, executor);
  return pieces;
}

using Counts = std::pair<Index, Index>;  // of faces and welded vertices

Counts counts_of(const Shape& shape) { return {shape.face_count, shape.vertex_count}; }

}  // namespace

TrimsAgain find_trims_again(const SourceMesh& garment, const Parts& parts, const SourceMesh& other,
                            const Executor& executor) {
  struct Sizes {
    double least = std::numeric_limits<double>::infinity(), most = 0;
  };
  TrimsAgain out;
  const Pieces before = pieces_of(garment, executor);
  std::vector<bool> is_cloth(before.map.count(), false);  // also where a trim that was cut off meets its cloth
  for (Index f = 0; f < garment.face_count(); ++f) {
    const Index piece = before.map.of_face[f];
    if (piece != kNone && parts.components[parts.component_of_face[f]].role == Role::Cloth) is_cloth[piece] = true;
  }
  std::map<Counts, Sizes> of_trims;
  for (std::size_t i = 0; i < before.shapes.size(); ++i) {
    if (is_cloth[i]) continue;
    Sizes& sizes = of_trims[counts_of(before.shapes[i])];
    sizes = {std::min(sizes.least, before.shapes[i].spread[0]), std::max(sizes.most, before.shapes[i].spread[0])};
    ++out.wanted;
  }
  for (std::size_t i = 0; i < before.shapes.size(); ++i) {
    if (is_cloth[i]) of_trims.erase(counts_of(before.shapes[i]));
  }
  for (const Shape& now : pieces_of(other, executor).shapes) {
    const auto like = of_trims.find(counts_of(now));
    if (like == of_trims.end()) continue;
    const double size = now.spread[0];
    out.seen += size * kSameSize >= like->second.least && size <= kSameSize * like->second.most ? 1 : 0;
  }
  return out;
}

}  // namespace trimtack
