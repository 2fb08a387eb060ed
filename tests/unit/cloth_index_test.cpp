// SPDX-License-Identifier: MIT
// Closest points: optimality (no reference code needed), brute force, ties, degenerate triangles.
#include "trimtack/cloth_index.hpp"

#include <catch2/catch.hpp>
#include <limits>
#include <random>

#include "stages/bind/triangle_distance.hpp"
#include "support/reversed_executor.hpp"
#include "support/sheets.hpp"

using namespace trimtack;
using namespace trimtack::testing;

namespace {

constexpr double kFar = std::numeric_limits<double>::infinity();

ClothMesh soup(const std::vector<Vec3>& positions, const std::vector<Tri>& triangles) {
  ClothMesh cloth;
  cloth.positions = positions;
  for (const Tri& t : triangles) {
    cloth.face_corners.insert(cloth.face_corners.end(), t.begin(), t.end());
    cloth.face_offsets.push_back(static_cast<Index>(cloth.face_corners.size()));
  }
  complete_cloth(cloth);
  return cloth;
}

Vec3 random_point(std::mt19937_64& random, double scale) {
  std::uniform_real_distribution<double> d(-scale, scale);
  return {d(random), d(random), d(random)};
}

}  // namespace

TEST_CASE("H1 the closest point of a triangle is optimal: no corner lies beyond it") {
  std::mt19937_64 random(11);
  double worst = 0;
  for (int k = 0; k < 20000; ++k) {
    const Vec3 a = random_point(random, 1), b = random_point(random, 1), c = random_point(random, 1);
    const TrianglePoint hit = closest_on_triangle(a, b, c);
    const double sum = hit.bary[0] + hit.bary[1] + hit.bary[2];
    REQUIRE(std::abs(sum - 1) < 1e-15);
    for (std::size_t i = 0; i < 3; ++i) REQUIRE(hit.bary[i] >= -1e-15);
    // (p - q).(t_i - q) <= 0 with p the origin and q the closest point.
    for (const Vec3& corner : {a, b, c}) worst = std::max(worst, dot(-hit.offset, corner - hit.offset));
  }
  CHECK(worst < 1e-13);
}

TEST_CASE("H4 degenerate triangles are treated as the segment or point that they are") {
  std::mt19937_64 random(12);
  for (int k = 0; k < 5000; ++k) {
    const Vec3 a = random_point(random, 1), b = random_point(random, 1);
    const double t = std::uniform_real_distribution<double>(-0.5, 1.5)(random);
    const Vec3 c = k % 3 == 0 ? a : (k % 3 == 1 ? b : a + t * (b - a));
    const TrianglePoint hit = closest_on_triangle(a, b, c);
    double best = 1e300;
    for (const auto& [p, q] : {std::pair{a, b}, std::pair{b, c}, std::pair{c, a}})
      for (int i = 0; i <= 64; ++i) best = std::min(best, length(p + (i / 64.0) * (q - p)));
    REQUIRE(std::isfinite(hit.squared_distance));
    REQUIRE(std::sqrt(hit.squared_distance) <= best + 1e-9);
    REQUIRE(hit.bary[0] + hit.bary[1] + hit.bary[2] == Approx(1).margin(1e-14));
    const Vec3 again = hit.bary[0] * a + hit.bary[1] * b + hit.bary[2] * c;
    REQUIRE(length(again - hit.offset) < 1e-12);
  }
  const TrianglePoint point = closest_on_triangle({1, 2, 2}, {1, 2, 2}, {1, 2, 2});
  CHECK(point.squared_distance == Approx(9));
}

TEST_CASE("H2 the tree finds what brute force finds, from the surface to far away") {
  std::mt19937_64 random(13);
  std::vector<Vec3> positions;
  std::vector<Tri> triangles;
  for (Index k = 0; k < 400; ++k) {
    const Vec3 middle = random_point(random, 100);
    for (int i = 0; i < 3; ++i) positions.push_back(middle + random_point(random, k % 10 == 0 ? 40 : 4));
    triangles.push_back({3 * k, 3 * k + 1, 3 * k + 2});
  }
  for (const double shift : {0.0, 1e7}) {
    std::vector<Vec3> moved = positions;
    for (Vec3& p : moved) p += {shift, -shift, shift};
    const ClothMesh cloth = soup(moved, triangles);
    const ClothIndex index(cloth);
    std::vector<Vec3> queries;
    for (int k = 0; k < 1000; ++k)
      queries.push_back(Vec3{shift, -shift, shift} + random_point(random, k < 800 ? 120 : 1000));
    std::vector<Surface> found(queries.size());
    index.closest_points(queries, kFar, found);
    for (std::size_t k = 0; k < queries.size(); ++k) {
      double best = kFar;
      for (const Tri& t : triangles)
        best = std::min(
            best, closest_on_triangle(moved[t[0]] - queries[k], moved[t[1]] - queries[k], moved[t[2]] - queries[k])
                      .squared_distance);
      REQUIRE(found[k].distance * found[k].distance == Approx(best).epsilon(1e-14));
      REQUIRE(length(found[k].point - queries[k]) == Approx(found[k].distance).margin(shift * 1e-15));
      if (k > 0) {
        REQUIRE(std::abs(found[k].distance - found[k - 1].distance) <=
                length(queries[k] - queries[k - 1]) * (1 + 1e-12));
      }
    }
    // Projecting twice changes nothing.
    std::vector<Vec3> again;
    for (const Surface& s : found) again.push_back(s.point);
    std::vector<Surface> twice(again.size());
    index.closest_points(again, kFar, twice);
    for (const Surface& s : twice) REQUIRE(s.distance < 1e-12 * (1000 + shift));
  }
}

TEST_CASE("H2 single precision only prunes: needles, all sizes, all distances, to the bit of brute force") {
  const unsigned seed = 15;
  CAPTURE(seed);
  std::mt19937_64 random(seed);
  const auto power = [&](double low, double high) {
    return std::pow(10, std::uniform_real_distribution<double>(low, high)(random));
  };
  for (int round = 0; round < 60; ++round) {
    const double unit = power(-6, 9), edge = unit * power(-4, 0), shift = round % 3 == 0 ? unit * power(0, 6) : 0;
    const int shape = round % 4;  // well shaped, needles, flat neighbours that share edges, points and segments
    std::vector<Vec3> positions;
    std::vector<Tri> triangles;
    for (Index k = 0; k < 300; ++k) {
      const Vec3 middle = Vec3{shift, shift, -shift} + random_point(random, unit);
      const Vec3 a = middle + random_point(random, edge), b = middle + random_point(random, edge);
      Vec3 c = middle + random_point(random, edge);
      if (shape == 1) c = a + power(-9, -1) * (c - a) + 0.5 * (b - a);
      if (shape == 3) c = k % 2 == 0 ? a : 0.5 * (a + b);
      if (shape == 2) {
        const double x = (k % 17) * edge, y = (k / 17) * edge;
        positions.insert(positions.end(), {{x, y, 0}, {x + edge, y, 0}, {x, y + edge, k % 5 == 0 ? 1e-7 * edge : 0}});
      } else {
        positions.insert(positions.end(), {a, b, c});
      }
      triangles.push_back({3 * k, 3 * k + 1, 3 * k + 2});
    }
    const ClothMesh cloth = soup(positions, triangles);
    ClothIndex index(cloth), baseline(cloth);
    baseline.use_baseline_instructions();
    std::vector<Vec3> queries;
    for (int k = 0; k < 300; ++k)
      queries.push_back(positions[static_cast<std::size_t>(3 * k)] + random_point(random, edge * power(-3, 5)));
    std::vector<Surface> found(queries.size()), again(queries.size());
    index.closest_points(queries, kFar, found);
    baseline.closest_points(queries, kFar, again);
    for (std::size_t k = 0; k < queries.size(); ++k) {
      double best = kFar;
      for (const Tri& t : triangles)
        best = std::min(best, closest_on_triangle(positions[t[0]] - queries[k], positions[t[1]] - queries[k],
                                                  positions[t[2]] - queries[k])
                                  .squared_distance);
      CAPTURE(round, k, unit, edge, shift);
      REQUIRE(found[k].distance == std::sqrt(best));
      REQUIRE(found[k].triangle == again[k].triangle);
      REQUIRE(found[k].point == again[k].point);
    }
  }
}

TEST_CASE("H2 a reach limits the search, and non-finite queries and corners are left out") {
  const Pattern pattern = make_pattern({});
  std::vector<Vec3> positions = shaped(pattern, flat_shape);
  positions[3].x = std::nan("");
  const ClothMesh cloth = cloth_of(pattern, positions);
  const ClothIndex index(cloth);
  const std::vector<Vec3> queries{{0, 0, 5}, {0, 0, 11}, {std::nan(""), 0, 0}};
  std::vector<Surface> out(3);
  index.closest_points(queries, 10, out);
  CHECK(out[0].triangle != kNone);
  CHECK(out[0].distance == 5);
  CHECK(out[1].triangle == kNone);
  CHECK(out[2].triangle == kNone);
  const auto around = index.within({0.5, 0.5, 1}, 3);
  REQUIRE_FALSE(around.empty());
  for (std::size_t i = 1; i < around.size(); ++i) CHECK(around[i - 1].distance <= around[i].distance);
  CHECK(around.back().distance <= 3);
}

TEST_CASE("H2 the index is the same whoever builds it, however many corners are no numbers") {
  const Pattern pattern = make_pattern({-200, 200, -200, 200, 2, Cells::Triangles, 0.3, 7, 0});
  std::mt19937_64 random(5);
  std::vector<Vec3> positions = shaped(pattern, flat_shape), queries;
  for (std::size_t v = 0; v < positions.size(); v += 97) positions[v].y = std::nan("");
  const ClothMesh cloth = cloth_of(pattern, positions);
  REQUIRE(cloth.triangles.triangles.size() > 70000);
  const ClothIndex index(cloth), reversed(cloth, test::reversed_executor());
  CHECK(index.memory_bytes() == reversed.memory_bytes());
  for (int k = 0; k < 5000; ++k) queries.push_back(random_point(random, 220));
  std::vector<Surface> found(queries.size()), again(queries.size());
  index.closest_points(queries, kFar, found);
  reversed.closest_points(queries, kFar, again);
  for (std::size_t k = 0; k < queries.size(); ++k) {
    REQUIRE(found[k].triangle != kNone);
    REQUIRE(found[k].triangle == again[k].triangle);
    REQUIRE(found[k].point == again[k].point);
  }
  std::vector<Index> near, near_again;
  index.triangles_near({{-40, -30, -1}, {50, 60, 1}}, near);
  reversed.triangles_near({{-40, -30, -1}, {50, 60, 1}}, near_again);
  CHECK(near.size() > 1000);
  CHECK(near == near_again);
}

TEST_CASE("H3 exact ties go to the geometry, whatever the order of the triangles") {
  // Two sheets at z = -1 and z = 1, the upper one smaller triangles; queries in the middle plane.
  std::mt19937_64 random(14);
  Pattern both;
  append_sheet(both, {-20, 20, -20, 20, 10, Cells::Triangles, 0, 1, 0});
  const std::size_t lower = both.flat.size();
  append_sheet(both, {-20, 20, -20, 20, 5, Cells::Triangles, 0, 1, 1});
  std::vector<Vec3> positions;
  for (std::size_t i = 0; i < both.flat.size(); ++i)
    positions.push_back({both.flat[i].x, both.flat[i].y, i < lower ? -1.0 : 1.0});
  std::vector<Tri> triangles;
  for (std::size_t f = 0; f + 1 < both.offsets.size(); ++f)
    triangles.push_back({both.corners[3 * f], both.corners[3 * f + 1], both.corners[3 * f + 2]});
  std::vector<Index> order(triangles.size());
  for (Index i = 0; i < order.size(); ++i) order[i] = i;
  std::vector<Tri> shuffled(triangles.size());
  std::shuffle(order.begin(), order.end(), random);
  for (std::size_t i = 0; i < order.size(); ++i) shuffled[i] = triangles[order[i]];
  const ClothMesh first = soup(positions, triangles), second = soup(positions, shuffled);
  const ClothIndex p(first), q(second);
  std::vector<Vec3> queries;
  for (int k = 0; k < 500; ++k)
    queries.push_back({std::floor(random_point(random, 15).x), std::floor(random_point(random, 15).y), 0});
  std::vector<Surface> a(queries.size()), b(queries.size());
  p.closest_points(queries, kFar, a);
  q.closest_points(queries, kFar, b);
  for (std::size_t k = 0; k < queries.size(); ++k) {
    REQUIRE(a[k].distance == 1);
    REQUIRE(a[k].point == b[k].point);
    REQUIRE(a[k].triangle == order[b[k].triangle]);
  }
}
