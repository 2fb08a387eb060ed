// SPDX-License-Identifier: MIT
// Which parts and trims are alike: boxes of other proportions are other products, copies that were shaken or rounded
// still are a row, and parts of one make go into trims of several makes.
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>
#include <set>

#include "support/coat_front.hpp"

using namespace trimtack;
using namespace trimtack::testing;

namespace {

constexpr double kPi = std::numbers::pi;

CoatFront buttoned(double thick, double size, double unit) {
  CoatFront coat(thick, size, unit);
  for (int i = 0; i < 4; ++i) coat.trim(make_button(coat.random, 15.24, 4, true), {240, 100.0 + 90 * i});
  return coat;
}
void lay(CoatFront& coat, const Solid& solid, Vec2 at, double lift, Index trim) {
  const Pose pose = frame_at(CoatFront::front(), at, lift + 0.5 * coat.thickness, 0);
  coat.add(moved(solid, pose.rotation, pose.translation), Role::Trim, trim);
}
void lay(CoatFront& coat, std::span<const Solid> parts, Vec2 at, double lift) {
  for (const Solid& part : parts) lay(coat, part, at, lift, coat.trims);
  ++coat.trims;
}
Solid shaken(const Solid& solid, double noise, Random& random) {
  Solid out = solid;
  for (Vec3& v : out.vertices)
    v = v + Vec3{random.between(-noise, noise), random.between(-noise, noise), random.between(-noise, noise)};
  return out;
}
Solid stud(double width) {
  const double r = 0.5 * width;
  return turned(
      std::array{Vec2{0, 0}, Vec2{r, 0}, Vec2{r, 0.1 * width}, Vec2{0.6 * r, 0.25 * width}, Vec2{0, 0.3 * width}}, 12,
      false);
}

}  // namespace

TEST_CASE("alike trims: a slider's bridge is no kin of the stops, boxes of other proportions that spread as far") {
  for (const double thick : {0.0, 1.2}) {
    CoatFront coat = buttoned(thick, 1, 1);
    for (int i = 0; i < 40; ++i)
      for (const double side : {-1.0, 1.0})
        lay(coat, std::array{box(3.6, 1.7, 1.7, 2)}, {60 + side * 0.9, 60 + 2.1 * i + (side > 0 ? 1.05 : 0)}, 2.2);
    const std::array slider{moved(box(7.6, 8.4, 0.7), Mat3{}, {0, 0, 2.6}),
                            moved(box(7.6, 8.4, 0.7), Mat3{}, {0, 0, -1.1}),
                            moved(box(1.4, 2.1, 3.1), Mat3{}, {0, 2.9, 0.75})};
    lay(coat, slider, {60, 139}, 2.2);
    for (const double side : {-1.0, 1.0}) lay(coat, std::array{box(2.5, 2.5, 2)}, {60 + side * 1.5, 148}, 2.2);
    coat.check();
  }
}

TEST_CASE("alike trims: sliders of one make, with rings larger than they are as pulls here and tabs there") {
  std::vector<Vec3> ring;
  for (int k = 0; k < 20; ++k) ring.push_back({6 * std::cos(kPi * k / 10), 6 * std::sin(kPi * k / 10) - 6.5, 0});
  const Solid body = box(8, 8.5, 4);
  const Solid pull = moved(swept(ring, std::vector<double>(20, 0.7), 6, Ends::Loop), Mat3{}, {0, 0, 2.6});
  const Solid tab = moved(box(4.5, 16, 0.9), Mat3{}, {0, -7.5, 2.4});
  CoatFront coat = buttoned(0, 1, 1);
  for (int i = 0; i < 4; ++i) lay(coat, std::array{body, i < 2 ? pull : tab}, {70, 100 + 60.0 * i}, 3);
  coat.check();
}

TEST_CASE("alike trims: sliders of two plates alike and a bridge, with rings as pulls here and tabs there") {
  std::vector<Vec3> ring;
  for (int k = 0; k < 20; ++k) ring.push_back({6 * std::cos(kPi * k / 10), 6 * std::sin(kPi * k / 10) - 6.5, 0});
  const Solid blade = box(7.6, 8.4, 0.7);
  const Solid pull = moved(swept(ring, std::vector<double>(20, 0.7), 6, Ends::Loop), Mat3{}, {0, 0, 2.8});
  const Solid tab = moved(box(4.5, 16, 0.9), Mat3{}, {0, -7.5, 2.6});
  CoatFront coat = buttoned(0, 1, 1);
  for (int i = 0; i < 4; ++i)
    lay(coat,
        std::array{moved(blade, Mat3{}, {0, 0, 1.85}), moved(blade, Mat3{}, {0, 0, -1.85}),
                   moved(box(1.4, 2.1, 3.1), Mat3{}, {0, 2.9, 0}), i < 2 ? pull : tab},
        {70, 100 + 60.0 * i}, 3);
  coat.check();
}

TEST_CASE("alike trims: studs that were shaken one by one are no copies, but a row") {
  CoatFront coat = buttoned(0, 1, 1);
  const Index first = coat.trims;
  for (int i = 0; i < 6; ++i) lay(coat, std::array{shaken(stud(9), 0.05, coat.random)}, {60, 100 + 20.0 * i}, 0);
  const Parts found = coat.check();
  std::set<Index> prototypes;
  for (Index t = 0; t < 6; ++t) {
    prototypes.insert(found.trims[first + t].prototype);
    CHECK(found.trims[first + t].row == found.trims[first].row);
  }
  CHECK(prototypes.size() == 6);
  CHECK(found.trims[first].row != kNone);
}

TEST_CASE("alike trims: small studs on a file of few decimals are copies, each corner of either off by half a step") {
  CoatFront coat = buttoned(0, 1, 10);
  const Index first = coat.trims;
  for (int i = 0; i < 20; ++i) {
    const Vec2 at{60 + 50 * std::sin(3.0 * i), 50 + 24.0 * i};
    const Pose pose = frame_at(CoatFront::front(), at, 0.3, 0.7 * i);  // off the corners of the cloth
    coat.add(moved(stud(9), pose.rotation, pose.translation), Role::Trim, coat.trims++);
  }
  for (Vec3& p : coat.mesh.positions)
    p = {std::round(100 * p.x) / 100, std::round(100 * p.y) / 100, std::round(100 * p.z) / 100};
  const Parts found = coat.parts();
  REQUIRE(found.trims.size() == first + 20U);
  for (Index t = 0; t < 20; ++t) CHECK(found.trims[first + t].prototype == found.trims[first].prototype);
}
