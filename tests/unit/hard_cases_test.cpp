// SPDX-License-Identifier: MIT
// The cases in which parts are easily mistaken, one by one: each on a small coat front whose truth is known.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>

#include "support/coat_front.hpp"

using namespace trimtack;
using namespace trimtack::testing;

namespace {

using Scene = CoatFront;

}  // namespace

TEST_CASE("hard cases: thick panels are closed shells, and cloth; small pieces of the same thickness, too") {
  Scene s(1.1);
  s.cloth(sheet(Scene::on_front({40, 60}, 1.6), 48, 24, {}, s.weave(8)));
  s.cloth(sheet(Scene::on_front({40, 160}, 1.6), 14, 12, {}, s.weave(6)));
  for (int i = 0; i < 4; ++i) s.trim(make_button(s.random, 15.24, 4, false), {200, 100.0 + 90 * i});
  s.check();
}

TEST_CASE("hard cases: unwelded pattern pieces as small as a button, labels and belt loops are cloth") {
  Scene s;
  s.cloth(sheet(Scene::on_front({40, 60}, 0.8), 40, 20, {}, s.weave(8)));
  s.cloth(sheet(Scene::on_front({40, 160}, 0.8), 13, 11, {}, s.weave(5)));
  s.cloth(sheet(Scene::on_front({40, 260}, 0.8), 11, 52, {}, s.weave(6)));
  for (int i = 0; i < 5; ++i)
    s.cloth(sheet(
        [i](Vec2 p) {
          return Scene::on_front({30.0 + 55 * i, 480}, 1.0 + 4 * std::sin(std::numbers::pi * p.y / 45))(p);
        },
        10, 45, {}, s.weave(6)));
  for (int i = 0; i < 4; ++i) s.trim(make_button(s.random, 11.43, 2, true), {200, 100.0 + 90 * i});
  s.check();
}

TEST_CASE("hard cases: closed belt loops on single-sheet cloth stay with it, and surely") {
  Scene s;
  SheetOptions o = s.weave(6);
  o.thickness = 0.9;
  for (int i = 0; i < 5; ++i)
    s.cloth(sheet(
        [i](Vec2 p) {
          return Scene::on_front({30.0 + 55 * i, 480}, 1.0 + 4 * std::sin(std::numbers::pi * p.y / 45))(p);
        },
        10, 45, {}, o));
  for (int i = 0; i < 4; ++i) s.trim(make_button(s.random, 20.32, 4, false), {200, 100.0 + 90 * i});
  const Parts found = s.check();
  for (std::size_t c = 2; c < 7; ++c) {
    CAPTURE(found.components[c].confidence, found.components[c].reasons);
    CHECK_FALSE(found.components[c].uncertain);
  }
}

TEST_CASE("hard cases: with all vertices split the answers are the same") {
  for (const bool split : {false, true}) {
    Scene s(0, 1, 1, split);
    for (int i = 0; i < 4; ++i) s.trim(make_button(s.random, 11.43, 2, true), {200, 100.0 + 90 * i});
    s.check();
  }
}

TEST_CASE("hard cases: one button in two materials is one trim; a panel whose material says button is cloth") {
  Scene s;
  const Solid button = make_button(s.random, 15.24, 0, false).parts[0];
  for (int i = 0; i < 3; ++i) {
    const Pose pose = frame_at(Scene::front(), {200, 100.0 + 90 * i}, 0.1, 0);
    s.add(moved(button, pose.rotation, pose.translation), Role::Trim, s.trims++, "horn");
    FaceState rim;
    rim.material = static_cast<Index>(s.mesh.materials.size());
    s.mesh.materials.emplace_back("brass");
    s.mesh.states.push_back({s.mesh.face_count() - button.face_count() / 2, rim});
  }
  s.cloth(sheet(Scene::on_front({20, 60}, 2), 110, 130, {}, s.weave(10)), "button_red");
  s.check();
}

TEST_CASE("hard cases: a trim of 100,000 faces on a coarse cloth, and one coarser than the cloth") {
  Scene s;
  TrimModel fine{"dome", {ball(9, 250, 200)}, 9};
  fine.parts[0] = moved(fine.parts[0], Mat3{{1, 0, 0, 0, 1, 0, 0, 0, 0.4}}, {0, 0, 3.4});
  s.trim(fine, {100, 100});
  TrimModel coarse{"toggle", {box(32, 10, 9)}, 16};
  s.trim(coarse, {100, 300}, 0, 5);
  s.trim(coarse, {100, 400}, 0, 5);
  s.check();
}

TEST_CASE("hard cases: open sequins and rhinestones and closed beads, by the dozen, never joined") {
  for (int kind = 0; kind < 3; ++kind) {
    Scene s;
    const TrimModel model =
        kind == 0 ? make_sequin(s.random) : (kind == 1 ? make_rhinestone(s.random) : make_bead(s.random));
    for (int i = 0; i < 40; ++i) s.trim(model, {100 + 2.1 * model.reach * (i % 8), 100 + 2.1 * model.reach * (i / 8)});
    CAPTURE(kind);
    s.check();
  }
}

TEST_CASE("hard cases: a hook and its eye are two trims") {
  Scene s;
  const TrimModel hook = make_hook(s.random);
  const TrimModel eye = make_eye(s.random);
  for (int i = 0; i < 4; ++i) {
    s.trim(hook, {100, 100.0 + 60 * i}, 0, 0);
    s.trim(eye, {100 + hook.reach + eye.reach + 1, 100.0 + 60 * i}, 0, 0);
  }
  s.check();
}

TEST_CASE(
    "hard cases: both sides of eyelets, snaps and rivets through single and thick cloth, on dolls and in inches") {
  struct Way {
    double thick, size, unit;
  };
  for (const Way& way :
       {Way{0, 1, 1}, Way{1.4, 1, 1}, Way{0, 1, 25.4}, Way{1.4, 1, 10}, Way{0, 0.2, 10}, Way{0.8, 0.2, 1}})
    for (int kind = 0; kind < 3; ++kind) {
      Scene s(way.thick, way.size, way.unit);
      const TrimModel model = kind == 0   ? make_eyelet(s.random, way.thick)
                              : kind == 1 ? make_snap(s.random, way.thick)
                                          : make_rivet(s.random, std::max(0.5, way.thick + 0.13));
      for (int i = 0; i < 5; ++i) {
        const Pose pose = frame_at(Scene::front(), {120, 80.0 + 90 * i}, 0, 0.4 * i);
        for (const Solid& part : model.parts) s.add(moved(part, pose.rotation, pose.translation), Role::Trim, s.trims);
        ++s.trims;
      }
      CAPTURE(way.thick, way.size, way.unit, kind);
      s.check();
    }
}

TEST_CASE("hard cases: two different buttons on two plackets, one above the other, are two trims") {
  for (const double apart : {4.5, 6.0}) {
    Scene s;
    s.cloth(sheet(Scene::on_front({80, 20}, apart), 60, 500, {}, s.weave(10)));
    TrimModel lower{
        "button", {turned(std::vector<Vec2>{{0, 0}, {5, 0}, {5.7, 0.6}, {5.7, 2}, {0, 2.2}}, 24, false)}, 6};
    TrimModel upper{
        "button", {turned(std::vector<Vec2>{{0, 0}, {6, 0}, {6.4, 0.9}, {6, 2.4}, {0, 2.6}}, 20, false)}, 7};
    for (int i = 0; i < 4; ++i) {
      s.trim(lower, {110, 80.0 + 100 * i}, 0, 0.1);
      s.trim(upper, {110, 80.0 + 100 * i}, 0, apart + 0.1);
    }
    CAPTURE(apart);
    s.check();
  }
}

TEST_CASE("hard cases: zipper elements stay single, the slider takes its pull along") {
  Scene s;
  const TrimModel element{"element", {box(3.2, 1.7, 2.2)}, 2};
  const TrimModel slider = make_slider(s.random, 5);
  for (const double side : {-1.0, 1.0})
    s.cloth(sheet(Scene::on_front({side < 0 ? 86.0 : 102.0, 60}, 0.4), 12, 240, {}, s.weave(10)));
  for (int i = 0; i < 60; ++i)
    for (const double side : {-1.0, 1.0})
      s.trim(element, {100 + side * 0.9, 62 + 3.8 * i + (side > 0 ? 1.9 : 0.0)}, 0, 1.8);
  s.trim(slider, {100, 200}, 0, 1.8);
  const Parts found = s.check();
  std::size_t sides = 0;
  for (const Row& row : found.rows) sides += row.kind == RowKind::Zipper ? 1 : 0;
  CHECK(sides == 2);
}

TEST_CASE("hard cases: a buckle's frame takes its prong along and leaves the strap it sits on") {
  Scene s;
  SheetOptions o = s.weave(12);
  o.thickness = 1.8;
  s.cloth(sheet(Scene::on_front({40, 200}, 2), 200, 26, {}, o));
  s.trim(make_buckle(s.random), {140, 213}, 0, 3.5);
  s.check();
}

TEST_CASE("hard cases: cords, laces, straps and tassels are soft") {
  Scene s;
  const auto strand = [](Vec2 from, double length, double wave, double lift) {
    std::vector<Vec3> path;
    for (int k = 0; k <= 40; ++k) {
      const Vec2 p{from.x + wave * std::sin(0.4 * k), from.y + length * k / 40};
      path.push_back(Scene::front()(p) + lift * normal_at(Scene::front(), p));
    }
    return path;
  };
  const auto path = strand({40, 60}, 260, 8, 3);
  s.cloth(swept(path, std::vector<double>(path.size(), 2.0), 8, Ends::Flat));
  const auto lace = strand({80, 60}, 220, 4, 2);
  s.cloth(swept(lace, std::vector<double>(lace.size(), 2.5), 4, Ends::Open, 0.3));
  SheetOptions o = s.weave(10);
  o.thickness = 1.5;
  s.cloth(sheet(Scene::on_front({110, 60}, 2), 22, 260, {}, o));
  for (int k = 0; k < 16; ++k) {
    const auto fringe = strand({200 + 1.6 * k, 300}, 45, 0.3, 2);
    s.cloth(swept(fringe, std::vector<double>(fringe.size(), 0.6), 5, Ends::Flat));
  }
  for (int i = 0; i < 3; ++i) s.trim(make_button(s.random, 15.24, 4, false), {150, 380.0 + 50 * i});
  s.check();
}

TEST_CASE("hard cases: doubled, collapsed and non-manifold faces and unused vertices change nothing") {
  Scene s;
  for (int i = 0; i < 4; ++i) s.trim(make_button(s.random, 15.24, 4, false), {200, 100.0 + 90 * i});
  const Parts before = s.parts();
  const auto corner = [&](Index f, Index k) { return s.mesh.corner_position[s.mesh.face_offsets[f] + k]; };
  const Index faces = s.mesh.face_count();
  for (const Index f : {Index{5}, Index{900}, faces - 3, faces - 40}) {
    for (Index k = 0; k < 3; ++k) s.mesh.corner_position.push_back(corner(f, k));  // a part of the face again
    s.mesh.face_offsets.push_back(static_cast<Index>(s.mesh.corner_position.size()));
    for (Index k = 0; k < 3; ++k) s.mesh.corner_position.push_back(corner(f, 0));  // no area
    s.mesh.face_offsets.push_back(static_cast<Index>(s.mesh.corner_position.size()));
  }
  s.mesh.positions.push_back({9000, 0, 0});
  const Parts after = s.check();
  CHECK(after.trims.size() == before.trims.size());
  CHECK(after.prototypes.size() == before.prototypes.size());
}

TEST_CASE("hard cases: a copy with several doubled faces shares the prototype, one with another face does not") {
  Scene s;
  const TrimModel whole{"element", {box(3.2, 1.7, 2.2)}, 2};
  TrimModel doubled = whole;
  for (const Index f : {0U, 2U, 3U, 5U}) {
    const Solid& solid = whole.parts[0];
    const std::vector<Index> face(solid.corners.begin() + solid.offsets[f],
                                  solid.corners.begin() + solid.offsets[f + 1]);
    doubled.parts[0].add_face(face);
  }
  TrimModel open = whole;  // two of six faces are missing
  open.parts[0].offsets.resize(5);
  open.parts[0].corners.resize(open.parts[0].offsets.back());
  for (int i = 0; i < 9; ++i) s.trim(i == 4 ? doubled : (i == 7 ? open : whole), {100, 100.0 + 30 * i});
  const Parts found = s.parts();
  REQUIRE(found.trims.size() == 9);
  for (std::size_t t = 0; t < 9; ++t) {
    CAPTURE(t);
    CHECK((found.trims[t].prototype == found.trims[0].prototype) == (t != 7));
  }
}

TEST_CASE("hard cases: mirrored copies share a prototype and say so; scaled ones, too; near copies do not") {
  Scene s;
  const TrimModel slider = make_slider(s.random, 5);
  const TrimModel hook = make_hook(s.random);
  TrimModel mirrored = hook;
  for (Solid& part : mirrored.parts) part = moved(part, Mat3{{-1, 0, 0, 0, 1, 0, 0, 0, 1}}, {});
  TrimModel smaller = slider;
  for (Solid& part : smaller.parts) part = moved(part, Mat3{{0.6, 0, 0, 0, 0.6, 0, 0, 0, 0.6}}, {});
  const TrimModel button = make_button(s.random, 15, 4, false);
  TrimModel wider = button;
  for (Solid& part : wider.parts) part = moved(part, Mat3{{15.5 / 15, 0, 0, 0, 15.5 / 15, 0, 0, 0, 1}}, {});
  s.trim(hook, {60, 80});
  s.trim(mirrored, {60, 140});
  s.trim(slider, {60, 220});
  s.trim(smaller, {60, 300}, 0.7);
  s.trim(button, {160, 80});
  s.trim(wider, {160, 140}, 0.3);
  s.trim(button, {160, 200}, 1.1);
  const Parts found = s.check();
  REQUIRE(found.trims.size() == 7);
  CHECK(found.trims[0].prototype == found.trims[1].prototype);
  CHECK(found.trims[0].mirrored != found.trims[1].mirrored);
  CHECK(found.trims[2].prototype == found.trims[3].prototype);
  CHECK(found.trims[3].scale == Approx(0.6).epsilon(1e-9));
  CHECK(found.trims[4].prototype != found.trims[5].prototype);
  CHECK(found.trims[4].prototype == found.trims[6].prototype);
}

TEST_CASE("hard cases: rivets are sized in millimetres, buttons and snaps by the ligne (V4)") {
  Scene s;
  const double r = 4.5;
  TrimModel rivet{"rivet",
                  {turned(std::vector<Vec2>{{0, 0.2}, {r, 0.2}, {r, 0.6}, {0, 1.8}}, 16, false),
                   turned(std::vector<Vec2>{{0, -0.9}, {0.7 * r, -0.9}, {0.7 * r, -0.2}, {0, -0.2}}, 16, false)},
                  r};
  for (int i = 0; i < 3; ++i) s.trim(rivet, {60, 80.0 + 80 * i}, 0, 0);
  for (int i = 0; i < 3; ++i) s.trim(make_button(s.random, 11.43, 4, false), {160, 80.0 + 80 * i});
  const Parts found = s.check();
  CHECK(found.prototypes[found.trims[0].prototype].trade_size == "9 mm");
  CHECK(found.prototypes[found.trims[3].prototype].trade_size == "18L");
}

TEST_CASE("hard cases: UVs on tiles far apart are still one flat pattern") {
  Scene s;
  s.mesh.corner_texcoord.assign(s.mesh.corner_position.size(), kNone);
  const auto lay_flat = [&](Index first_face, Index end_face, double tile) {
    for (Index f = first_face; f < end_face; ++f)
      for (Index c = s.mesh.face_offsets[f]; c < s.mesh.face_offsets[f + 1]; ++c) {
        const Vec3& p = s.mesh.positions[s.mesh.corner_position[c]];
        const double x = 160 * std::atan2(p.x, tile == 1 ? p.z + 220 : p.z);
        s.mesh.corner_texcoord[c] = static_cast<Index>(s.mesh.texcoords.size());
        s.mesh.texcoords.push_back({tile + 0.001 * x, 0.001 * p.y});
      }
  };
  const Index half = s.mesh.face_count() / 2;
  lay_flat(0, half, 0);
  lay_flat(half, s.mesh.face_count(), 1);
  s.cloth(sheet(Scene::on_front({30, 60}, 0.8), 24, 20, {}, s.weave(8)));
  s.mesh.corner_texcoord.resize(s.mesh.corner_position.size(), kNone);
  lay_flat(2 * half, s.mesh.face_count(), 7);
  for (int i = 0; i < 3; ++i) s.trim(make_button(s.random, 15.24, 4, false), {200, 100.0 + 90 * i});
  s.mesh.corner_texcoord.resize(s.mesh.corner_position.size(), kNone);
  const Parts found = s.check();
  const auto& why = found.components[2].reasons;
  CHECK(std::any_of(why.begin(), why.end(), [](const std::string& r) { return r.find("laid out flat") != r.npos; }));
}

TEST_CASE(
    "hard cases: a small piece set between two panels is known by its seams, across a gap; a disc beside is not") {
  Scene s;
  const auto flat = [](Vec2 from) { return [from](Vec2 p) { return Vec3{from.x + p.x, from.y + p.y, 190}; }; };
  s.cloth(sheet(flat({-100, 0}), 100, 300, {}, s.weave(10)));
  s.cloth(sheet(flat({24.6, 0}), 100, 300, {}, s.weave(10)));
  s.cloth(sheet(flat({0.3, 60}), 24, 22, {}, s.weave(6)));  // a gusset
  const std::vector<Vec2> profile{{10, 0}, {5, 0.1}, {0, 0.2}};
  const Solid disc = moved(turned(profile, 24, false), Mat3{}, {36, 150, 190.5});
  s.add(disc, Role::Trim, s.trims++);
  s.add(moved(disc, Mat3{}, {0, 60, 0}), Role::Trim, s.trims++);
  for (int i = 0; i < 3; ++i) s.trim(make_button(s.random, 15.24, 4, false), {200, 100.0 + 90 * i});
  const Parts found = s.parts();
  const auto has_seam = [&](std::size_t c) {
    const auto& why = found.components[c].reasons;
    return std::any_of(why.begin(), why.end(), [](const std::string& r) { return r.find("along another") != r.npos; });
  };
  CHECK(found.components[4].role == Role::Cloth);
  CHECK(has_seam(4));
  CHECK_FALSE(has_seam(5));
  CHECK(found.components[5].role == Role::Trim);
}

TEST_CASE("hard cases: inches and centimetres are told apart by the trade's sizes, and it is said how surely (U1)") {
  struct Case {
    const char* name;
    double mm;
  };
  for (const Case& unit : {Case{"mm", 1}, Case{"cm", 10}, Case{"m", 1000}, Case{"in", 25.4}}) {
    Scene s(0, 1, unit.mm);
    for (int i = 0; i < 6; ++i) s.trim(make_button(s.random, 11.43, 4, true), {200, 60.0 + 80 * i});
    const Solid stitch = make_stitch(0, 2.8, 0.25);
    for (int i = 0; i < 120; ++i) {
      const Pose pose = frame_at(Scene::front(), {6, 10 + 3.2 * i}, 0.2, 0.5 * std::numbers::pi);
      s.add(moved(stitch, pose.rotation, pose.translation), Role::Stitching, kNone);
    }
    const Parts found = s.check();
    CAPTURE(unit.name, found.unit.confidence, found.unit.reasons);
    CHECK(found.unit.name == unit.name);
    CHECK(found.unit.confidence > 0.8);
    CHECK(found.unit.confidence < 1);
  }
}
