// SPDX-License-Identifier: MIT
// Every sentence of advice, from measures that are set by hand.
#include <catch2/catch.hpp>
#include <cmath>
#include <functional>
#include <string>

#include "trimtack/fit.hpp"

using namespace trimtack;

namespace {

constexpr double kRadians = 3.14159265358979323846 / 180.0;

/// One trim, 20 mm wide on 5 mm cloth unless changed; a second one stands beside it.
struct Judged {
  BindTable table;
  FitModel model;
  FitState state;
  FitOptions options;

  Judged() {
    table.bindings.resize(2);
    table.bindings[0].name = "front button";
    table.bindings[0].layer = 0;
    table.bindings[1].name = "collar button";
    model.table = &table;
    model.places.resize(2);
    for (FitPlace& place : model.places) place.width = 20, place.narrow = 20, place.edge = 5;
    state.summary.trims.resize(2);
    state.summary.layer_name = {"front", "pocket"};
    state.mean_sum.resize(2);
  }
  TrimFit& trim() { return state.summary.trims[0]; }
  void set(Measure measure, double value, std::uint64_t frame = 7) {
    trim().worst[static_cast<std::size_t>(measure)] = {static_cast<float>(value), frame};
  }
  TrimFit judge() const {
    const FitSummary summary = finish_fit(model, state, options);
    CHECK(summary.trims[1].verdict == Verdict::Good);
    CHECK(summary.trims[1].advice.empty());
    return summary.trims[0];
  }
};

void expect(const char* wanted, Measure cause, const std::function<void(Judged&)>& set) {
  Judged judged;
  set(judged);
  const TrimFit fit = judged.judge();
  CHECK(fit.verdict == Verdict::Fault);
  CHECK(fit.cause == cause);
  CHECK(fit.advice == wanted);
}

}  // namespace

TEST_CASE("Advice for gaps tells floating, leaning and bending apart") {
  expect("It floats above its cloth; seat it (follow --seat).", Measure::Lift,
         [](Judged& j) { j.set(Measure::Lift, 1.5); });
  expect("It sinks into its cloth; seat it (follow --seat).", Measure::Sink,
         [](Judged& j) { j.set(Measure::Sink, 0.9); });
  // 9 degrees at a rim of 10 mm are 1.56 mm: the lift is the lean's.
  expect(
      "It leans and lifts on one side; bind it with a larger patch, so that it follows more of the cloth around it, "
      "or seat it (follow --seat).",
      Measure::Lift, [](Judged& j) { j.set(Measure::Lift, 2), j.set(Measure::Tilt, 9); });
  expect(
      "It leans into the cloth; use denser cloth under it: 8 mm spacing instead of 14.0 mm, or seat it (follow "
      "--seat).",
      Measure::Sink, [](Judged& j) {
        j.set(Measure::Sink, 2), j.set(Measure::Tilt, 9);
        j.model.places[0].edge = 14;
      });
}

TEST_CASE("G1: a trim on a bend is told the length of a piece whose sagitta is the limit") {
  // 40 mm long on a bend of radius 50: R - sqrt(R^2 - 20^2) = 4.174 mm; pieces of 2 sqrt(2 R s - s^2) with s = 1.
  const double lift = 50 - std::sqrt(50 * 50 - 20 * 20), piece = 2 * std::sqrt(2 * 50 - 1);
  CHECK(piece == Approx(19.9).margin(0.01));
  Judged judged;
  judged.model.places[0].width = 40;
  judged.model.places[0].narrow = 8;
  judged.set(Measure::Lift, lift);
  judged.trim().spread_mm = static_cast<float>(lift);
  const TrimFit bar = judged.judge();
  CHECK(bar.pieces == 3);
  CHECK(bar.advice ==
        "It is too long for this bend; cut it in 3 rigid pieces of at most 19.9 mm, or move it off the bend.");
  judged.model.places[0].narrow = 40;
  CHECK(judged.judge().advice ==
        "It is too wide for this bend; use one of at most 19.9 mm there, seat it (follow --seat), or move it off the "
        "bend.");
}

TEST_CASE("Advice for strain, layers, shaking and damage names what is to be done, and where") {
  expect("It leans against its cloth; bind it with a larger patch, so that it follows more of the cloth around it.",
         Measure::Tilt, [](Judged& j) { j.set(Measure::Tilt, 15); });
  expect(
      "The cloth under it stretches by 40 %, where a hole or thread would tear; move it, or stiffen the cloth there.",
      Measure::Stretch, [](Judged& j) { j.set(Measure::Stretch, 40); });
  expect("The cloth under it is squeezed by 45 %; move it, or stiffen the cloth there.", Measure::Squeeze,
         [](Judged& j) { j.set(Measure::Squeeze, 45); });
  expect("The cloth under it shears; move it, or stiffen the cloth there.", Measure::Shear,
         [](Judged& j) { j.set(Measure::Shear, 30); });
  expect("Cloth of pocket runs into it; seat it (follow --seat) or keep the layers apart in the simulation.",
         Measure::OtherLayer, [](Judged& j) { j.set(Measure::OtherLayer, 1), j.trim().other_layer = 1; });
  expect("Cloth of another layer runs into it; seat it (follow --seat) or keep the layers apart in the simulation.",
         Measure::OtherLayer, [](Judged& j) { j.set(Measure::OtherLayer, 1); });
  expect("It lies on layer 5 but follows another layer; bind it to the one it lies on (bind --layer).",
         Measure::WrongLayer, [](Judged& j) { j.set(Measure::WrongLayer, 1), j.model.places[0].touched = 5; });
  expect(
      "It is sunk through the cloth that it follows and lies on the layer beneath; lift it out in the export, or bind "
      "it to the layer it lies on.",
      Measure::WrongLayer, [](Judged& j) { j.set(Measure::WrongLayer, 1), j.model.places[0].touched = 0; });
  expect(
      "Cloth of pocket, which it clamps as well, slips or parts from the cloth that it follows; tie the layers "
      "together under it in the simulation, or bind it to that one if it is only buttoned through the other (bind "
      "--layer).",
      Measure::Clamped, [](Judged& j) { j.set(Measure::Clamped, 2), j.trim().clamped_layer = 1; });
  for (const Measure shake : {Measure::Jitter, Measure::JitterMove}) {
    expect("It shakes against its cloth; bind it with a larger patch, so that it follows more of the cloth around it.",
           shake, [shake](Judged& j) { j.set(shake, 4); });
  }
  expect("It does not keep its shape; the binding table is damaged, bind again.", Measure::Rigidity,
         [](Judged& j) { j.set(Measure::Rigidity, 1e-3); });
  expect("It runs into collar button; widen their spacing or ease the bend.", Measure::Collision,
         [](Judged& j) { j.set(Measure::Collision, 1), j.trim().other_trim = 1; });
  expect("It runs into another trim; widen their spacing or ease the bend.", Measure::Collision,
         [](Judged& j) { j.set(Measure::Collision, 1); });
  expect(
      "Face 812 of the cloth under it collapses or folds over; repair the cloth in that frame or use a larger patch.",
      Measure::Collapse, [](Judged& j) { j.set(Measure::Collapse, 2), j.trim().bad_triangle = 812; });
  expect("Its patch of cloth gives no frame; repair the cloth in that frame or use a larger patch.", Measure::Lost,
         [](Judged& j) { j.set(Measure::Lost, 2); });
  expect("A thin triangle carries it; remesh the cloth there, or bind it with a larger patch.", Measure::Sliver,
         [](Judged& j) { j.set(Measure::Sliver, 60, 0); });
}

TEST_CASE("Limits: a value at its limit is close, above it a fault, below 0.8 of it good; each can be set") {
  for (const MeasureInfo& info : measure_infos()) {
    if (info.limit == 0) continue;
    INFO(info.name);
    Judged judged;
    const double rim = 0.5 * 20 * std::sin(kRadians * 2);
    CHECK(rim > 0.15);  // angles above 2 degrees are seen on this trim
    judged.options.limits[info.measure] = 4;
    const auto verdict = [&](double value) {
      judged.set(info.measure, value);
      return judged.judge().verdict;
    };
    const bool near = info.measure != Measure::Rigidity && info.measure != Measure::Sliver;
    CHECK(verdict(3.1) == Verdict::Good);
    CHECK(verdict(3.5) == (near ? Verdict::Close : Verdict::Good));
    CHECK(verdict(4) == (near ? Verdict::Close : Verdict::Good));
    CHECK(verdict(4.1) == Verdict::Fault);
  }
}

TEST_CASE("What brings other faults with it is named first: collapsed cloth before the tilt that it makes") {
  Judged judged;
  judged.set(Measure::Tilt, 80);
  judged.set(Measure::Lift, 30);
  judged.set(Measure::Collapse, 1, 17);
  CHECK(judged.judge().cause == Measure::Collapse);
  CHECK(judged.judge()[Measure::Collapse].frame == 17);
}
