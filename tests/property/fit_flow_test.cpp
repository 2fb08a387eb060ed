// SPDX-License-Identifier: MIT
// The whole flow from footprints to measures on exact shapes: the solver's own footprints must give the sagitta too.
// Source: sagitta s = R - sqrt(R^2 - d^2/4), elementary geometry; the ligne of 0.635 mm is the trade's.
#include <catch2/catch.hpp>

#include "support/fit_scene.hpp"
#include "trimtack/bind.hpp"
#include "trimtack/follow.hpp"
#include "trimtack/footprint.hpp"
#include "trimtack/seat.hpp"

using namespace trimtack;
using namespace trimtack::test;

namespace {

struct Flow {
  Scene scene;
  std::vector<std::byte> bytes;
};

/// Binds what is in the scene and takes the solver's footprints.
Flow bound(Scene scene) {
  Report report;
  Flow flow;
  flow.scene = std::move(scene);
  const ClothIndex cloth(flow.scene.sheet.cloth);
  flow.scene.table = *bind(cloth, flow.scene.trims, Unit{}, {}, report);
  flow.scene.feet = find_footprints(cloth, flow.scene.trims, flow.scene.table);
  flow.bytes = *encode(flow.scene.table, 1);
  return flow;
}

std::vector<Pose> poses_on(const Flow& flow, const std::vector<Vec3>& cloth) {
  std::vector<Pose> poses(flow.scene.table.bindings.size());
  std::vector<PoseQuality> quality(poses.size());
  REQUIRE(follow(flow.bytes, cloth, poses, quality).has_value());
  return poses;
}

}  // namespace

TEST_CASE("G1 through the whole flow: bound, followed and measured, a button stands off by the sagitta") {
  for (const double ligne : {18.0, 24.0, 40.0}) {
    for (const double radius : {30.0, 50.0, 100.0}) {
      const double d = 0.635 * ligne, s = radius - std::sqrt(radius * radius - 0.25 * d * d);
      Scene scene;
      scene.sheet = flat_sheet(0.5 * d + 12, 1.5, 5);
      add_trim(scene, "button", disc(0.2, -0.3, d, 48), 0.02, 2.5);
      const Flow flow = bound(std::move(scene));
      const std::vector<Vec3> cloth = flow.scene.sheet.shaped(cylinder(radius));
      const Measured m = measure(flow.scene, {cloth}, {poses_on(flow, cloth)});
      INFO("ligne " << ligne << " radius " << radius << " sagitta " << s);
      // Mesh accuracy: h^2/8R at the rim and under the middle, and the frame's own error at the rim.
      CHECK(m.frames[0][0][Measure::Lift] == Approx(s).margin(2 * 1.5 * 1.5 / (8 * radius) + 0.02 * s));
      CHECK(m.frames[0][0][Measure::Tilt] < 0.5F);
      CHECK(m.frames[0][0].gap_max == Approx(s + 0.02).margin(2 * 1.5 * 1.5 / (8 * radius) + 0.02 * s));
    }
  }
}

TEST_CASE("G4 a part on both faces of the cloth is measured on both, and moves as one") {
  Scene scene;
  scene.sheet = flat_sheet(20, 1.5, 9);
  // Cap above, post through, stud beneath, as one trim.
  add_trim(scene, "cap", disc(0, 0, 12, 32), 0.1, 4.0);
  add_trim(scene, "stud", disc(0, 0, 10, 32), -4.1, 4.0);
  make_one_trim(scene.trims);
  const Flow flow = bound(std::move(scene));
  bool above = false, below = false;
  for (const FootprintPoint& p : flow.scene.feet.points) (p.side > 0 ? above : below) = true;
  REQUIRE(above);
  REQUIRE(below);
  const std::vector<Vec3> flat = flow.scene.sheet.cloth.positions;
  const std::vector<Vec3> bent = flow.scene.sheet.shaped(cylinder(40));
  const Measured m = measure(flow.scene, {flat, bent}, {{Pose{}}, poses_on(flow, bent)});
  CHECK(m.frames[0][0].gap_min == Approx(0.1).margin(1e-6));
  CHECK(m.frames[0][0].gap_max == Approx(0.1).margin(1e-6));
  // Bent away from the cap: the cap's rim lifts by its sagitta, the stud's rim sinks by its own.
  const auto sagitta = [](double d) { return 40 - std::sqrt(40 * 40 - 0.25 * d * d); };
  CHECK(m.frames[1][0][Measure::Lift] == Approx(sagitta(12)).margin(0.04));
  CHECK(m.frames[1][0][Measure::Sink] == Approx(sagitta(10) - 0.1).margin(0.04));
  // Cloth on both sides forbids a correction that frees both; it is shared and said.
  const FitModel model = prepare(flow.scene);
  std::vector<Pose> poses = poses_on(flow, bent);
  std::vector<Seating> seated(1);
  seat(model, bent, {}, poses, seated);
  CHECK(seated[0].sink_after <= seated[0].sink_before + 1e-6F);
}

TEST_CASE("N1 jitter of a bound trim on shaking cloth is what its binding predicts") {
  std::mt19937 random(3);
  Scene scene;
  scene.sheet = flat_sheet(40, 4.0, 2);
  add_trim(scene, "button", disc(0, 0, 14, 32), 0.05, 2.5);
  const Flow flow = bound(std::move(scene));
  const double sigma = 0.02;
  std::normal_distribution<double> noise(0, sigma);
  const FitModel model = prepare(flow.scene);
  FitState state = begin_fit(model, flow.scene.options);
  std::vector<FitMeasures> out(1);
  double sum = 0;
  int count = 0;
  for (int f = 0; f < 400; ++f) {
    std::vector<Vec3> cloth = flow.scene.sheet.cloth.positions;
    for (Vec3& p : cloth) p += Vec3{noise(random), noise(random), noise(random)};
    measure_fit(model, cloth, poses_on(flow, cloth), {}, static_cast<std::uint64_t>(f), flow.scene.options, state, out);
    if (f < 2) continue;
    sum += out[0][Measure::Jitter] * out[0][Measure::Jitter], ++count;
  }
  // Against the patch around it, which shakes a little too: the same size as predicted, not orders away.
  const double measured = std::sqrt(sum / count);
  const double predicted = flow.scene.table.bindings[0].jitter_deg_per_mm * sigma;
  INFO("measured " << measured << " predicted " << predicted);
  CHECK(measured > 0.2 * predicted);
  CHECK(measured < 4 * predicted);
}

TEST_CASE("Ten frames from flat to a bend on coarse cells are no jitter; noise of 0.4 mm is, noise of 0.05 mm is not") {
  for (const double cell : {8.0, 10.0, 12.0}) {
    Scene scene;
    scene.sheet = flat_sheet(6 * cell, cell, 2);
    add_trim(scene, "button", disc(3, 1, 14, 32), 0.05, 2.5);
    add_trim(scene, "border", disc(5 * cell, -20, 16, 32), 0.05, 2.5);
    const Flow flow = bound(std::move(scene));
    for (const double sigma : {0.0, 0.05, 0.4}) {
      std::mt19937 random(7);
      std::normal_distribution<double> noise(0, 1);
      std::vector<std::vector<Vec3>> cloths;
      std::vector<std::vector<Pose>> poses;
      for (int f = -2; f <= 12; ++f) {  // it rests, bends, and stops
        const int step = std::clamp(f, 0, 10);
        cloths.push_back(step == 0 ? flow.scene.sheet.cloth.positions
                                   : flow.scene.sheet.shaped(cylinder(-30.0 * 10 / step)));
        for (Vec3& p : cloths.back()) p += sigma * Vec3{noise(random), noise(random), noise(random)};
        poses.push_back(poses_on(flow, cloths.back()));
      }
      const Measured m = measure(flow.scene, cloths, poses);
      for (const TrimFit& trim : m.summary.trims) {
        INFO("cell " << cell << " noise " << sigma << " turns " << trim[Measure::Jitter].value << " moves "
                     << trim[Measure::JitterMove].value);
        const bool named = trim[Measure::Jitter].value > FitLimits()[Measure::Jitter] ||
                           trim[Measure::JitterMove].value > FitLimits()[Measure::JitterMove];
        CHECK(named == (sigma == 0.4));
      }
    }
  }
}
