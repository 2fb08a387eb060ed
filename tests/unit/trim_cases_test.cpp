// SPDX-License-Identifier: MIT
// Trims that are made of several alike, or look like something else: coils of wire, sliders of plates, beads in
// sequins, pins as long as cords. Each on a coat front whose truth is known.
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>

#include "support/coat_front.hpp"

using namespace trimtack;
using namespace trimtack::testing;

namespace {

constexpr double kPi = std::numbers::pi;

Solid wire(const std::vector<Vec3>& path, double radius, int sides = 6) {
  return swept(path, std::vector<double>(path.size(), radius), sides, Ends::Flat);
}
void lay(CoatFront& coat, const Solid& solid, Vec2 at, double turn, double lift, Role role, Index trim) {
  const Pose pose = frame_at(CoatFront::front(), at, lift + 0.5 * coat.thickness, turn);
  coat.add(moved(solid, pose.rotation, pose.translation), role, trim);
}
void lay(CoatFront& coat, const Solid& solid, Vec2 at, double turn, double lift, Role role) {
  lay(coat, solid, at, turn, lift, role, role == Role::Cloth ? kNone : coat.trims++);
}
CoatFront buttoned(double thick, double size, double unit) {
  CoatFront coat(thick, size, unit);
  for (int i = 0; i < 4; ++i) coat.trim(make_button(coat.random, 15.24, 4, true), {240, 100.0 + 90 * i});
  return coat;
}
/// Right, or uncertain.
void honest(const CoatFront& coat) {
  const Parts found = coat.parts();
  REQUIRE(found.components.size() == coat.truth.size());
  for (std::size_t c = 0; c < coat.truth.size(); ++c) {
    const Component& part = found.components[c];
    if (part.role == coat.truth[c] || part.uncertain) continue;
    CAPTURE(c, part.confidence, part.reasons, found.unit.name, found.unit.confidence);
    FAIL_CHECK(to_text(coat.truth[c]) << " silently taken for " << to_text(part.role));
  }
}
/// One turn of a coil, out of its tape, round the other side's and back; x across the zipper.
Solid coil_turn(double side, double radius) {
  std::vector<Vec3> path;
  for (const Vec3& p : {Vec3{1.9, -0.45, -0.9}, Vec3{1.9, -0.35, 0.8}, Vec3{0, -0.1, 1.15}, Vec3{-1.6, 0, 0.9},
                        Vec3{-1.9, 0.05, 0}, Vec3{-1.6, 0.1, -0.8}, Vec3{0, 0.2, -1}, Vec3{1.7, 0.42, -0.95}})
    path.push_back({side * p.x, p.y, p.z});
  return wire(path, radius);
}

}  // namespace

TEST_CASE("trim cases: the turns of a coil are trims, however far their two sides overlap; one side alone is unsure") {
  for (const double apart : {2.6, 3.2, 3.6}) {
    CoatFront coat = buttoned(1.2, 1, 10);
    for (int i = 0; i < 150; ++i)
      for (const double side : {-1.0, 1.0})
        lay(coat, coil_turn(side, 0.33), {60 + 0.5 * side * apart, 60 + 1.4 * i + (side > 0 ? 0.7 : 0)}, 0, 0.3,
            Role::Trim);
    CAPTURE(apart);
    const Parts found = coat.parts();
    for (std::size_t c = 0; c < coat.truth.size(); ++c) CHECK(found.components[c].role == coat.truth[c]);
    honest(coat);
  }
  CoatFront open = buttoned(0, 1, 1);
  for (int i = 0; i < 200; ++i) lay(open, coil_turn(1, 0.33), {60, 60 + 1.4 * i}, 0, 0.3, Role::Trim);
  honest(open);
}

TEST_CASE("trim cases: stitches of heavy thread, bent up between their holes, are surely stitching") {
  for (const double thick : {0.0, 1.8}) {
    CoatFront coat = buttoned(thick, 1, 1);
    const Solid stitch =
        wire({{-2, 0, -0.35}, {-1.2, 0, 0.05}, {-0.4, 0, 0.25}, {0.4, 0, 0.25}, {1.2, 0, 0.05}, {2, 0, -0.35}}, 0.4, 8);
    for (int i = 0; i < 100; ++i) lay(coat, stitch, {60, 40 + 4.8 * i}, kPi / 2, 0.2, Role::Stitching);
    const Parts found = coat.parts();
    for (std::size_t c = 0; c < coat.truth.size(); ++c) {
      if (coat.truth[c] != Role::Stitching) continue;
      CHECK(found.components[c].role == Role::Stitching);
      CHECK_FALSE(found.components[c].uncertain);
    }
  }
}

TEST_CASE("trim cases: stitches of a bartack that share a corner, a dozen such pairs, are not surely hooks") {
  CoatFront coat = buttoned(0, 1, 1);
  const Solid stitch = wire({{-1.35, 0, 0}, {-0.45, 0, 0.1}, {0.45, 0, 0.1}, {1.35, 0, 0}}, 0.25, 8);
  Solid pair = wire({{-1.35, -0.3, 0},
                     {-0.45, -0.1, 0.1},
                     {0.45, 0.1, 0.1},
                     {1.35, 0.3, 0},
                     {1.35, 0.35, 0},
                     {0.45, 0.5, 0.1},
                     {-0.45, 0.7, 0.1},
                     {-1.35, 0.9, 0}},
                    0.25, 8);
  for (int tack = 0; tack < 11; ++tack)
    for (int i = 0; i < 14; ++i) {
      const Vec2 at{60, 60 + 40.0 * tack + 0.62 * i};
      if (i == 6) lay(coat, pair, at, 0, 0.2, Role::Stitching);
      if (i != 6 && i != 7) lay(coat, stitch, at, i % 2 == 0 ? 0.22 : -0.22, 0.2, Role::Stitching);
    }
  honest(coat);
}

TEST_CASE("trim cases: the crown on one of a slider's two plates, and the tab in it, go with both") {
  for (const double thick : {0.0, 1.2}) {
    CoatFront coat = buttoned(thick, 1, 1);
    const Solid blade = box(11, 8, 0.8);
    std::vector<Vec3> crown;
    for (int k = 0; k <= 8; ++k) crown.push_back({2.4 * std::cos(kPi * k / 8), 0, 2.2 + 2.4 * std::sin(kPi * k / 8)});
    const std::vector<Solid> parts{moved(blade, Mat3{}, {0, 0, 2}), moved(blade, Mat3{}, {0, 0, -2}),
                                   moved(box(2, 1.6, 3.6), Mat3{}, {4.2, 0, 0}), wire(crown, 0.6),
                                   moved(box(20, 6, 2), Mat3{}, {-9, 0, 4.6})};
    for (const Solid& part : parts) lay(coat, part, {100, 300}, 0, 3, Role::Trim, coat.trims);
    ++coat.trims;
    coat.check();
  }
}

TEST_CASE("trim cases: a bead holds the sequin in whose middle it lies, not one that reaches below it") {
  CoatFront coat = buttoned(0, 1, 1);
  const Solid sequin = moved(turned(std::array{Vec2{0.5, 0.2}, Vec2{3, 0.2}}, 12, false), Mat3{}, {});
  for (int i = 0; i < 60; ++i)
    for (int j = 0; j < 3; ++j) {
      const Vec2 at{60 + 2.1 * j + 0.4 * std::sin(7.0 * i), 60 + 4.3 * i + 0.9 * std::cos(5.0 * i + j)};
      lay(coat, sequin, at, 0, 0.3, Role::Trim, coat.trims);
      lay(coat, moved(ball(0.9, 8, 5), Mat3{}, {0, 0, 0.8}), at, 0, 0.3, Role::Trim, coat.trims);
      ++coat.trims;
    }
  coat.check();
}

TEST_CASE("trim cases: a pin as long as a cord, without a place to bend at, is not surely a cord") {
  for (const double thick : {0.0, 1.6}) {
    CoatFront coat = buttoned(thick, 1, 10);
    lay(coat, wire({{0, -36, 7}, {0, 30, 7}, {0, 36, 6.2}}, 0.9), {150, 200}, 0, 0, Role::Trim);
    honest(coat);
  }
}

TEST_CASE("trim cases: loops of cord are not surely hooks while the unit is unsure, since their size alone tells") {
  const std::vector<Vec3> path{{-10, -1, 0.5}, {0, -1.2, 4.5}, {7, -1.8, 3.5}, {11, 0, 2},
                               {7, 1.8, 3.5},  {0, 1.2, 4.5},  {-10, 1, 0.5}};
  for (const double mm_per_unit : {14.0, 17.0}) {
    CoatFront coat(0, 1, mm_per_unit);
    for (int i = 0; i < 8; ++i) lay(coat, wire(path, 0.8), {60, 60 + 50.0 * i}, 0, 0.5, Role::Cloth);
    honest(coat);
  }
}

TEST_CASE("trim cases: a spiral of cord, small and by the dozen, is not surely a hook") {
  std::vector<Vec3> spiral;
  for (int i = 0; i <= 40; ++i) {
    const double a = 0.3 + 0.045 * i;
    spiral.push_back({4.4 * a * std::cos(3 * a) - 3, 4.4 * a * std::sin(3 * a), 0});
  }
  CoatFront coat = buttoned(0.5, 1, 1);
  for (int i = 0; i < 14; ++i)
    lay(coat, wire(spiral, 1.2, 7), {60.0 + 40 * (i % 2), 60 + 32.0 * (i / 2)}, 0, 1.4, Role::Cloth);
  honest(coat);
}

TEST_CASE("trim cases: dots and leaves of felt by the dozen are not surely plates") {
  const Solid dot = turned(std::array{Vec2{0, 0}, Vec2{4, 0}, Vec2{7, 0}, Vec2{11, 0}, Vec2{11, 1.3}, Vec2{7, 1.3},
                                      Vec2{4, 1.3}, Vec2{0, 1.3}},
                           18, false);
  const Solid leaf = moved(turned(std::array{Vec2{0, 0}, Vec2{7, 0}, Vec2{7, 1.3}, Vec2{0, 1.3}}, 8, false),
                           Mat3{{2, 0, 0, 0, 0.9, 0, 0, 0, 1}}, {});
  for (const double thick : {0.0, 2.0})
    for (const double mm_per_unit : {1.0, 10.0}) {
      CoatFront coat = buttoned(thick, 1, mm_per_unit);
      for (int i = 0; i < 14; ++i) lay(coat, dot, {40.0 + 30 * (i % 2), 40 + 34.0 * (i / 2)}, 0, 0.1, Role::Cloth);
      for (int i = 0; i < 10; ++i)
        lay(coat, leaf, {120.0 + 34 * (i % 2), 40 + 34.0 * (i / 2)}, 0.7 * i, 0.1, Role::Cloth);
      honest(coat);
    }
}

TEST_CASE("trim cases: a bag's frame and a name plate are not surely cord and cloth") {
  for (const double thick : {0.0, 1.2}) {
    CoatFront coat = buttoned(thick, 1, 10);
    lay(coat,
        wire({{-98, 90, 6},
              {-98, 130, 6},
              {-94, 144, 6},
              {-84, 150, 6},
              {84, 150, 6},
              {94, 144, 6},
              {98, 130, 6},
              {98, 90, 6}},
             2.4, 8),
        {150, 200}, 0, 0, Role::Trim);
    lay(coat, box(72, 18, 1.5), {120, 60}, 0, 1.6, Role::Trim);
    honest(coat);
  }
}

TEST_CASE("trim cases: strands of fur are no stitches that would tell the unit") {
  for (const double mm_per_unit : {10.0, 1000.0}) {
    CoatFront coat(2.4, 1, mm_per_unit);
    for (int i = 0; i < 400; ++i) {
      const double length = 18 + 12 * std::abs(std::sin(17.0 * i));
      const double lean = 0.5 * std::sin(5.0 * i);
      lay(coat,
          swept(std::vector<Vec3>{{0, 0, 0}, {lean * length, 0, 0.5 * length}, {1.6 * lean * length, -3, length}},
                std::vector<double>{0.5, 0.35, 0.08}, 4, Ends::Flat),
          {12 + 0.7 * i, 20 + 6 * std::sin(3.0 * i)}, 0.3 * i, 0, Role::Cloth);
    }
    CHECK(coat.parts().unit.mm_per_unit == mm_per_unit);
  }
}

TEST_CASE("trim cases: bugle beads are no stitches that would tell the unit") {
  CoatFront coat(1.2, 1, 10);
  const Solid bugle =
      moved(turned(std::array{Vec2{0.4, -3.5}, Vec2{0.9, -3.5}, Vec2{0.9, 3.5}, Vec2{0.4, 3.5}}, 6, true),
            Mat3{{0, 0, 1, 0, 1, 0, -1, 0, 0}}, {});
  for (int i = 0; i < 160; ++i) lay(coat, bugle, {40.0 + 9 * (i % 20), 60 + 40.0 * (i / 20)}, 0, 1, Role::Trim);
  CHECK(coat.parts().unit.mm_per_unit == 10);
}

TEST_CASE("trim cases: stops in a closed slider, a pin and a box below a buckle stay by themselves") {
  for (const double thick : {0.0, 1.2}) {
    CoatFront coat = buttoned(thick, 1, 1);
    const Solid element = box(3.1, 1.3, 1.8);
    for (int i = 0; i < 60; ++i)
      for (const double side : {-1.0, 1.0})
        lay(coat, element, {100 + side * 1.1, 60 + 2.5 * i + (side > 0 ? 1.25 : 0)}, 0, 1.6, Role::Trim);
    const Solid blade = box(8, 10, 0.8);
    const std::array<Solid, 4> slider{moved(blade, Mat3{}, {0, 0, 1.5}), moved(blade, Mat3{}, {0, 0, -1.5}),
                                      moved(box(1.4, 2, 2.6, 2), Mat3{}, {0, 3.6, 0}),
                                      wire({{0, -3, 1.8}, {0, -2, 3}, {0, 0, 3.4}, {0, 2, 3}, {0, 3, 1.8}}, 0.5)};
    for (const Solid& part : slider) lay(coat, part, {100, 210}, 0, 1.6, Role::Trim, coat.trims);
    ++coat.trims;
    for (const double side : {-1.0, 1.0}) lay(coat, box(2.4, 2.6, 2.4, 2), {100 + side * 1.7, 212}, 0, 1.6, Role::Trim);
    lay(coat, box(2.4, 8, 2), {101.4, 54}, 0, 1.6, Role::Trim);
    lay(coat, box(4.4, 6, 3.4), {98, 53.5}, 0, 1.6, Role::Trim);
    lay(coat, box(34, 9, 3.2, 2), {100, 52}, 0, 2.2, Role::Trim);
    coat.check();
  }
}

TEST_CASE("trim cases: the bar and the prong of a frame are its own, though all of wire") {
  for (const double thick : {0.0, 1.2}) {
    CoatFront coat = buttoned(thick, 1, 1);
    std::vector<Vec3> outline;
    for (int k = 0; k < 24; ++k) {
      const double a = 2 * kPi * k / 24;
      outline.push_back({15 * std::cbrt(std::cos(a)), 13 * std::cbrt(std::sin(a)), 0});
    }
    const Solid frame = swept(outline, std::vector<double>(outline.size(), 1.5), 8, Ends::Loop);
    const Solid bar = wire({{0, -13, 0}, {0, 0, 0}, {0, 13, 0}}, 1.7, 8);
    const Solid prong = wire({{-1.6, 0, 1}, {1, 0, 1.8}, {8, 0, 2}, {15, 0, 1.8}}, 0.8, 8);
    for (int i = 0; i < 2; ++i) {
      for (const Solid& part : {frame, bar}) lay(coat, part, {70, 100.0 + 90 * i}, 0, 2, Role::Trim, coat.trims);
      ++coat.trims;
    }
    for (const Solid& part : {frame, bar, prong}) lay(coat, part, {70, 300}, 0, 2, Role::Trim, coat.trims);
    ++coat.trims;
    for (int i = 0; i < 6; ++i) {  // the same bar beside plates of another make
      for (const Solid& part : {box(20, 30, 6, 2), moved(bar, Mat3{}, {13.1, 0, 0})})
        lay(coat, part, {140, 80.0 + 50 * i}, 0, 3.3, Role::Trim, coat.trims);
      ++coat.trims;
    }
    coat.check();
  }
}

TEST_CASE("trim cases: the gate of a spring hook is a part of it, a pin that hangs in a hook is not") {
  for (const double thick : {0.0, 1.2}) {
    CoatFront coat = buttoned(thick, 1, 1);
    std::vector<Vec3> path{{9, 14, 4}, {9, 20, 4}};
    for (int k = 0; k <= 8; ++k) path.push_back({9 * std::cos(kPi * k / 8), 20 + 6 * std::sin(kPi * k / 8), 4});
    for (int k = 0; k <= 8; ++k) path.push_back({-9 * std::cos(kPi * k / 8), -16 - 6 * std::sin(kPi * k / 8), 4});
    path.push_back({9, -10, 4});
    const Solid hook = wire(path, 2.4, 8);
    const Solid gate = wire({{9, -11, 4}, {9.2, 2, 4}, {9, 15, 4}}, 1.6, 8);
    for (int i = 0; i < 3; ++i) {
      for (const Solid& part : {hook, gate}) lay(coat, part, {100, 80.0 + 80 * i}, 0.4 * i, 0, Role::Trim, coat.trims);
      ++coat.trims;
    }
    for (int i = 0; i < 2; ++i) {
      lay(coat, hook, {100, 340.0 + 80 * i}, 0, 0, Role::Trim);
      lay(coat, wire({{-3, 25, 4}, {9, 25, 4}, {21, 25, 4}}, 2.2, 8), {100, 340.0 + 80 * i}, 0, 0, Role::Trim);
    }
    coat.check();
  }
}

TEST_CASE("trim cases: a bar laid across a bent wire that is thinner than it is no gate of it") {
  for (const double thick : {0.0, 1.2}) {
    CoatFront coat = buttoned(thick, 1, 1);
    std::vector<Vec3> path{{9, 14, 4}};
    for (int k = 0; k <= 8; ++k) path.push_back({9 * std::cos(kPi * k / 8), 20 + 6 * std::sin(kPi * k / 8), 4});
    for (int k = 0; k <= 8; ++k) path.push_back({-9 * std::cos(kPi * k / 8), -16 - 6 * std::sin(kPi * k / 8), 4});
    path.push_back({9, -10, 4});
    for (int i = 0; i < 4; ++i) {
      lay(coat, wire(path, 1.6, 8), {100, 80.0 + 80 * i}, 0.4 * i, 0, Role::Trim);
      lay(coat, wire({{9, -11, 4}, {9.2, 2, 4}, {9, 15, 4}}, 2.2, 8), {100, 80.0 + 80 * i}, 0.4 * i, 0, Role::Trim);
    }
    coat.check();
  }
}

TEST_CASE("trim cases: threads in a row of buttons are no zipper whose row goes on to the buckle below") {
  for (const double thick : {0.0, 1.2}) {
    CoatFront coat(thick, 1, 1);
    const Solid button = turned(std::array{Vec2{0, 0}, Vec2{5.6, 0}, Vec2{5.6, 2}, Vec2{0, 2}}, 16, false);
    const Solid thread = wire({{-1.7, 0, -1.5}, {-1.7, 0, 2.3}, {0, 0, 2.6}, {1.7, 0, 2.3}, {1.7, 0, -1.5}}, 0.35);
    for (int i = 0; i < 9; ++i) {
      for (const Solid& part : {button, moved(thread, Mat3{}, {0, -1.7, 0}), moved(thread, Mat3{}, {0, 1.7, 0})})
        lay(coat, part, {100, 60.0 + 45 * i}, 0, 0.3, Role::Trim, coat.trims);
      ++coat.trims;
    }
    std::vector<Vec3> outline;
    for (int k = 0; k < 24; ++k) {
      const double a = 2 * kPi * k / 24;
      outline.push_back({16 * std::cbrt(std::cos(a)), 18 * std::cbrt(std::sin(a)), 2.6});
    }
    const Solid frame = swept(outline, std::vector<double>(outline.size(), 1.8), 8, Ends::Loop);
    const Solid prong = wire({{-17, 0, 1.4}, {-15, 0, 4.8}, {-12, 0, 5}, {5, 0, 4.8}, {16, 0, 4.8}}, 1.2, 4);
    for (const Solid& part : {frame, prong}) lay(coat, part, {100, 37}, 0, 0.3, Role::Trim, coat.trims);
    ++coat.trims;
    coat.check();
  }
}

TEST_CASE("trim cases: charms of several makes on rings alike each take their ring along") {
  for (const double thick : {0.0, 1.2}) {
    CoatFront coat = buttoned(thick, 1, 1);
    std::vector<Vec3> circle;
    for (int k = 0; k < 16; ++k) circle.push_back({0, 3 * std::cos(kPi * k / 8) + 8, 3 * std::sin(kPi * k / 8)});
    const Solid ring = swept(circle, std::vector<double>(circle.size(), 0.5), 6, Ends::Loop);
    const std::array<Solid, 3> charms{turned(std::array{Vec2{0, -1}, Vec2{6, -1}, Vec2{6, 1}, Vec2{0, 1}}, 20, false),
                                      moved(box(9, 12, 1.6), Mat3{}, {}), ball(6, 12, 8)};
    for (std::size_t i = 0; i < charms.size(); ++i) {
      for (const Solid& part : {charms[i], ring})
        lay(coat, part, {70, 100 + 60.0 * static_cast<double>(i)}, 0, 7, Role::Trim, coat.trims);
      ++coat.trims;
    }
    coat.check();
  }
}

TEST_CASE("trim cases: buttons of two sizes on shanks of one make, stout blocks below them, each take theirs along") {
  for (const double thick : {0.0, 1.2}) {
    CoatFront coat = buttoned(thick, 1, 1);
    const Solid shank = moved(box(3.4, 2, 5), Mat3{}, {0, 0, 0.6});
    const auto dome = [](double r) {
      return turned(std::array{Vec2{0, 2.9}, Vec2{0.9 * r, 3.1}, Vec2{r, 3.8}, Vec2{0.6 * r, 5.4}, Vec2{0, 6}}, 20,
                    false);
    };
    for (int i = 0; i < 7; ++i) {
      for (const Solid& part : {dome(11), shank})
        lay(coat, part, {70, 60.0 + 60 * i}, 0.2 * i, 0, Role::Trim, coat.trims);
      ++coat.trims;
    }
    for (int i = 0; i < 10; ++i) {
      for (const Solid& part : {dome(7), shank})
        lay(coat, part, {130, 60.0 + 40 * i}, 0.3 * i, 0, Role::Trim, coat.trims);
      ++coat.trims;
    }
    coat.check();
  }
}

TEST_CASE("trim cases: underwires, round and flat, and a kilt pin are not surely cords") {
  const auto bow = [](double radius, int steps) {
    std::vector<Vec3> path;
    for (int k = 0; k <= steps; ++k)
      path.push_back({radius * std::cos(kPi * k / steps), radius * std::sin(kPi * k / steps), 2});
    return path;
  };
  std::vector<Vec3> pin{{39, -4, 2}, {-34, -4, 2}};
  for (int k = 0; k <= 8; ++k) pin.push_back({-35 - 4 * std::sin(kPi * k / 8), -4 * std::cos(kPi * k / 8), 2});
  for (const double x : {-20.0, 0.0, 20.0, 37.0}) pin.push_back({x, 3.5, 2});
  for (const double thick : {0.0, 1.5}) {
    CoatFront coat = buttoned(thick, 1, 10);
    for (int i = 0; i < 2; ++i) lay(coat, wire(bow(46, 40), 0.9, 8), {100, 60.0 + 80 * i}, 0, 1, Role::Trim);
    for (int i = 0; i < 2; ++i) {
      Solid flat = wire(bow(46, 40), 1.5, 4);
      for (Vec3& v : flat.vertices) v.z = 2 + 0.5 * (v.z - 2);
      lay(coat, flat, {100, 240.0 + 80 * i}, 0, 1, Role::Trim);
    }
    lay(coat, wire(pin, 0.9), {100, 460}, 0.3, 0, Role::Trim);
    honest(coat);
  }
}

TEST_CASE("trim cases: the cord through a toggle is not surely a part of it") {
  for (const double thick : {0.0, 1.5}) {
    CoatFront coat = buttoned(thick, 1, 1);
    const std::array<Vec2, 7> outline{{{0, -21}, {2.7, -21}, {4.7, -14}, {5.5, 0}, {4.7, 14}, {2.7, 21}, {0, 21}}};
    const Solid toggle = turned(outline, 12, false);
    const Mat3 lying = from_columns({0, 1, 0}, {0, 0, 1}, {1, 0, 0});
    std::vector<Vec3> cord;
    for (int k = 0; k <= 20; ++k) cord.push_back({-30 + 1.5 * k, 0, 1.2 + 11 * std::pow(k / 20.0, 3)});
    for (int i = 0; i < 4; ++i) {
      lay(coat, moved(toggle, lying, {0, 0, 6.5}), {100, 90.0 + 110 * i}, 0, 0, Role::Trim);
      lay(coat, wire(cord, 1.4), {100, 90.0 + 110 * i}, 0, 0, Role::Cloth);
    }
    honest(coat);
  }
}

namespace {

/// A closed zipper, its slider of plates that touch no element, its neck between the stops.
void zip(CoatFront& coat, double x, bool stops) {
  for (int i = 0; i < 60; ++i)
    for (const double side : {-1.0, 1.0})
      lay(coat, box(2.7, 0.9, 1.2, 2), {x + side * 0.5, 60 + 1.5 * i + (side > 0 ? 0.75 : 0)}, 0, 2.2, Role::Trim);
  const std::array<Solid, 4> slider{moved(box(5.6, 6.6, 0.66), Mat3{}, {0, 0, 1.6}),
                                    moved(box(5.2, 6.6, 0.66), Mat3{}, {0, 0, -1.6}),
                                    moved(box(0.84, 1.5, 3), Mat3{}, {0, 2.25, 0}),
                                    wire({{0, -2.4, 1.8}, {0, -1.8, 3}, {0, 0, 3.4}, {0, 1.8, 3}, {0, 2.4, 1.8}}, 0.4)};
  for (const Solid& part : slider) lay(coat, part, {x, 148}, 0, 2.2, Role::Trim, coat.trims);
  ++coat.trims;
  for (const double side : {-1.0, 1.0})
    lay(coat, box(2.1, 2.1, 1.5), {x + side * (stops ? 1.35 : 4.0), stops ? 151.0 : 300.0}, 0, 2.2, Role::Trim);
}

}  // namespace

TEST_CASE("trim cases: a slider's neck and blocks elsewhere are boxes of one spread, but no kin") {
  CoatFront coat = buttoned(1.2, 1, 1);
  zip(coat, 60, false);
  coat.check();
}

TEST_CASE("trim cases: stops at sliders in parts, of which none holds an element, of one zipper or of many") {
  for (const int zips : {1, 5}) {
    CoatFront coat = buttoned(1.2, 1, 1);
    for (int i = 0; i < zips; ++i) zip(coat, 30.0 + 40 * i, true);
    CAPTURE(zips);
    coat.check();
  }
}

TEST_CASE("trim cases: the rivets of lace hooks and of clips that hold a ring clamp the leather below the hardware") {
  for (const double thick : {1.5, 3.0}) {
    CoatFront coat = buttoned(thick, 1, 1);
    const auto strap = [](const std::vector<Vec3>& path) {
      Solid solid = wire(path, 0.5, 8);
      for (Vec3& v : solid.vertices) v.y *= 6;
      return solid;
    };
    const std::array low{Vec2{0, 0}, Vec2{2.4, 0}, Vec2{2.4, 0.6}, Vec2{1.4, 1.2}, Vec2{0, 1.3}};
    const Solid cap = turned(low, 16, false);
    const Solid back = moved(turned(std::array{Vec2{0, 0}, Vec2{2.8, 0}, Vec2{2.6, 0.7}, Vec2{0, 0.8}}, 16, false),
                             Mat3{{1, 0, 0, 0, -1, 0, 0, 0, -1}}, {0, 0, -thick - 0.1});
    const Solid hook =
        strap({{-5, 0, 0.5}, {0, 0, 0.5}, {3, 0, 0.5}, {6, 0, 1.5}, {6.5, 0, 3.5}, {4, 0, 5.5}, {3, 0, 5.6}});
    const Solid clip = strap(
        {{-5, 0, 0.5}, {0, 0, 0.5}, {5, 0, 0.5}, {7.4, 0, 1.3}, {7.4, 0, 2.7}, {5, 0, 3.5}, {0, 0, 3.5}, {-3, 0, 3.5}});
    for (int i = 0; i < 6; ++i) {
      for (const Solid& part : {hook, moved(cap, Mat3{}, {0, 0, 0.9}), back})
        lay(coat, part, {70, 100.0 + 30 * i}, 0, 0.05, Role::Trim, coat.trims);
      ++coat.trims;
    }
    for (int i = 0; i < 4; ++i) {
      for (const Solid& part : {clip, moved(cap, Mat3{}, {0, 0, 3.9}), back})
        lay(coat, part, {70, 300.0 + 30 * i}, 0, 0.05, Role::Trim, coat.trims);
      ++coat.trims;
    }
    coat.check();
  }
}

TEST_CASE("trim cases: a clasp's plate and both rivets that hold it, with their backs, are one trim") {
  for (const double thick : {0.0, 1.2}) {
    CoatFront coat = buttoned(thick, 1, 1);
    const Solid plate = moved(box(26, 16, 1.5), Mat3{}, {0, 0, 0.85});
    const auto disc = [](double r, double low, double high) {
      return turned(std::array{Vec2{0, low}, Vec2{r, low}, Vec2{0.9 * r, high}, Vec2{0, high}}, 14, false);
    };
    for (int i = 0; i < 5; ++i) {
      lay(coat, plate, {80, 60.0 + 90 * i}, 0, 0, Role::Trim, coat.trims);
      for (const double side : {-1.0, 1.0}) {
        lay(coat, moved(disc(2.6, 1.5, 2.7), Mat3{}, {-6, 4 * side, 0}), {80, 60.0 + 90 * i}, 0, 0, Role::Trim,
            coat.trims);
        lay(coat, moved(disc(2.9, -thick - 1, -thick - 0.1), Mat3{}, {-6, 4 * side, 0}), {80, 60.0 + 90 * i}, 0, 0,
            Role::Trim, coat.trims);
      }
      ++coat.trims;
    }
    for (int i = 0; i < 6; ++i) {
      lay(coat, disc(2.6, 0.05, 1.2), {151.3, 60.0 + 60 * i}, 0, 0, Role::Trim, coat.trims);
      lay(coat, disc(2.9, -thick - 1, -thick - 0.1), {151.3, 60.0 + 60 * i}, 0, 0, Role::Trim, coat.trims);
      ++coat.trims;
    }
    coat.check();
  }
}

TEST_CASE("trim cases: the elements of a zipper, straight bars, are no stitches that would tell the unit") {
  const std::array outline{Vec2{-3.6, -0.84}, Vec2{0.9, -0.84}, Vec2{1.8, -0.3},
                           Vec2{1.8, 0.3},    Vec2{0.9, 0.84},  Vec2{-3.6, 0.84}};
  Solid element;
  for (const double z : {-1.02, 1.02})
    for (const Vec2& p : outline) element.vertices.push_back({p.x, p.y, z});
  const Index n = outline.size();
  element.add_face({5, 4, 3, 2, 1, 0});
  element.add_face({6, 7, 8, 9, 10, 11});
  for (Index k = 0; k < n; ++k) element.add_face({k, (k + 1) % n, n + (k + 1) % n, n + k});
  CoatFront coat(2, 1, 25.4);
  for (int i = 0; i < 100; ++i)
    for (const double side : {-1.0, 1.0})
      lay(coat, element, {100 + side * 2, 60 + 3.0 * i + (side > 0 ? 1.5 : 0)}, side > 0 ? kPi : 0, 1.6, Role::Trim);
  const Parts found = coat.parts();
  for (const std::string& reason : found.unit.reasons) CHECK(reason.rfind("stitches of", 0) != 0);
  honest(coat);
}

TEST_CASE("trim cases: the shell of a buckle's half, two open boxes of a few faces, is not surely cloth") {
  const auto box = [](double width, double height, bool inside_out, bool triangles) {
    Solid s;
    for (const double y : {0.0, 16.0})
      for (const Vec2 p : {Vec2{-0.5, -0.5}, Vec2{0.5, -0.5}, Vec2{0.5, 0.5}, Vec2{-0.5, 0.5}})
        s.add_vertex({width * p.x, y, height * p.y + 4.5});
    for (Index k = 0; k < 4; ++k) {
      const Index next = (k + 1) % 4;
      const std::array<Index, 4> q{k, inside_out ? next : k + 4, next + 4, inside_out ? k + 4 : next};
      if (triangles) {
        s.add_face({q[0], q[1], q[2]});
        s.add_face({q[0], q[2], q[3]});
      } else {
        s.add_face({q[0], q[1], q[2], q[3]});
      }
    }
    return s;
  };
  for (const double thick : {0.0, 1.2}) {
    CoatFront coat = buttoned(thick, 1, 1);
    for (int i = 0; i < 2; ++i) {
      lay(coat, box(31, 8, false, i == 0), {120, 200.0 + 100 * i}, 0, 0, Role::Trim, coat.trims);
      lay(coat, box(29.4, 6.4, true, i == 0), {120, 200.0 + 100 * i}, 0, 0, Role::Trim, coat.trims);
      ++coat.trims;
    }
    honest(coat);
  }
}

TEST_CASE("trim cases: the shell of a buckle's half with rounded corners, two open tubes, is not surely cloth") {
  const auto tube = [](double width, double height, bool inside_out) {
    constexpr Index kSides = 24;
    Solid s;
    for (const double y : {0.0, 4.0, 8.0, 12.0, 16.0})
      for (Index k = 0; k < kSides; ++k) {
        const double a = 2 * kPi * (k + 0.5) / kSides;
        const double side = std::cos(a) > 0 ? 0.5 * (width - height) : -0.5 * (width - height);
        s.add_vertex({side + 0.5 * height * std::cos(a), y, 0.5 * height * std::sin(a) + 4.5});
      }
    for (Index row = 0; row < 4; ++row)
      for (Index k = 0; k < kSides; ++k) {
        const Index a = row * kSides + k;
        const Index b = row * kSides + (k + 1) % kSides;
        if (inside_out)
          s.add_face({a, b, b + kSides, a + kSides});
        else
          s.add_face({a, a + kSides, b + kSides, b});
      }
    return s;
  };
  for (const double thick : {0.0, 1.2}) {
    CoatFront coat = buttoned(thick, 1, 1);
    for (int i = 0; i < 2; ++i) {
      lay(coat, tube(45, 7, false), {120, 200.0 + 100 * i}, 0, 0, Role::Trim, coat.trims);
      lay(coat, tube(43.6, 5.6, true), {120, 200.0 + 100 * i}, 0, 0, Role::Trim, coat.trims);
      ++coat.trims;
    }
    honest(coat);
  }
}
