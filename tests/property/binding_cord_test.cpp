// SPDX-License-Identifier: MIT
// What runs through a trim, as a cord through a stopper, against the cloth that it lies on.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>

#include "support/sheets.hpp"

using namespace trimtack;
using namespace trimtack::testing;

namespace {

constexpr Index kPanel = 2, kCord = 4;
constexpr int kSides = 8;

/// A panel, and a cord 3.2 mm thick over it whose middle line is given by the distance along it.
struct CordOverPanel {
  Pattern pattern;
  std::vector<Vec3> rest;
  TrimShapes trims;
  Report report;

  template <class Line>
  explicit CordOverPanel(Line&& line) {
    append_sheet(pattern, {-60, 60, -60, 60, 6, Cells::Quads, 0, 1, kPanel});
    for (const Vec2& p : pattern.flat) rest.push_back({p.x, p.y, 0});
    const std::size_t first = pattern.flat.size();
    append_sheet(pattern, {0, kSides * 4, -48, 48, 4, Cells::Quads, 0, 1, kCord});
    for (std::size_t i = first; i < pattern.flat.size(); ++i) {
      const double angle = 2 * std::numbers::pi * (std::lround(pattern.flat[i].x / 4) % kSides) / kSides;
      rest.push_back(line(pattern.flat[i].y) + Vec3{1.6 * std::cos(angle), 0, 1.6 * std::sin(angle)});
    }
  }
  Binding bound(const Solid& trim) {
    append_trim(trims, "stopper", trim.vertices, trim.triangles);
    const ClothMesh cloth = cloth_of(pattern, rest);
    const auto table = bind(ClothIndex(cloth), trims, millimetres(), {}, report);
    REQUIRE(table);
    return table->bindings[0];
  }
  bool told() const {
    return std::any_of(report.findings.begin(), report.findings.end(),
                       [](const Finding& finding) { return finding.code == "cord-through"; });
  }
};

auto straight(double height) {
  return [height](double along) { return Vec3{0, along, height}; };
}

/// A stopper 11 mm high whose underside lies at a height.
Solid stopper(double low) {
  Solid out;
  append_box(out, {-5, -7, low}, {6, 7, low + 11});
  return out;
}

}  // namespace

TEST_CASE("a stopper over a panel that it does not touch follows the cord that runs through it") {
  for (const double low : {0.8, 2.0}) {
    CordOverPanel scene(straight(low + 5.5));
    const Binding binding = scene.bound(stopper(low));
    CHECK(binding.layer == kCord);
    CHECK(binding.runner_up == kPanel);
    for (const Finding& finding : scene.report.findings) CHECK(finding.code == "trim-too-long");
  }
}

TEST_CASE("a stopper that touches the panel may be a guide that is sewn to it: it follows that, and says so") {
  for (const double low : {-0.4, 0.1}) {
    CordOverPanel scene(straight(low + 5.5));
    const Binding binding = scene.bound(stopper(low));
    CHECK(binding.layer == kPanel);
    CHECK(binding.runner_up == kCord);
    CHECK(scene.told());
  }
}

TEST_CASE("a cord beside a trim, and one that goes on through the panel, do not carry it") {
  CordOverPanel beside([](double along) { return Vec3{8, along, 5.5}; });
  CHECK(beside.bound(stopper(0.8)).layer == kPanel);
  CHECK_FALSE(beside.told());
  CordOverPanel across([](double along) { return Vec3{0, 0, 6 + along}; });
  CHECK(across.bound(stopper(0.8)).layer == kPanel);
  CHECK_FALSE(across.told());
}
