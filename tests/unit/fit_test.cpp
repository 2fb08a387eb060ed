// SPDX-License-Identifier: MIT
// Measures of fit against closed forms. Sources: sagitta s = R - sqrt(R^2 - d^2/4) and chord length 2 R sin(p / 2R)
// (elementary geometry, any engineering handbook); stretches of simple shear sqrt(1 + g^2/4) +- g/2 and of the twisted
// strip sqrt(1 + k^2 y^2) (Ogden, "Non-linear elastic deformations"); the ligne of 0.635 mm is the trade's.
#include "trimtack/fit.hpp"

#include <catch2/catch.hpp>
#include <limits>

#include "support/fit_scene.hpp"

using namespace trimtack;
using namespace trimtack::test;

namespace {

double sagitta(double radius, double d) { return radius - std::sqrt(radius * radius - 0.25 * d * d); }

/// A disc of diameter d lying on a flat sheet, held tangent at the origin while the sheet takes a shape.
FitMeasures disc_on(const Shape& shape, double d, double step, FitSummary* summary = nullptr) {
  Scene scene;
  scene.sheet = flat_sheet(0.5 * d + 4 * step, step);
  add_trim(scene, "disc", disc(0, 0, d), 0.0, 2.0);
  const Measured m = measure(scene, {scene.sheet.shaped(shape)}, {{Pose{}}});
  if (summary != nullptr) *summary = m.summary;
  return m.frames[0][0];
}

}  // namespace

TEST_CASE("G1 discs on a convex bend stand off by the sagitta, to mesh accuracy h^2/8R") {
  const double step = 1.0;
  for (const double ligne : {14.0, 18.0, 24.0, 32.0, 40.0}) {
    for (const double radius : {30.0, 50.0, 100.0, 150.0}) {
      const double d = 0.635 * ligne, s = sagitta(radius, d), mesh = step * step / (8 * radius);
      INFO("ligne " << ligne << " on radius " << radius << ", sagitta " << s);
      const FitMeasures on_cylinder = disc_on(cylinder(radius), d, step);
      CHECK(on_cylinder[Measure::Lift] == Approx(s).margin(2 * mesh));
      CHECK(on_cylinder[Measure::Sink] < 1e-6F);
      CHECK(on_cylinder[Measure::Tilt] < 0.02F);
      const FitMeasures on_sphere = disc_on(sphere(radius), d, step);
      CHECK(on_sphere[Measure::Lift] == Approx(s).margin(4 * mesh));
    }
  }
}

TEST_CASE("G1 quoted rows of the table: 24L at R 30 and 50, 40L at R 30") {
  CHECK(disc_on(cylinder(30), 15.24, 0.5)[Measure::Lift] == Approx(0.984).margin(0.003));
  CHECK(disc_on(cylinder(50), 15.24, 0.5)[Measure::Lift] == Approx(0.584).margin(0.003));
  CHECK(disc_on(cylinder(30), 25.40, 0.5)[Measure::Lift] == Approx(2.821).margin(0.003));
}

TEST_CASE("G1 the error falls with the square of the mesh's edge") {
  double previous = 0;
  for (const double step : {4.0, 2.0, 1.0}) {
    const double d = 24.0;  // rim points fall on vertices for every step, so that only the middle errs
    Scene scene;
    scene.sheet = flat_sheet(24, step);
    add_trim(scene, "disc", disc(0, 0, d), 0.0, 2.0);
    const auto out = measure(scene, {scene.sheet.shaped(cylinder(50))}, {{Pose{}}});
    // Half way between two vertices of the middle row the chord sags by h^2 / 8R.
    const double error = std::abs(out.frames[0][0][Measure::Lift] - sagitta(50, d));
    CHECK(error <= step * step / (8 * 50) + 1e-6);
    if (previous > 0) CHECK(error <= 0.5 * previous + 1e-6);
    previous = error;
  }
}

TEST_CASE("G1 on a concave bend the rim sinks by the sagitta") {
  const FitMeasures m = disc_on(cylinder(-50), 15.24, 0.5);
  CHECK(m[Measure::Sink] == Approx(sagitta(50, 15.24)).margin(0.003));
  CHECK(m[Measure::Lift] < 0.003F);
  CHECK(m.gap_min == Approx(-sagitta(50, 15.24)).margin(0.003));
}

TEST_CASE("Rest and rigid motion: nothing is measured, gaps are those at rest") {
  Scene scene;
  scene.sheet = flat_sheet(20, 2.0, 7);
  add_trim(scene, "disc", disc(1, -2, 12), 0.4, 2.0);
  const Pose moved = about(rotation_about({1, 2, 3}, 2.1), {0, 0, 0}, {300, -20, 900});
  std::vector<Vec3> cloth;
  for (const Vec3& p : scene.sheet.cloth.positions) cloth.push_back(apply(moved, p));
  const Measured m = measure(scene, {scene.sheet.cloth.positions, cloth}, {{Pose{}}, {moved}});
  for (const auto& frame : m.frames) {
    for (std::size_t i = 0; i < kMeasureCount; ++i) {
      const auto measure_of = static_cast<Measure>(i);
      INFO(info_of(measure_of).name);
      if (measure_of == Measure::Sliver) continue;
      CHECK(frame[0].value[i] < (measure_of == Measure::Rigidity ? 1e-12 : 1e-5));
    }
    CHECK(frame[0].gap_mean == Approx(0.4).margin(1e-6));
    CHECK(frame[0].gap_min == Approx(0.4).margin(1e-6));
  }
  CHECK(m.summary.trims[0].verdict == Verdict::Good);
  CHECK(m.summary.trims[0].advice.empty());
}

TEST_CASE("A trim that leans by an angle is measured with that angle, whatever its axis") {
  for (const double degrees : {0.01, 1.0, 7.5, 30.0}) {
    Scene scene;
    scene.sheet = flat_sheet(20, 1.0, 3);
    add_trim(scene, "disc", disc(0, 0, 10), 0.0, 2.0);
    const Mat3 lean = rotation_about({0.3, 0.8, 0}, degrees * kPi / 180);
    const Measured m = measure(scene, {scene.sheet.cloth.positions}, {{about(lean, {}, {})}});
    CHECK(m.frames[0][0][Measure::Tilt] == Approx(degrees).epsilon(1e-4));
    CHECK(m.frames[0][0].tilt_from_layer == Approx(degrees).epsilon(1e-4));
    // The rim rises by r sin(a), read along the leaning trim's own axis: r tan(a).
    CHECK(m.frames[0][0][Measure::Lift] == Approx(5 * std::tan(degrees * kPi / 180)).epsilon(0.02));
  }
}

TEST_CASE("D1 twisted strip: exact frame gives no tilt, stretch is sqrt(1 + k^2 y^2)") {
  const double k = (30 * kPi / 180) / 100;
  Scene scene;
  add_grid(
      scene.sheet, 60, 60, 1.0,
      [](double u, double v) {
        return Vec3{u, v, 0};
      },
      0);
  complete_cloth(scene.sheet.cloth);
  add_trim(scene, "on the axis", disc(20, 0, 4), 0.0, 1.0);
  add_trim(scene, "off the axis", disc(-10, 50, 4), 0.0, 1.0);
  const Shape shape = twisted_strip(k);
  std::vector<Pose> poses;
  for (const Vec2 at : {Vec2{20, 0}, Vec2{-10, 50}}) {
    const double l = std::sqrt(1 + k * k * at.y * at.y), c = std::cos(k * at.x), s = std::sin(k * at.x);
    const Vec3 u = (1 / l) * Vec3{1, -k * at.y * s, k * at.y * c}, v{0, c, s};
    poses.push_back(about(from_columns(u, v, cross(u, v)), {at.x, at.y, 0}, shape(at.x, at.y)));
  }
  const Measured m = measure(scene, {scene.sheet.shaped(shape)}, {poses});
  CHECK(m.frames[0][0][Measure::Tilt] < 0.02F);
  CHECK(m.frames[0][1][Measure::Tilt] < 0.02F);
  CHECK(m.frames[0][0][Measure::Stretch] < 0.01F);
  CHECK(m.frames[0][1][Measure::Stretch] == Approx(3.37).margin(0.07));  // L = 1.0337 at y = 50
}

TEST_CASE("E1 cone from flat polar coordinates: no strain, no tilt with the exact frame") {
  const double alpha = 0.6, r0 = 60, phi0 = 0.1;
  const auto shape = [&](double u, double v) {
    const double r = std::hypot(r0 + u, v), w = (phi0 + std::atan2(v, r0 + u)) / std::sin(alpha);
    return r * Vec3{std::sin(alpha) * std::cos(w), std::sin(alpha) * std::sin(w), -std::cos(alpha)};
  };
  Scene scene;
  scene.sheet = flat_sheet(14, 0.5);
  add_trim(scene, "disc", disc(0, 0, 8), 0.0, 1.0);
  const double w = phi0 / std::sin(alpha);
  const Vec3 generator{std::sin(alpha) * std::cos(w), std::sin(alpha) * std::sin(w), -std::cos(alpha)};
  const Vec3 hoop{-std::sin(w), std::cos(w), 0};
  const Pose pose = about(from_columns(generator, hoop, cross(generator, hoop)), {}, shape(0, 0));
  const Measured m = measure(scene, {scene.sheet.shaped(shape)}, {{pose}});
  CHECK(m.frames[0][0][Measure::Stretch] < 0.02F);
  CHECK(m.frames[0][0][Measure::Squeeze] < 0.02F);
  CHECK(m.frames[0][0][Measure::Shear] < 0.02F);
  CHECK(m.frames[0][0][Measure::Tilt] < 0.1F);
}

TEST_CASE("R2 simple shear: stretches, and no tilt of its own") {
  for (const double g : {0.1, 0.5, 1.0}) {
    Scene scene;
    scene.sheet = flat_sheet(15, 1.0, 5);
    add_trim(scene, "disc", disc(0, 0, 8), 0.0, 1.0);
    const auto shape = [g](double u, double v) { return Vec3{u + g * v, v, 0}; };
    const Pose pose = about(rotation_about({0, 0, 1}, -std::atan(g / 2)), {}, {});
    const FitMeasures m = measure(scene, {scene.sheet.shaped(shape)}, {{pose}}).frames[0][0];
    CHECK(m[Measure::Stretch] == Approx(100 * (std::sqrt(1 + g * g / 4) + g / 2 - 1)).epsilon(1e-5));
    CHECK(m[Measure::Squeeze] == Approx(100 * (1 - std::sqrt(1 + g * g / 4) + g / 2)).epsilon(1e-5));
    CHECK(m[Measure::Shear] == Approx(180 / kPi * std::asin(g * std::sqrt(4 + g * g) / (2 + g * g))).epsilon(1e-5));
    CHECK(m[Measure::Tilt] < 1e-4F);
  }
}

TEST_CASE("Jitter: drift does not count, a jump counts once, a shake counts from peak to peak") {
  Scene scene;
  scene.sheet = flat_sheet(15, 1.0);
  add_trim(scene, "drifts", disc(-6, 0, 4), 0.0, 1.0);
  add_trim(scene, "jumps", disc(6, 6, 4), 0.0, 1.0);
  add_trim(scene, "shakes", disc(6, -6, 4), 0.0, 1.0);
  const Vec3 centre[3] = {{-6, 0, 0}, {6, 6, 0}, {6, -6, 0}};
  std::vector<std::vector<Vec3>> cloths;
  std::vector<std::vector<Pose>> poses;
  for (int f = 0; f < 8; ++f) {
    const Pose ride = about(rotation_about({1, 1, 0}, 0.3 * f), {}, {10.0 * f, 0, 0});  // the cloth's own motion
    std::vector<Vec3> cloth;
    for (const Vec3& p : scene.sheet.cloth.positions) cloth.push_back(apply(ride, p));
    cloths.push_back(cloth);
    const double degrees[3] = {0.5 * f, f >= 4 ? 3.0 : 0.0, f % 2 == 0 ? 1.0 : -1.0};
    poses.emplace_back();
    for (int t = 0; t < 3; ++t) {
      const Pose own = about(rotation_about({0, 1, 0}, degrees[t] * kPi / 180), centre[t], centre[t]);
      poses.back().push_back({ride.rotation * own.rotation, apply(ride, own.translation)});
    }
  }
  const Measured m = measure(scene, cloths, poses);
  CHECK(m.summary.trims[0][Measure::Jitter].value < 1e-4F);
  CHECK(m.summary.trims[1][Measure::Jitter].value == Approx(3.0).epsilon(1e-4));
  CHECK(m.summary.trims[1][Measure::Jitter].frame == 5);
  CHECK(m.frames[5][1][Measure::Jitter] < 1e-4F);
  CHECK(m.summary.trims[2][Measure::Jitter].value == Approx(2.0).epsilon(1e-4));
}

TEST_CASE("Jitter: a patch that bends on coarse cells moves quadratically, and its trim does not shake for that") {
  Scene scene;
  scene.sheet = flat_sheet(60, 10.0, 3);
  add_trim(scene, "button", disc(2, -3, 14), 0.0, 2.5);
  add_trim(scene, "shakes", disc(-31, 24, 14), 0.0, 2.5);
  const Vec3 centre[2] = {{2, -3, 0}, {-31, 24, 0}};
  // z = -k u^2 / 2 from the third frame on: a parabola, so the exact frame under each trim is known, and a flat patch
  // of mean square width w would be taken to step by k w / 2.
  std::vector<std::vector<Vec3>> cloths;
  std::vector<std::vector<Pose>> poses;
  for (int f = 0; f < 10; ++f) {
    const double k = f < 3 ? 0.0 : (f - 2) / 240.0;
    cloths.push_back(scene.sheet.shaped([k](double u, double v) { return Vec3{u, v, -0.5 * k * u * u}; }));
    poses.emplace_back();
    for (int t = 0; t < 2; ++t) {
      const double u = centre[t].x, shake = t == 1 && f % 2 == 1 ? 0.8 : 0.0;
      const Mat3 turn = rotation_about({0, 1, 0}, std::atan(k * u));
      poses.back().push_back(about(turn, centre[t], Vec3{u, centre[t].y, -0.5 * k * u * u + shake}));
    }
  }
  const Measured m = measure(scene, cloths, poses);
  CHECK(m.summary.trims[0][Measure::JitterMove].value < 0.02F);
  CHECK(m.summary.trims[0][Measure::Jitter].value < 0.1F);
  CHECK(m.summary.trims[1][Measure::JitterMove].value == Approx(0.8).margin(0.1));
  CHECK(m.summary.trims[1].verdict == Verdict::Fault);
}

TEST_CASE("A pose that is no rotation is caught as a change of edge length") {
  Scene scene;
  scene.sheet = flat_sheet(10, 1.0);
  add_trim(scene, "disc", disc(0, 0, 6), 0.0, 1.0);
  Pose pose;
  pose.rotation(0, 0) = 1.001;
  const Measured m = measure(scene, {scene.sheet.cloth.positions}, {{pose}});
  CHECK(m.frames[0][0][Measure::Rigidity] == Approx(0.001).epsilon(0.01));
  CHECK(m.summary.trims[0].verdict == Verdict::Fault);
  CHECK(m.summary.trims[0].cause == Measure::Rigidity);
}

TEST_CASE("A bar too long for its bend is named, with the pieces that keep within the limit") {
  Scene scene;
  scene.sheet = flat_sheet(30, 1.0);
  add_trim(scene, "short bar", bar(0, 12, 8, 3), 0.0, 1.0);
  add_trim(scene, "long bar", bar(0, -12, 40, 3), 0.0, 1.0);
  const Measured m = measure(scene, {scene.sheet.shaped(cylinder(60))}, {{Pose{}, Pose{}}});
  const TrimFit& bad = m.summary.trims[1];
  CHECK(m.summary.trims[0].verdict == Verdict::Good);
  CHECK(bad.verdict == Verdict::Fault);
  CHECK(bad.cause == Measure::Lift);
  CHECK(bad[Measure::Lift].value == Approx(sagitta(60, 40)).margin(0.01));
  // 2 sqrt(1 (120 - 1)) = 21.8 mm: two pieces of 20 mm, each standing off by 0.84 mm.
  CHECK(bad.pieces == 2);
  CHECK(sagitta(60, 40.0 / bad.pieces) <= 1.0);
  CHECK(bad.advice.find("2 rigid pieces") != std::string::npos);
  CHECK(worst_first(m.summary) == std::vector<Index>{1, 0});
}

TEST_CASE("G3 spacing of zipper elements follows 2 (R + h) sin(p / 2R); those longer than it collide") {
  const double radius = 40, pitch = 2;
  for (const double h : {-1.5, 0.0, 1.5}) {
    Scene scene;
    scene.sheet = flat_sheet(12, 0.5);
    Row row{RowKind::Zipper, {}, pitch};
    for (int i = -3; i <= 3; ++i) {
      row.trims.push_back(add_trim(scene, "element", bar(pitch * i, 0, 1.96, 3), h - 0.5, 1.0));
    }
    scene.rows.push_back(row);
    std::vector<Pose> poses;
    const Shape bend = cylinder(radius);
    for (int i = -3; i <= 3; ++i) {
      const double u = pitch * i;
      poses.push_back(about(rotation_about({0, 1, 0}, u / radius), {u, 0, 0}, bend(u, 0)));
    }
    const Measured m = measure(scene, {scene.sheet.shaped(bend)}, {poses});
    // The footprint's middle is at the element's underside, h - 0.5.
    const double expected = 2 * (radius + h - 0.5) * std::sin(pitch / (2 * radius));
    CHECK(m.frames[0][2].spacing == Approx(expected).epsilon(1e-6));
    CHECK(m.frames[0][6].spacing == 0.0F);
    // At the inner edge 1.96 mm elements have 2 (R + h - 0.5) sin(p / 2R) of room: they meet when h = -1.5.
    const double room = expected - 1.96;
    INFO("room " << room);
    if (room < 0) {
      CHECK(m.frames[0][3][Measure::Collision] > 0.3 * -room);
      CHECK((m.frames[0][3].other_trim == 2 || m.frames[0][3].other_trim == 4));
    } else {
      CHECK(m.frames[0][3][Measure::Collision] == 0.0F);
    }
  }
}

TEST_CASE("Trims that touched at rest are not accused; their new overlap is") {
  Scene scene;
  scene.sheet = flat_sheet(15, 1.0);
  add_trim(scene, "a", bar(-2, 0, 4.5, 3), 0.0, 1.0);  // overlap of 0.5 mm at rest
  add_trim(scene, "b", bar(2, 0, 4.5, 3), 0.0, 1.0);
  const Pose closer{Mat3{}, {-0.35, 0, 0}};
  const Measured m =
      measure(scene, {scene.sheet.cloth.positions, scene.sheet.cloth.positions}, {{Pose{}, Pose{}}, {Pose{}, closer}});
  CHECK(m.frames[0][0][Measure::Collision] == 0.0F);
  CHECK(m.frames[1][0][Measure::Collision] == Approx(0.35).epsilon(1e-5));
  CHECK(m.frames[1][1].other_trim == 0);
}

TEST_CASE(
    "Jitter: poses that are no motion are not compared; a trim that jumps alone, or in a garment that moves, is") {
  Scene scene;
  scene.sheet = flat_sheet(60, 2.0);
  const double places[] = {-45, -27, -9, 9, 27, 45};
  for (const double x : places) add_trim(scene, "disc", disc(x, 0, 17), 0.0, 1.0);
  const auto shape_of = [&](double radius) { return scene.sheet.shaped(cylinder(radius)); };
  const auto poses_on = [&](double radius) {
    std::vector<Pose> out;
    for (const double x : places) {  // tangent where the disc is
      const Pose turn = about(rotation_about({0, 1, 0}, x / radius), {}, {});
      const Vec3 at{radius * std::sin(x / radius), 0, radius * (std::cos(x / radius) - 1)};
      out.push_back({turn.rotation, at - turn.rotation * Vec3{x, 0, 0}});
    }
    return out;
  };
  std::vector<std::vector<Vec3>> cloths;
  std::vector<std::vector<Pose>> poses;
  for (const double radius : {2000.0, 2000.0, 15.0, -15.0, 2000.0, 14.0}) {
    cloths.push_back(shape_of(radius));
    poses.push_back(poses_on(radius));
  }
  const auto worst = [&](const Measured& m, Index t) { return m.summary.trims[t][Measure::JitterMove].value; };
  const Measured apart = measure(scene, cloths, poses);
  for (Index t = 0; t < 6; ++t) CHECK(worst(apart, t) < 0.5F);  // 4 if they were
  // In a garment that keeps its shape, all of them may jump: that counts.
  cloths.assign(5, shape_of(2000));
  poses.assign(5, poses_on(2000));
  for (Pose& p : poses[3]) p.translation.z += 1;
  const Measured together = measure(scene, cloths, poses);
  for (Index t = 0; t < 6; ++t) CHECK(worst(together, t) == Approx(1.0).epsilon(0.01));
  // One that jumps while the garment changes its shape counts, where the others follow.
  cloths.clear(), poses.clear();
  for (const double radius : {2000.0, 300.0, 150.0, 100.0, 75.0}) {
    cloths.push_back(shape_of(radius));
    poses.push_back(poses_on(radius));
  }
  poses[3][2].translation.z += 2;
  CHECK(worst(measure(scene, cloths, poses), 2) > 1.5F);
}

TEST_CASE("Other cloth that runs into a trim is measured and named; cloth that passes by is not") {
  Scene scene;
  add_grid(
      scene.sheet, 15, 15, 1.0,
      [](double u, double v) {
        return Vec3{u, v, 0};
      },
      0);
  const Index first_upper = static_cast<Index>(scene.sheet.flat.size());
  add_grid(
      scene.sheet, 10, 10, 1.0,
      [](double u, double v) {
        return Vec3{u, v, 5};
      },
      1);
  complete_cloth(scene.sheet.cloth);
  add_trim(scene, "disc", disc(0, 0, 8), 0.0, 2.0);
  const auto lowered = [&](double dz) {
    std::vector<Vec3> cloth = scene.sheet.cloth.positions;
    for (Index v = first_upper; v < cloth.size(); ++v) cloth[v].z -= dz;
    return cloth;
  };
  const Measured m = measure(scene, {lowered(2.9), lowered(3.6)}, {{Pose{}}, {Pose{}}});
  CHECK(m.frames[0][0][Measure::OtherLayer] == 0.0F);
  CHECK(m.frames[1][0][Measure::OtherLayer] == Approx(0.6).epsilon(1e-5));
  CHECK(m.frames[1][0].other_layer == 1);
}

TEST_CASE("Cloth that comes from one side is to go back there, however deep it is; folded over, to the nearer side") {
  Scene scene;
  const auto level = [](double z) { return [z](double u, double v) { return Vec3{u, v, z}; }; };
  add_grid(scene.sheet, 15, 15, 1.0, level(0), 0);
  const Index first_upper = static_cast<Index>(scene.sheet.flat.size());
  add_grid(scene.sheet, 10, 10, 1.0, level(5), 1);
  const Index first_lower = static_cast<Index>(scene.sheet.flat.size());
  add_grid(scene.sheet, 10, 10, 1.0, level(-3), 2);
  const Index first_beside = static_cast<Index>(scene.sheet.flat.size());
  add_grid(
      scene.sheet, 10, 10, 1.0,
      [](double u, double v) {
        return Vec3{u + 26, v, 0};
      },
      3);
  complete_cloth(scene.sheet.cloth);
  add_trim(scene, "disc", disc(0, 0, 8), 0.0, 2.0);
  const auto run_in = [&](Index first, Index end, const Vec3& by) {
    std::vector<Vec3> cloth = scene.sheet.cloth.positions;
    for (Index v = first; v < end; ++v) cloth[v] += by;
    return measure(scene, {cloth}, {{Pose{}}}).frames[0][0];
  };
  const auto end = static_cast<Index>(scene.sheet.flat.size());
  const FitMeasures deep = run_in(first_upper, first_lower, {0, 0, -4.6});
  CHECK(deep[Measure::OtherLayer] == Approx(1.6).epsilon(1e-5));
  CHECK(deep.other_layer == 1);
  CHECK(run_in(first_lower, first_beside, {0, 0, 4.5})[Measure::OtherLayer] == Approx(1.5).epsilon(1e-5));
  CHECK(run_in(first_beside, end, {-26, 0, 1.7})[Measure::OtherLayer] == Approx(0.3).epsilon(1e-5));
}

TEST_CASE("A trim that lies on one layer and follows another is named when the layers slip") {
  Scene scene;
  add_grid(
      scene.sheet, 15, 15, 1.0,
      [](double u, double v) {
        return Vec3{u, v, 0};
      },
      0);
  const Index first_upper = static_cast<Index>(scene.sheet.flat.size());
  add_grid(
      scene.sheet, 15, 15, 1.0,
      [](double u, double v) {
        return Vec3{u, v, 1.5};
      },
      1);
  complete_cloth(scene.sheet.cloth);
  add_trim(scene, "wrong", disc(-6, 0, 8), 1.5, 2.0, 0);  // lies on the upper layer, follows the lower one
  add_trim(scene, "right", disc(6, 0, 8), 1.5, 2.0, 1);
  std::vector<Vec3> cloth = scene.sheet.cloth.positions;
  for (Index v = first_upper; v < cloth.size(); ++v) cloth[v].z += 0.8;
  const Pose up{Mat3{}, {0, 0, 0.8}};
  const Measured m = measure(scene, {cloth}, {{Pose{}, up}});
  CHECK(m.frames[0][0][Measure::WrongLayer] == Approx(0.8).epsilon(1e-5));
  CHECK(m.summary.trims[0].cause == Measure::WrongLayer);
  CHECK(m.summary.trims[0].lies_on == 1);
  CHECK(m.summary.trims[1].verdict == Verdict::Good);
}

TEST_CASE("A trim that is through its layer is named when it lies on the next, not when it is crimped on or in both") {
  Scene scene;
  for (const double height : {0.0, 1.0}) {
    add_grid(
        scene.sheet, 40, 40, 1.0,
        [height](double u, double v) {
          return Vec3{u, v, height};
        },
        height > 0 ? 1 : 0);
  }
  complete_cloth(scene.sheet.cloth);
  const Index lies_beneath = add_trim(scene, "lies beneath", disc(-12, 0, 12), 0.1, 3.0, 1);
  const Index in_both = add_trim(scene, "in both", disc(12, 0, 12), -0.6, 3.0, 1);
  const Index stop = add_trim(scene, "stop", disc(0, 12, 3.5), 0.05, 2.4, 1);
  const Index element = add_trim(scene, "element", disc(0, -12, 8), 0.05, 2.4, 1);
  for (FootprintPoint& foot : scene.feet.points) foot.distance = foot.point.z - 1.0;
  scene.trims.one_sheet = {0, 0, 0, 1};
  const Measured m = measure(scene, {scene.sheet.cloth.positions}, {std::vector<Pose>(4)});
  CHECK(m.frames[0][lies_beneath][Measure::WrongLayer] == Approx(0.9).epsilon(1e-5));
  CHECK(m.summary.trims[lies_beneath].cause == Measure::WrongLayer);
  for (const Index t : {in_both, stop, element}) {
    INFO(scene.trims.name[t]);
    CHECK(m.frames[0][t][Measure::WrongLayer] < 1e-5F);
    CHECK(m.summary.trims[t].verdict == Verdict::Good);
  }
}

TEST_CASE("A collapsed triangle under a trim is found in its frame and named by its face") {
  Scene scene;
  scene.sheet = flat_sheet(10, 2.0);
  add_trim(scene, "disc", disc(0.5, 0.5, 6), 0.0, 1.0);
  std::vector<Vec3> bad = scene.sheet.cloth.positions;
  const Index anchor = triangle_at(scene.sheet.cloth, 0.5, 0.5);
  const Tri& t = scene.sheet.cloth.triangles.triangles[anchor];
  bad[t[1]] = bad[t[0]];
  const Measured m = measure(scene, {scene.sheet.cloth.positions, bad}, {{Pose{}}, {Pose{}}});
  CHECK(m.frames[0][0][Measure::Collapse] == 0.0F);
  CHECK(m.frames[1][0][Measure::Collapse] >= 1.0F);
  CHECK(m.summary.trims[0].cause == Measure::Collapse);
  CHECK(m.summary.trims[0][Measure::Collapse].frame == 2);
}

TEST_CASE("Cloth that is no number is a collapse in its frame, and every value stays finite") {
  Scene scene;
  scene.sheet = flat_sheet(10, 2.0);
  add_trim(scene, "disc", disc(0.5, 0.5, 6), 0.0, 1.0);
  std::vector<Vec3> bad = scene.sheet.cloth.positions;
  const Tri& t = scene.sheet.cloth.triangles.triangles[triangle_at(scene.sheet.cloth, 0.5, 0.5)];
  for (const double value : {std::nan(""), std::numeric_limits<double>::infinity()}) {
    bad[t[1]].y = value;
    const std::vector<Vec3>& good = scene.sheet.cloth.positions;
    const Measured m = measure(scene, {good, bad, good}, {{Pose{}}, {Pose{}}, {Pose{}}});
    CHECK(m.summary.trims[0].cause == Measure::Collapse);
    CHECK(m.summary.trims[0][Measure::Collapse].frame == 2);
    for (const auto& frame : m.frames) {
      for (const float v : frame[0].value) CHECK(std::isfinite(v));
      CHECK(std::isfinite(frame[0].gap_mean));
    }
    CHECK(m.frames[2][0][Measure::Collapse] == 0.0F);
  }
}

TEST_CASE("A trim carried by a sliver is named; the same trim on sound cloth is not") {
  Scene scene;
  scene.sheet = flat_sheet(10, 2.0);
  const Index anchor = triangle_at(scene.sheet.cloth, 0.5, 0.5);
  const Tri t = scene.sheet.cloth.triangles.triangles[anchor];
  Vec3& moved = scene.sheet.cloth.positions[t[1]];
  moved = 0.5 * (scene.sheet.cloth.positions[t[0]] + scene.sheet.cloth.positions[t[2]]) +
          0.02 * normalized(moved - scene.sheet.cloth.positions[t[0]]);
  add_trim(scene, "disc", disc(0.5, 0.5, 6), 0.0, 1.0);
  add_trim(scene, "sound", disc(-6, -6, 3), 0.0, 1.0);
  scene.table.bindings[0].anchor_triangle = t;
  scene.table.bindings[0].anchor_face = scene.sheet.cloth.triangles.face[anchor];
  const Measured m = measure(scene, {scene.sheet.cloth.positions}, {{Pose{}, Pose{}}});
  CHECK(m.summary.trims[0].cause == Measure::Sliver);
  CHECK(m.summary.trims[0].verdict == Verdict::Fault);
  CHECK(m.summary.trims[1].verdict == Verdict::Good);
}

TEST_CASE("The series stays bounded and keeps every peak") {
  Scene scene;
  scene.sheet = flat_sheet(8, 2.0);
  add_trim(scene, "disc", disc(0, 0, 5), 0.0, 1.0);
  const FitModel model = prepare(scene);
  FitState state = begin_fit(model, scene.options);
  std::vector<FitMeasures> out(1);
  const std::size_t frames = 1500;
  for (std::size_t f = 0; f < frames; ++f) {
    Pose pose;
    if (f == 777) pose.translation.z = 0.37;
    measure_fit(model, scene.sheet.cloth.positions, std::vector<Pose>{pose}, {}, f + 1, scene.options, state, out);
  }
  const FitSummary summary = finish_fit(model, std::move(state), scene.options);
  const FitSeries& series = summary.series;
  CHECK(series.buckets <= series.capacity);
  CHECK(series.buckets * series.frames_per_bucket >= frames);
  for (std::size_t b = 0; b < series.buckets; ++b) {
    CHECK(series.at(0, 0, b) == (b == 777 / series.frames_per_bucket ? 37 : 0));
  }
  CHECK(summary.trims[0][Measure::Lift].frame == 778);
}

TEST_CASE("Units: the same garment in metres gives the same millimetres") {
  const auto measure_in = [](double mm_per_unit) {
    Scene scene;
    const double k = 1 / mm_per_unit;
    const auto scaled = [k](double u, double v) { return Vec3{k * u, k * v, 0}; };
    add_grid(scene.sheet, 15, 15, 1.0, scaled, 0);
    complete_cloth(scene.sheet.cloth);
    std::vector<Vec2> outline = disc(0, 0, 12);
    for (Vec2& p : outline) p = {k * p.x, k * p.y};
    add_trim(scene, "disc", outline, 0.0, 2.0 * k);
    scene.table.unit.mm_per_unit = mm_per_unit;
    const Shape bend = cylinder(50);
    return measure(scene, {scene.sheet.shaped([&](double u, double v) { return k * bend(u, v); })}, {{Pose{}}})
        .frames[0][0];
  };
  const FitMeasures in_mm = measure_in(1), in_m = measure_in(1000);
  for (std::size_t i = 0; i < kMeasureCount; ++i) {
    CHECK(in_m.value[i] == Approx(in_mm.value[i]).epsilon(1e-5).margin(1e-5));
  }
}
