// SPDX-License-Identifier: MIT
// What identify promises besides good roles: errors, the author's selectors and edits, rows, sizes, units.
#include "trimtack/identify.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <numbers>

#include "stages/find/settle.hpp"
#include "stages/find/trade_sizes.hpp"
#include "support/haberdashery.hpp"
#include "trimtack/units.hpp"
#include "trimtack/welded_trims.hpp"

using namespace trimtack;
using namespace trimtack::testing;

namespace {

void add(SourceMesh& mesh, const Solid& solid, const std::string& object, const std::string& material = {}) {
  FaceState state;
  state.object = static_cast<Index>(mesh.objects.size());
  mesh.objects.push_back(object);
  if (!material.empty()) {
    state.material = static_cast<Index>(mesh.materials.size());
    mesh.materials.push_back(material);
  }
  mesh.states.push_back({mesh.face_count(), state});
  const Index base = static_cast<Index>(mesh.positions.size());
  mesh.positions.insert(mesh.positions.end(), solid.vertices.begin(), solid.vertices.end());
  for (const Index v : solid.corners) mesh.corner_position.push_back(base + v);
  for (Index f = 0; f < solid.face_count(); ++f)
    mesh.face_offsets.push_back(mesh.face_offsets.back() + solid.offsets[f + 1] - solid.offsets[f]);
}

Solid button() {
  const std::vector<Vec2> profile{{0, 0}, {5, 0}, {5.715, 0.6}, {5.715, 2}, {4, 2.5}, {0, 2.2}};
  return turned(profile, 24, false);
}
Surface3 bent_cloth() {
  return [](Vec2 p) { return Vec3{160 * std::sin(p.x / 160), p.y, 160 * std::cos(p.x / 160)}; };
}
constexpr std::array<double, 6> kButtonAt{60, 145, 230, 315, 400, 485};

/// A bent sheet of cloth, a label, and six 18L buttons in a row.
SourceMesh front() {
  SourceMesh mesh;
  mesh.file = "front";
  SheetOptions o;
  add(mesh, sheet(bent_cloth(), 300, 550, {}, o), "front", "twill");
  for (const double y : kButtonAt) {
    const Pose pose = frame_at(bent_cloth(), {200, y}, 0.2, 0);
    add(mesh, moved(button(), pose.rotation, pose.translation), "knopf", "horn");
  }
  o.spacing = 8;
  add(mesh, sheet([](Vec2 p) { return bent_cloth()({p.x + 40, p.y + 60}) + Vec3{0, 0, 1}; }, 48, 24, {}, o), "tag");
  return mesh;
}

Parts found(const SourceMesh& mesh, const IdentifyOptions& options = {}) {
  Report report;
  Result<Parts> parts = identify(mesh, options, report);
  REQUIRE(parts);
  return std::move(parts.value());
}

}  // namespace

TEST_CASE("identify: a row of 18L buttons on a front: roles, prototype, row, size, unit (V4, U1)") {
  const SourceMesh mesh = front();
  const Parts parts = found(mesh);
  REQUIRE(parts.components.size() == 8);
  CHECK(parts.components[0].role == Role::Cloth);
  CHECK(parts.components[7].role == Role::Cloth);
  REQUIRE(parts.trims.size() == 6);
  CHECK(parts.prototypes.size() == 1);
  CHECK(parts.prototypes[0].trade_size == "18L");
  CHECK(parts.unit.name == "mm");
  REQUIRE(parts.rows.size() == 1);
  CHECK(parts.rows[0].trims == std::vector<Index>{0, 1, 2, 3, 4, 5});
  CHECK(parts.rows[0].pitch == Approx(85).epsilon(1e-6));
  for (const Component& c : parts.components) {
    CHECK_FALSE(c.uncertain);
    CHECK_FALSE(c.reasons.empty());
  }
}

TEST_CASE("identify: names of trims are UTF-8 and differ, whatever encoding the export's are in") {
  SourceMesh mesh = front();
  for (std::size_t i = 0; i < 6; ++i) mesh.objects[1 + i] = i % 2 == 0 ? "kn\xf6pfe" : "kn\xfcpfe";
  mesh.objects[1] = "\xd0\xba";  // well formed
  const Parts parts = found(mesh);
  REQUIRE(parts.trims.size() == 6);
  CHECK(parts.trims[0].name == "\xd0\xba");
  CHECK(parts.trims[1].name == "kn\xef\xbf\xbdpfe");
  CHECK(parts.trims[2].name == "kn\xef\xbf\xbdpfe'");
  CHECK(parts.trims[3].name == "kn\xef\xbf\xbdpfe''");
}

TEST_CASE("identify: placements carry the prototype onto each copy to rounding") {
  const SourceMesh mesh = front();
  const Parts parts = found(mesh);
  const std::size_t per = button().vertices.size();
  const std::size_t base = 31 * 56;
  for (std::size_t t = 0; t < parts.trims.size(); ++t) {
    CHECK_FALSE(parts.trims[t].mirrored);
    double worst = 0;
    for (std::size_t v = 0; v < per; ++v)
      worst = std::max(worst, length(apply(parts.trims[t].placement, mesh.positions[base + v]) -
                                     mesh.positions[base + t * per + v]));
    CHECK(worst < 1e-9);
  }
}

TEST_CASE("identify: no faces is an error, not a crash") {
  Report report;
  const Result<Parts> parts = identify(SourceMesh{}, {}, report);
  REQUIRE_FALSE(parts);
  CHECK(parts.error().code == ErrorCode::BadInput);
}

TEST_CASE("identify: selectors by name, material, component and face settle a role") {
  const SourceMesh mesh = front();
  IdentifyOptions options;
  SECTION("name pattern") { options.overrides = {{Role::Trim, SelectorKind::Name, "T?G"}}; }
  SECTION("component") { options.overrides = {{Role::Trim, SelectorKind::Component, "7"}}; }
  SECTION("face") { options.overrides = {{Role::Trim, SelectorKind::Face, std::to_string(mesh.face_count() - 1)}}; }
  const Parts parts = found(mesh, options);
  CHECK(parts.components[7].role == Role::Trim);
  CHECK(parts.components[7].confidence == 1);
  CHECK(parts.trims.size() == 7);
}

TEST_CASE("identify: a material selector takes every component of that material; later selectors win") {
  IdentifyOptions options;
  options.overrides = {{Role::Cloth, SelectorKind::Material, "ho*"}, {Role::Trim, SelectorKind::Component, "3"}};
  const Parts parts = found(front(), options);
  CHECK(parts.trims.size() == 1);
  CHECK(parts.trims[0].components == std::vector<Index>{3});
}

TEST_CASE("identify: a selector that matches nothing names what is near") {
  IdentifyOptions options;
  Report report;
  options.overrides = {{Role::Trim, SelectorKind::Name, "knopp"}};
  const Result<Parts> parts = identify(front(), options, report);
  REQUIRE_FALSE(parts);
  CHECK(parts.error().code == ErrorCode::Usage);
  CHECK(parts.error().message.find("knopf") != std::string::npos);
  options.overrides = {{Role::Trim, SelectorKind::Component, "99"}};
  CHECK_FALSE(identify(front(), options, report));
}

TEST_CASE("identify: edited roles and trim ids are taken over, another mesh's list is refused") {
  const SourceMesh mesh = front();
  Parts edited = found(mesh);
  edited.components[7].role = Role::Trim;  // the label becomes hard and moves with the first button
  edited.components[7].trim = 0;
  edited.components[2].role = Role::Cloth;
  IdentifyOptions options;
  options.edited = &edited;
  const Parts parts = found(mesh, options);
  CHECK(parts.trims.size() == 5);
  CHECK(parts.trims[0].components == std::vector<Index>{1, 7});
  CHECK(parts.components[2].trim == kNone);
  CHECK(parts.components[7].confidence == 1);
  edited.components.pop_back();
  Report report;
  const Result<Parts> refused = identify(mesh, options, report);
  REQUIRE_FALSE(refused);
  CHECK(refused.error().code == ErrorCode::BadInput);
}

TEST_CASE("identify: shoes and bodices are small, and need not be a doll's in another unit (U1)") {
  const std::array<Witness, 3> shoe{{{Gauge::RoundPart, 0.9}, {Gauge::Stitch, 0.22}, {Gauge::Thread, 0.056}}};
  CHECK(deduce_unit({24.8, 0.41, 0.16, shoe}).name == "cm");
  const std::array<Witness, 3> bodice{{{Gauge::RoundPart, 0.354}, {Gauge::Stitch, 0.092}, {Gauge::Thread, 0.025}}};
  CHECK(deduce_unit({17.3, 0.2, 0, bodice}).name == "in");
}

TEST_CASE("identify: clothes three times as large, buttons and stitches and all, are a giant's (U1)") {
  const std::array<Witness, 3> coat{{{Gauge::Button, 0.045}, {Gauge::Stitch, 0.008}, {Gauge::Thread, 0.0018}}};
  std::vector<UnitChance> chances;
  CHECK(deduce_unit({3.2, 0.024, 0, coat}, &chances).name == "m");
  const auto likeliest = std::max_element(chances.begin(), chances.end(), [](const UnitChance& a, const UnitChance& b) {
    return a.probability < b.probability;
  });
  CHECK(likeliest->mm_per_unit == 1000 / 3.0);
}

TEST_CASE("identify: a declared unit that makes the buttons 114 mm wide is contradicted (U1)") {
  IdentifyOptions options;
  options.unit = unit_named("cm");
  Report report;
  REQUIRE(identify(front(), options, report));
  REQUIRE(report.findings.size() == 1);
  CHECK(report.findings[0].code == "unit-contradicted");
}

namespace {

/// A front with a pyramid stud welded on by its four corners, in its own material.
SourceMesh studded_front() {
  SourceMesh mesh = front();
  FaceState state;
  state.material = static_cast<Index>(mesh.materials.size());
  mesh.materials.push_back("brass");
  mesh.states.push_back({mesh.face_count(), state});
  const std::array<Index, 4> base{mesh.corner_position[4 * 400], mesh.corner_position[4 * 400 + 1],
                                  mesh.corner_position[4 * 400 + 2], mesh.corner_position[4 * 400 + 3]};
  Vec3 tip;
  for (const Index v : base) tip += 0.25 * mesh.positions[v];
  const Vec3 n =
      cross(mesh.positions[base[1]] - mesh.positions[base[0]], mesh.positions[base[2]] - mesh.positions[base[1]]);
  mesh.positions.push_back(tip + 4.0 * normalized(n));
  for (std::size_t k = 0; k < 4; ++k) {
    for (const Index v : {base[k], base[(k + 1) % 4], static_cast<Index>(mesh.positions.size() - 1)})
      mesh.corner_position.push_back(v);
    mesh.face_offsets.push_back(mesh.face_offsets.back() + 3);
  }
  return mesh;
}

}  // namespace

TEST_CASE("welded trims: reported with their place, cut off on request, and the cut undone exactly") {
  const SourceMesh mesh = studded_front();
  Report report;
  Result<Parts> welded = identify(mesh, {}, report);
  REQUIRE(welded);
  CHECK(welded->components.size() == 8);
  REQUIRE(report.findings.size() == 1);
  CHECK(report.findings[0].code == "trim-welded");

  Result<CutMesh> cut = cut_welded_trims(mesh, {}, report);
  REQUIRE(cut);
  REQUIRE(cut->trims.size() == 1);
  CHECK(cut->trims[0].faces.size() == 4);
  CHECK(cut->double_of.size() == 4);
  IdentifyOptions options;
  options.weld_groups = cut->weld_groups;
  const Parts parts = found(cut->mesh, options);
  CHECK(parts.components.size() == 9);
  CHECK(parts.components[8].faces == std::vector<IndexRange>{{mesh.face_count() - 4, mesh.face_count()}});
  std::string where;
  CHECK(same_content(undo_cut(*cut), mesh, &where));
  CAPTURE(where);
}

TEST_CASE("selectors: a part of a cloth component that is named as a trim stays cloth, and that is told") {
  SourceMesh mesh = front();
  FaceState brass = state_of(mesh, 0);
  brass.material = static_cast<Index>(mesh.materials.size());
  mesh.materials.push_back("brass");
  mesh.states.insert(mesh.states.begin() + 1, {{40, brass}, {60, mesh.states[0].state}});
  IdentifyOptions options;
  options.overrides = {{Role::Trim, SelectorKind::Material, "horn"}};
  Report report;
  REQUIRE(identify(mesh, options, report));
  CHECK(report.findings.empty());
  mesh.states[5].state.material = brass.material;  // one of the buttons, too: the selector matches something
  options.overrides = {{Role::Trim, SelectorKind::Material, "brass"}};
  const Result<Parts> parts = identify(mesh, options, report);
  REQUIRE(parts);
  CHECK(parts->components[0].role == Role::Cloth);
  REQUIRE(report.findings.size() == 1);
  CHECK(report.findings[0].code == "selector-partly");
}

TEST_CASE("patterns: * is any run, ? one character, case does not count") {
  CHECK(matches_pattern("Button_03", "button*"));
  CHECK(matches_pattern("abcabc", "*bc"));
  CHECK(matches_pattern("x", "?"));
  CHECK_FALSE(matches_pattern("", "?"));
  CHECK(matches_pattern("", "*"));
  CHECK_FALSE(matches_pattern("button", "butto"));
}

TEST_CASE("trade sizes: ligne is 0.635 mm, a gauge number about the chain's width in mm") {
  CHECK(ligne_size(11.43).name == "18L");
  CHECK(ligne_size(11.5).name == "18L");
  CHECK(ligne_size(25.4).name == "40L");
  CHECK(ligne_size(100).name.empty());
  CHECK(zipper_gauge(3.3).name == "No. 3");
  CHECK(zipper_gauge(5.0).confidence > zipper_gauge(5.4).confidence);
}
