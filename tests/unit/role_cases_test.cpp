// SPDX-License-Identifier: MIT
// What hangs on garments besides panels and buttons, one kind at a time on a coat front: each must be right, or say
// that it is not sure. Thin and thick cloth, two units, a doll's coat.
#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>

#include "support/coat_front.hpp"

using namespace trimtack;
using namespace trimtack::testing;

namespace {

constexpr double kPi = std::numbers::pi;

struct Way {
  double thick, size, unit;
};
constexpr std::array<Way, 3> kWays{{{0, 1, 1}, {1.2, 1, 10}, {4, 1, 1000}}};
constexpr Way kDoll{0, 0.25, 1};

/// A coat front with four buttons, threads and all.
struct Coat : CoatFront {
  explicit Coat(const Way& way) : CoatFront(way.thick, way.size, way.unit) {
    for (int i = 0; i < 4; ++i) trim(make_button(random, 15.24, 4, true), {200, 100.0 + 90 * i});
  }
  void lay(const Solid& solid, Vec2 at, double turn, double lift, Role role) {
    const Pose pose = frame_at(front(), at, lift + 0.5 * thickness, turn);
    add(moved(solid, pose.rotation, pose.translation), role, role == Role::Cloth ? kNone : trims++);
  }
  /// Every vertex follows the cloth, so that no two pieces are copies.
  void bend(const Solid& solid, Vec2 at, double turn, double lift, Role role) {
    Solid bent = solid;
    for (Vec3& v : bent.vertices) {
      const Vec2 p{at.x + std::cos(turn) * v.x - std::sin(turn) * v.y,
                   at.y + std::sin(turn) * v.x + std::cos(turn) * v.y};
      v = front()(p) + (lift + 0.5 * thickness + v.z) * normal_at(front(), p);
    }
    add(bent, role, role == Role::Cloth ? kNone : trims++);
  }
  void seam(const Solid& stitch, int count, double pitch, double slant = 0, double lift = 0.2) {
    int left = count;
    for (int line = 0; left > 0; ++line) {
      const bool up = line % 2 == 0;
      const double other = 8.0 + 14 * (line / 2);
      for (double t = 16; t < (up ? 540 : 290) && left > 0; t += pitch, --left)
        bend(stitch, up ? Vec2{other, t} : Vec2{t, other}, (up ? kPi / 2 : 0) + (left % 2 == 0 ? slant : -slant), lift,
             Role::Stitching);
    }
  }
  /// Right, or uncertain.
  void honest() const {
    const Parts found = parts();
    REQUIRE(found.components.size() == truth.size());
    for (std::size_t c = 0; c < truth.size(); ++c) {
      const Component& part = found.components[c];
      if (part.role == truth[c] || part.uncertain) continue;
      CAPTURE(c, part.confidence, part.reasons, thickness, scale, mm_per_unit);
      FAIL_CHECK(to_text(truth[c]) << " silently taken for " << to_text(part.role));
    }
  }
  /// Honest, and all of the given role are right and sure.
  void sure(Role role) const {
    honest();
    const Parts found = parts();
    for (std::size_t c = 0; c < truth.size(); ++c) {
      const Component& part = found.components[c];
      if (truth[c] != role || (part.role == role && !part.uncertain)) continue;
      CAPTURE(c, part.confidence, part.reasons, thickness, scale, mm_per_unit);
      FAIL_CHECK(to_text(role) << " found " << to_text(part.role) << (part.uncertain ? ", unsure" : ""));
    }
  }
};

Solid quad(double length, double width) {
  Solid s;
  s.add_face({s.add_vertex({-0.5 * length, -0.5 * width, 0}), s.add_vertex({0.5 * length, -0.5 * width, 0}),
              s.add_vertex({0.5 * length, 0.5 * width, 0}), s.add_vertex({-0.5 * length, 0.5 * width, 0})});
  return s;
}
Solid tube(const std::vector<Vec3>& path, double radius, int sides, Ends ends = Ends::Flat) {
  return swept(path, std::vector<double>(path.size(), radius), sides, ends);
}
/// A closed tube around an outline with straight sides and round ends.
Solid stadium(double length, double width, double radius, int sides, int steps) {
  std::vector<Vec3> path;
  for (int i = 0; i < steps; ++i) {
    const double a = 2 * kPi * i / steps;
    path.push_back(
        {0.5 * width * std::cos(a) + (std::cos(a) >= 0 ? 0.5 : -0.5) * (length - width), 0.5 * width * std::sin(a), 0});
  }
  return tube(path, radius, sides, Ends::Loop);
}
Solid scaled(const Solid& s, double x, double y, double z) { return moved(s, Mat3{{x, 0, 0, 0, y, 0, 0, 0, z}}, {}); }

template <class Build>
void each_way(bool doll, const Build& build) {
  for (const Way& way : kWays) build(way);
  if (doll) build(kDoll);
}

}  // namespace

TEST_CASE("role cases: stitches of every make, bent onto the cloth, short and stout or long and fine, are stitching") {
  for (int style = 0; style < kStitchStyles; ++style)
    for (const double length : {1.3, 2.5, 4.0})
      for (const double radius : {0.2, 0.45})
        for (const Way& way : kWays) {
          Coat coat(way);
          coat.seam(make_stitch(style, length, radius), 160, 1.25 * length);
          CAPTURE(style, length, radius);
          coat.honest();
          if (length > 2 || radius < 0.3) coat.sure(Role::Stitching);
        }
}

TEST_CASE("role cases: flat stitches 1.4 mm long and 0.8 mm wide, no two alike, are stitching") {
  each_way(false, [](const Way& way) {
    Coat coat(way);
    coat.seam(quad(1.4, 0.8), 300, 1.7);
    coat.sure(Role::Stitching);
  });
}

TEST_CASE("role cases: stitches squeezed together in a fold, or twice in one place, are not surely anything else") {
  each_way(false, [](const Way& way) {
    for (const int style : {0, 1}) {
      Coat coat(way);
      const Solid stitch = make_stitch(style, 2, 0.3);
      const std::array<Solid, 3> squeezed{scaled(stitch, 0.3, 1, 1), scaled(stitch, 0.35, 1, 1),
                                          scaled(stitch, 0.45, 1, 1)};
      Solid twice = stitch;
      append(twice, stitch);
      for (int i = 0; i < 180; ++i) {
        const Vec2 at{60, 20 + 2.7 * i};
        const Solid& own = i % 6 == 3 ? squeezed[static_cast<std::size_t>(i / 6) % 3] : (i == 100 ? twice : stitch);
        coat.lay(own, at, kPi / 2, 0.2, Role::Stitching);
      }
      CAPTURE(style);
      coat.honest();
    }
  });
}

TEST_CASE("role cases: a stitch bent around the corner of its seam is not surely anything else") {
  each_way(false, [](const Way& way) {
    Coat coat(way);
    const auto stitch = [](std::vector<Vec3> path) { return tube(path, 0.3, 6); };
    const Solid straight = stitch({{-1.6, 0, 0}, {-0.8, 0, 0.2}, {0, 0, 0.3}, {0.8, 0, 0.2}, {1.6, 0, 0}});
    const Solid corner = stitch({{-1.6, 0, 0}, {-0.8, 0, 0.2}, {0, 0, 0.3}, {-0.3, 0.74, 0.2}, {-0.6, 1.48, 0}});
    for (int i = 0; i < 60; ++i) {
      coat.lay(straight, {20 + 4.2 * i, 60}, 0, 0.2, Role::Stitching);
      coat.lay(straight, {20 + 4.2 * 60, 64.2 + 4.2 * i}, kPi / 2, 0.2, Role::Stitching);
    }
    coat.lay(corner, {20 + 4.2 * 60, 60}, 0, 0.2, Role::Stitching);
    coat.honest();
  });
}

TEST_CASE("role cases: blanket stitches of yarn a millimetre thick around a hem are stitching") {
  each_way(false, [](const Way& way) {
    Coat coat(way);
    const Solid stitch =
        tube({{0, 6, 0}, {0, 4, 0.2}, {0, 2, 0.2}, {0.3, 0.3, 0.2}, {2, 0, 0.2}, {4, 0, 0.2}, {5.6, 0, 0}}, 0.5, 6);
    for (int i = 0; i < 44; ++i) coat.bend(stitch, {16 + 6.0 * i, 12}, 0, 0.4, Role::Stitching);
    const Parts found = coat.parts();
    for (std::size_t c = 0; c < coat.truth.size(); ++c)
      if (coat.truth[c] == Role::Stitching) CHECK(found.components[c].role == Role::Stitching);
  });
}

TEST_CASE("role cases: zigzag, satin bars and overlock loops are stitching") {
  each_way(false, [](const Way& way) {
    Coat zigzag(way);
    zigzag.seam(make_stitch(0, 4, 0.25), 150, 1.8, 0.6);
    zigzag.sure(Role::Stitching);
    Coat bars(way);
    for (int bar = 0; bar < 6; ++bar)
      for (int i = 0; i < 28; ++i)
        bars.bend(make_stitch(0, 2.4, 0.18), {20.0 + 30 * bar + 0.41 * i, 60}, kPi / 2, 0.2, Role::Stitching);
    bars.sure(Role::Stitching);
    std::vector<Vec3> path;
    for (int i = 0; i <= 10; ++i)
      path.push_back({0.22 * i, 5 * std::sin(kPi * i / 10), 0.4 * std::sin(2 * kPi * i / 10)});
    Coat loops(way);
    for (int i = 0; i < 120; ++i) loops.bend(tube(path, 0.2, 5), {20, 20.0 + 2.3 * i}, kPi / 2, 0.5, Role::Stitching);
    loops.sure(Role::Stitching);
  });
}

TEST_CASE("role cases: threads arched from hole to hole, around buttonholes, eyelets and mirrors, are stitching") {
  const auto arch = [](double span, double height, double radius) {
    return tube({{-0.5 * span, 0, -0.2}, {0, 0, height}, {0.5 * span, 0, -0.2}}, radius, 5);
  };
  each_way(false, [&](const Way& way) {
    Coat buttonholes(way);
    for (int hole = 0; hole < 4; ++hole)
      for (int i = 0; i < 30; ++i)
        for (const double side : {-0.9, 0.9})
          buttonholes.bend(arch(1.3, 0.25, 0.15), {30 + side, 60.0 + 90 * hole + 0.55 * i}, 0, 0.1, Role::Stitching);
    buttonholes.sure(Role::Stitching);
    for (const bool around : {false, true}) {
      Coat rings(way);
      for (int ring = 0; ring < 5; ++ring)
        for (int i = 0; i < 24; ++i) {
          const double a = 2 * kPi * i / 24;
          const double r = around ? 7.2 : 3.3;
          rings.lay(arch(around ? 2.8 : 2.2, 0.4, 0.26), {60 + r * std::cos(a), 60.0 + 80 * ring + r * std::sin(a)},
                    around ? a + 0.5 * kPi : a, 0.1, Role::Stitching);
        }
      rings.honest();
    }
  });
}

TEST_CASE("role cases: thread that holds buttons goes with them, however like the seams' stitches") {
  Solid thread = box(2.9, 0.7, 0.5);
  each_way(true, [&](const Way& way) {
    CoatFront plain(way.thick, way.size, way.unit);
    const TrimModel button = make_button(plain.random, 11.43, 2, false);
    for (int i = 0; i < 9; ++i) {
      const Pose pose = frame_at(CoatFront::front(), {150, 40.0 + 55 * i}, 0.1 + 0.5 * way.thick, 0);
      for (const Solid& part : button.parts)
        plain.add(moved(part, pose.rotation, pose.translation), Role::Trim, plain.trims);
      for (const double side : {-0.8, 0.8})
        plain.add(moved(thread, pose.rotation, pose.translation + pose.rotation * Vec3{0, side, 2.6}), Role::Trim,
                  plain.trims);
      ++plain.trims;
    }
    const Parts found = plain.parts();
    for (std::size_t c = 0; c < plain.truth.size(); ++c) {
      CAPTURE(c, found.components[c].confidence, found.components[c].reasons);
      CHECK(found.components[c].role == plain.truth[c]);
    }
  });
}

TEST_CASE("role cases: a buttonhole sewn as one mesh is not surely a ring of metal") {
  each_way(true, [](const Way& way) {
    for (const bool flat : {false, true}) {
      Coat coat(way);
      const Solid hole = flat ? scaled(stadium(20, 3.2, 0.5, 6, 48), 1, 1, 0.5) : stadium(18, 2.4, 0.3, 5, 40);
      for (int i = 0; i < 5; ++i) coat.bend(hole, {60, 60.0 + 90 * i}, kPi / 2, 0.1, Role::Cloth);
      coat.honest();
    }
  });
}

TEST_CASE("role cases: bugle beads are surely trims, for no buttonhole is as high as wide") {
  each_way(false, [](const Way& way) {
    Coat coat(way);
    const Solid bugle = moved(turned(std::array{Vec2{0.45, -3}, Vec2{0.95, -3}, Vec2{0.95, 3}, Vec2{0.45, 3}}, 8, true),
                              Mat3{{0, 0, 1, 0, 1, 0, -1, 0, 0}}, {});
    for (int i = 0; i < 60; ++i) coat.lay(bugle, {60, 30.0 + 8 * i}, kPi / 2, 0.95, Role::Trim);
    coat.sure(Role::Trim);
  });
}

TEST_CASE("role cases: sequins, studs, nail heads, pearls, chains and grommets are trims") {
  const auto grid = [](Coat& coat, const Solid& solid, int count, double pitch, double lift) {
    for (int i = 0; i < count; ++i) coat.lay(solid, {40 + pitch * (i % 8), 40 + pitch * (i / 8)}, 0, lift, Role::Trim);
  };
  Solid pyramid;
  const Index top = pyramid.add_vertex({0, 0, 3});
  std::array<Index, 4> base{};
  for (std::size_t k = 0; k < 4; ++k)
    base[k] = pyramid.add_vertex({k == 0 || k == 3 ? -4.0 : 4.0, k < 2 ? -4.0 : 4.0, 0});
  for (std::size_t k = 0; k < 4; ++k) pyramid.add_face({base[k], base[(k + 1) % 4], top});
  const std::vector<Vec2> dome{{4, 0}, {3.6, 1}, {2.4, 1.7}, {0, 2}};
  const std::vector<Vec2> grommet{{12, -1}, {20, -1}, {20, 1}, {12, 2}};
  each_way(true, [&](const Way& way) {
    Coat square(way);
    grid(square, quad(5, 5), 80, 5.5, 0.4);
    square.honest();
    Coat studs(way);
    grid(studs, pyramid, 30, 10, 0.1);
    studs.honest();
    Coat heads(way);
    grid(heads, turned(dome, 12, false), 20, 10, 0.1);
    heads.honest();
    Coat rings(way);
    grid(rings, turned(grommet, 32, true), 3, 45, 0);
    rings.honest();
    Coat chain(way);
    for (int i = 0; i < 30; ++i) {
      const Solid link = stadium(9, 6, 0.7, 6, 20);
      chain.lay(i % 2 == 0 ? link : moved(link, Mat3{{1, 0, 0, 0, 0, -1, 0, 1, 0}}, {}), {60, 40 + 6.5 * i}, kPi / 2, 3,
                Role::Trim);
    }
    chain.honest();
    Coat stones(way);
    const std::vector<Vec2> stone{{1.16, 0}, {1.16, 0.17}, {0.7, 0.7}, {0, 0.7}};
    for (int i = 0; i < 84; ++i)
      stones.lay(turned(stone, 7, false), {60.0 + 100 * (i / 50), 40 + 6.0 * (i % 50)}, 0, 0.1, Role::Trim);
    stones.honest();
    Coat prongs(way);
    const std::vector<Vec3> claw{{0.3, 0, -0.6}, {0.5, 0, 0.6}, {0, 0, 1.2}};
    for (int i = 0; i < 40; ++i) {
      const Vec2 at{30.0 + 27 * (i % 8) + 5 * std::sin(9.0 * i), 40.0 + 60 * (i / 8) + 9 * std::sin(7.0 * i)};
      prongs.lay(turned(stone, 9, false), at, 0, 0.1, Role::Trim);
      for (int k = 0; k < 4; ++k) {
        const double a = 0.5 * kPi * k + i;
        prongs.lay(tube(claw, 0.15, 5), {at.x + 1.2 * std::cos(a), at.y + 1.2 * std::sin(a)}, a, 0.1, Role::Trim);
      }
    }
    prongs.honest();
    Coat balls(way);
    for (int i = 0; i < 60; ++i) balls.lay(ball(1.2, 8, 6), {60, 40 + 2.6 * i}, 0, 1.3, Role::Trim);
    balls.honest();
  });
}

TEST_CASE(
    "role cases: bugle beads and baguettes end to end are not surely stitches, nor elements on a zipper's sides") {
  const std::vector<Vec3> axis{{-3, 0, 0}, {3, 0, 0}};
  const Solid leaf = scaled(turned(std::vector<Vec2>{{1, 0}, {0.6, 0.15}, {0, 0.2}}, 10, false), 7, 3.2, 3);
  each_way(true, [&](const Way& way) {
    Coat leaves(way);
    for (int i = 0; i < 60; ++i) leaves.lay(leaf, {60, 20 + 8.0 * i}, 0, 0.4, Role::Trim);
    leaves.honest();
    Coat bugles(way);
    for (int i = 0; i < 60; ++i) bugles.lay(tube(axis, 0.9, 8), {50, 20 + 6.6 * i}, kPi / 2, 1, Role::Trim);
    bugles.honest();
    Coat stones(way);
    for (int i = 0; i < 60; ++i) stones.lay(box(4, 2.5, 2), {50, 20 + 4.4 * i}, kPi / 2, 1, Role::Trim);
    stones.honest();
  });
  each_way(true, [](const Way& way) {
    Coat zipper(way);
    for (int i = 0; i < 60; ++i)
      for (const double side : {-1.0, 1.0})
        zipper.lay(box(2.6, 0.8, 0.9), {100 + 0.7 * side, 62 + 1.7 * i + (side > 0 ? 0.85 : 0.0)}, 0, 1, Role::Trim);
    zipper.honest();
  });
}

TEST_CASE("role cases: prongs, bars and plates without the particles that cloth bends at are trims") {
  const Solid prong = tube({{-25, 0, 0}, {-8, 0, 1}, {10, 0, 1}, {26, 0, 0}}, 1.6, 8);
  for (const double thick : {0.0, 1.2}) {
    Coat coat({thick, 1, 1});
    const auto frame = [](double wide, double high, double bar, double thickness) {
      const std::array<double, 4> x{-0.5 * wide, bar - 0.5 * wide, 0.5 * wide - bar, 0.5 * wide};
      const std::array<double, 4> y{-0.5 * high, bar - 0.5 * high, 0.5 * high - bar, 0.5 * high};
      const auto window = [](int i, int j) { return i != 1 || j != 1; };
      const auto place = [=](int i, int j) {
        return Vec2{x[static_cast<std::size_t>(i)], y[static_cast<std::size_t>(j)]};
      };
      return plate(3, 3, window, place, thickness, false);
    };
    coat.lay(frame(56, 50, 6, 4), {60, 60}, 0, 2, Role::Trim);
    coat.lay(prong, {60, 60}, 0, 5, Role::Trim);
    coat.lay(box(30, 4, 3), {60, 160}, 0, 2, Role::Trim);
    coat.lay(frame(34, 26, 8, 1.35), {60, 260}, 0, 1, Role::Trim);
    const Parts found = coat.parts();
    for (std::size_t c = 0; c < coat.truth.size(); ++c) {
      CAPTURE(thick, c, found.components[c].confidence, found.components[c].reasons);
      CHECK(found.components[c].role == coat.truth[c]);
    }
  }
}

TEST_CASE("role cases: plates that a bridge holds apart are a slider's, though as thick as the cloth") {
  for (const double thick : {0.0, 1.0, 1.2}) {
    Coat coat({thick, 1, 1});
    for (const double lift : {3.0, 0.0}) coat.lay(box(9, 7, 1.0), {60, 60}, 0, lift, Role::Trim);
    coat.lay(box(1.6, 2.4, 3), {62, 60}, 0, 1.5, Role::Trim);
    const Parts found = coat.parts();
    for (std::size_t c = 0; c < coat.truth.size(); ++c) {
      CAPTURE(thick, c, found.components[c].confidence, found.components[c].reasons);
      CHECK(found.components[c].role == coat.truth[c]);
    }
    CHECK(found.components.back().trim == found.components[coat.truth.size() - 3].trim);
    CHECK(found.components.back().trim == found.components[coat.truth.size() - 2].trim);
  }
}

TEST_CASE("role cases: hook-and-loop, patches, pads and bows are not surely trims") {
  each_way(true, [](const Way& way) {
    SheetOptions o;
    o.spacing = 5;
    o.thickness = 2;
    Coat squares(way);
    for (int i = 0; i < 4; ++i)
      squares.cloth(sheet(CoatFront::on_front({40, 60.0 + 100 * i}, 1.2 + way.thick), 25, 25, {}, o));
    squares.honest();
    Coat boxes(way);
    for (int i = 0; i < 3; ++i) boxes.lay(box(40, 20, 2.5), {60, 60.0 + 100 * i}, 0, 1.3, Role::Cloth);
    boxes.honest();
    Coat leather(way);
    leather.lay(box(70, 50, 2), {80, 90}, 0, 1.2, Role::Cloth);
    leather.honest();
    for (const double r : {20.0, 35.0}) {
      Coat round(way);
      const std::vector<Vec2> disc{{r, 0}, {0.6 * r, 0}, {0.25 * r, 0}, {0, 0}};
      round.bend(turned(disc, 24, false), {80, 90}, 0, 0.8, Role::Cloth);
      round.honest();
    }
    Coat pads(way);
    for (int i = 0; i < 2; ++i)
      pads.lay(scaled(ball(60, 24, 16), 1.1, 0.75, 0.12), {70 + 130.0 * i, 480}, 0, -9, Role::Cloth);
    pads.honest();
    Coat bow(way);
    o.thickness = 0;
    bow.cloth(sheet(
        [](Vec2 p) {
          const double t = 2 * kPi * p.x / 120;
          return CoatFront::front()({100, 300}) +
                 Vec3{35 * std::sin(t), p.y + 12 * std::sin(2 * t), 12 + 10 * std::sin(2 * t)};
        },
        120, 18, {}, o));
    bow.honest();
  });
}

TEST_CASE("role cases: lace with its holes, fringes and fur are soft") {
  const auto lace = [](double pitch, double thickness) {
    return plate(
        12, 12, [](int i, int j) { return i % 3 != 1 || j % 3 != 1; },
        [=](int i, int j) {
          return Vec2{pitch * i, pitch * j};
        },
        thickness, false);
  };
  each_way(true, [&](const Way& way) {
    for (const double thickness : {0.0, 0.6}) {
      Coat coat(way);
      coat.bend(lace(4, thickness), {40, 60}, 0, 1, Role::Cloth);
      coat.bend(lace(10, thickness), {40, 200}, 0, 1, Role::Cloth);
      coat.honest();
    }
    Coat fringe(way);
    for (int i = 0; i < 60; ++i)
      fringe.cloth(sheet(CoatFront::on_front({20 + 4.0 * i, 40}, 2), 3, 40, {}, fringe.weave(8)));
    fringe.honest();
    Coat fur(way);
    Solid strip;
    for (int i = 0; i <= 3; ++i)
      for (const double y : {-1.0, 1.0}) strip.add_vertex({10.0 * i, y, 0.6 * i * i});
    for (const Index i : {0U, 2U, 4U}) strip.add_face({i, i + 2, i + 3, i + 1});
    for (int i = 0; i < 200; ++i)
      fur.lay(strip, {20 + 6.0 * (i % 20), 20 + 8.0 * (i / 20)}, kPi / 2 + 0.1 * (i % 7), 0.2, Role::Cloth);
    fur.honest();
  });
}

TEST_CASE("role cases: cords with their tips, loops of cord and pins are right or unsure") {
  each_way(true, [](const Way& way) {
    Coat cord(way);
    std::vector<Vec3> path;
    for (int i = 0; i <= 60; ++i) {
      const Vec2 p{60 + 8 * std::sin(0.2 * i), 500 - 5.0 * i};
      path.push_back(CoatFront::front()(p) + (3 + way.thick) * normal_at(CoatFront::front(), p));
    }
    cord.cloth(tube(path, 2.5, 8));
    const std::vector<Vec2> tip{{0, -12}, {3.2, -12}, {3.2, 10}, {0, 10}};
    cord.add(moved(turned(tip, 12, false), Mat3{{1, 0, 0, 0, 0, 1, 0, -1, 0}}, path.back()), Role::Trim, cord.trims++);
    cord.honest();

    std::vector<Vec3> bow;
    for (int k = 0; k <= 20; ++k) bow.push_back({-35 + 35 * std::sin(kPi * k / 20), 8 * std::cos(kPi * k / 20), 0});
    Coat toggles(way);
    for (int i = 0; i < 3; ++i) {
      toggles.lay(make_toggle(toggles.random).parts[0], {100, 100.0 + 100 * i}, 0, 0, Role::Trim);
      toggles.lay(tube(bow, 1.6, 6), {90, 100.0 + 100 * i}, 0, 2, Role::Cloth);
    }
    toggles.honest();

    std::vector<Vec3> pin;
    for (int i = 0; i <= 10; ++i) pin.push_back({4.0 * i, 0, 0});
    Coat straight(way);
    straight.lay(tube(pin, 0.8, 6), {60, 60}, 0, 2, Role::Trim);
    straight.honest();
    for (int i = 1; i < 8; ++i) pin.push_back({40 + 3 * std::sin(kPi * i / 8), 3 - 3 * std::cos(kPi * i / 8), 0});
    for (int i = 0; i <= 10; ++i) pin.push_back({40 - 4.0 * i, 6, 0});
    Coat safety(way);
    safety.lay(tube(pin, 0.6, 6), {60, 60}, 0, 2, Role::Trim);
    safety.honest();
  });
}

TEST_CASE("role cases: straps alike in thickness are cloth, though each alone is a small part of the bag") {
  Coat coat(kWays[0]);
  SheetOptions o;
  o.thickness = 4;
  o.spacing = 60;
  coat.cloth(sheet(CoatFront::on_front({0, 0}, 20), 300, 540, {}, o));
  o.thickness = 1.5;
  o.spacing = 30;
  for (int i = 0; i < 3; ++i) coat.cloth(sheet(CoatFront::on_front({30 + 60.0 * i, 20}, 24), 20, 480, {}, o));
  for (int i = 0; i < 3; ++i) coat.lay(box(60, 20, 1.5), {40 + 60.0 * i, 300}, kPi / 2, 30, Role::Cloth);
  const Parts found = coat.parts();
  for (std::size_t c = 0; c < coat.truth.size(); ++c) {
    CAPTURE(c, found.components[c].confidence, found.components[c].reasons);
    CHECK(found.components[c].role == coat.truth[c]);
  }
}

TEST_CASE("role cases: small thick pieces sewn to each other, their rims a little apart, are surely cloth") {
  for (const double gap : {0.05, 0.4}) {
    CoatFront coat(1.2);
    for (int i = 0; i < 4; ++i) coat.trim(make_button(coat.random, 15.24, 4, true), {200, 100.0 + 90 * i});
    const std::size_t first = coat.truth.size();
    // A row of tabs between two straps.
    const auto piece = [&](double x, double y, double width, double height, double spacing) {
      coat.cloth(sheet(CoatFront::on_front({x, y}, 4), width, height, {}, coat.weave(spacing)));
    };
    for (int i = 0; i < 3; ++i) piece(60 + (22 + gap) * i, 100, 22, 18, 7);
    piece(60, 70 - gap, 70, 30, 8);
    piece(60, 118 + gap, 70, 30, 9);
    const Parts found = coat.check();
    for (std::size_t c = first; c < found.components.size(); ++c) {
      CAPTURE(gap, c, found.components[c].confidence, found.components[c].reasons);
      CHECK_FALSE(found.components[c].uncertain);
    }
  }
}

TEST_CASE(
    "role cases: button loops of cord by the dozen, and motifs of lace and felt wider than sequins, are no sure "
    "trims") {
  each_way(false, [](const Way& way) {
    std::vector<Vec3> loop;
    for (int k = 0; k <= 16; ++k) loop.push_back({6 * std::cos(-2.4 + 0.3 * k), 6 * std::sin(-2.4 + 0.3 * k), 0});
    Coat loops(way);
    for (int i = 0; i < 30; ++i) loops.lay(tube(loop, 0.75, 6), {60, 40 + 14.0 * i}, 0, 1, Role::Cloth);
    loops.honest();
    const std::vector<Vec3> hairpin{{16, 3, 0},       {6, 3.2, 0.4},  {1.5, 2.8, 0.8}, {0, 0, 1},
                                    {1.5, -2.8, 0.8}, {6, -3.2, 0.4}, {16, -3, 0}};
    Coat hairpins(way);
    for (int i = 0; i < 14; ++i) hairpins.lay(tube(hairpin, 0.7, 6), {60, 40 + 15.0 * i}, 0, 1, Role::Cloth);
    hairpins.honest();
    const std::vector<Vec2> disc{{12, 0}, {8, 0.4}, {4, 0.6}, {0, 0.7}};
    Coat lace(way);
    for (int i = 0; i < 9; ++i)
      lace.lay(turned(disc, 20, false), {60.0 + 60 * (i % 2), 60 + 50.0 * (i / 2)}, 0, 0.2, Role::Cloth);
    lace.honest();
    const std::vector<Vec2> shell{{0, 0.7}, {4, 0.4}, {8, -0.8}, {12, -2.8}, {12, -1.4}, {8, 0.6}, {4, 1.8}, {0, 2.1}};
    Coat felt(Way{1.4, way.size, way.unit});
    for (int i = 0; i < 5; ++i) felt.lay(turned(shell, 20, false), {60, 60 + 60.0 * i}, 0, 2, Role::Cloth);
    felt.honest();
  });
}

TEST_CASE("role cases: round patches as thick as a doll's coat may be dots of felt, or coins") {
  Coat coat(Way{1.3, 0.28, 1});
  const std::vector<Vec2> disc{{0, 0}, {4.5, 0}, {9, 0}, {9, 1.3}, {4.5, 1.3}, {0, 1.3}};
  for (int i = 0; i < 2; ++i) coat.bend(turned(disc, 20, false), {60, 100 + 90.0 * i}, 0, 0.1, Role::Cloth);
  coat.honest();
}
