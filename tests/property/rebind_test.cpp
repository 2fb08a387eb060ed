// SPDX-License-Identifier: MIT
// Bindings carried to remeshed and resized cloths.
#include "trimtack/rebind.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <set>

#include "support/sheets.hpp"

using namespace trimtack;
using namespace trimtack::testing;

namespace {

using UvOf = std::function<Vec2(const Vec2&)>;

ClothMesh cloth_with_uv(const Pattern& pattern, const Shape& shape, const UvOf& uv) {
  ClothMesh cloth = cloth_of(pattern, shaped(pattern, shape));
  if (uv)
    for (const Index v : pattern.corners) cloth.corner_uv.push_back(uv(pattern.flat[v]));
  return cloth;
}

/// Two sheets a cloth's thickness apart and the walls between their borders; both have the same UVs.
ClothMesh thick_cloth(const Pattern& sheet, const Shape& outer, const Shape& inner, const UvOf& uv) {
  Pattern both = sheet;
  const auto n = static_cast<Index>(sheet.flat.size());
  both.flat.insert(both.flat.end(), sheet.flat.begin(), sheet.flat.end());
  const auto add_face = [&](const std::vector<Index>& corners) {
    both.corners.insert(both.corners.end(), corners.begin(), corners.end());
    both.offsets.push_back(static_cast<Index>(both.corners.size()));
    both.component.push_back(0);
  };
  std::set<std::pair<Index, Index>> edges;
  for (std::size_t f = 0; f + 1 < sheet.offsets.size(); ++f) {
    std::vector<Index> back;
    for (Index k = sheet.offsets[f + 1]; k-- > sheet.offsets[f];) {
      const Index next = k + 1 < sheet.offsets[f + 1] ? k + 1 : sheet.offsets[f];
      edges.insert({sheet.corners[k], sheet.corners[next]});
      back.push_back(n + sheet.corners[k]);
    }
    add_face(back);
  }
  for (const auto& [a, b] : edges)
    if (!edges.contains({b, a})) add_face({b, a, n + a, n + b});
  ClothMesh cloth = cloth_with_uv(both, outer, uv);
  for (Index v = 0; v < n; ++v) cloth.positions[n + v] = inner(both.flat[v]);
  complete_cloth(cloth);
  return cloth;
}

Vec2 layout(const Vec2& p) { return {0.5 + p.x / 400, 0.5 + p.y / 400}; }

/// A row of five discs across a sheet rolled to radius 60.
const std::vector<Vec2> kSpots{{-40, 5}, {-20, 5}, {0, 5}, {20, 5}, {40, 5}};

TrimShapes row_of_discs(const Shape& shape, double radius) {
  TrimShapes trims;
  for (const Vec2& p : kSpots) {
    const Vec3 up = cylinder_rotation(radius, p).column(2);
    const Solid s = disc(shape(p) + 0.2 * up, up, 4, 2);
    append_trim(trims, "disc " + std::to_string(trims.id.size()), s.vertices, s.triangles);
  }
  return trims;
}

struct Old {
  ClothMesh cloth;
  TrimShapes trims;
  BindTable table;
};
Old old_garment(const UvOf& uv = layout) {
  Old out;
  out.cloth = cloth_with_uv(make_pattern({-60, 60, -60, 60, 10, Cells::Mixed, 0.15, 81, 3}), cylinder(60), uv);
  out.trims = row_of_discs(cylinder(60), 60);
  const ClothIndex index(out.cloth);
  Report report;
  out.table = *bind(index, out.trims, millimetres(), {}, report);
  return out;
}

/// Every trim is congruent to what it was.
void check_rigid(const TrimShapes& before, const TrimShapes& after) {
  REQUIRE(before.vertices.size() == after.vertices.size());
  for (std::size_t v = 1; v < before.vertices.size(); ++v) {
    if (v % 50 == 0) continue;
    const double was = length(before.vertices[v] - before.vertices[v - 1]);
    const double is = length(after.vertices[v] - after.vertices[v - 1]);
    CHECK(is == Approx(was).epsilon(1e-12).margin(1e-12));
  }
}

Vec3 origin_of(const BindTable& table, Index t) { return table.patches[table.bindings[t].patch].origin; }

}  // namespace

TEST_CASE("remeshed, same shape: trims stay where they are, by position, checked by UV") {
  const Old old = old_garment();
  const ClothMesh fine =
      cloth_with_uv(make_pattern({-60, 60, -60, 60, 4, Cells::Quads, 0.1, 82, 0}), cylinder(60), layout);
  const ClothIndex index(fine);
  Report report;
  const auto result = rebind(old.cloth, old.table, old.trims, index, {}, report);
  REQUIRE(result);
  CHECK(result->by == RebindBy::Position);
  CHECK(report.findings.empty());
  CHECK(result->trims.vertices == old.trims.vertices);
  for (Index t = 0; t < kSpots.size(); ++t) {
    CHECK(result->carried[t].carried);
    CHECK(result->carried[t].moved_mm == 0);
    CHECK(result->carried[t].disagreement_mm < 1);
    CHECK(length(origin_of(result->table, t) - origin_of(old.table, t)) < 0.6);  // sag of 10 mm edges at R = 60: 0.2
    CHECK(result->table.bindings[t].layer == 3);
  }
}

TEST_CASE(
    "another size on the same mesh: the old table moves the trims, spacing follows the cloth, trims keep theirs") {
  const Old old = old_garment();
  ClothMesh larger = old.cloth;
  for (Vec3& p : larger.positions) p = 1.12 * p + Vec3{0, 30, 0};
  const ClothIndex index(larger);
  Report report;
  const auto result = rebind(old.cloth, old.table, old.trims, index, {}, report);
  REQUIRE(result);
  CHECK(result->by == RebindBy::Vertex);
  check_rigid(old.trims, result->trims);
  for (Index t = 0; t < kSpots.size(); ++t) {
    CHECK(length(origin_of(result->table, t) - (1.12 * origin_of(old.table, t) + Vec3{0, 30, 0})) < 0.05);
    CHECK(result->carried[t].turned_deg < 1e-6);
    CHECK(result->table.bindings[t].gap == Approx(old.table.bindings[t].gap).margin(0.05));
  }
  for (Index t = 1; t < kSpots.size(); ++t)
    CHECK(length(origin_of(result->table, t) - origin_of(result->table, t - 1)) ==
          Approx(1.12 * length(origin_of(old.table, t) - origin_of(old.table, t - 1))).epsilon(2e-3));
}

/// 15 % wider and rolled to radius 75.
Vec3 wider(const Vec2& p) { return cylinder(75)({1.15 * p.x, 1.1 * p.y}); }

/// Carries the old garment's trims by UV to where they belong on the wider one. @return the largest error of a turn
double carry_to_wider(const Old& old, const ClothMesh& other) {
  const ClothIndex index(other);
  Report report;
  const auto result = rebind(old.cloth, old.table, old.trims, index, {}, report);
  REQUIRE(result);
  CHECK(result->by == RebindBy::Uv);
  CHECK(report.findings.empty());
  check_rigid(old.trims, result->trims);
  double most = 0;
  for (Index t = 0; t < kSpots.size(); ++t) {
    REQUIRE(result->carried[t].carried);
    CHECK(length(origin_of(result->table, t) - wider(kSpots[t])) < 0.4);
    CHECK(result->table.bindings[t].gap == Approx(0.2).margin(0.25));
    const Mat3 expected = cylinder_rotation(75, {1.15 * kSpots[t].x, 0}) * transposed(cylinder_rotation(60, kSpots[t]));
    most = std::max(most, rotation_angle_deg(result->carried[t].motion.rotation, expected));
  }
  return most;
}

TEST_CASE("another size, remeshed, pattern pieces kept: by UV") {
  // Other edges; the layout is normalised as before.
  const Old old = old_garment();
  double most_turned = 0;
  for (const double step : {10.0, 5.0})
    for (const Cells cells : {Cells::Triangles, Cells::Quads}) {
      const ClothMesh other = cloth_with_uv(make_pattern({-60, 60, -60, 60, step, cells, 0.15, 83, 0}), wider, layout);
      most_turned = std::max(most_turned, carry_to_wider(old, other));
    }
  INFO(most_turned);
  CHECK(most_turned < 0.05);
}

TEST_CASE("a size so small that trims, which keep theirs, run into one another is reported, with the pairs") {
  const Old old = old_garment();
  for (const double size : {0.6, 0.35}) {
    ClothMesh smaller = old.cloth;
    for (Vec3& p : smaller.positions) p = size * p;
    const ClothIndex index(smaller);
    Report report;
    const auto result = rebind(old.cloth, old.table, old.trims, index, {}, report);
    REQUIRE(result);
    CHECK(result->by == RebindBy::Vertex);
    check_rigid(old.trims, result->trims);
    const bool meet = size < 0.4;  // discs of 8 mm, 20 mm apart before
    REQUIRE(report.findings.size() == (meet ? 1 : 0));
    for (const CarriedTrim& t : result->carried) CHECK(t.why.empty() != meet);
    if (!meet) continue;
    CHECK(report.findings[0].code == "rebind-collision");
    CHECK(report.findings[0].count == 5);
    CHECK(result->carried[0].why.rfind("runs into disc 1 by ", 0) == 0);
  }
}

TEST_CASE("a graded layout: charts are matched by place and mapped box to box") {
  const Old old = old_garment();
  const UvOf graded = [](const Vec2& p) { return Vec2{3.1 + 1.15 * p.x / 250, 0.2 + 1.1 * p.y / 250}; };
  const ClothMesh other = cloth_with_uv(make_pattern({-60, 60, -60, 60, 5, Cells::Quads, 0.15, 84, 0}), wider, graded);
  const ClothIndex index(other);
  Report report;
  const auto result = rebind(old.cloth, old.table, old.trims, index, {}, report);
  REQUIRE(result);
  CHECK(result->by == RebindBy::Uv);
  for (Index t = 0; t < kSpots.size(); ++t) {
    REQUIRE(result->carried[t].carried);
    CHECK(length(origin_of(result->table, t) - wider(kSpots[t])) < 0.4);
  }
}

TEST_CASE("a pattern piece that was turned or mirrored in the new layout still leads to its own places") {
  const Old old = old_garment();
  const std::vector<UvOf> layouts{[](const Vec2& p) {
                                    return Vec2{3 - p.y / 250, 1 + p.x / 250};
                                  },
                                  [](const Vec2& p) {
                                    return Vec2{3 - p.x / 250, 1 - p.y / 250};
                                  },
                                  [](const Vec2& p) {
                                    return Vec2{3 + p.y / 250, 1 - p.x / 250};
                                  },
                                  [](const Vec2& p) {
                                    return Vec2{3 - p.x / 250, 1 + p.y / 250};
                                  },
                                  [](const Vec2& p) {
                                    return Vec2{0.5 - p.x / 400, 0.5 - p.y / 400};
                                  }};
  for (const UvOf& turned : layouts) {
    const ClothMesh other =
        cloth_with_uv(make_pattern({-60, 60, -60, 60, 5, Cells::Mixed, 0.15, 84, 0}), wider, turned);
    CHECK(carry_to_wider(old, other) < 0.3);
  }
}

TEST_CASE("thick panels whose two sides share their UVs are matched by place, not by the rounding of a direction") {
  const std::vector<double> lefts{-100, -75, -50, -25, 0, 25, 50, 75};
  const auto rolled = [](double radius, double around, double along) -> Shape {
    return [=](const Vec2& p) {
      return Vec3{around * radius * std::sin(p.x / 100), along * p.y, around * radius * std::cos(p.x / 100)};
    };
  };
  const auto garment = [&](double step, std::uint64_t seed, double around, double along, const UvOf& uv) {
    Pattern panels;
    for (const double x : lefts) append_sheet(panels, {x, x + 22, -40, 40, step, Cells::Mixed, 0.15, seed++, 0});
    return thick_cloth(panels, rolled(100, around, along), rolled(99, around, along), uv);
  };
  const ClothMesh cloth = garment(10, 91, 1, 1, layout);
  TrimShapes trims;
  std::vector<Vec2> spots;
  for (const double x : lefts) {
    spots.push_back({x + 9, 5});
    const Solid s = disc(rolled(100.1, 1, 1)(spots.back()), rolled(1, 1, 0)(spots.back()), 4, 2);
    append_trim(trims, "disc", s.vertices, s.triangles);
  }
  Report report;
  const ClothIndex index(cloth);
  const auto table = bind(index, trims, millimetres(), {}, report);
  const UvOf graded = [](const Vec2& p) { return Vec2{0.7 + 0.9 * p.x / 400, 0.1 + 0.96 * p.y / 400}; };
  for (const double step : {11.0, 7.0, 5.0}) {
    const ClothMesh smaller = garment(step, 101, 0.9, 0.96, graded);
    const ClothIndex new_index(smaller);
    const auto result = rebind(cloth, *table, trims, new_index, {}, report);
    REQUIRE(result);
    CHECK(result->by == RebindBy::Uv);
    for (Index t = 0; t < spots.size(); ++t)
      CHECK(length(origin_of(result->table, t) - rolled(100, 0.9, 0.96)(spots[t])) < 0.6);
  }
}

TEST_CASE("mirrored panels that share their UVs are told apart by where they are") {
  Pattern both = make_pattern({-60, -4, -30, 30, 5, Cells::Quads, 0.1, 85, 0});
  append_sheet(both, {4, 60, -30, 30, 5, Cells::Quads, 0.1, 86, 0});
  const UvOf folded = [](const Vec2& p) { return Vec2{std::abs(p.x) / 100, p.y / 100 + 0.5}; };
  const ClothMesh cloth = cloth_with_uv(both, flat_shape, folded);
  TrimShapes trims;
  for (const double x : {-30.0, 30.0}) {
    const Solid s = disc({x, 3, 0.1}, {0, 0, 1}, 4, 2);
    append_trim(trims, "disc", s.vertices, s.triangles);
  }
  Report report;
  const ClothIndex index(cloth);
  const auto table = bind(index, trims, millimetres(), {}, report);
  Pattern finer = make_pattern({-60, -4, -30, 30, 4, Cells::Triangles, 0.1, 87, 0});
  append_sheet(finer, {4, 60, -30, 30, 4, Cells::Triangles, 0.1, 88, 0});
  const Shape grown = [](const Vec2& p) { return Vec3{1.2 * p.x, 1.2 * p.y, 0}; };
  const ClothMesh other = cloth_with_uv(finer, grown, folded);
  const ClothIndex new_index(other);
  RebindOptions options;
  options.by = RebindBy::Uv;
  const auto result = rebind(cloth, *table, trims, new_index, options, report);
  REQUIRE(result);
  CHECK(origin_of(result->table, 0).x == Approx(-36).margin(0.3));
  CHECK(origin_of(result->table, 1).x == Approx(36).margin(0.3));
}

TEST_CASE("UVs that contradict the positions are reported, and so is cloth that is gone") {
  const Old old = old_garment();
  const UvOf slipped = [](const Vec2& p) { return layout({p.x + 14, p.y}); };
  const ClothMesh fine =
      cloth_with_uv(make_pattern({-60, 60, -60, 60, 4, Cells::Quads, 0.1, 82, 0}), cylinder(60), slipped);
  const ClothIndex index(fine);
  Report report;
  RebindOptions options;
  options.by = RebindBy::Position;
  const auto result = rebind(old.cloth, old.table, old.trims, index, options, report);
  REQUIRE(result);
  REQUIRE_FALSE(report.findings.empty());
  CHECK(report.findings[0].code == "rebind-disagrees");
  CHECK(report.findings[0].message.find("14 mm") != std::string::npos);

  // A cloth that ends at x = 30: the disc at 40 has lost its place.
  const ClothMesh shorter =
      cloth_with_uv(make_pattern({-60, 30, -60, 60, 5, Cells::Quads, 0.1, 89, 0}), cylinder(60), {});
  const ClothIndex short_index(shorter);
  Report lost;
  const auto cut = rebind(old.cloth, old.table, old.trims, short_index, options, lost);
  REQUIRE(cut);
  REQUIRE(lost.findings.size() == 2);
  CHECK(lost.findings[0].code == "rebind-no-uv");
  CHECK(lost.findings[0].message.find("the new cloth has no texture coordinates") == 0);
  CHECK(lost.findings[1].code == "rebind-lost");
  CHECK(lost.findings[1].subject == "disc 4");
  CHECK_FALSE(cut->carried[4].carried);
  CHECK(cut->table.bindings[4].patch != kNone);
}

TEST_CASE("cloth that faces the other way under its trims is reported") {
  const Old old = old_garment();
  ClothMesh other = old.cloth;
  for (std::size_t f = 0; f + 1 < other.face_offsets.size(); ++f) {
    std::reverse(other.face_corners.begin() + other.face_offsets[f],
                 other.face_corners.begin() + other.face_offsets[f + 1]);
    std::reverse(other.corner_uv.begin() + other.face_offsets[f], other.corner_uv.begin() + other.face_offsets[f + 1]);
  }
  complete_cloth(other);
  Report report;
  const auto result = rebind(old.cloth, old.table, old.trims, ClothIndex(other), {}, report);
  REQUIRE(result);
  CHECK(result->by == RebindBy::Uv);
  REQUIRE(report.findings.size() == 1);
  CHECK(report.findings[0].code == "rebind-turned-over");
  CHECK(report.findings[0].count == kSpots.size());
  for (const CarriedTrim& trim : result->carried) CHECK(trim.why == "the new cloth faces the other way under it");
}

TEST_CASE("a wish that cannot be met, and tables of another cloth, are refused") {
  const Old old = old_garment();
  const ClothMesh plain =
      cloth_with_uv(make_pattern({-60, 60, -60, 60, 4, Cells::Quads, 0.1, 82, 0}), cylinder(60), {});
  const ClothIndex index(plain);
  Report report;
  RebindOptions options;
  options.by = RebindBy::Uv;
  const auto no_uv = rebind(old.cloth, old.table, old.trims, index, options, report);
  REQUIRE_FALSE(no_uv);
  CHECK(no_uv.error().code == ErrorCode::Usage);
  options.by = RebindBy::Vertex;
  CHECK_FALSE(rebind(old.cloth, old.table, old.trims, index, options, report));
  CHECK_FALSE(rebind(plain, old.table, old.trims, index, {}, report));
  CHECK_FALSE(rebind(old.cloth, old.table, {}, index, {}, report));
}
