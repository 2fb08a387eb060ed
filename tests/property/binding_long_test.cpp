// SPDX-License-Identifier: MIT
// Trims that are long for their bend, bends seen in frames, stitches.
// Source of the stand-off: sagitta of a chord, R - sqrt(R^2 - d^2 / 4).
#include <catch2/catch.hpp>

#include "support/sheets.hpp"

using namespace trimtack;
using namespace trimtack::testing;

TEST_CASE("G1 stand-off of the button sizes on a bend, and the pieces that would keep a limit") {
  CHECK(bend_standoff(8.89, 30) == Approx(0.331).margin(0.0006));
  CHECK(bend_standoff(11.43, 50) == Approx(0.328).margin(0.0006));
  CHECK(bend_standoff(15.24, 30) == Approx(0.984).margin(0.0006));
  CHECK(bend_standoff(20.32, 100) == Approx(0.517).margin(0.0006));
  CHECK(bend_standoff(25.40, 150) == Approx(0.539).margin(0.0006));
  CHECK(bend_standoff(100, 30) == 30);
  for (const double d : {5.0, 20.0, 80.0, 300.0})
    for (const double r : {15.0, 30.0, 100.0})
      for (const double limit : {0.1, 0.5, 2.0}) {
        const Index n = pieces_within(d, r, limit);
        CHECK(bend_standoff(d / n, r) <= limit * (1 + 1e-9));
        if (n > 1) CHECK(bend_standoff(d / (n - 1), r) > limit);
      }
}

TEST_CASE("a long trim is reported; bound in pieces, each keeps to the bend") {
  const Pattern pattern = make_pattern({-60, 60, -20, 20, 2.5, Cells::Quads, 0.1, 71, 0});
  const std::vector<Vec3> rest = shaped(pattern, flat_shape);
  const ClothMesh cloth = cloth_of(pattern, rest);
  const ClothIndex index(cloth);
  TrimShapes trims;
  Solid chain;
  for (int k = 0; k < 6; ++k) append_box(chain, {-30.0 + 10 * k, -2, 0.1}, {-20.5 + 10 * k, 2, 1.6});
  append_trim(trims, "chain", chain.vertices, chain.triangles);
  for (std::size_t f = 0; f < trims.triangles.size(); ++f)
    trims.component_of_triangle[f] = 40 + static_cast<Index>(f / 12);
  const Solid button = disc({40, 10, 0.1}, {0, 0, 1}, 4, 2);
  append_trim(trims, "button", button.vertices, button.triangles);
  BindOptions options;
  options.gap_limit_mm = 0.5;
  Report report;
  const auto whole = bind(index, trims, millimetres(), options, report);
  REQUIRE(whole->bindings[0].notes.size() == 1);
  CHECK(whole->bindings[0].notes[0].find("59.6 mm long") != std::string::npos);
  CHECK(whole->bindings[0].notes[0].find("6 rigid pieces") != std::string::npos);
  CHECK(whole->bindings[1].notes.empty());

  const TrimShapes pieces = cut_long_trims(trims, millimetres(), options, report);
  REQUIRE(pieces.id.size() == 7);
  CHECK(pieces.name[1] == "chain piece 2");
  CHECK(pieces.id == std::vector<Index>{0, 0, 0, 0, 0, 0, 1});
  CHECK(pieces.vertices.size() == trims.vertices.size());
  const auto table = bind(index, pieces, millimetres(), options, report);
  const std::vector<Vec3> bent = shaped(pattern, cylinder(30));
  const ClothMesh bent_cloth = cloth_of(pattern, bent);
  const ClothIndex bent_index(bent_cloth);
  const auto farthest = [&](const BindTable& of, const TrimShapes& shapes, Index t) {
    const Pose pose = evaluate(of, t, bent);
    double worst = 0;
    for (Index v = shapes.vertex_offsets[t]; v < shapes.vertex_offsets[t + 1]; ++v) {
      if (shapes.vertices[v].z > 0.5) continue;  // the underside
      const Vec3 p = apply(pose, shapes.vertices[v]);
      Surface s;
      bent_index.closest_points({&p, 1}, 1e9, {&s, 1});
      worst = std::max(worst, s.distance);
    }
    return worst;
  };
  CHECK(farthest(*whole, trims, 0) > 10);
  for (Index t = 0; t < 6; ++t) CHECK(farthest(*table, pieces, t) < 0.6);
}

TEST_CASE("frames tell the bend that a trim must expect, and a frame of another cloth is refused") {
  const Pattern pattern = make_pattern({-60, 60, -40, 40, 4, Cells::Mixed, 0.15, 72, 0});
  const std::vector<Vec3> rest = shaped(pattern, cylinder(200));
  const ClothMesh cloth = cloth_of(pattern, rest);
  const ClothIndex index(cloth);
  TrimShapes trims;
  Solid bar;
  append_box(bar, {-25, 3, 0.1}, {15, 6, 2});
  append_trim(trims, "bar", bar.vertices, bar.triangles);
  // From radius 200 at rest to 20 on the same side: the change of curvature is 1/20 - 1/200 = 1/22.2.
  const std::vector<Vec3> tight = shaped(pattern, cylinder(20)), loose = shaped(pattern, cylinder(60));
  BindOptions options;
  options.frames = {loose, tight, rest};
  Report report;
  const auto table = bind(index, trims, millimetres(), options, report);
  REQUIRE(table->bindings[0].notes.size() == 1);
  INFO(table->bindings[0].notes[0]);
  CHECK(table->bindings[0].notes[0].find("radius 2") != std::string::npos);
  double radius = 0;
  const std::string& note = table->bindings[0].notes[0];
  REQUIRE(std::sscanf(note.c_str() + note.find("radius"), "radius %lf", &radius) == 1);
  CHECK(radius == Approx(22.2).margin(1.5));
  options.frames = {rest};
  CHECK(bind(index, trims, millimetres(), options, report)->bindings[0].notes.empty());
  options.frames = {rest, std::span(rest).first(10)};
  const auto refused = bind(index, trims, millimetres(), options, report);
  REQUIRE_FALSE(refused);
  CHECK(refused.error().subject == "frame 1");
}

TEST_CASE("an expected bend in frames chooses as the same bend given by radius") {
  const Pattern pattern = make_pattern({-60, 60, -60, 60, 5, Cells::Mixed, 0.2, 73, 0});
  const std::vector<Vec3> rest = shaped(pattern, flat_shape), bent = shaped(pattern, cylinder(15));
  const ClothMesh cloth = cloth_of(pattern, rest);
  const ClothIndex index(cloth);
  TrimShapes trims;
  const Solid s = disc({1.4, 0.6, 0.1}, {0, 0, 1}, 5.7, 3);
  append_trim(trims, "disc", s.vertices, s.triangles);
  BindOptions by_frames, by_radius;
  by_frames.frames = {bent};
  by_radius.bend_radius_mm = 15;
  Report report;
  const auto p = bind(index, trims, millimetres(), by_frames, report);
  const auto q = bind(index, trims, millimetres(), by_radius, report);
  CHECK(p->bindings[0].order == q->bindings[0].order);
  CHECK(p->bindings[0].bias_deg == Approx(q->bindings[0].bias_deg).epsilon(0.3));
}
