// SPDX-License-Identifier: MIT
// Samples of a trim: both faces of thin parts, whatever the direction; copies of one shape share theirs.
#include "stages/bind/samples.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "support/sheets.hpp"
#include "trimtack/footprint.hpp"

using namespace trimtack;
using namespace trimtack::testing;

namespace {

Mat3 random_turn(std::mt19937_64& random) {
  std::normal_distribution<double> d(0, 1);
  const Vec3 u = normalized({d(random), d(random), d(random)});
  const Vec3 v = normalized(cross(u, {d(random), d(random), d(random)}));
  return from_columns(u, v, cross(u, v));
}

Solid moved(Solid s, const Pose& pose) {
  for (Vec3& p : s.vertices) p = apply(pose, p);
  return s;
}

/// An L of two boxes: no symmetry, so that its mirror image is another shape.
Solid bracket() {
  Solid s;
  append_box(s, {0, 0, 0}, {6, 2, 1});
  append_box(s, {0, 2, 0}, {2, 5, 0.7});
  return s;
}

}  // namespace

TEST_CASE("a thin snap has samples on both faces of both halves and clamps its cloth, in any direction") {
  std::mt19937_64 random(11);
  const Pattern pattern = make_pattern({-30, 30, -30, 30, 4, Cells::Mixed, 0.2, 12, 0});
  for (const double thick : {0.2, 0.5, 1.0})
    for (int trial = 0; trial < 25; ++trial) {
      const Pose pose{random_turn(random), {30, -20, 10}};
      std::vector<Vec3> rest = shaped(pattern, flat_shape);
      for (Vec3& p : rest) p = apply(pose, p);
      const ClothMesh cloth = cloth_of(pattern, rest);
      const ClothIndex index(cloth);
      Solid snap = disc({1, 2, 0.1}, {0, 0, 1}, 5, thick);
      const Solid stud = disc({1, 2, -0.1 - thick}, {0, 0, 1}, 4.5, thick);
      const auto base = static_cast<Index>(snap.vertices.size());
      snap.vertices.insert(snap.vertices.end(), stud.vertices.begin(), stud.vertices.end());
      for (const Tri& t : stud.triangles) snap.triangles.push_back({t[0] + base, t[1] + base, t[2] + base});
      TrimShapes trims;
      const Solid placed = moved(snap, pose);
      append_trim(trims, "snap", placed.vertices, placed.triangles);
      Report report;
      const auto table = bind(index, trims, millimetres(), {}, report);
      REQUIRE(table);
      INFO("thickness " << thick << ", trial " << trial);
      REQUIRE_FALSE(table->bindings[0].notes.empty());
      CHECK(table->bindings[0].notes[0] == "two-sided: clamps its layer");
      double above = 0, below = 0;
      const Footprints feet = find_footprints(index, trims, *table);
      for (const FootprintPoint& p : feet.of(0)) {
        CHECK(std::abs(p.distance) < 0.1 + 0.5 * thick);  // the faces that look at the cloth, not the outer ones
        (p.side > 0 ? above : below) += p.weight;
      }
      CHECK(above > 0.3);
      CHECK(below > 0.3);
      CHECK(table->bindings[0].gap == Approx(0.1).margin(0.05));
    }
}

TEST_CASE("copies of a shape get the samples of the first, moved; what does not fit is sampled for itself") {
  std::mt19937_64 random(13);
  TrimShapes trims;
  const Solid shape = bracket();
  std::vector<Pose> poses;
  for (int k = 0; k < 6; ++k) {
    poses.push_back({random_turn(random), {10.0 * k, 3, -2}});
    const Solid s = moved(shape, poses.back());
    append_trim(trims, "bracket", s.vertices, s.triangles);
    trims.prototype.back() = 0;
    trims.placement.back() = poses.back();
  }
  // The fifth is the mirror image in x, placed where a placement without mirroring would put the first.
  for (Index v = trims.vertex_offsets[4]; v < trims.vertex_offsets[5]; ++v) {
    const Vec3& p = shape.vertices[v - trims.vertex_offsets[4]];
    trims.vertices[v] = apply(poses[4], Vec3{-p.x, p.y, p.z});
  }
  const SharedShapes shared(trims);
  ShapeSampler sampler;
  TrimSampler alone;
  const TrimSampler& first = sampler.sample(shared, trims, 0, 1);
  const std::vector<TrimSample> model(first.samples().begin(), first.samples().end());
  for (const Index t : {1U, 2U, 3U, 5U}) {
    const TrimSampler& own = sampler.sample(shared, trims, t, 1);
    const Mat3 turn = poses[t].rotation * transposed(poses[0].rotation);
    REQUIRE(own.samples().size() == model.size());
    for (std::size_t i = 0; i < model.size(); ++i) {
      const Vec3 expected = turn * (model[i].point - poses[0].translation) + poses[t].translation;
      CHECK(length(own.samples()[i].point - expected) < 1e-12);
      CHECK(length(own.samples()[i].normal - turn * model[i].normal) < 1e-12);
      CHECK(own.samples()[i].weight == model[i].weight);
    }
    CHECK(length(own.centroid() - (turn * (first.centroid() - poses[0].translation) + poses[t].translation)) < 1e-9);
  }
  const TrimSampler& mirrored = sampler.sample(shared, trims, 4, 1);
  const auto expected = sample_trim(alone, trims, 4, 1);
  REQUIRE(mirrored.samples().size() == expected.size());
  for (std::size_t i = 0; i < expected.size(); ++i) CHECK(mirrored.samples()[i].point == expected[i].point);
}
