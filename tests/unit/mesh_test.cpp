// SPDX-License-Identifier: MIT
#include "trimtack/mesh.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <random>

using namespace trimtack;

namespace {

struct Polygons {
  std::vector<Vec3> positions;
  std::vector<Index> offsets{0}, corners;
  FaceView view() const { return {positions, offsets, corners}; }
};

Polygons one_face(std::vector<Vec3> positions) {
  Polygons polygons;
  polygons.positions = std::move(positions);
  for (Index i = 0; i < polygons.positions.size(); ++i) polygons.corners.push_back(i);
  polygons.offsets.push_back(static_cast<Index>(polygons.corners.size()));
  return polygons;
}

double signed_area_z(const Polygons& polygons, const Triangles& triangles) {
  double sum = 0;
  for (const Tri& t : triangles.triangles) {
    sum += 0.5 * cross(polygons.positions[t[1]] - polygons.positions[t[0]],
                       polygons.positions[t[2]] - polygons.positions[t[0]])
                     .z;
  }
  return sum;
}

double least_area_z(const Polygons& polygons, const Triangles& triangles) {
  double least = std::numeric_limits<double>::infinity();
  for (const Tri& t : triangles.triangles) {
    least = std::min(least, 0.5 * cross(polygons.positions[t[1]] - polygons.positions[t[0]],
                                        polygons.positions[t[2]] - polygons.positions[t[0]])
                                      .z);
  }
  return least;
}

double polygon_area_z(const std::vector<Vec3>& p) {
  double sum = 0;
  for (std::size_t i = 0; i < p.size(); ++i) sum += 0.5 * cross(p[i], p[(i + 1) % p.size()]).z;
  return sum;
}

/// The cut of a quad as the pair of vertices it joins.
std::pair<Index, Index> diagonal(const Triangles& triangles) {
  REQUIRE(triangles.triangles.size() == 2);
  std::vector<Index> shared;
  for (const Index i : triangles.triangles[0]) {
    if (std::count(triangles.triangles[1].begin(), triangles.triangles[1].end(), i) != 0) shared.push_back(i);
  }
  REQUIRE(shared.size() == 2);
  return std::minmax(shared[0], shared[1]);
}

/// The same quad from every first corner and in both directions.
std::vector<Polygons> orders_of(const Polygons& quad) {
  std::vector<Polygons> all;
  for (int turn = 0; turn < 4; ++turn) {
    for (const bool reversed : {false, true}) {
      Polygons order = quad;
      std::rotate(order.corners.begin(), order.corners.begin() + turn, order.corners.end());
      if (reversed) std::reverse(order.corners.begin(), order.corners.end());
      all.push_back(order);
    }
  }
  return all;
}

}  // namespace

TEST_CASE("a quad is cut so that its halves agree, whatever corner comes first") {
  struct Case {
    std::vector<Vec3> positions;
    std::pair<Index, Index> cut;
  };
  const std::vector<Case> cases{
      {{{0, 0, 0}, {1, 0, 0}, {1, 1, 0}, {0, 1, 0}}, {0, 2}},        // square: a tie, the cut with the smallest vertex
      {{{0, 0, 0}, {4, 0, 0}, {5, 1, 0}, {1, 1, 0}}, {1, 3}},        // planar: the shorter diagonal
      {{{0, 0, 0}, {2, 0, 0}, {2, 2, 0}, {1.6, 0.4, 0}}, {1, 3}},    // concave at 3
      {{{0, 0, 0}, {1, 0, 0.3}, {1, 1, 0}, {0, 1, 0.05}}, {0, 2}},   // bent
      {{{0, 0, 0}, {5, -1e-7, 0}, {10, 0, 0}, {5, 30, 0}}, {1, 3}},  // a corner on an edge, but for rounding: no needle
      {{{1e7, 0, 0}, {1e7 + 1, 0, 0}, {1e7 + 1, 1, 0}, {1e7, 1, 0}}, {0, 2}}};
  for (std::size_t i = 0; i < cases.size(); ++i) {
    INFO("case " << i);
    for (const Polygons& order : orders_of(one_face(cases[i].positions))) {
      CHECK(diagonal(triangulate(order.view())) == cases[i].cut);
    }
  }
}

TEST_CASE("random quads are cut the same from every first corner and in both directions") {
  std::mt19937_64 random(11);
  const auto coordinate = [&] { return static_cast<double>(random() % 2001) / 1000 - 1; };
  for (int i = 0; i < 3000; ++i) {
    const Polygons quad = one_face({{coordinate(), coordinate(), coordinate()},
                                    {coordinate(), coordinate(), coordinate()},
                                    {coordinate(), coordinate(), coordinate()},
                                    {coordinate(), coordinate(), coordinate()}});
    const std::pair<Index, Index> cut = diagonal(triangulate(quad.view()));
    for (const Polygons& order : orders_of(quad)) {
      INFO("seed 11, case " << i);
      CHECK(diagonal(triangulate(order.view())) == cut);
    }
  }
}

TEST_CASE("concave n-gons are covered without overlap") {
  const std::vector<Vec3> comb{{0, 0, 0}, {7, 0, 0}, {7, 3, 0}, {6, 3, 0}, {6, 1, 0}, {4, 1, 0},
                               {4, 3, 0}, {3, 3, 0}, {3, 1, 0}, {1, 1, 0}, {1, 3, 0}, {0, 3, 0}};
  const Polygons polygon = one_face(comb);
  const Triangles triangles = triangulate(polygon.view());
  CHECK(triangles.triangles.size() == comb.size() - 2);
  // Exact numbers: every triangle has positive area and the sum is the polygon's.
  CHECK(least_area_z(polygon, triangles) > 0);
  CHECK(signed_area_z(polygon, triangles) == polygon_area_z(comb));
}

TEST_CASE("random star-shaped n-gons are covered without overlap") {
  std::mt19937_64 random(3);
  for (int i = 0; i < 500; ++i) {
    INFO("seed 3, case " << i);
    const std::size_t count = 5 + random() % 60;
    std::vector<Vec3> star;
    for (std::size_t k = 0; k < count; ++k) {
      const double angle = 6.283185307179586 * static_cast<double>(k) / static_cast<double>(count);
      const double radius = 1 + static_cast<double>(random() % 1000) / 250;
      star.push_back({radius * std::cos(angle), radius * std::sin(angle), 0});
    }
    const Polygons polygon = one_face(star);
    const Triangles triangles = triangulate(polygon.view());
    CHECK(triangles.triangles.size() == count - 2);
    CHECK(least_area_z(polygon, triangles) > -1e-12);
    CHECK(signed_area_z(polygon, triangles) == Approx(polygon_area_z(star)).epsilon(1e-12));
  }
}

TEST_CASE("vertices on the edges of a polygon, but for rounding, make no needles") {
  std::mt19937_64 random(17);
  for (int i = 0; i < 200; ++i) {
    INFO("seed 17, case " << i);
    // A square of 10 with the middles of some edges, each moved by up to a ten-millionth.
    std::vector<Vec3> positions;
    const std::vector<Vec3> square{{0, 0, 0}, {10, 0, 0}, {10, 10, 0}, {0, 10, 0}};
    const auto middles = 1 + random() % 15;
    for (std::size_t k = 0; k < 4; ++k) {
      positions.push_back(square[k]);
      const auto off = [&] { return static_cast<double>(random() % 2001) * 1e-10 - 1e-7; };
      if ((middles >> k & 1) != 0) positions.push_back(0.5 * (square[k] + square[(k + 1) % 4]) + Vec3{off(), off(), 0});
    }
    for (const Polygons& polygon : orders_of(one_face(positions))) {
      const Triangles triangles = triangulate(polygon.view());
      CHECK(triangles.triangles.size() == positions.size() - 2);
      for (const Tri& t : triangles.triangles) {
        const Vec3 &a = polygon.positions[t[0]], &b = polygon.positions[t[1]], &c = polygon.positions[t[2]];
        const double longest = std::max({squared_length(a - b), squared_length(b - c), squared_length(c - a)});
        CHECK(length(cross(b - a, c - a)) / longest > 0.39);
      }
    }
  }
}

TEST_CASE("degenerate and self-crossing n-gons still give corners - 2 triangles") {
  const double t = 1;
  for (const std::vector<Vec3>& positions :
       {std::vector<Vec3>{{0, 0, 0}, {0, 0, 0}, {0, 0, 0}, {0, 0, 0}, {0, 0, 0}},
        std::vector<Vec3>{{0, 0, 0}, {1, 0, 0}, {2, 0, 0}, {3, 0, 0}, {4, 0, 0}, {5, 0, 0}},
        std::vector<Vec3>{{0, 0, 0}, {t, t, 0}, {t, 0, 0}, {0, t, 0}, {2, 2, 0}},
        std::vector<Vec3>{{0, 0, 0}, {1, 0, 0}, {0, 0, 0}, {1, 0, 0}, {0, 0, 0}, {1, 0, 0}},
        std::vector<Vec3>{{0, 0, 0}, {0, 0, 0}, {0, 0, 0}, {0, 0, 0}}}) {
    CHECK(triangulate(one_face(positions).view()).triangles.size() == positions.size() - 2);
  }
}

TEST_CASE("an n-gon of 200,000 corners is cut in reasonable time") {
  // Every second corner is reflex: the naive test would look at 10^10 pairs.
  std::vector<Vec3> gear;
  constexpr int kCount = 200000;
  for (int i = 0; i < kCount; ++i) {
    const double angle = 6.283185307179586 * i / kCount;
    const double radius = i % 2 == 0 ? 10 : 9;
    gear.push_back({radius * std::cos(angle), radius * std::sin(angle), 0});
  }
  CHECK(triangulate(one_face(gear).view()).triangles.size() == kCount - 2);
}

TEST_CASE("triangles name their corners and faces") {
  Polygons polygons;
  polygons.positions = {{0, 0, 0}, {1, 0, 0}, {1, 1, 0}, {0, 1, 0}, {0.5, 1.5, 0}};
  polygons.corners = {2, 1, 0, 0, 1, 2, 3, 0, 1, 2, 4, 3};
  polygons.offsets = {0, 3, 7, 12};
  const Triangles triangles = triangulate(polygons.view());
  CHECK(triangles.face == std::vector<Index>{0, 1, 1, 2, 2, 2});
  for (std::size_t t = 0; t < triangles.triangles.size(); ++t) {
    for (std::size_t k = 0; k < 3; ++k) {
      CHECK(polygons.corners[triangles.corners[t][k]] == triangles.triangles[t][k]);
      CHECK(triangles.corners[t][k] >= polygons.offsets[triangles.face[t]]);
      CHECK(triangles.corners[t][k] < polygons.offsets[triangles.face[t] + 1]);
    }
  }
}

TEST_CASE("the state of a face is that of the last run before it") {
  SourceMesh mesh;
  mesh.states = {{2, {0, kNone, kNone, 1}}, {5, {1, 0, 0, 1}}};
  CHECK(state_of(mesh, 1) == FaceState{});
  CHECK(state_of(mesh, 2) == mesh.states[0].state);
  CHECK(state_of(mesh, 4) == mesh.states[0].state);
  CHECK(state_of(mesh, 5) == mesh.states[1].state);
  CHECK(state_of(mesh, 500) == mesh.states[1].state);
}

TEST_CASE("bounds are those of the points, and zero without any") {
  CHECK(bounds({}).min == Vec3{});
  const std::vector<Vec3> points{{1, -2, 3}, {-1, 5, 3.5}};
  CHECK(bounds(points).min == Vec3{-1, -2, 3});
  CHECK(bounds(points).max == Vec3{1, 5, 3.5});
}

TEST_CASE("same_content sees every difference and says where") {
  SourceMesh base;
  base.positions = {{0, 0, 0}, {1, 0, 0}, {0, 1, 0}};
  base.texcoords = {{0, 0}};
  base.normals = {{0, 0, 1}};
  base.face_offsets = {0, 3};
  base.corner_position = {0, 1, 2};
  base.corner_texcoord = {0, 0, 0};
  base.corner_normal = {0, 0, 0};
  base.objects = {"Front"};
  base.states = {{0, {0, kNone, kNone, kNone}}};
  base.material_libraries = {"coat.mtl"};
  base.loose = {{ElementKind::Line, {0, 1}, {}, 1, {}}};
  CHECK(same_content(base, base));
  const auto differs = [&](auto change) {
    SourceMesh other = base;
    change(other);
    std::string where;
    CHECK_FALSE(same_content(base, other, &where));
    CHECK_FALSE(where.empty());
  };
  differs([](SourceMesh& m) { m.positions[1].y = -0.0; });  // to the bit
  differs([](SourceMesh& m) { m.positions.pop_back(); });
  differs([](SourceMesh& m) { m.position_weights = {1, 1, 1}; });
  differs([](SourceMesh& m) { m.colours = {{1, 1, 1}, {1, 1, 1}, {1, 1, 1}}; });
  differs([](SourceMesh& m) { m.texcoords[0].x = 1; });
  differs([](SourceMesh& m) { m.texcoord_w = {0}; });
  differs([](SourceMesh& m) { m.normals[0].z = -1; });
  differs([](SourceMesh& m) { m.face_offsets = {0, 2, 3}; });
  differs([](SourceMesh& m) { m.corner_position[0] = 1; });
  differs([](SourceMesh& m) { m.corner_texcoord[2] = kNone; });
  differs([](SourceMesh& m) { m.corner_normal.clear(); });
  differs([](SourceMesh& m) { m.objects[0] = "Back"; });
  differs([](SourceMesh& m) { m.states[0].first_face = 1; });
  differs([](SourceMesh& m) { m.material_libraries.clear(); });
  differs([](SourceMesh& m) { m.loose[0].kind = ElementKind::Point; });
  differs([](SourceMesh& m) { m.loose[0].before_face = 0; });
  differs([](SourceMesh& m) { m.loose.clear(); });
  // What does not count.
  SourceMesh other = base;
  other.file = "other.obj";
  other.objects = {"unused", "Front"};
  other.states[0].state.object = 1;
  other.colour_alpha.assign(3, std::numeric_limits<double>::quiet_NaN());
  CHECK(same_content(base, other));
}

TEST_CASE("new positions forget the text of the old ones only") {
  SourceMesh mesh;
  mesh.positions = {{1, 2, 3}};
  auto text = std::make_shared<SourceText>();
  text->count = {1, 0, 1};
  mesh.text = text;
  set_positions(mesh, {{4, 5, 6}});
  CHECK(mesh.positions[0] == Vec3{4, 5, 6});
  CHECK(mesh.text->count[0] == 0);
  CHECK(mesh.text->count[2] == 1);
  CHECK(text->count[0] == 1);  // shared with other meshes: not touched
}
