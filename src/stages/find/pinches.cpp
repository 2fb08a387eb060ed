// SPDX-License-Identifier: MIT
// Around an edge that bodies share, outward normals tell what lies inside: the faces that bound one body follow each
// other. Sheets have no inside; there the faces that go on one another belong together.
#include "stages/find/pinches.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <limits>
#include <map>
#include <numbers>
#include <span>

#include "core/area_vector.hpp"
#include "core/square_to.hpp"
#include "core/union_find.hpp"
#include "stages/find/edge_sides.hpp"

namespace trimtack {
namespace {

// Where more faces meet at an edge than this, nothing tells which belong together.
constexpr std::size_t kMostAtEdge = 8;
// Pieces of fewer faces are no parts: faces that were squeezed flat or folded over.
constexpr Index kFewestFaces = 4;
constexpr int kMostRounds = 4;
constexpr std::size_t kMostAtVertex = 32;  // pieces of which one is chosen
// Faces at an edge that lie on one another but for rounding (radians).
constexpr double kSameAngle = 1e-5;

/// How far two faces are from going on one another: the angle between them, and half a turn more when they are not
/// wound alike.
double turn(const FaceSide& a, const FaceSide& b, std::span<const Vec3> normals) {
  const bool alike = a.forward != b.forward;
  const Vec3& n = normals[a.face];
  const Vec3 m = alike ? normals[b.face] : -normals[b.face];
  return std::atan2(length(cross(n, m)), dot(n, m)) + (alike ? 0 : std::numbers::pi);
}

/// Joins the faces at an edge two by two, those that go on one another best first.
void join_in_pairs(std::span<const FaceSide> sides, std::span<const Vec3> normals, UnionFind& pieces) {
  struct Pair {
    double turn;
    std::size_t a, b;
  };
  std::array<Pair, kMostAtEdge*(kMostAtEdge - 1) / 2> pairs;
  std::size_t count = 0;
  for (std::size_t a = 0; a < sides.size(); ++a)
    for (std::size_t b = a + 1; b < sides.size(); ++b) pairs[count++] = {turn(sides[a], sides[b], normals), a, b};
  std::stable_sort(pairs.begin(), pairs.begin() + static_cast<std::ptrdiff_t>(count),
                   [](const Pair& x, const Pair& y) { return x.turn < y.turn; });
  std::array<bool, kMostAtEdge> taken{};
  for (std::size_t i = 0; i < count; ++i) {
    if (taken[pairs[i].a] || taken[pairs[i].b]) continue;
    taken[pairs[i].a] = taken[pairs[i].b] = true;
    pieces.join(sides[pairs[i].a].face, sides[pairs[i].b].face);
  }
}

/// Joins the faces at an edge two by two where the bodies behind them lie side by side: around the edge, faces with
/// their inside after them and faces with it before them take turns. @return whether they do
bool join_around(const SourceMesh& mesh, std::span<const FaceSide> sides, std::span<const Vec3> normals,
                 UnionFind& pieces) {
  const Vec3 along = normalized(mesh.positions[sides[0].q] - mesh.positions[sides[0].p]);
  const Vec3 u = square_to(along), v = cross(along, u);
  struct Turn {
    double angle;
    const FaceSide* side;
  };
  std::array<Turn, kMostAtEdge> turns;
  for (std::size_t i = 0; i < sides.size(); ++i) {
    const Vec3& n = normals[sides[i].face];
    const Vec3 into = sides[i].forward ? cross(n, along) : cross(along, n);
    if (squared_length(into) == 0) return false;
    // Of two in one place the one with its inside before it comes first.
    turns[i] = {std::atan2(dot(into, v), dot(into, u)) - (sides[i].forward ? kSameAngle : 0), &sides[i]};
  }
  const auto end = turns.begin() + static_cast<std::ptrdiff_t>(sides.size());
  std::stable_sort(turns.begin(), end, [](const Turn& a, const Turn& b) { return a.angle < b.angle; });
  for (std::size_t i = 0; i < sides.size(); ++i)
    if (turns[i].side->forward == turns[(i + 1) % sides.size()].side->forward) return false;
  for (std::size_t i = 0; i < sides.size(); ++i)
    if (!turns[i].side->forward) pieces.join(turns[i].side->face, turns[(i + 1) % sides.size()].side->face);
  return true;
}

/// The sides of faces with an inside in `sides`, of the others in `flat`.
void list_sides(const SourceMesh& mesh, const WeldMap& welded, const IndexList& faces, std::vector<FaceSide>& sides,
                std::vector<FaceSide>& flat) {
  std::vector<FaceSide> own;
  Index local = 0;
  for (const Index f : faces) {
    own.clear();
    add_sides(mesh.face(f), welded, local, own);
    const bool inside = own.size() > 2;
    (inside ? sides : flat).insert((inside ? sides : flat).end(), own.begin(), own.end());
    ++local;
  }
}

/// 1 for each face that lies on another one: with as many corners, the same least and largest and the same sum.
std::vector<std::uint8_t> doubled_faces(const SourceMesh& mesh, const WeldMap& welded, const IndexList& faces) {
  std::vector<std::array<Index, 5>> keys;  // the face last
  keys.reserve(faces.size());
  for (const Index f : faces) {
    std::array<Index, 5> key{0, kNone, 0, 0, static_cast<Index>(keys.size())};
    for (const Index corner : mesh.face(f)) {
      const Index v = welded.of(corner);
      key = {key[0] + 1, std::min(key[1], v), std::max(key[2], v), key[3] + v, key[4]};
    }
    keys.push_back(key);
  }
  std::sort(keys.begin(), keys.end());
  std::vector<std::uint8_t> doubled(keys.size(), 0);
  for (std::size_t i = 1; i < keys.size(); ++i)
    if (std::equal(keys[i].begin(), keys[i].end() - 1, keys[i - 1].begin()))
      doubled[keys[i][4]] = doubled[keys[i - 1][4]] = 1;
  return doubled;
}

/// Longest side of each piece's box, at its first face.
std::vector<double> lengths_of(const SourceMesh& mesh, const IndexList& faces, UnionFind& pieces) {
  constexpr double kFar = std::numeric_limits<double>::infinity();
  std::vector<Box> boxes(faces.size(), {{kFar, kFar, kFar}, {-kFar, -kFar, -kFar}});
  Index local = 0;
  for (const Index f : faces) {
    Box& box = boxes[pieces.find(local++)];
    for (const Index v : mesh.face(f))
      for (int k = 0; k < 3; ++k) {
        box.min[k] = std::min(box.min[k], mesh.positions[v][k]);
        box.max[k] = std::max(box.max[k], mesh.positions[v][k]);
      }
  }
  std::vector<double> lengths;
  lengths.reserve(boxes.size());
  for (const Box& box : boxes) {
    const Vec3 size = box.max - box.min;
    lengths.push_back(std::max({size.x, size.y, size.z}));
  }
  return lengths;
}

/// Joins pieces of too few faces to be anything, those that lie on others not counted, with the piece not smaller than
/// they that they share most vertices with; the one of fewer faces of two.
void join_slivers(const SourceMesh& mesh, const WeldMap& welded, const IndexList& faces, UnionFind& pieces) {
  const auto count = static_cast<Index>(faces.size());
  const std::vector<std::uint8_t> doubled = doubled_faces(mesh, welded, faces);
  for (int round = 0; round < kMostRounds; ++round) {
    std::vector<Index> size(count, 0);
    for (Index i = 0; i < count; ++i) size[pieces.find(i)] += doubled[i] != 0 ? 0 : 1;
    std::vector<std::array<Index, 2>> uses;  // (vertex, piece)
    Index local = 0;
    bool any = false;
    for (const Index f : faces) {
      const Index piece = pieces.find(local++);
      any = any || size[piece] < kFewestFaces;
      for (const Index v : mesh.face(f)) uses.push_back({welded.of(v), piece});
    }
    if (!any) return;
    std::sort(uses.begin(), uses.end());
    uses.erase(std::unique(uses.begin(), uses.end()), uses.end());
    const std::vector<double> lengths = lengths_of(mesh, faces, pieces);
    std::map<std::array<Index, 2>, Index> shared;  // (sliver, other), vertices
    for (std::size_t i = 0; i < uses.size();) {
      std::size_t end = i + 1;
      while (end < uses.size() && uses[end][0] == uses[i][0]) ++end;
      const std::size_t first_few = std::min(end, i + kMostAtVertex);
      for (std::size_t a = i; a < end; ++a)
        for (std::size_t b = i; b < first_few && size[uses[a][1]] < kFewestFaces; ++b)
          if (a != b && lengths[uses[a][1]] <= lengths[uses[b][1]]) ++shared[{uses[a][1], uses[b][1]}];
      i = end;
    }
    for (auto it = shared.begin(); it != shared.end();) {
      auto best = it;
      const Index sliver = it->first[0];
      for (; it != shared.end() && it->first[0] == sliver; ++it)
        if (it->second > best->second || (it->second == best->second && size[it->first[1]] < size[best->first[1]]))
          best = it;
      pieces.join(sliver, best->first[1]);
    }
  }
}

}  // namespace

EdgePieces pieces_over_edges(const SourceMesh& mesh, const WeldMap& welded, const IndexList& component_faces) {
  std::vector<Vec3> normals;
  normals.reserve(component_faces.size());
  for (const Index f : component_faces) normals.push_back(area_vector(mesh.positions, mesh.face(f)));
  std::vector<FaceSide> sides, flat;
  list_sides(mesh, welded, component_faces, sides, flat);
  sort_by_edge(sides);
  UnionFind pieces(static_cast<Index>(component_faces.size()));
  each_edge(sides, [&](std::span<const FaceSide> own) {
    if (own.size() > kMostAtEdge)
      for (const FaceSide& side : own) pieces.join(own.front().face, side.face);
    else if (own.size() < 4 || own.size() % 2 != 0 || !join_around(mesh, own, normals, pieces))
      join_in_pairs(own, normals, pieces);
  });
  for (const FaceSide& side : flat) {
    const auto at = std::lower_bound(sides.begin(), sides.end(), side, [](const FaceSide& a, const FaceSide& b) {
      return a.p != b.p ? a.p < b.p : a.q < b.q;
    });
    if (at != sides.end() && same_edge(*at, side)) pieces.join(at->face, side.face);
  }
  join_slivers(mesh, welded, component_faces, pieces);
  EdgePieces out;
  std::vector<Index> number(component_faces.size(), kNone);
  Index local = 0;
  for (const Index f : component_faces) {
    Index& n = number[pieces.find(local++)];
    if (n == kNone) {
      n = static_cast<Index>(out.faces.size());
      out.faces.emplace_back();
    }
    out.faces[n].push_back(f);
  }
  each_edge(sides, [&](std::span<const FaceSide> own) {
    if (own.size() > kMostAtEdge) return;
    for (std::size_t i = 0; i < own.size(); ++i)
      for (std::size_t k = i + 1; k < own.size(); ++k) {
        const Index a = number[pieces.find(own[i].face)], b = number[pieces.find(own[k].face)];
        if (a != b) out.touching.push_back({std::min(a, b), std::max(a, b)});
      }
  });
  std::sort(out.touching.begin(), out.touching.end());
  out.touching.erase(std::unique(out.touching.begin(), out.touching.end()), out.touching.end());
  return out;
}

}  // namespace trimtack
