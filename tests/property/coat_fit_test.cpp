// SPDX-License-Identifier: MIT
// The measures and the seating on the demo coat, whose faults are known.
#include <catch2/catch.hpp>
#include <map>

#include "support/coat_fit.hpp"

using namespace trimtack;
using namespace trimtack::test;

TEST_CASE("The sound demo coat has no fault in any frame, for several seeds") {
  for (const std::uint64_t seed : {1ULL, 2ULL}) {
    const CoatFit coat = coat_fit({seed, 24, false});
    const FitSummary summary = measure_coat(coat);
    INFO("seed " << seed);
    for (std::size_t t = 0; t < summary.trims.size(); ++t) {
      INFO(coat.trims.name[t] << ": " << summary.trims[t].advice);
      CHECK(summary.trims[t].verdict != Verdict::Fault);
      CHECK(summary.trims[t][Measure::Rigidity].value < 1e-6F);
    }
  }
}

TEST_CASE("Each planted fault is named with the right trim, cause and frame, and nothing else is") {
  for (const std::uint64_t seed : {1ULL, 2ULL}) {
    INFO("seed " << seed);
    const CoatFit coat = coat_fit({seed, 24, true});
    const FitSummary summary = measure_coat(coat);
    const DemoFaults& planted = coat.demo.truth.faults;
    std::map<Index, Measure> expected{{coat.find(planted.wrong_layer), Measure::WrongLayer},
                                      {coat.find(planted.too_long), Measure::Lift},
                                      {coat.find(planted.sliver), Measure::Sliver},
                                      {coat.find(planted.collapsed), Measure::Collapse}};
    REQUIRE(expected.size() == 4);
    REQUIRE(expected.count(kNone) == 0);
    for (Index t = 0; t < summary.trims.size(); ++t) {
      const TrimFit& trim = summary.trims[t];
      INFO(coat.trims.name[t] << ": " << info_of(trim.cause).name << " " << trim[trim.cause].value << ". "
                              << trim.advice);
      const auto want = expected.find(t);
      CHECK((trim.verdict == Verdict::Fault) == (want != expected.end()));
      if (want != expected.end() && want->second != Measure::Lift) CHECK(trim.cause == want->second);
    }
    const TrimFit& collapsed = summary.trims[coat.find(planted.collapsed)];
    CHECK(collapsed[Measure::Collapse].frame == static_cast<std::uint64_t>(planted.collapsed_frame));
    const TrimFit& too_long = summary.trims[coat.find(planted.too_long)];
    CHECK(too_long.pieces > 1);
    CHECK(too_long.advice.find("pieces") != std::string::npos);
    // It stands off or sinks in, and the elbow bends little in the first frames.
    CHECK((too_long.cause == Measure::Lift || too_long.cause == Measure::Sink));
    CHECK(too_long[too_long.cause].frame >= 8);
  }
}

TEST_CASE("Seating leaves no trim deeper than at rest by more than 0.05 mm on the coat's frames, and bends none") {
  for (const bool faults : {false, true}) {
    const CoatFit coat = coat_fit({1, 24, faults});
    const FitModel model = prepare_fit(coat.cloth, coat.trims, coat.table, coat.feet, coat.parts.rows, coat.options);
    for (const double max_tilt : {0.0, 15.0}) {
      SeatOptions options;
      options.max_tilt_deg = max_tilt;
      options.max_shift_mm = 10;
      FitState state = begin_fit(model, coat.options);
      std::vector<FitMeasures> out(coat.table.bindings.size());
      std::vector<Seating> seated(out.size());
      std::vector<PoseQuality> quality;
      float deepest = 0;
      for (std::size_t f = 0; f < coat.demo.frames.size(); ++f) {
        const auto deformed = coat.cloth_frame(f);
        std::vector<Pose> poses = coat.poses(deformed, quality);
        seat(model, deformed, options, poses, seated);
        measure_fit(model, deformed, poses, quality, f + 1, coat.options, state, out);
        for (std::size_t t = 0; t < out.size(); ++t) {
          if (!seated[t].limited) deepest = std::max(deepest, out[t][Measure::Sink]);
          CHECK(out[t][Measure::Rigidity] < 1e-9F);
        }
      }
      INFO("tilt " << max_tilt << ", faults " << faults);
      CHECK(deepest <= 0.05F);
    }
  }
}

TEST_CASE("Measures do not depend on the order of work") {
  // An executor that runs its tasks backwards.
  const CoatFit coat = coat_fit({1, 3, true});
  FitOptions backwards = coat.options;
  backwards.executor.run = [](void*, std::size_t count, Executor::Task task, void* context) {
    for (std::size_t i = count; i-- > 0;) task(context, i);
  };
  const auto measure_with = [&](const FitOptions& options) {
    const FitModel model = prepare_fit(coat.cloth, coat.trims, coat.table, coat.feet, coat.parts.rows, options);
    FitState state = begin_fit(model, options);
    std::vector<FitMeasures> out(coat.table.bindings.size()), all;
    std::vector<PoseQuality> quality;
    for (std::size_t f = 0; f < coat.demo.frames.size(); ++f) {
      const auto deformed = coat.cloth_frame(f);
      const std::vector<Pose> poses = coat.poses(deformed, quality);
      measure_fit(model, deformed, poses, quality, f + 1, options, state, out);
      all.insert(all.end(), out.begin(), out.end());
    }
    return all;
  };
  const auto a = measure_with(coat.options), b = measure_with(backwards);
  REQUIRE(a.size() == b.size());
  for (std::size_t i = 0; i < a.size(); ++i) {
    REQUIRE(a[i].value == b[i].value);
    REQUIRE(a[i].gap_mean == b[i].gap_mean);
    REQUIRE(a[i].other_trim == b[i].other_trim);
  }
}
