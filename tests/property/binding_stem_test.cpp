// SPDX-License-Identifier: MIT
// What a shank or thread that goes on beyond a layer tells of who holds the trim.
#include <algorithm>
#include <catch2/catch.hpp>

#include "support/sheets.hpp"

using namespace trimtack;
using namespace trimtack::testing;

namespace {

constexpr Index kOver = 3, kUnder = 5;

/// A closed placket: the over front 1.2 mm over the under front, whole or with a buttonhole of 20 x 4 mm.
struct Placket {
  Pattern pattern;
  std::vector<Vec3> rest;
  TrimShapes trims;
  Report report;

  void add_panel(double x0, double x1, double y0, double y1, double z, Index component) {
    const std::size_t first = pattern.flat.size();
    append_sheet(pattern, {x0, x1, y0, y1, 4, Cells::Mixed, 0, 1, component});
    for (std::size_t i = first; i < pattern.flat.size(); ++i) rest.push_back({pattern.flat[i].x, pattern.flat[i].y, z});
  }
  explicit Placket(bool hole) {
    add_panel(-60, 60, -42, 42, 0, kUnder);
    if (!hole) {
      add_panel(-40, 40, -42, 42, 1.2, kOver);
      return;
    }
    add_panel(-40, -8, -42, 42, 1.2, kOver);
    add_panel(12, 40, -42, 42, 1.2, kOver);
    add_panel(-8, 12, -42, -2, 1.2, kOver);
    add_panel(-8, 12, 2, 42, 1.2, kOver);
  }
  /// A button over the over front at x, its stem down to a height.
  void add_button(double x, double down_to, double radius = 6.5) {
    Solid button;
    append_disc(button, {x, 0, 1.4}, {0, 0, 1}, radius, 2.5);
    append_disc(button, {x, 0, down_to}, {0, 0, 1}, 1.2, 2.0 - down_to, 12);
    append_trim(trims, "button " + std::to_string(trims.id.size()), button.vertices, button.triangles);
  }
  Binding bound(const BindOptions& options = {}) {
    const ClothMesh cloth = cloth_of(pattern, rest);
    const ClothIndex index(cloth);
    const auto table = bind(index, trims, millimetres(), options, report);
    REQUIRE(table);
    return table->bindings[0];
  }
};

bool says(const Binding& binding, const std::string& words) {
  return std::any_of(binding.notes.begin(), binding.notes.end(),
                     [&](const std::string& note) { return note.find(words) != std::string::npos; });
}

}  // namespace

TEST_CASE("a button whose stem passes a buttonhole is held by the layer that the stem stands on or goes through") {
  for (const double down_to : {0.3, 0.05, -0.3}) {
    for (const double x : {0.0, 5.0}) {
      Placket placket(true);
      placket.add_button(x, down_to);
      const Binding button = placket.bound();
      CHECK(button.layer == kUnder);
      CHECK(button.runner_up == kOver);
      CHECK(says(button, "through an opening of the one that it lies on"));
      CHECK(placket.report.findings.empty());
    }
  }
}

TEST_CASE("where the stem pierces both layers either may hold the button: it follows the upper one, and says so") {
  Placket placket(false);
  placket.add_button(1, -0.3);
  const Binding button = placket.bound();
  CHECK(button.layer == kOver);
  CHECK(button.runner_up == kUnder);
  CHECK(says(button, "bind --layer 0=5"));
  REQUIRE(placket.report.findings.size() == 1);
  CHECK(placket.report.findings[0].code == "stem-through-layers");
  BindOptions settled;
  settled.layer[0] = kUnder;
  Placket again(false);
  again.add_button(1, -0.3);
  CHECK(again.bound(settled).layer == kUnder);
  CHECK(again.report.findings.empty());
}

TEST_CASE("a stem that ends in its own layer, over a gap or past the border of a layer tells nothing") {
  Placket sewn(false);
  sewn.add_button(1, 0.9);
  CHECK(sewn.bound().layer == kOver);
  CHECK(sewn.report.findings.empty());

  Placket ends_in_air(true);
  for (Vec3& p : ends_in_air.rest)
    if (p.z == 0) p.z = -8;
  ends_in_air.add_button(1, 0.2);
  CHECK(ends_in_air.bound().layer == kOver);
  CHECK(ends_in_air.report.findings.empty());

  for (const double radius : {6.5, 9.0}) {
    Placket past(false);
    for (std::size_t v = 0; v < past.rest.size(); ++v)
      if (past.rest[v].z > 0 && past.rest[v].x > -2) past.rest[v].x = -2;  // its border runs beside the stem
    past.add_button(0, 0.05, radius);
    CHECK_FALSE(says(past.bound(), "stem"));
  }
}

TEST_CASE(
    "a trim that stands off its cloth by more than a shank is noted; a shank button and one a little off are not") {
  for (const double off : {0.5, 2.5, 3.5, 12.0}) {
    Placket cloth(false);
    Solid button = disc({1, 2, 1.2 + off}, {0, 0, 1}, 5.7, 3);
    append_trim(cloth.trims, "button", button.vertices, button.triangles);
    const Binding bound = cloth.bound();
    CHECK(cloth.report.findings.size() == (off > 3 ? 1 : 0));
    CHECK(says(bound, "off its cloth at rest") == (off > 3));
    append_disc(button, {1, 2, 1.25}, {0, 0, 1}, 1.5, off + 1);
    Placket again(false);
    append_trim(again.trims, "shank button", button.vertices, button.triangles);
    CHECK_FALSE(says(again.bound(), "off its cloth at rest"));
  }
}
