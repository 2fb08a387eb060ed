// SPDX-License-Identifier: MIT
// Seating against closed forms: the push-out that clears a flat disc on a concave cylinder or sphere is the sagitta
// R - sqrt(R^2 - d^2/4) (elementary geometry).
#include "trimtack/seat.hpp"

#include <catch2/catch.hpp>

#include "support/fit_scene.hpp"

using namespace trimtack;
using namespace trimtack::test;

namespace {

double sagitta(double radius, double d) { return radius - std::sqrt(radius * radius - 0.25 * d * d); }

/// Seats a disc held tangent at the origin.
Seating seat_disc(const Shape& shape, double d, double step, double max_tilt, Pose pose, double rest_gap,
                  FitMeasures* after = nullptr) {
  Scene scene;
  scene.sheet = flat_sheet(0.5 * d + 4 * step, step);
  add_trim(scene, "disc", disc(0, 0, d), rest_gap, 2.0);
  const FitModel model = prepare(scene);
  SeatOptions options;
  options.max_tilt_deg = max_tilt;
  std::vector<Pose> poses{pose};
  std::vector<Seating> out(1);
  seat(model, scene.sheet.shaped(shape), options, poses, out);
  CHECK(rotation_angle_deg(poses[0].rotation * transposed(poses[0].rotation), Mat3{}) < 1e-10);
  if (after != nullptr) *after = measure(scene, {scene.sheet.shaped(shape)}, {poses}).frames[0][0];
  return out[0];
}

}  // namespace

TEST_CASE("G2 push-out on a concave cylinder and sphere is the sagitta; nothing is left inside") {
  for (const double ligne : {18.0, 24.0, 40.0}) {
    for (const double radius : {30.0, 50.0, 100.0}) {
      const double d = 0.635 * ligne, s = sagitta(radius, d), mesh = 1.0 / (8 * radius);
      INFO("ligne " << ligne << " on radius " << radius);
      for (const double tilt : {0.0, 10.0}) {
        FitMeasures after;
        const Seating on_cylinder = seat_disc(cylinder(-radius), d, 1.0, tilt, {}, 0, &after);
        CHECK(on_cylinder.shift == Approx(s).margin(2 * mesh));
        CHECK(on_cylinder.sink_before == Approx(s).margin(2 * mesh));
        CHECK(after[Measure::Sink] < 1e-5F);
        CHECK(after.gap_min == Approx(0).margin(2 * mesh));
        CHECK(seat_disc(sphere(-radius), d, 1.0, tilt, {}, 0).shift == Approx(s).margin(4 * mesh));
      }
    }
  }
}

TEST_CASE("On a convex bend the middle touches as at rest: nothing to correct") {
  for (const double gap : {0.0, 0.5}) {
    const Seating s = seat_disc(cylinder(40), 15.24, 1.0, 0, {}, gap);
    CHECK(s.shift == Approx(0).margin(1.0 / (8 * 40)));
  }
}

TEST_CASE("A trim that floats comes back to its gap at rest, one that sank comes out") {
  const auto flat = [](double u, double v) { return Vec3{u, v, 0}; };
  for (const double off : {-0.9, -0.1, 0.3, 2.0}) {
    const Pose moved{Mat3{}, {0, 0, off}};
    CHECK(seat_disc(flat, 12, 1.0, 0, moved, 0).shift == Approx(-off).epsilon(1e-6));
  }
  // With a gap by design (a shank of 1 mm) half of it may be used up before anything is sunk.
  CHECK(seat_disc(flat, 12, 1.0, 0, {Mat3{}, {0, 0, -0.5}}, 1.0).shift == 0.0F);
}

TEST_CASE("A leaning trim is levelled only when tilting is allowed, and only as far") {
  const auto flat = [](double u, double v) { return Vec3{u, v, 0}; };
  const Pose leaning = about(rotation_about({1, 0.4, 0}, 6 * kPi / 180), {}, {});
  FitMeasures after;
  const Seating level = seat_disc(flat, 12, 1.0, 20, leaning, 0, &after);
  CHECK(level.tilt == Approx(6).epsilon(0.01));
  CHECK(after[Measure::Tilt] < 0.05F);
  CHECK(after[Measure::Sink] < 1e-5F);
  const Seating part = seat_disc(flat, 12, 1.0, 2.5, leaning, 0, &after);
  CHECK(part.tilt == Approx(2.5).epsilon(1e-6));
  CHECK(part.limited);
  CHECK(after[Measure::Tilt] == Approx(3.5).epsilon(0.02));
  const Seating none = seat_disc(flat, 12, 1.0, 0, leaning, 0, &after);
  CHECK(none.tilt == 0.0F);
  CHECK(none.shift == Approx(6 * std::tan(6 * kPi / 180)).epsilon(0.02));
}

TEST_CASE("Shift is limited and says so") {
  const auto flat = [](double u, double v) { return Vec3{u, v, 0}; };
  const Seating s = seat_disc(flat, 12, 1.0, 0, {Mat3{}, {0, 0, -9}}, 0);
  CHECK(s.shift == 6.0F);
  CHECK(s.limited);
  CHECK(s.left == Approx(3).margin(1e-5));
  const Seating enough = seat_disc(flat, 12, 1.0, 0, {Mat3{}, {0, 0, -5.9}}, 0);
  CHECK_FALSE(enough.limited);
  CHECK(enough.left == 0);
}

TEST_CASE("Rows stay smooth along their line and never sink for it") {
  Scene scene;
  scene.sheet = flat_sheet(30, 1.0);
  Row row{RowKind::Zipper, {}, 3.0};
  for (int i = -8; i <= 8; ++i) row.trims.push_back(add_trim(scene, "element", bar(3.0 * i, 0, 2, 4), 0.0, 1.0));
  scene.rows.push_back(row);
  const FitModel model = prepare(scene);
  // One wrinkle of 1 mm under the middle of the row.
  const auto wrinkle = [](double u, double v) { return Vec3{u, v, std::exp(-u * u / 4)}; };
  std::vector<Pose> poses(17);
  std::vector<Seating> out(17);
  SeatOptions options;
  seat(model, scene.sheet.shaped(wrinkle), options, poses, out);
  CHECK(out[8].shift == Approx(1).margin(0.01));
  for (std::size_t i = 0; i < 17; ++i) {
    CHECK(out[i].sink_after < 1e-5F);
    if (i > 0) CHECK(std::abs(out[i].shift - out[i - 1].shift) <= options.row_slope * 3.0 + 1e-5);
  }
  CHECK(out[0].shift < out[8].shift);
}

TEST_CASE("Small changes of the cloth move a seated trim by little: no rocking from frame to frame") {
  Scene scene;
  scene.sheet = flat_sheet(14, 1.0, 11);
  add_trim(scene, "disc", disc(0, 0, 15), 0.0, 2.0);
  const FitModel model = prepare(scene);
  SeatOptions options;
  options.max_tilt_deg = 20;
  Pose last;
  for (int f = 0; f <= 100; ++f) {
    // A saddle that turns slowly: the two touching points move round the rim.
    const double turn = 0.02 * f;
    const auto saddle = [turn](double u, double v) {
      const double a = u * std::cos(turn) + v * std::sin(turn), b = v * std::cos(turn) - u * std::sin(turn);
      return Vec3{u, v, (a * a - b * b) / 120 + 0.01 * u};
    };
    std::vector<Pose> poses(1);
    std::vector<Seating> out(1);
    seat(model, scene.sheet.shaped(saddle), options, poses, out);
    if (f > 0) {
      CHECK(rotation_angle_deg(poses[0].rotation, last.rotation) < 0.05);
      CHECK(length(poses[0].translation - last.translation) < 0.03);
    }
    last = poses[0];
  }
}
