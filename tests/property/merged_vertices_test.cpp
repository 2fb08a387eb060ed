// SPDX-License-Identifier: MIT
// Garments whose close vertices were merged, as authors do to close gaps: trims then hang on the cloth by single
// vertices or by edges of more than two faces. What is found is compared with the truth of made-up garments.
// Seeds are printed with every fault.
#include <catch2/catch.hpp>
#include <map>

#include "stages/find/pinches.hpp"
#include "support/garment_score.hpp"
#include "trimtack/pipeline.hpp"

using namespace trimtack;
using namespace trimtack::testing;

namespace {

constexpr double kNearMm = 3;

/// The mesh with one vertex of each hard trim merged with the cloth's nearest one, where that is near enough.
/// @param hanging  counts the trims that hang then
SourceMesh hung(const testing::Garment& garment, std::size_t& hanging) {
  SourceMesh mesh = garment.mesh;
  const double near = kNearMm / garment.mm_per_unit;
  using Cell = std::array<long long, 3>;
  const auto cell_of = [&](const Vec3& p) {
    const auto at = [&](double x) { return static_cast<long long>(std::floor(x / near)); };
    return Cell{at(p.x), at(p.y), at(p.z)};
  };
  const auto piece_of = [&](Index f) -> const TruePiece& { return garment.pieces[garment.piece_of_face[f]]; };
  std::map<Cell, std::vector<Index>> cells;  // of the cloth's vertices
  for (Index f = 0; f < mesh.face_count(); ++f)
    if (piece_of(f).role == Role::Cloth)
      for (const Index v : mesh.face(f)) cells[cell_of(mesh.positions[v])].push_back(v);
  struct Closest {
    double distance = 1e300;
    Index own = kNone, cloth = kNone;
  };
  std::map<Index, Closest> of_trim;
  for (Index f = 0; f < mesh.face_count(); ++f) {
    if (piece_of(f).role != Role::Trim) continue;
    Closest& closest = of_trim[piece_of(f).trim];
    for (const Index v : mesh.face(f)) {
      const Cell middle = cell_of(mesh.positions[v]);
      for (long long k = 0; k < 27; ++k) {
        const auto there = cells.find({middle[0] + k % 3 - 1, middle[1] + k / 3 % 3 - 1, middle[2] + k / 9 - 1});
        if (there == cells.end()) continue;
        for (const Index w : there->second) {
          const double distance = length(mesh.positions[w] - mesh.positions[v]);
          if (distance < closest.distance && distance <= near) closest = {distance, v, w};
        }
      }
    }
  }
  std::map<Index, Index> merged;
  for (const auto& [trim, closest] : of_trim)
    if (closest.own != kNone && closest.own != closest.cloth) merged[closest.own] = closest.cloth;
  hanging += merged.size();
  for (Index& v : mesh.corner_position)
    if (const auto at = merged.find(v); at != merged.end()) v = at->second;
  return mesh;
}

struct Lost {
  std::size_t trims = 0, cloth_faces = 0;
  std::string which;
};

/// Hard trims of which most faces are called cloth, and not unsurely; cloth faces that are called something else.
Lost lost(const testing::Garment& garment, const Parts& parts) {
  Lost out;
  std::map<Index, std::array<std::size_t, 2>> faces;  // trim: all, as cloth
  for (Index f = 0; f < parts.source_faces; ++f) {
    const TruePiece& piece = garment.pieces[garment.piece_of_face[f]];
    const Component& component = parts.components[parts.component_of_face[f]];
    if (piece.role == Role::Trim) {
      ++faces[piece.trim][0];
      if (component.role == Role::Cloth && !component.uncertain) ++faces[piece.trim][1];
    } else if (piece.role == Role::Cloth && component.role != Role::Cloth) {
      ++out.cloth_faces;
    }
  }
  for (const auto& [trim, count] : faces) {
    if (2 * count[1] <= count[0]) continue;
    ++out.trims;
    for (const TruePiece& piece : garment.pieces)
      if (piece.role == Role::Trim && piece.trim == trim) out.which += " " + piece.kind;
  }
  return out;
}

Parts parts_of(SourceMesh mesh) {
  Report report;
  const Result<trimtack::Garment> taken = take_apart(std::move(mesh), {}, report);
  REQUIRE(taken);
  return taken->parts;
}

}  // namespace

TEST_CASE("trims merged with the cloth at a vertex: none goes with the cloth, no cloth with the trims") {
  std::size_t hanging = 0;
  for (std::uint64_t seed = 1; seed <= 16; ++seed) {
    const testing::Garment garment = make_garment(seed);
    const Lost before = lost(garment, parts_of(garment.mesh));
    const Lost after = lost(garment, parts_of(hung(garment, hanging)));
    INFO("seed " << seed << ": " << garment.story << "; lost:" << after.which << "; before:" << before.which);
    CHECK(after.trims <= before.trims);
    CHECK(after.cloth_faces <= before.cloth_faces);
  }
  CHECK(hanging >= 200);
}

namespace {

/// Four squares of cloth, and a box that stands on the second one, an edge of its underside the cloth's.
SourceMesh box_on_seam(bool inside_out) {
  SourceMesh mesh;
  mesh.positions = {{0, 0, 0},   {1, 0, 0},   {2, 0, 0}, {0, 1, 0},   {1, 1, 0}, {2, 1, 0}, {1.5, 0, 0}, {1, 0, 1},
                    {1.5, 0, 1}, {1.5, 1, 0}, {1, 1, 1}, {1.5, 1, 1}, {0, 2, 0}, {1, 2, 0}, {2, 2, 0}};
  const auto face = [&](std::array<Index, 4> corners, bool turned) {
    if (turned) std::swap(corners[1], corners[3]);
    mesh.corner_position.insert(mesh.corner_position.end(), corners.begin(), corners.end());
    mesh.face_offsets.push_back(static_cast<Index>(mesh.corner_position.size()));
  };
  face({0, 1, 4, 3}, false);
  face({1, 2, 5, 4}, false);
  face({3, 4, 13, 12}, false);
  face({4, 5, 14, 13}, false);
  for (const std::array<Index, 4>& side :
       {std::array<Index, 4>{1, 4, 9, 6}, {7, 8, 11, 10}, {1, 6, 8, 7}, {6, 9, 11, 8}, {9, 4, 10, 11}, {4, 1, 7, 10}})
    face(side, inside_out);
  return mesh;
}

EdgePieces pieces_of(const SourceMesh& mesh) {
  const WeldMap welded = weld(mesh.positions);
  const ComponentMap components = find_components(view(mesh), welded);
  REQUIRE(components.count() == 1);
  return pieces_over_edges(mesh, welded, components.faces_of(0));
}

}  // namespace

TEST_CASE("pieces over edges: a box whose edge is the cloth's is a piece, whichever way it is wound") {
  for (const bool inside_out : {false, true}) {
    const EdgePieces pieces = pieces_of(box_on_seam(inside_out));
    CAPTURE(inside_out);
    CHECK(pieces.faces == std::vector<std::vector<Index>>{{0, 1, 2, 3}, {4, 5, 6, 7, 8, 9}});
    CHECK(pieces.touching == std::vector<std::array<Index, 2>>{{0, 1}});
  }
}

TEST_CASE("pieces over edges: two boxes set edge to edge are two, and a flap at one corner goes with its box") {
  SourceMesh two;
  two.positions = {{0, 0, 0}, {1, 0, 0}, {1, 1, 0}, {0, 1, 0}, {0, 0, 1}, {1, 0, 1},   {1, 1, 1},
                   {0, 1, 1}, {2, 0, 0}, {2, 1, 0}, {2, 0, 1}, {2, 1, 1}, {2, 0, 1.3}, {2, 0.5, 1.3}};
  const std::vector<std::array<Index, 4>> faces{
      {0, 3, 2, 1},   {4, 5, 6, 7},  {0, 1, 5, 4},   {1, 2, 6, 5},  {2, 3, 7, 6}, {3, 0, 4, 7},    {1, 2, 9, 8},
      {5, 10, 11, 6}, {1, 8, 10, 5}, {8, 9, 11, 10}, {9, 2, 6, 11}, {2, 1, 5, 6}, {10, 12, 13, 10}};
  for (const auto& corners : faces) {
    two.corner_position.insert(two.corner_position.end(), corners.begin(), corners.end());
    two.face_offsets.push_back(static_cast<Index>(two.corner_position.size()));
  }
  const EdgePieces pieces = pieces_of(two);
  REQUIRE(pieces.faces.size() == 2);
  CHECK(pieces.faces[0] == std::vector<Index>{0, 1, 2, 3, 4, 5});
  CHECK(pieces.faces[1] == std::vector<Index>{6, 7, 8, 9, 10, 11, 12});
}
