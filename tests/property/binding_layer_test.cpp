// SPDX-License-Identifier: MIT
// Which layer carries a trim, where it stands, and that a patch never leaves its layer.
#include <catch2/catch.hpp>
#include <numeric>

#include "support/sheets.hpp"
#include "trimtack/fit.hpp"
#include "trimtack/footprint.hpp"

using namespace trimtack;
using namespace trimtack::testing;

namespace {

struct Scene {
  Pattern pattern;
  std::vector<Vec3> rest;
  TrimShapes trims;
  BindTable table;
  Footprints footprints;
  Report report;

  void add_sheet(const SheetOptions& options, const std::function<Vec3(const Vec2&)>& shape) {
    const std::size_t first = pattern.flat.size();
    append_sheet(pattern, options);
    for (std::size_t i = first; i < pattern.flat.size(); ++i) rest.push_back(shape(pattern.flat[i]));
  }
  void add(const Solid& s) { append_trim(trims, "trim " + std::to_string(trims.id.size()), s.vertices, s.triangles); }
  void bind_all(const BindOptions& options = {}) {
    const ClothMesh cloth = cloth_of(pattern, rest);
    const ClothIndex index(cloth);
    auto result = bind(index, trims, millimetres(), options, report);
    REQUIRE(result);
    table = *result;
    footprints = find_footprints(index, trims, table);
  }
  const Patch& patch(Index t) const { return table.patches[table.bindings[t].patch]; }
  std::vector<Vec3> patch_positions(Index t, bool fallback = false) const {
    const Patch& p = table.patches[fallback ? table.bindings[t].fallback : table.bindings[t].patch];
    std::vector<Vec3> out;
    for (Index i = p.first; i < p.first + p.count; ++i) out.push_back(rest[table.vertices[i]]);
    return out;
  }
};

std::function<Vec3(const Vec2&)> level(double z) {
  return [z](const Vec2& p) { return Vec3{p.x, p.y, z}; };
}
SheetOptions sheet(Index component, double step = 5) {
  return {-40, 40, -40, 40, step, Cells::Mixed, 0.2, 61, component};
}

}  // namespace

TEST_CASE("a trim belongs to the layer it touches, and the next one is the runner-up") {
  for (const bool upper_first : {true, false}) {
    Scene s;
    s.add_sheet(sheet(upper_first ? 4 : 7), level(upper_first ? 0.6 : 0));
    s.add_sheet(sheet(upper_first ? 7 : 4, 4), level(upper_first ? 0 : 0.6));
    s.add(disc({1, 2, 0.7}, {0, 0, 1}, 5.7, 3));    // resting on the upper layer
    s.add(disc({-9, 2, -0.4}, {0, 0, 1}, 5.7, 3));  // sunk 1 mm, through both layers
    s.add(disc({9, 7, 2.6}, {0, 0, 1}, 5.7, 3));    // hovering 2 mm
    s.add(disc({5, -9, -3.2}, {0, 0, 1}, 5.7, 3));  // on the back of the lower layer
    s.bind_all();
    for (const Index t : {0U, 1U, 2U}) {
      CHECK(s.table.bindings[t].layer == 4);
      CHECK(s.table.bindings[t].runner_up == 7);
      for (const Vec3& p : s.patch_positions(t)) CHECK(p.z == 0.6);
      for (const Vec3& p : s.patch_positions(t, true)) CHECK(p.z == 0.6);
    }
    CHECK(s.table.bindings[0].gap == Approx(0.1).margin(0.01));
    CHECK(s.table.bindings[1].gap == Approx(-1.0).margin(0.05));
    CHECK(s.table.bindings[2].gap == Approx(2.0).margin(0.01));
    CHECK(s.table.bindings[3].layer == 7);
    CHECK(s.table.bindings[3].gap == Approx(0.2).margin(0.01));
  }
}

TEST_CASE("a pocket flap above a button does not take it from the cloth that it is sewn to") {
  for (const double flap : {3.6, 2.6}) {  // clear of the button; cutting into its top
    Scene s;
    s.add_sheet(sheet(0), level(0));
    s.add_sheet(sheet(1), level(flap));
    s.add(disc({1, 2, 0.1}, {0, 0, 1}, 5.7, 3));
    s.bind_all();
    CHECK(s.table.bindings[0].layer == 0);
    CHECK(s.table.bindings[0].gap == Approx(0.1).margin(0.02));
  }
}

TEST_CASE("H3 between two layers at the same distance the face side decides, not the order") {
  for (const bool lower_first : {true, false}) {
    Scene s;
    s.add_sheet(sheet(lower_first ? 0 : 1), level(lower_first ? -1.5 : 1.5));
    s.add_sheet(sheet(lower_first ? 1 : 0), level(lower_first ? 1.5 : -1.5));
    s.add(disc({1, 2, -1}, {0, 0, 1}, 5, 2));
    s.bind_all();
    CHECK(s.table.bindings[0].layer == 0);  // the trim lies on the face side (+z) of the lower layer
    CHECK(s.patch(0).origin.z == -1.5);
  }
}

TEST_CASE("--layer overrides the choice, and an impossible wish is reported") {
  Scene s;
  s.add_sheet(sheet(4), level(0.6));
  s.add_sheet(sheet(7), level(0));
  s.add(disc({1, 2, 0.7}, {0, 0, 1}, 5.7, 3));
  s.add(disc({-9, 2, 0.7}, {0, 0, 1}, 5.7, 3));
  BindOptions options;
  options.layer[0] = 7;
  options.layer[1] = 99;
  s.bind_all(options);
  CHECK(s.table.bindings[0].layer == 7);
  CHECK(s.patch(0).origin.z == 0);
  CHECK(s.table.bindings[1].layer == 4);
  REQUIRE(s.report.findings.size() == 1);
  CHECK(s.report.findings[0].code == "layer-not-cloth");
}

TEST_CASE("G4 a snap clamps its layer: one unit, footprint on both faces") {
  Scene s;
  s.add_sheet(sheet(0), level(0));
  Solid snap;
  append_disc(snap, {1, 2, 0.05}, {0, 0, 1}, 5, 2);
  append_disc(snap, {1, 2, -2.05}, {0, 0, 1}, 4.5, 2);
  append_disc(snap, {1, 2, -1}, {0, 0, 1}, 1.2, 2);
  s.add(snap);
  s.bind_all();
  const auto points = s.footprints.of(0);
  double above = 0, below = 0;
  for (const FootprintPoint& p : points) {
    CHECK(p.side * p.distance == Approx(0.05).margin(0.3));
    (p.distance > 0 ? above : below) += p.weight;
  }
  CHECK(s.table.bindings[0].gap == Approx(0.05).margin(0.02));
  CHECK(above > 0.3);
  CHECK(below > 0.3);
  REQUIRE_FALSE(s.table.bindings[0].notes.empty());
  CHECK(s.table.bindings[0].notes[0].find("two-sided") != std::string::npos);
}

TEST_CASE("a snap let into thick cloth, its back over a layer beneath, clamps the layer and is no part of that one") {
  Scene s;
  s.add_sheet(sheet(0), level(0));
  s.add_sheet(sheet(0), [](const Vec2& p) { return Vec3{-p.x, p.y, -2.2}; });
  s.add_sheet(sheet(1), level(-2.8));
  Solid snap;
  append_disc(snap, {1, 2, -0.1}, {0, 0, 1}, 7.5, 1.8);
  append_disc(snap, {1, 2, -3.4}, {0, 0, 1}, 7, 1.3);
  append_disc(snap, {1, 2, -2.5}, {0, 0, 1}, 1.2, 3);
  s.add(snap);
  s.bind_all();
  CHECK(s.table.bindings[0].layer == 0);
  CHECK(s.table.bindings[0].gap > -0.15);
  REQUIRE_FALSE(s.table.bindings[0].notes.empty());
  for (const FootprintPoint& p : s.footprints.of(0)) CHECK(p.side * p.distance > -0.15);
}

TEST_CASE("a sunk solid is not taken for a two-sided part") {
  Scene s;
  s.add_sheet(sheet(0), level(0));
  s.add(disc({1, 2, -1}, {0, 0, 1}, 5.7, 3));
  s.bind_all();
  CHECK(s.table.bindings[0].notes.empty());
  for (const FootprintPoint& p : s.footprints.of(0)) CHECK(p.distance < 0);
}

TEST_CASE("a slider bridges two tapes and stays between them when they part") {
  Scene s;
  s.add_sheet({-40, 40, -15, -1, 2, Cells::Quads, 0, 1, 3}, level(0));
  s.add_sheet({-40, 40, 1, 15, 2, Cells::Quads, 0, 1, 5}, level(0));
  Solid slider;
  append_box(slider, {-5, -4, 0.3}, {5, 4, 2.5});
  s.add(slider);
  s.bind_all();
  const Binding& b = s.table.bindings[0];
  REQUIRE_FALSE(b.notes.empty());
  CHECK(b.notes[0] == "bridges 2 panels");
  bool lower = false, upper = false;
  for (const Vec3& p : s.patch_positions(0)) (p.y < 0 ? lower : upper) = true;
  CHECK(lower);
  CHECK(upper);
  std::vector<Vec3> parted = s.rest, lifted = s.rest;
  for (Vec3& p : parted) p.y += p.y < 0 ? -3 : 3;
  const Pose pose = evaluate(s.table, 0, parted);
  CHECK(length(apply(pose, {0, 0, 0.3}) - Vec3{0, 0, 0.3}) < 1e-9);
  CHECK(rotation_angle_deg(pose.rotation, Mat3{}) < 0.01);
  for (Vec3& p : lifted) p.z += p.y > 0 ? 1 : 0;  // one side raised: the slider goes half way and tilts across
  const Pose raised = evaluate(s.table, 0, lifted);
  CHECK(apply(raised, {0, 0, 0}).z == Approx(0.5).margin(0.05));
  CHECK(raised.rotation(2, 1) > 0.01);
}

TEST_CASE("zipper elements that reach over the tape across stay with their own when the tapes part") {
  for (const double gap : {0.1, 1.0, 2.0})
    for (const double reach : {0.5, 0.8, 1.2, 1.6}) {  // beyond the middle, of 4 mm
      Scene s;
      s.add_sheet({-40, 40, -15, -gap / 2, 3, Cells::Mixed, 0.1, 3, 3}, level(0));
      s.add_sheet({-40, 40, gap / 2, 15, 3, Cells::Mixed, 0.1, 4, 5}, level(0));
      for (int k = 0; k < 6; ++k) {
        const double x = -10 + 4 * k, side = k % 2 == 0 ? -1 : 1;
        Solid element;
        append_box(element, {x - 0.6, std::min(side * (4 - reach), -side * reach), -0.8},
                   {x + 0.6, std::max(side * (4 - reach), -side * reach), 0.8});
        s.add(element);
      }
      if (reach > 1.2) s.trims.one_sheet.assign(6, 1);  // known for a zipper: nearly half of each over either tape
      s.bind_all();
      std::vector<Vec3> parted = s.rest;
      for (Vec3& p : parted) p.y += p.y < 0 ? -20 : 20;
      for (Index t = 0; t < 6; ++t) {
        INFO("gap " << gap << ", reach " << reach << ", element " << t);
        CHECK(s.table.bindings[t].notes.empty());
        const Pose pose = evaluate(s.table, t, parted);
        CHECK(length(apply(pose, {0, 0, 0}) - Vec3{0, t % 2 == 0 ? -20.0 : 20.0, 0}) < 1e-9);
        CHECK(rotation_angle_deg(pose.rotation, Mat3{}) < 1e-6);
      }
    }
}

TEST_CASE("a thick toggle over a gap bridges as a flat one does, by how much of it lies on either side") {
  for (const double height : {1.0, 8.0})
    for (const double shift : {0.0, 1.0}) {
      Scene s;
      s.add_sheet({-40, 40, -30, -1, 3, Cells::Mixed, 0.1, 3, 3}, level(0));
      s.add_sheet({-40, 40, 1, 30, 3, Cells::Mixed, 0.1, 4, 5}, level(0));
      Solid toggle;
      append_box(toggle, {-4, -12 + shift, 0.1}, {4, 12 + shift, height});
      s.add(toggle);
      s.bind_all();
      INFO("height " << height << ", shift " << shift);
      REQUIRE_FALSE(s.table.bindings[0].notes.empty());
      CHECK(s.table.bindings[0].notes[0] == "bridges 2 panels");
      std::vector<Vec3> parted = s.rest;
      for (Vec3& p : parted) p.y += p.y < 0 ? -11 : 11;
      // 11 mm and 11 mm of it lie on the panels, or 10 and 12: the middle goes with the larger part.
      CHECK(apply(evaluate(s.table, 0, parted), {0, 0, 0}).y == Approx(shift).margin(0.6 * shift + 1e-9));
    }
}

TEST_CASE("a slider with its pull over the gap bridges the tapes, a button on a lap does not") {
  Scene s;
  s.add_sheet({-40, 40, -15, -0.4, 3, Cells::Mixed, 0.1, 3, 3}, level(0));
  s.add_sheet({-40, 40, 0.4, 15, 3, Cells::Mixed, 0.1, 4, 5}, level(0));
  s.add_sheet({60, 140, -30, 2.5, 3, Cells::Mixed, 0.1, 5, 7}, level(0));
  s.add_sheet({60, 140, -2.5, 30, 3, Cells::Mixed, 0.1, 6, 8}, level(0.5));
  Solid slider;
  append_box(slider, {-5, -4.2, 1.5}, {5, 4.2, 2.4});
  append_box(slider, {-5, -4.2, -2.4}, {5, 4.2, -1.5});
  append_box(slider, {4, -0.3, -1.5}, {5, 0.3, 1.5});
  append_box(slider, {-22, -3.2, 2.9}, {3, 3.2, 3.7});
  s.add(slider);
  s.add(disc({100, 0, 0.6}, {0, 0, 1}, 10, 3));
  s.bind_all();
  REQUIRE(s.table.bindings[0].notes.size() > 1);
  CHECK(s.table.bindings[0].notes[1] == "bridges 2 panels");
  for (const std::string& note : s.table.bindings[1].notes) CHECK(note.find("bridges") == std::string::npos);
  CHECK(s.table.bindings[1].layer == 8);
}

TEST_CASE("a large dome over a thin loop has no part in how far the button stands off") {
  Scene s;
  s.add_sheet(sheet(0), level(0));
  Solid button;
  append_disc(button, {2, 3, 0.05}, {0, 0, 1}, 0.9, 5);
  append_disc(button, {2, 3, 5}, {0, 0, 1}, 15, 4);
  s.add(button);
  s.bind_all();
  CHECK(s.table.bindings[0].gap == Approx(0.05).margin(0.01));
  const ClothMesh cloth = cloth_of(s.pattern, s.rest);
  const FitModel model = prepare_fit(cloth, s.trims, s.table, s.footprints, {}, {});
  CHECK(model.places[0].rest_gap_mean == Approx(0.05).margin(0.01));
}

TEST_CASE("a shank button stands on its loop, a ring on its rim, a hook between two panels") {
  Scene s;
  s.add_sheet({-40, 0, -40, 40, 5, Cells::Mixed, 0.1, 62, 0}, level(0));
  s.add_sheet({1.5, 41.5, -40, 40, 4, Cells::Mixed, 0.1, 63, 1}, level(0));
  Solid shank;
  append_disc(shank, {-20, 3, 0.05}, {0, 0, 1}, 1.2, 3.2);
  append_disc(shank, {-20, 3, 3.2}, {0, 0, 1}, 7, 3);
  s.add(shank);
  Solid ring;
  for (int k = 0; k < 16; ++k)
    append_disc(ring, {20 + 5 * std::cos(k * kPi / 8), 6 + 5 * std::sin(k * kPi / 8), 0.1}, {0, 0, 1}, 0.9, 1, 8);
  s.add(ring);
  Solid hook;
  append_box(hook, {-6, -20, 0.2}, {7, -16, 1.4});
  s.add(hook);
  s.bind_all();
  CHECK(s.table.bindings[0].gap < 0.6);
  double foot = 0;
  for (const FootprintPoint& p : s.footprints.of(0))
    if (p.distance < 0.5) foot += p.weight;
  CHECK(foot > 0.5);
  CHECK(length(s.patch(0).origin - Vec3{-20, 3, 0}) < 0.3);
  CHECK(s.table.bindings[1].gap == Approx(0.1).margin(0.02));
  CHECK(length(s.patch(1).origin - Vec3{20, 6, 0}) < 0.3);
  CHECK(s.table.bindings[2].notes == std::vector<std::string>{"bridges 2 panels"});
}

TEST_CASE("a button whose threads reach into the cloth is anchored under its middle, however it lies") {
  Scene s;
  s.add_sheet(sheet(0), level(0));
  std::vector<Vec3> middles;
  for (int i = 0; i < 16; ++i) {
    const double turn = 0.21 * i;
    const Vec3 u{std::cos(turn), std::sin(turn), 0}, v{-u.y, u.x, 0};
    middles.push_back({-27 + 18.1 * (i % 4), -27 + 18.3 * (i / 4), 0});
    Solid button;
    append_disc(button, middles.back() + Vec3{0, 0, 0.25}, {0, 0, 1}, 7.5, 2.6);
    for (const Vec2& hole : {Vec2{-1.5, -1.3}, Vec2{1.5, -1.3}, Vec2{1.5, 1.3}, Vec2{-1.5, 1.3}})
      append_disc(button, middles.back() + hole.x * u + hole.y * v - Vec3{0, 0, 0.3}, {0, 0, 1}, 0.35, 3);
    s.add(button);
  }
  s.bind_all();
  for (Index t = 0; t < middles.size(); ++t) CHECK(length(s.patch(t).origin - middles[t]) < 0.2);
}

TEST_CASE("thick cloth: the sheet that is touched carries, patches stay on it, and a thick rim is no bridge") {
  // A closed slab 3 mm thick: two sheets and a rim, all one component and welded.
  Scene s;
  const double half = 1.5, r = 1.5;
  // Unrolled: top from -30 to 30, round the edge, bottom back; closed at x = -30 is left open.
  const double turn = kPi * r;
  s.add_sheet({-30, 30 + turn + 60, -30, 30, 3, Cells::Quads, 0, 1, 2}, [=](const Vec2& p) {
    if (p.x <= 30) return Vec3{p.x, p.y, half};
    if (p.x <= 30 + turn) {
      const double w = (p.x - 30) / r;
      return Vec3{30 + r * std::sin(w), p.y, r * std::cos(w)};
    }
    return Vec3{60 + turn - p.x, p.y, -half};
  });
  s.add(disc({24, 2, half + 0.1}, {0, 0, 1}, 5, 3));
  s.add(disc({24, 2, -half - 0.1}, {0, 0, -1}, 5, 3));
  s.bind_all();
  for (const Vec3& p : s.patch_positions(0)) CHECK(p.z > 0);
  for (const Vec3& p : s.patch_positions(0, true)) CHECK(p.z > 0);
  for (const Vec3& p : s.patch_positions(1)) CHECK(p.z < 0);
  CHECK(s.table.bindings[0].gap == Approx(0.1).margin(0.03));
  CHECK(s.table.bindings[1].gap == Approx(0.1).margin(0.03));
}

TEST_CASE("a patch on a sewn-on pocket does not creep under it through the welded seam") {
  // Body at z = 0; a pocket sheet over x > 0 sharing the body's vertices along x = 0, bulging to 1.5 mm.
  Scene s;
  s.add_sheet({-40, 40, -40, 40, 4, Cells::Quads, 0, 1, 0}, level(0));
  s.add_sheet({0, 24, -40, 40, 4, Cells::Quads, 0, 1, 0}, [](const Vec2& p) {
    return Vec3{p.x, p.y, 1.5 * std::min(1.0, p.x / 8)};
  });
  s.add(disc({9, 2, 1.6}, {0, 0, 1}, 5, 3));     // on the pocket
  s.add(disc({-6, -10, 0.1}, {0, 0, 1}, 5, 3));  // on the body beside it
  s.bind_all();
  const auto check = [&](Index t, bool fallback) {
    const std::vector<Vec3> points = s.patch_positions(t, fallback);
    for (const Vec3& p : points)
      for (const Vec3& q : points)
        CHECK_FALSE((std::hypot(p.x - q.x, p.y - q.y) < 1 && std::abs(p.z - q.z) > 0.3));  // nothing lies over itself
  };
  for (const bool fallback : {false, true}) {
    check(0, fallback);
    check(1, fallback);
    for (const Vec3& p : s.patch_positions(0, fallback)) CHECK((p.x <= 0 || p.z > 0));
  }
}

TEST_CASE("patches grow over seams whose vertices coincide, and over panels of different density") {
  Scene s;
  s.add_sheet({-40, 0, -40, 40, 10, Cells::Triangles, 0, 1, 0}, level(0));
  s.add_sheet({0, 40, -40, 40, 5, Cells::Quads, 0, 1, 0}, level(0));  // every other seam vertex is a T-junction
  s.add(disc({1.2, 2, 0.1}, {0, 0, 1}, 5, 3));
  s.add(disc({-1.2, 12, 0.1}, {0, 0, 1}, 5, 3));
  s.bind_all();
  for (const Index t : {0U, 1U}) {
    bool left = false, right = false;
    for (const Vec3& p : s.patch_positions(t)) {
      left = left || p.x < -1;
      right = right || p.x > 1;
    }
    CHECK(left);
    CHECK(right);
    const std::vector<Vec3> moved = [&] {
      std::vector<Vec3> out;
      for (const Vec3& p : s.rest) out.push_back(cylinder(30, 0.3)({p.x, p.y}));
      return out;
    }();
    const Vec3 o = s.patch(t).origin;
    CHECK(tilt_deg(evaluate(s.table, t, moved).rotation, cylinder_rotation(30, {o.x, o.y}, 0.3)) < 0.5);
  }
}

TEST_CASE("slivers, repeated corners and collapsed faces under a trim leave a sound binding") {
  Scene s;
  s.add_sheet(sheet(0), level(0));
  // Needles and faces without area, sewn in between the others.
  const auto face = [&](std::initializer_list<Index> corners) {
    s.pattern.corners.insert(s.pattern.corners.end(), corners);
    s.pattern.offsets.push_back(static_cast<Index>(s.pattern.corners.size()));
    s.pattern.component.push_back(0);
  };
  const auto n = static_cast<Index>(s.rest.size());
  s.rest.push_back({1, 2, 0});
  s.rest.push_back({1, 2, 0});
  s.rest.push_back({1 + 1e-7, 2, 0});
  for (int k = 0; k < 3; ++k) s.pattern.flat.emplace_back();
  face({n, n + 1, n + 2});
  face({n, n, n + 2});
  face({n, n + 2, 140});
  s.add(disc({1, 2, 0.1}, {0, 0, 1}, 5, 3));
  s.bind_all();
  const Pose pose = evaluate(s.table, 0, s.rest);
  CHECK(rotation_angle_deg(pose.rotation, Mat3{}) < 1e-9);
  CHECK(s.table.bindings[0].jitter_deg_per_mm < 20);
}

TEST_CASE("triangle frames mean one triangle for every trim: on bridges, needles, seams and borders") {
  Scene s;
  s.add_sheet({-40, 40, -15, -1, 2, Cells::Quads, 0, 1, 3}, level(0));
  s.add_sheet({-40, 40, 1, 15, 2, Cells::Quads, 0, 1, 5}, level(0));
  Solid slider;
  append_box(slider, {-5, -4, 0.3}, {5, 4, 2.5});
  s.add(slider);                                  // over two panels
  s.add(disc({30, 14.8, 0.1}, {0, 0, 1}, 5, 3));  // beyond the border
  // A stack of needles and faces without area, lifted a little so that they are the nearest cloth.
  const auto n = static_cast<Index>(s.rest.size());
  for (const double x : {-20.0, -19.0, -18.0, -17.0}) s.rest.push_back({x, -8, 0.05});
  for (int k = 0; k < 4; ++k) s.pattern.flat.emplace_back();
  for (const auto& corners : {std::array<Index, 3>{n, n + 1, n + 2}, {n + 1, n + 2, n + 3}, {n, n, n + 3}}) {
    s.pattern.corners.insert(s.pattern.corners.end(), corners.begin(), corners.end());
    s.pattern.offsets.push_back(static_cast<Index>(s.pattern.corners.size()));
    s.pattern.component.push_back(3);
  }
  s.add(disc({-18.5, -8, 0.1}, {0, 0, 1}, 2, 1));
  BindOptions options;
  options.frame = FrameChoice::Triangle;
  s.bind_all(options);
  CHECK(s.table.bindings[0].notes[0] == "bridges 2 panels, follows one of them");
  for (Index t = 0; t < s.table.bindings.size(); ++t) {
    const Binding& b = s.table.bindings[t];
    INFO("trim " << t);
    CHECK(b.order == 0);
    REQUIRE(s.patch(t).count == 3);
    for (Index k = 0; k < 3; ++k) {
      CHECK(s.table.vertices[s.patch(t).first + k] == b.anchor_triangle[k]);
      CHECK(s.table.c[s.patch(t).first + k] == b.anchor_weights[k]);
    }
    CHECK(rotation_angle_deg(evaluate(s.table, t, s.rest).rotation, Mat3{}) < 1e-9);
  }
}

TEST_CASE("a trim of 100,000 faces, one of a single point and one without faces are all answered") {
  Scene s;
  s.add_sheet(sheet(0), level(0));
  Solid fine;
  append_disc(fine, {1, 2, 0.1}, {0, 0, 1}, 5, 3, 25000);
  s.add(fine);
  s.add({{{3, 4, 1}, {3, 4, 1}, {3, 4, 1}}, {{0, 1, 2}}});
  s.add({});
  s.bind_all();
  CHECK(s.footprints.of(0).size() < 300);
  CHECK(s.table.bindings[0].gap == Approx(0.1).margin(0.01));
  CHECK(s.table.bindings[1].gap == Approx(1).margin(0.01));
  CHECK(s.table.bindings[1].patch != kNone);
  CHECK(s.table.bindings[2].patch == kNone);
  REQUIRE(s.report.findings.size() == 1);
  CHECK(s.report.findings[0].code == "trim-unbound");
}

TEST_CASE("a cloth without area is refused") {
  Pattern pattern = make_pattern({});
  const ClothMesh cloth = cloth_of(pattern, std::vector<Vec3>(pattern.flat.size()));
  const ClothIndex index(cloth);
  Report report;
  const auto result = bind(index, {}, millimetres(), {}, report);
  REQUIRE_FALSE(result);
  CHECK(result.error().code == ErrorCode::BadInput);
}

TEST_CASE("vertices that are not numbers are left out of patches") {
  Scene s;
  s.add_sheet(sheet(0), level(0));
  for (std::size_t v = 0; v < s.rest.size(); ++v)
    if (length(s.rest[v] - Vec3{6, 2, 0}) < 4) s.rest[v].y = std::nan("");
  s.add(disc({1, 2, 0.1}, {0, 0, 1}, 5, 3));
  s.bind_all();
  REQUIRE(s.table.bindings[0].patch != kNone);
  for (const Vec3& p : s.patch_positions(0)) CHECK(is_finite(p));
  const Pose pose = evaluate(s.table, 0, s.rest);
  CHECK(rotation_angle_deg(pose.rotation, Mat3{}) < 1e-9);
}
