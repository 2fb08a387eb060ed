// SPDX-License-Identifier: MIT
// Bends: cylinder, catenoid to helicoid, Schwarz lantern, borders, long rows, remeshing.
// Sources: do Carmo, Differential Geometry of Curves and Surfaces (cylinder, catenoid-helicoid family); Schwarz 1890
// and Morvan & Thibert 2004 (lantern). Derivations of the closed errors stand beside their checks.
#include <catch2/catch.hpp>

#include "stages/bind/frame_fit.hpp"
#include "support/sheets.hpp"

using namespace trimtack;
using namespace trimtack::testing;

namespace {

BindTable bind_discs(const Pattern& pattern, const std::vector<Vec3>& rest, const std::vector<Vec3>& feet,
                     const std::vector<Vec3>& ups, const BindOptions& options, double radius = 2) {
  const ClothMesh cloth = cloth_of(pattern, rest);
  const ClothIndex index(cloth);
  TrimShapes trims;
  for (std::size_t i = 0; i < feet.size(); ++i) {
    const Solid s = disc(feet[i] + 0.02 * radius * ups[i], ups[i], radius, radius);
    append_trim(trims, "disc", s.vertices, s.triangles);
  }
  Report report;
  auto table = bind(index, trims, millimetres(), options, report);
  REQUIRE(table);
  return *table;
}

BindOptions with(FrameChoice choice, double bend, double noise) {
  BindOptions options;
  options.frame = choice;
  options.bend_radius_mm = bend;
  options.noise_mm = noise;
  return options;
}

Vec3 origin_of(const BindTable& table, Index t) { return table.patches[table.bindings[t].patch].origin; }

/// Catenoid (t = 0) to helicoid (t = pi/2), isometric all the way.
Vec3 catenoid_family(double a, double t, const Vec2& p) {
  const double u = p.x, v = p.y;
  return a * Vec3{std::cos(t) * std::sinh(v) * std::sin(u) + std::sin(t) * std::cosh(v) * std::cos(u),
                  -std::cos(t) * std::sinh(v) * std::cos(u) + std::sin(t) * std::cosh(v) * std::sin(u),
                  u * std::cos(t) + v * std::sin(t)};
}
Vec3 catenoid_normal(const Vec2& p) {
  return (1 / std::cosh(p.y)) * Vec3{std::cos(p.x), std::sin(p.x), -std::sinh(p.y)};
}
Mat3 turn_about(const Vec3& n, double angle) {
  return to_matrix(
      {n.x * std::sin(angle / 2), n.y * std::sin(angle / 2), n.z * std::sin(angle / 2), std::cos(angle / 2)});
}

/// Root mean square error in degrees when bound on one member of the family and followed to another.
double family_error(Index n, double jitter, std::uint64_t seed) {
  const double a = 100;
  Pattern pattern = make_pattern({-1, 1, -1, 1, 2.0 / n, Cells::Triangles, jitter, seed, 0});
  const double start = kPi / 2, end = 0;  // the helicoid is not closed, its patches are as curved
  const std::vector<Vec3> rest = shaped(pattern, [&](const Vec2& p) { return catenoid_family(a, start, p); });
  const std::vector<Vec3> moved = shaped(pattern, [&](const Vec2& p) { return catenoid_family(a, end, p); });
  std::mt19937_64 random(seed + 1000);
  std::uniform_real_distribution<double> d(-0.6, 0.6);
  std::vector<Vec3> feet, ups;
  std::vector<Vec2> spots;
  for (int k = 0; k < 60; ++k) {
    const Vec2 p{d(random), d(random)};
    spots.push_back(p);
    feet.push_back(catenoid_family(a, start, p));
    ups.push_back(catenoid_normal(p));
  }
  const BindTable table = bind_discs(pattern, rest, feet, ups, with(FrameChoice::Patch, 100, 0), 0.05 * 100 / n);
  double sum = 0;
  for (Index t = 0; t < spots.size(); ++t) {
    REQUIRE(table.bindings[t].order == 2);
    const Mat3 expected = turn_about(catenoid_normal(spots[t]), start - end);
    const double e = rotation_angle_deg(evaluate(table, t, moved).rotation, expected);
    sum += e * e;
  }
  return std::sqrt(sum / static_cast<double>(spots.size()));
}

}  // namespace

TEST_CASE("B1 the tilt of a bent facet is h / (6 R) at its centroid, and it is what the solver predicts") {
  for (const double h : {8.0, 4.0, 2.0, 1.0}) {
    // Right triangle with legs along and across the bend, anchor at its centroid.
    const std::array<FitPoint, 3> triangle{{{-h / 3, -h / 3, 0}, {2 * h / 3, -h / 3, 0}, {-h / 3, 2 * h / 3, 0}}};
    std::array<double, 3> a{}, b{};
    REQUIRE(fit_frame(triangle, 1, a, b));
    // Facet normal against the exact one, both worked out from the bent corners.
    std::array<Vec3, 3> bent;
    for (std::size_t i = 0; i < 3; ++i) bent[i] = cylinder(50)({triangle[i].x, triangle[i].y});
    const Vec3 n = normalized(cross(bent[1] - bent[0], bent[2] - bent[0]));
    const double tilt = std::asin(length(cross(n, Vec3{0, 0, 1}))) * kDeg;
    CHECK(tilt == Approx(h / 300 * kDeg).epsilon(0.01));
    std::array<double, 3 * BendTrial::kAxes * 2> storage{};
    BendTrial trial;
    trial.prepare(triangle, 1.0 / 50, storage);
    const double predicted = trial.worst_error(triangle, a, b) * kDeg;
    CHECK(predicted >= tilt * 0.999);  // the worst direction is no better than this one
    CHECK(predicted < 2.2 * tilt);     // across the long diagonal it is about twice as bad
  }
}

TEST_CASE("B2 the anchor lies on the mesh: chord sag is second order") {
  double last = 0;
  for (const double h : {8.0, 4.0, 2.0, 1.0}) {
    const Pattern pattern = make_pattern({-64, 64, -64, 64, h, Cells::Triangles, 0, 1, 0});
    const std::vector<Vec3> rest = shaped(pattern, flat_shape);
    // Centroid of a right cell triangle: legs from (0, 0).
    const Vec3 foot{h / 3, h / 3, 0};
    const BindTable table = bind_discs(pattern, rest, {foot}, {{0, 0, 1}}, with(FrameChoice::Auto, 30, 0.05));
    const std::vector<Vec3> moved = shaped(pattern, cylinder(50));
    const Vec3 o = origin_of(table, 0);
    const double error = length(apply(evaluate(table, 0, moved), o) - cylinder(50)({o.x, o.y}));
    CHECK(error < h * h / (8 * 50));
    if (last > 0) CHECK(std::log2(last / error) == Approx(2).margin(0.1));
    last = error;
  }
}

TEST_CASE("B3 a one-sided affine patch tilts by 0.4556 r / R; the chosen border patch does not") {
  // Half disc, many points: closed form (E[u^3] - E[u] E[u^2]) / (2 R Var[u]), u from the anchor, equal weights.
  std::vector<FitPoint> points;
  const double r = 8, big = 50;
  for (double x = 0.02; x < r; x += 0.04)
    for (double y = -r + 0.02; y < r; y += 0.04)
      if (x * x + y * y < r * r) points.push_back({x, y, 0});
  double e1 = 0, e2 = 0, e3 = 0;
  for (const FitPoint& p : points) e1 += p.x, e2 += p.x * p.x, e3 += p.x * p.x * p.x;
  const auto n = static_cast<double>(points.size());
  e1 /= n, e2 /= n, e3 /= n;
  const double closed = (e3 - e1 * e2) / (2 * big * (e2 - e1 * e1));
  CHECK(closed == Approx(0.4556 * r / big).epsilon(0.01));
  std::vector<double> a(points.size()), b(points.size()), storage(BendTrial::storage_size(points.size()));
  BendTrial trial;
  trial.prepare(points, 1 / big, storage);
  REQUIRE(fit_frame(points, 1, a, b));
  CHECK(trial.worst_error(points, a, b) == Approx(closed).epsilon(0.08));  // rim weights of 0.6 shift it a little
  REQUIRE(fit_frame(points, 2, a, b));
  CHECK(trial.worst_error(points, a, b) * kDeg < 0.05);

  // The whole solver at a border, 5 mm edges, R = 30 mm.
  for (const Cells cells : {Cells::Quads, Cells::Triangles, Cells::Mixed}) {
    const Pattern pattern = make_pattern({0, 60, -60, 60, 5, cells, 0.2, 17, 0});
    const std::vector<Vec3> rest = shaped(pattern, flat_shape);
    std::vector<Vec3> feet, ups;
    for (int k = 0; k < 8; ++k) {
      feet.push_back({0.3 * k, -30.0 + 7.7 * k, 0});
      ups.push_back({0, 0, 1});
    }
    const BindTable table = bind_discs(pattern, rest, feet, ups, with(FrameChoice::Auto, 30, 0.05));
    for (const double angle : {0.0, 0.5, 1.0, 2.0}) {
      const std::vector<Vec3> moved = shaped(pattern, cylinder(30, angle));
      for (Index t = 0; t < feet.size(); ++t) {
        const Vec3 o = origin_of(table, t);
        const double tilt = tilt_deg(evaluate(table, t, moved).rotation, cylinder_rotation(30, {o.x, o.y}, angle));
        CHECK(tilt < 0.2);
        CHECK(tilt <= table.bindings[t].bias_deg * 1.5 + 0.02);
      }
    }
  }
}

TEST_CASE("B4 the anchor does not sink into a bend as the mean of a patch does") {
  const Pattern pattern = make_pattern({-60, 60, -60, 60, 2, Cells::Quads, 0, 1, 0});
  const std::vector<Vec3> rest = shaped(pattern, flat_shape);
  const BindTable table = bind_discs(pattern, rest, {{0, 0, 0}}, {{0, 0, 1}}, with(FrameChoice::Patch, 30, 0.2));
  const std::vector<Vec3> moved = shaped(pattern, cylinder(50));
  const double sink = apply(evaluate(table, 0, moved), origin_of(table, 0)).z;
  CHECK(std::abs(sink) < 2 * 2 / (8.0 * 50));
  CHECK(8.0 * 8 / (8 * 50) == Approx(0.16));  // what averaging over 8 mm would cost
}

TEST_CASE("C1 C2 the quadratic patch is of second order on the catenoid-helicoid, also on irregular meshes") {
  for (const double jitter : {0.0, 0.3}) {
    std::vector<double> errors;
    for (const Index n : {8U, 16U, 32U, 64U, 128U}) {
      double sum = 0;
      for (std::uint64_t seed = 1; seed <= 3; ++seed) sum += family_error(n, jitter, seed);
      errors.push_back(sum / 3);
    }
    std::string text;
    for (const double e : errors) text += std::to_string(e) + " ";
    WARN("jitter " << jitter << ": rms error, degrees: " << text);
    for (std::size_t i = 1; i < errors.size(); ++i) CHECK(std::log2(errors[i - 1] / errors[i]) > 1.8);
  }
}

TEST_CASE("F1 on a Schwarz lantern the chosen frame is far nearer to the radial direction than one facet") {
  const double radius = 50, height = 100;
  const Index sectors = 24;
  for (const Index bands : {24U, 400U}) {
    Pattern pattern;
    std::vector<Vec3> rest;
    for (Index j = 0; j <= bands; ++j)
      for (Index i = 0; i < sectors; ++i) {
        const double angle = 2 * kPi * (i + 0.5 * (j % 2)) / sectors;
        rest.push_back({radius * std::cos(angle), radius * std::sin(angle), height * j / bands});
        pattern.flat.emplace_back();
      }
    for (Index j = 0; j < bands; ++j)
      for (Index i = 0; i < sectors; ++i) {
        const Index next = (i + 1) % sectors, a = j * sectors, b = a + sectors;
        const bool odd = j % 2 != 0;
        const std::array<Tri, 2> pair =
            odd ? std::array<Tri, 2>{{{a + i, a + next, b + next}, {a + i, b + next, b + i}}}
                : std::array<Tri, 2>{{{a + i, a + next, b + i}, {a + next, b + next, b + i}}};
        for (const Tri& t : pair) {
          pattern.corners.insert(pattern.corners.end(), t.begin(), t.end());
          pattern.offsets.push_back(static_cast<Index>(pattern.corners.size()));
          pattern.component.push_back(0);
        }
      }
    const double facet = std::atan(bands * radius * (1 - std::cos(kPi / sectors)) / height) * kDeg;
    CHECK(facet == Approx(bands == 24 ? 5.86 : 59.7).epsilon(0.002));
    const Vec3 out{1, 0, 0};
    const BindTable table =
        bind_discs(pattern, rest, {Vec3{radius, 0, 50.3}}, {out}, with(FrameChoice::Patch, 30, 0.05), 4.5);
    const Vec3 n = table.patches[table.bindings[0].patch].frame.column(2);
    const double off = std::acos(std::min(1.0, std::abs(dot(n, out)))) * kDeg;
    CHECK(off < facet / 5);
  }
}

TEST_CASE("G3 a row of elements keeps the spacing law 2 (R + h) sin(p / 2R)") {
  const double big = 40, pitch = 2;
  const Pattern pattern = make_pattern({-60, 60, -10, 10, 1, Cells::Quads, 0, 1, 0});
  const std::vector<Vec3> rest = shaped(pattern, flat_shape);
  for (const double lift : {-1.5, 0.0, 1.5}) {
    std::vector<Vec3> feet, ups;
    for (int k = -12; k <= 12; ++k) feet.push_back({pitch * k, 0.1, lift}), ups.push_back({0, 0, 1});
    const BindTable table = bind_discs(pattern, rest, feet, ups, with(FrameChoice::Auto, 30, 0.05), 0.8);
    // Bent towards -z, so that a lifted element stands on the outside.
    std::vector<Vec3> moved = shaped(pattern, cylinder(big));
    for (Vec3& p : moved) p.z = -p.z;
    const double law = 2 * (big + lift) * std::sin(pitch / (2 * big));
    for (Index t = 0; t + 1 < feet.size(); ++t) {
      const Vec3 p = apply(evaluate(table, t, moved), feet[t]), q = apply(evaluate(table, t + 1, moved), feet[t + 1]);
      CHECK(length(q - p) == Approx(law).margin(0.002));
    }
  }
  CHECK(2 * 38.5 * std::sin(2 / 80.0) == Approx(1.9248).epsilon(1e-4));
  CHECK(2 * 41.5 * std::sin(2 / 80.0) == Approx(2.0748).epsilon(1e-4));
}

TEST_CASE("remeshing from 20 to 5 mm, triangles to quads, moves a trim by less than 0.1 mm and 0.3 degrees") {
  // A smooth bend of radius 300 mm at its tightest, as a sleeve or a body has.
  const Shape wave = [](const Vec2& p) { return Vec3{p.x, p.y, 2 * std::sin(p.x / 40) * std::cos(p.y / 50)}; };
  const std::vector<Vec3> feet{{4.1, -7.7, 0}, {21.3, 14.9, 0}, {-31.2, 9.1, 0}};
  const std::vector<Vec3> ups(3, Vec3{0, 0, 1});
  std::vector<std::vector<Pose>> poses;
  for (const double step : {20.0, 10.0, 5.0})
    for (const Cells cells : {Cells::Triangles, Cells::Quads, Cells::Mixed}) {
      const Pattern pattern = make_pattern({-80, 80, -80, 80, step, cells, 0.1, 31, 0});
      const BindTable table =
          bind_discs(pattern, shaped(pattern, flat_shape), feet, ups, with(FrameChoice::Auto, 30, 0.05), 5);
      poses.emplace_back();
      for (Index t = 0; t < feet.size(); ++t) poses.back().push_back(evaluate(table, t, shaped(pattern, wave)));
    }
  double moved = 0, turned = 0;
  for (const auto& p : poses)
    for (Index t = 0; t < feet.size(); ++t) {
      moved = std::max(moved, length(apply(p[t], feet[t]) - apply(poses.back()[t], feet[t])));
      turned = std::max(turned, rotation_angle_deg(p[t].rotation, poses.back()[t].rotation));
    }
  WARN("remeshing moved trims by at most " << moved << " mm and " << turned << " degrees");
  CHECK(moved < 0.1);
  CHECK(turned < 0.3);
}

TEST_CASE("a cloth that is bent step by step turns its trim by the same angle in every step, and a full turn closes") {
  const Pattern pattern = make_pattern({-60, 60, -60, 60, 5, Cells::Mixed, 0.2, 44, 0});
  const ClothMesh cloth = cloth_of(pattern, shaped(pattern, flat_shape));
  const ClothIndex index(cloth);
  TrimShapes trims;
  const Solid s = disc({24.3, 3.1, 0.1}, {0, 0, 1}, 5.7, 3);
  append_trim(trims, "disc", s.vertices, s.triangles);
  Report report;
  const auto table = bind(index, trims, millimetres(), {}, report);
  REQUIRE(table);
  const double u = table->patches[table->bindings[0].patch].origin.x;
  constexpr int kSteps = 24;
  Mat3 before;
  for (int k = 1; k <= kSteps; ++k) {
    const Mat3 now = evaluate(*table, 0, shaped(pattern, cylinder(50.0 * kSteps / k))).rotation;
    // u / (R K), but for the patch's own error, which grows evenly as well.
    CHECK(rotation_angle_deg(now, before) == Approx(u / (50 * kSteps) * kDeg).margin(0.01));
    before = now;
  }
  Mat3 last;
  for (int k = 1; k <= 36; ++k) {
    const double w = 2 * kPi * k / 36;
    std::vector<Vec3> turned = cloth.positions;
    for (Vec3& p : turned) p = Vec3{std::cos(w) * p.x + std::sin(w) * p.z, p.y, -std::sin(w) * p.x + std::cos(w) * p.z};
    const Mat3 now = evaluate(*table, 0, turned).rotation;
    CHECK(rotation_angle_deg(now, last) == Approx(10).margin(1e-9));
    last = now;
  }
  CHECK(rotation_angle_deg(last, Mat3{}) < 1e-9);
}

TEST_CASE("Cells of narrow strips, all but two lines of which lie out of reach, tell a bend across them") {
  for (const auto& [length, width] : {std::pair{20.0, 5.0}, {15.0, 3.0}, {25.0, 8.0}}) {
    Pattern pattern =
        make_pattern({-100 * width / length, 100 * width / length, -60, 60, width, Cells::Quads, 0, 1, 0});
    for (Vec2& p : pattern.flat) p.x *= length / width;
    std::vector<Vec3> feet;
    for (int i = 0; i < 24; ++i) feet.push_back({-50 + 4.3 * i, -20 + 1.7 * i, 0});
    const BindTable table =
        bind_discs(pattern, shaped(pattern, flat_shape), feet, std::vector<Vec3>(feet.size(), {0, 0, 1}), {}, 7.5);
    for (const double angle : {0.0, 0.5, 1.2}) {
      const std::vector<Vec3> rolled = shaped(pattern, cylinder(60, angle));
      for (Index t = 0; t < feet.size(); ++t) {
        const Mat3 exact = cylinder_rotation(60, {feet[t].x, feet[t].y}, angle);
        CHECK(rotation_angle_deg(evaluate(table, t, rolled).rotation, exact) < 0.3);
      }
    }
  }
}
