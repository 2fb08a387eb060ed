// SPDX-License-Identifier: MIT
// Rotations of homogeneous deformations, twist and cone: closed forms.
// Sources: Higham 1986 (polar factor); Ogden, Non-linear Elastic Deformations (simple shear); do Carmo (cone,
// cylinder).
#include <catch2/catch.hpp>

#include "support/sheets.hpp"

using namespace trimtack;
using namespace trimtack::testing;

namespace {

struct Bound {
  Pattern pattern;
  std::vector<Vec3> rest;
  BindTable table;
};

/// A jittered mixed mesh with discs of 9 mm at the given pattern points.
Bound bound_sheet(const SheetOptions& sheet, const std::vector<Vec2>& at, const BindOptions& options = {},
                  const Shape& shape = flat_shape) {
  Bound out;
  out.pattern = make_pattern(sheet);
  out.rest = shaped(out.pattern, shape);
  const ClothMesh cloth = cloth_of(out.pattern, out.rest);
  const ClothIndex index(cloth);
  TrimShapes trims;
  for (const Vec2& p : at) {
    const Solid s = disc(shape(p) + Vec3{0, 0, 0.1}, {0, 0, 1}, 4.5, 2.5);
    append_trim(trims, "disc", s.vertices, s.triangles);
  }
  Report report;
  auto table = bind(index, trims, millimetres(), options, report);
  REQUIRE(table);
  out.table = *table;
  return out;
}

const std::vector<Vec2> kSpots{{1.3, 2.1}, {-17.2, 30.4}, {58.5, 3.3}, {-40, -58.9}, {0, 0}};

BindOptions patches_without_noise() {
  BindOptions options;
  options.frame = FrameChoice::Patch;
  options.noise_mm = 0;
  return options;
}

std::vector<FrameChoice> all_choices() { return {FrameChoice::Auto, FrameChoice::Triangle, FrameChoice::Patch}; }

}  // namespace

TEST_CASE("R0 R1 rest gives the identity and a rigid motion is carried over exactly") {
  for (const FrameChoice choice : all_choices()) {
    BindOptions options;
    options.frame = choice;
    const Bound b = bound_sheet({-60, 60, -60, 60, 5, Cells::Mixed, 0.25, 3, 0}, kSpots, options);
    const Mat3 turn = to_matrix({0.18257418583505536, 0.3651483716701107, 0.5477225575051661, 0.7302967433402214});
    const Vec3 shift{120, -900, 440};
    std::vector<Vec3> moved = b.rest;
    for (Vec3& p : moved) p = turn * p + shift;
    for (Index t = 0; t < kSpots.size(); ++t) {
      const Pose rest = evaluate(b.table, t, b.rest), pose = evaluate(b.table, t, moved);
      CHECK(rotation_angle_deg(rest.rotation, Mat3{}) < 1e-12);
      CHECK(length(rest.translation) < 3e-12);
      CHECK(rotation_angle_deg(pose.rotation, turn) < 1e-10);
      const Vec3 spot{kSpots[t].x, kSpots[t].y, 0};
      CHECK(length(apply(pose, spot) - (turn * spot + shift)) < 1e-9);
    }
  }
}

TEST_CASE("R2 R3 R4 R5 shear, any 2x2 map and pure stretch give the polar rotation for every patch") {
  struct Case {
    std::array<double, 4> f;
    double degrees;
  };
  std::vector<Case> cases;
  for (const double g : {0.1, 0.5, 1.0}) cases.push_back({{1, g, 0, 1}, -std::atan(g / 2) * kDeg});
  CHECK(cases[0].degrees == Approx(-2.8624).epsilon(1e-4));
  CHECK(cases[1].degrees == Approx(-14.0362).epsilon(1e-5));
  CHECK(cases[2].degrees == Approx(-26.5651).epsilon(1e-5));
  cases.push_back({{1.2, 0, 0, 1}, 0});        // a frame glued to one edge would turn by up to 5.2 degrees
  cases.push_back({{1.3, 0.2, 0.2, 0.8}, 0});  // symmetric positive definite
  std::mt19937_64 random(21);
  std::uniform_real_distribution<double> d(-1, 1);
  for (int k = 0; k < 50; ++k) {
    const std::array<double, 4> f{1 + 0.7 * d(random), d(random), d(random), 1 + 0.7 * d(random)};
    if (f[0] * f[3] - f[1] * f[2] < 0.05) continue;
    cases.push_back({f, std::atan2(f[2] - f[1], f[0] + f[3]) * kDeg});
  }
  for (const FrameChoice choice : all_choices()) {
    BindOptions options;
    options.frame = choice;
    const Bound b = bound_sheet({-60, 60, -60, 60, 5, Cells::Mixed, 0.25, 4, 0}, kSpots, options);
    for (const Case& c : cases) {
      std::vector<Vec3> moved = b.rest;
      for (Vec3& p : moved) p = {c.f[0] * p.x + c.f[1] * p.y, c.f[2] * p.x + c.f[3] * p.y, p.z};
      const double w = c.degrees / kDeg;
      const Mat3 expected{{std::cos(w), -std::sin(w), 0, std::sin(w), std::cos(w), 0, 0, 0, 1}};
      for (Index t = 0; t < kSpots.size(); ++t)
        REQUIRE(rotation_angle_deg(evaluate(b.table, t, moved).rotation, expected) < 1e-9);
    }
  }
}

TEST_CASE("R6 R11 uniform growth does not turn or scale a trim, and its anchor grows along") {
  const Bound b = bound_sheet({-60, 60, -60, 60, 5, Cells::Quads, 0.2, 5, 0}, kSpots);
  std::vector<Vec3> grown = b.rest;
  for (Vec3& p : grown) p = 1.37 * p;
  for (Index t = 0; t < kSpots.size(); ++t) {
    const Pose pose = evaluate(b.table, t, grown);
    CHECK(rotation_angle_deg(pose.rotation, Mat3{}) < 1e-9);
    const Vec3 origin = b.table.patches[b.table.bindings[t].patch].origin;
    CHECK(length(apply(pose, origin) - 1.37 * origin) < 1e-9);
    // Standoff is kept: the point 2 mm above the anchor stays 2 mm above it.
    CHECK(length(apply(pose, origin + Vec3{0, 0, 2}) - (1.37 * origin + Vec3{0, 0, 2})) < 1e-9);
  }
}

TEST_CASE("R7 mirrored cloth gives a proper rotation by 180 degrees, never a reflection") {
  const Bound b = bound_sheet({-60, 60, -60, 60, 5, Cells::Quads, 0.2, 6, 0}, kSpots);
  std::vector<Vec3> mirrored = b.rest;
  for (Vec3& p : mirrored) p.x = -p.x;
  for (Index t = 0; t < kSpots.size(); ++t) {
    const Mat3 r = evaluate(b.table, t, mirrored).rotation;
    CHECK(dot(r.column(0), cross(r.column(1), r.column(2))) == Approx(1).epsilon(1e-12));
    CHECK(rotation_angle_deg(r, Mat3{}) == Approx(180).epsilon(1e-9));
  }
}

TEST_CASE("R8 a collapsed patch has no frame, and its fallback is another, wider one") {
  BindOptions options;
  options.frame = FrameChoice::Triangle;
  const Bound b = bound_sheet({-60, 60, -60, 60, 5, Cells::Triangles, 0.2, 7, 0}, kSpots, options);
  for (Index t = 0; t < kSpots.size(); ++t) {
    const Binding& binding = b.table.bindings[t];
    REQUIRE(binding.order == 0);
    REQUIRE(binding.fallback != kNone);
    std::vector<Vec3> squashed = b.rest;
    for (const Index v : binding.anchor_triangle) squashed[v] = b.rest[binding.anchor_triangle[0]];
    CHECK(std::isnan(evaluate(b.table, t, squashed).rotation.m[0]));
    const Pose pose = evaluate(b.table, b.table.patches[binding.fallback], squashed);
    CHECK(tilt_deg(pose.rotation, Mat3{}) < 1e-9);
    CHECK(b.table.patches[binding.fallback].count > 3);
  }
}

TEST_CASE("R9 R10 shear gives one angle on square and on elongated patches") {
  for (const double aspect : {1.0, 3.0, 10.0}) {
    // Cells `aspect` times as long as wide: a rigid fit of the patch would be off by up to 13.8 degrees.
    Pattern pattern = make_pattern({-10, 10, -10, 10, 1, Cells::Quads, 0.2, 8, 0});
    const Shape longish = [aspect](const Vec2& p) { return Vec3{p.x * 4 * aspect, p.y * 4, 0}; };
    const std::vector<Vec3> rest = shaped(pattern, longish);
    const ClothMesh cloth = cloth_of(pattern, rest);
    const ClothIndex index(cloth);
    TrimShapes trims;
    const Solid s = disc({1.1, 0.7, 0.1}, {0, 0, 1}, 4.5, 2.5);
    append_trim(trims, "disc", s.vertices, s.triangles);
    for (const FrameChoice choice : all_choices()) {
      BindOptions options;
      options.frame = choice;
      Report report;
      const auto table = bind(index, trims, millimetres(), options, report);
      std::vector<Vec3> sheared = rest;
      for (Vec3& p : sheared) p.x += 0.5 * p.y;
      const double w = -std::atan(0.25);
      const Mat3 expected{{std::cos(w), -std::sin(w), 0, std::sin(w), std::cos(w), 0, 0, 0, 1}};
      CHECK(rotation_angle_deg(evaluate(*table, 0, sheared).rotation, expected) < 1e-9);
    }
  }
}

TEST_CASE("D1 a twisted strip turns trims as its exact frame does") {
  const double k = 30 / kDeg / 100;  // 30 degrees per 100 mm
  const Shape twist = [k](const Vec2& p) { return Vec3{p.x, p.y * std::cos(k * p.x), p.y * std::sin(k * p.x)}; };
  std::vector<double> errors;
  for (const double step : {10.0, 5.0, 2.5}) {
    const Bound b = bound_sheet({-60, 60, -60, 60, step, Cells::Quads, 0.15, 9, 0},
                                {{1.3, 2.1}, {-17.2, 30.4}, {40.1, -21.7}, {12.2, 38.8}}, patches_without_noise());
    const std::vector<Vec3> moved = shaped(b.pattern, twist);
    double sum = 0;
    for (Index t = 0; t < 4; ++t) {
      const Vec3 o = b.table.patches[b.table.bindings[t].patch].origin;
      const double l = std::sqrt(1 + k * k * o.y * o.y), c = std::cos(k * o.x), s = std::sin(k * o.x);
      const Vec3 u = (1 / l) * Vec3{1, -k * o.y * s, k * o.y * c}, v{0, c, s};
      sum += rotation_angle_deg(evaluate(b.table, t, moved).rotation, from_columns(u, v, cross(u, v)));
    }
    errors.push_back(sum / 4);
  }
  INFO(errors[0] << " " << errors[1] << " " << errors[2]);
  CHECK(errors[0] < 0.3);
  CHECK(std::log2(errors[0] / errors[2]) / 2 > 1.5);
}

TEST_CASE("E1 a sheet rolled to a cone turns trims as its exact frame does") {
  const double a = 0.6, sine = std::sin(a), cosine = std::cos(a);
  const auto frame_at = [&](double phi) {
    const double w = phi / sine;
    const Vec3 along{sine * std::cos(w), sine * std::sin(w), -cosine}, hoop{-std::sin(w), std::cos(w), 0};
    return from_columns(along, hoop, cross(along, hoop));
  };
  const auto polar = [](const Vec2& p) { return std::pair{std::hypot(p.x + 150, p.y), std::atan2(p.y, p.x + 150)}; };
  const Shape cone = [&](const Vec2& p) {
    const auto [r, phi] = polar(p);
    const double w = phi / sine;
    return r * Vec3{sine * std::cos(w), sine * std::sin(w), -cosine};
  };
  const Bound b = bound_sheet({-60, 60, -60, 60, 5, Cells::Mixed, 0.15, 10, 0}, kSpots, patches_without_noise());
  const std::vector<Vec3> moved = shaped(b.pattern, cone);
  for (Index t = 0; t < kSpots.size(); ++t) {
    const Vec3 o = b.table.patches[b.table.bindings[t].patch].origin;
    const double phi = polar({o.x, o.y}).second;
    const Mat3 flat{{std::cos(phi), -std::sin(phi), 0, std::sin(phi), std::cos(phi), 0, 0, 0, 1}};
    const Mat3 expected = frame_at(phi) * transposed(flat);
    CHECK(rotation_angle_deg(evaluate(b.table, t, moved).rotation, expected) < 0.08);
  }
}

TEST_CASE("E1 a trim at the tip of a cone is warned of, one on its side or on a flat or rolled sheet is not") {
  const double a = 0.6, sine = std::sin(a), cosine = std::cos(a);
  // Rings of vertices round the tip; a cone of half angle a has 360 sin(a) = 203 degrees at its tip.
  Pattern pattern;
  std::vector<Vec3> rest{{0, 0, 0}};
  constexpr Index kRound = 24, kRings = 12;
  for (Index ring = 1; ring <= kRings; ++ring)
    for (Index k = 0; k < kRound; ++k) {
      const double w = 2 * kPi * k / kRound, r = 5.0 * ring;
      rest.push_back({r * sine * std::cos(w), r * sine * std::sin(w), -r * cosine});
    }
  const auto face = [&](std::initializer_list<Index> corners) {
    pattern.corners.insert(pattern.corners.end(), corners);
    pattern.offsets.push_back(static_cast<Index>(pattern.corners.size()));
    pattern.component.push_back(0);
  };
  const auto at = [](Index ring, Index k) { return 1 + (ring - 1) * kRound + k % kRound; };
  for (Index k = 0; k < kRound; ++k) {
    face({0, at(1, k), at(1, k + 1)});
    for (Index ring = 1; ring < kRings; ++ring)
      face({at(ring, k), at(ring + 1, k), at(ring + 1, k + 1), at(ring, k + 1)});
  }
  const ClothMesh cloth = cloth_of(pattern, rest);
  const ClothIndex index(cloth);
  TrimShapes trims;
  const Solid tip = disc({0, 0, 0.2}, {0, 0, 1}, 5.7, 2);
  append_trim(trims, "tip", tip.vertices, tip.triangles);
  const Vec3 out{cosine, 0, sine};
  const Solid side = disc(40 * Vec3{sine, 0, -cosine} + 0.2 * out, out, 5.7, 2);
  append_trim(trims, "side", side.vertices, side.triangles);
  Report report;
  const auto table = bind(index, trims, millimetres(), {}, report);
  REQUIRE(table);
  REQUIRE(report.findings.size() == 1);
  CHECK(report.findings[0].code == "cloth-pointed");
  CHECK(report.findings[0].subject == "tip");
  CHECK(report.findings[0].message.find("by 157 degrees") != std::string::npos);
  CHECK(table->bindings[0].notes.back().find("comes to a point") != std::string::npos);
  CHECK(table->bindings[1].notes.empty());
  for (const Pattern& sheet : {make_pattern({-60, 60, -60, 60, 5, Cells::Mixed, 0.2, 11, 0})})
    for (const Shape& shape : {Shape(flat_shape), cylinder(20)}) {
      const ClothMesh smooth = cloth_of(sheet, shaped(sheet, shape));
      const ClothIndex smooth_index(smooth);
      TrimShapes one;
      const Solid s = disc({0.3, 0.2, 0.2}, {0, 0, 1}, 2.7, 2);
      append_trim(one, "disc", s.vertices, s.triangles);
      Report silent;
      REQUIRE(bind(smooth_index, one, millimetres(), {}, silent));
      for (const Finding& f : silent.findings) CHECK(f.code != "cloth-pointed");
    }
}
