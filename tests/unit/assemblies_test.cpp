// SPDX-License-Identifier: MIT
// Which parts move together, fastening by fastening, as haberdashery is made and sewn on (sewing handbooks; common
// practice). Each scene has single and thick cloth, lies turned in another unit, and its truth is known.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <functional>
#include <numbers>

#include "support/haberdashery.hpp"
#include "trimtack/identify.hpp"

using namespace trimtack;
using namespace trimtack::testing;

namespace {

constexpr double kPi = std::numbers::pi;
using Path = std::vector<Vec3>;
using Profile = std::vector<Vec2>;

struct Way {
  double thickness, mm_per_unit;
  bool turned;
};
constexpr std::array<Way, 3> kWays{{{0, 1, false}, {1.2, 1, true}, {0, 10, true}}};

/// A coat front, and parts that are known to move together.
struct Scene {
  SourceMesh mesh;
  std::vector<Index> unit;  // per component: kNone for cloth
  Way way;
  Index units = 0;

  explicit Scene(const Way& w) : way(w) {
    mesh.file = "coat front";
    panel(front(), 300, 550, 10);
    panel([f = front()](Vec2 p) { return f(p) + Vec3{0, 0, -220}; }, 300, 550, 10);
  }
  static Surface3 front() {
    return [](Vec2 p) { return Vec3{160 * std::sin(p.x / 160), p.y, 160 * std::cos(p.x / 160)}; };
  }
  static Surface3 above(Vec2 at, double lift) {
    return [=](Vec2 p) {
      const Vec2 q{at.x + p.x, at.y + p.y};
      return front()(q) + lift * normal_at(front(), q);
    };
  }
  void panel(const Surface3& surface, double width, double height, double spacing) {
    SheetOptions o;
    o.spacing = spacing;
    o.thickness = way.thickness;
    add(sheet(surface, width, height, {}, o), kNone);
  }
  void add(const Solid& solid, Index of) {
    const auto base = static_cast<Index>(mesh.positions.size());
    const double c = way.turned ? std::cos(0.7) : 1;
    const double s = way.turned ? std::sin(0.7) : 0;
    const double off = 1e-5 * static_cast<double>(unit.size());  // parts that touch share no vertex
    for (const Vec3& p : solid.vertices)
      mesh.positions.push_back((1 / way.mm_per_unit) * Vec3{c * p.x - s * p.z + off, p.y, s * p.x + c * p.z});
    for (const Index v : solid.corners) mesh.corner_position.push_back(base + v);
    for (Index f = 0; f < solid.face_count(); ++f)
      mesh.face_offsets.push_back(mesh.face_offsets.back() + solid.offsets[f + 1] - solid.offsets[f]);
    unit.push_back(of);
  }
  /// Parts in millimetres above the cloth's outer face, its inner face at -thickness.
  Index put(std::span<const Solid> parts, Vec2 at, double turn = 0, double lift = 0) {
    for (const Solid& part : parts) put_with(units, part, at, turn, lift);
    return units++;
  }
  void put_with(Index of, const Solid& part, Vec2 at, double turn = 0, double lift = 0) {
    const Pose pose = frame_at(front(), at, lift + 0.5 * way.thickness, turn);
    add(moved(part, pose.rotation, pose.translation), of);
  }
  Parts check() const {
    Report report;
    Result<Parts> found = identify(mesh, {}, report);
    REQUIRE(found);
    REQUIRE(found->components.size() == unit.size());
    const std::size_t n = unit.size();
    std::string wrong;
    for (std::size_t a = 0; a < n; ++a) {
      if (unit[a] != kNone && found->components[a].role == Role::Cloth)
        wrong += "component " + std::to_string(a) + " taken for cloth; ";
      for (std::size_t b = 0; b < a; ++b) {
        if (unit[a] == kNone || unit[b] == kNone) continue;
        const bool together = found->components[a].trim == found->components[b].trim;
        if (together != (unit[a] == unit[b]))
          wrong += std::to_string(a) + (together ? " joined with " : " parted from ") + std::to_string(b) + "; ";
      }
    }
    CAPTURE(way.thickness, way.mm_per_unit);
    CHECK(wrong == "");
    return std::move(*found);
  }
};

void in_all_ways(const std::function<void(Scene&)>& build) {
  for (const Way& way : kWays) {
    Scene s(way);
    build(s);
    s.check();
  }
}

Solid lifted(const Solid& s, double z) { return moved(s, Mat3{}, {0, 0, z}); }
Solid at(const Solid& s, double x, double y, double z) { return moved(s, Mat3{}, {x, y, z}); }
Solid upright(const Solid& s) { return moved(s, Mat3{{1, 0, 0, 0, 0, -1, 0, 1, 0}}, {}); }  // its axis along y
Solid turned_over(const Solid& s) { return moved(s, Mat3{{1, 0, 0, 0, -1, 0, 0, 0, -1}}, {}); }
Solid wire(const Path& path, double radius, int sides = 6, Ends ends = Ends::Fan) {
  return swept(path, std::vector<double>(path.size(), radius), sides, ends);
}
Solid ring(double inner, double outer, double height, int sides = 16) {
  return turned(Profile{{inner, 0}, {outer, 0}, {outer, height}, {inner, height}}, sides, true);
}
/// A round of wire with its hole along z.
Solid loop(double radius, double thick, int sides = 14) {
  Profile p;
  for (int k = 0; k < 6; ++k) p.push_back({radius + thick * std::cos(kPi * k / 3), thick * std::sin(kPi * k / 3)});
  return turned(p, sides, true);
}
Solid dome(double r, double h, int sides = 18) {
  return turned(Profile{{0, 0}, {r, 0}, {0.9 * r, 0.5 * h}, {0.5 * r, 0.9 * h}, {0, h}}, sides, false);
}

/// Round plate with holes at (+-h, 0) or (+-h, +-h), from cells of a grid bent to a circle.
Solid holed(double r, double t, int holes, double h) {
  const std::vector<double> u{-r, -h - 0.7, -h + 0.7, h - 0.7, h + 0.7, r};
  const auto place = [=](int i, int j) {
    Vec2 p{u[static_cast<std::size_t>(i)], u[static_cast<std::size_t>(j)]};
    const bool rim = i == 0 || i == 5 || j == 0 || j == 5;
    if (!rim) return p;
    const double l = std::hypot(p.x, p.y);
    return Vec2{p.x * r / l, p.y * r / l};
  };
  const auto mask = [=](int i, int j) {
    const bool column = i == 1 || i == 3;
    return !(column && (holes == 4 ? j == 1 || j == 3 : j == 2));
  };
  return plate(5, 5, mask, place, t, false);
}
/// Thread from below the cloth up through one hole and down through another.
Solid strand(Vec2 a, Vec2 b, double below, double top, double radius = 0.25) {
  return wire(Path{{a.x, a.y, below},
                   {a.x, a.y, 0.5 * (below + top)},
                   {a.x, a.y, top - 0.1},
                   {0.5 * (a.x + b.x), 0.5 * (a.y + b.y), top + 0.2},
                   {b.x, b.y, top - 0.1},
                   {b.x, b.y, 0.5 * (below + top)},
                   {b.x, b.y, below}},
              radius);
}
/// A line of machine stitches from one place to another.
void sew(Scene& s, Vec2 from, Vec2 to, double length, double lift = 0.15) {
  const double run = std::hypot(to.x - from.x, to.y - from.y);
  const double turn = std::atan2(to.y - from.y, to.x - from.x);
  const Solid stitch = wire(Path{{-0.42 * length, 0, -0.1}, {0, 0, 0.1}, {0.42 * length, 0, -0.1}}, 0.2, 5);
  for (double t = 0.5 * length; t < run; t += length) {
    const Vec2 p{from.x + (to.x - from.x) * t / run, from.y + (to.y - from.y) * t / run};
    s.put(std::vector<Solid>{stitch}, p, turn, lift);
  }
}

}  // namespace

TEST_CASE("assemblies: a four-hole button takes its threads along, whatever the pattern") {
  const double h = 1.5;
  const Vec2 p{-h, -h};
  const Vec2 q{h, -h};
  const Vec2 r{h, h};
  const Vec2 t{-h, h};
  const std::vector<std::vector<std::array<Vec2, 2>>> patterns{{{p, r}, {q, t}},          // crossed
                                                               {{p, q}, {t, r}},          // parallel
                                                               {{p, q}, {p, r}, {p, t}},  // an arrow, all from one hole
                                                               {{p, q}, {q, r}, {r, t}, {t, p}},  // a square
                                                               {{p, q}, {p, q}, {t, r}, {t, r}, {p, r}, {q, t}}};
  for (std::size_t k = 0; k < patterns.size(); ++k)
    for (const int count : {1, 2, 6}) {
      CAPTURE(k, count);
      in_all_ways([&](Scene& s) {
        std::vector<Solid> parts{lifted(holed(5.7, 2.2, 4, h), 0.3)};
        double lift = 0;
        for (const auto& [from, to] : patterns[k]) {
          parts.push_back(strand(from, to, -0.9 - s.way.thickness, 2.7 + lift));
          lift += 0.45;
        }
        for (int i = 0; i < count; ++i) s.put(parts, {150, 60.0 + 80 * i}, 0.2 * i);
      });
    }
}

TEST_CASE("assemblies: threads of unlike make, and unlike ones from button to button, go with their button") {
  in_all_ways([](Scene& s) {
    for (int i = 0; i < 4; ++i) {
      std::vector<Solid> parts{lifted(holed(7, 2.4, 2, 1.5), 0.4)};
      for (int k = 0; k < 2; ++k) {
        const double lean = 0.3 * std::sin(1.0 + 3.7 * i + 2.1 * k);
        const double sag = 0.5 * std::cos(5.3 * i + k);
        const Path path{{-1.5, lean, -0.8},
                        {-1.5 + 0.3 * sag, lean, 1},
                        {-1.4, lean, 2.9 + 0.2 * lean},
                        {0, sag, 3.3 + 0.4 * k},
                        {1.4, -lean, 2.9 - 0.2 * lean},
                        {1.5, -lean, 1},
                        {1.5 + 0.2 * sag, -lean, -0.9}};
        parts.push_back(wire(path, 0.22 + 0.02 * i, 4 + (i + k) % 3));
      }
      s.put(parts, {150, 60.0 + 90 * i});
    }
  });
}

TEST_CASE("assemblies: a thread shank wound below the button belongs to it") {
  in_all_ways([](Scene& s) {
    Path coil;
    for (int k = 0; k <= 40; ++k)
      coil.push_back({0.9 * std::cos(kPi * k / 5), 0.9 * std::sin(kPi * k / 5), 0.3 + 2.6 * k / 40});
    const std::vector<Solid> parts{lifted(holed(9, 3, 2, 1.5), 3.2), strand({-1.5, 0}, {1.5, 0}, -0.8, 6.6),
                                   strand({-1.5, 0.5}, {1.5, 0.5}, -0.8, 6.7), wire(coil, 0.25, 5)};
    for (int i = 0; i < 5; ++i) s.put(parts, {150, 60.0 + 90 * i}, 0.3 * i);
  });
}

TEST_CASE("assemblies: a backing button behind the cloth hangs on the same threads") {
  in_all_ways([](Scene& s) {
    const double back = -s.way.thickness;
    const std::vector<Solid> parts{lifted(holed(10, 3, 2, 1.5), 0.3), lifted(holed(5, 1.6, 2, 1.5), back - 2),
                                   strand({-1.5, 0}, {1.5, 0}, back - 2.2, 3.6),
                                   strand({-1.5, 0.5}, {1.5, 0.5}, back - 2.2, 3.7)};
    for (int i = 0; i < 4; ++i) s.put(parts, {150, 60.0 + 90 * i}, 0.3 * i);
  });
}

TEST_CASE("assemblies: a shank button, its shank and the thread through it") {
  in_all_ways([](Scene& s) {
    const Path thread{{0.2, -0.9, -0.8}, {0.1, -0.8, 0.9}, {0, 0, 1.6}, {-0.1, 0.8, 0.9}, {-0.2, 0.9, -0.8}};
    const std::vector<Solid> parts{lifted(dome(9, 4), 3.6), lifted(upright(loop(1.6, 0.5)), 2.2), wire(thread, 0.3)};
    for (int i = 0; i < 6; ++i) s.put(parts, {150, 50.0 + 80 * i}, 0.5 * i);
  });
}

TEST_CASE("assemblies: a button done up through its hole leaves the hole's stitches alone") {
  in_all_ways([](Scene& s) {
    const double upper = 2.0 + s.way.thickness;
    s.panel(Scene::above({125, 20}, upper), 60, 480, 10);
    const std::vector<Solid> button{lifted(holed(7.5, 2.6, 4, 1.5), upper + 0.3),
                                    strand({-1.5, -1.5}, {1.5, 1.5}, -0.8, upper + 3.3),
                                    strand({1.5, -1.5}, {-1.5, 1.5}, -0.8, upper + 3.5)};
    const Solid purl = wire(Path{{-1.1, 0, 0}, {0, 0, 0.15}, {1.1, 0, 0}}, 0.18, 5);
    for (int i = 0; i < 5; ++i) {
      const Vec2 place{150, 60.0 + 90 * i};
      s.put(button, place, 0.1 * i);
      for (const double side : {-1.0, 1.0})
        for (double t = -8.5; t <= 8.6; t += 0.6)
          s.put(std::vector<Solid>{purl}, {place.x + 1.4 * side, place.y + t}, 0, upper + 0.1);
    }
  });
}

TEST_CASE("assemblies: seams under buttons and rivets stay seams") {
  in_all_ways([](Scene& s) {
    const std::vector<Solid> button{lifted(holed(7, 2.4, 2, 1.5), 0.5), strand({-1.5, 0}, {1.5, 0}, -0.8, 3.2)};
    const std::vector<Solid> rivet{dome(4.5, 1.8), lifted(turned_over(dome(4, 1)), -s.way.thickness)};
    sew(s, {150, 20}, {150, 530}, 2.6);
    sew(s, {156, 20}, {156, 530}, 2.6);
    for (int i = 0; i < 5; ++i) s.put(button, {150, 60.0 + 90 * i}, 0.2 * i);
    for (int i = 0; i < 5; ++i) s.put(rivet, {156, 100.0 + 90 * i});
  });
}

namespace {

/// Snaps in a row: cap and socket on a layer `gap` above the one that carries stud and post.
void snaps_done_up(Scene& s, int count, double gap, const Solid& cap, const Solid& socket, const Solid& stud,
                   const Solid& post) {
  for (int i = 0; i < count; ++i) {
    const Vec2 place{150, 60.0 + 90 * i};
    const Index upper = s.units++;
    s.put_with(upper, cap, place, 0, gap);
    s.put_with(upper, socket, place, 0, gap);
    const Index lower = s.units++;
    s.put_with(lower, stud, place);
    s.put_with(lower, post, place);
  }
}

}  // namespace

TEST_CASE("assemblies: a snap done up is two trims: cap and socket above, stud and post below") {
  in_all_ways([](Scene& s) {
    const double t = s.way.thickness;
    const double gap = 4.6 + t;  // of the two layers' faces
    s.panel(Scene::above({120, 20}, gap), 60, 480, 10);
    const Solid cap = dome(6, 2);
    const Solid socket = lifted(turned_over(ring(2.2, 5.5, 2)), -t);
    const Solid stud = turned(Profile{{0, 0}, {5, 0}, {5, 0.8}, {2, 0.9}, {2.1, 2.6}, {1.8, 3}, {0, 3}}, 18, false);
    const Solid post = lifted(turned_over(ring(1.2, 5, 0.8)), -t);
    snaps_done_up(s, 5, gap, cap, socket, stud, post);
  });
}

TEST_CASE("assemblies: a snap done up tight: the socket rests on the layer below, the stud reaches to the one above") {
  in_all_ways([](Scene& s) {
    const double t = s.way.thickness;
    const double gap = 2.3 + t;
    s.panel(Scene::above({120, 20}, gap), 60, 480, 10);
    const Solid cap = dome(6, 2);
    const Solid socket = lifted(turned_over(ring(2.2, 5.5, 2.1)), -t - 0.1);
    const Solid stud = turned(Profile{{0, 0}, {5, 0}, {5, 0.1}, {2, 0.2}, {2.1, 1.6}, {1.8, 2}, {0, 2}}, 18, false);
    const Solid post = lifted(turned_over(ring(1.2, 5, 0.8)), -t);
    snaps_done_up(s, 4, gap, cap, socket, stud, post);
  });
}

TEST_CASE("assemblies: a snap done up whose stud stands as high as its socket, or higher") {
  for (const double deeper : {0.0, 0.15})
    in_all_ways([&](Scene& s) {
      const double t = s.way.thickness;
      const double thick = std::max(t, 0.4);
      const double gap = 2.1 + t;
      s.panel(Scene::above({120, 20}, gap), 60, 480, 10);
      const Solid cap = dome(6, 1.2);
      const Solid socket = lifted(turned_over(ring(2.2, 5.5, 1.4)), -thick - deeper);
      const Solid stud =
          turned(Profile{{0, 0}, {5, 0}, {5, 0.4}, {2, 0.6}, {2.1, 1.7}, {1.8, 2.1}, {0, 2.1}}, 18, false);
      const Solid post = lifted(turned_over(ring(1.2, 5, 0.8)), -thick);
      snaps_done_up(s, 5, gap, cap, socket, stud, post);
    });
}

TEST_CASE("assemblies: a snap done up whose post reaches through its layer, which hides how thick that is") {
  in_all_ways([](Scene& s) {
    const double t = s.way.thickness;
    const double thick = std::max(t, 0.4);
    const double gap = 1.8 + t;
    s.panel(Scene::above({120, 20}, gap), 60, 480, 10);
    const Solid cap = dome(7.4, 1.4);
    const Solid socket =
        lifted(turned(Profile{{2.2, -0.1}, {6.9, -0.1}, {6.7, -0.9}, {4.9, -1.9}, {3.1, -2}, {2.7, -1.2}}, 18, true),
               0.2 - thick);
    const Solid stud =
        lifted(turned(Profile{{0, 0}, {6.7, 0}, {6.4, 0.5}, {2.5, 0.6}, {2.2, 1}, {2.7, 1.7}, {2.2, 2.2}, {0, 2.3}}, 18,
                      false),
               -0.2);
    const Solid post =
        lifted(turned(Profile{{0, -0.9}, {5.6, -0.8}, {6.4, -0.3}, {5.2, 0}, {0.9, 0}, {0.7, 0.9}, {0, 1}}, 18, false),
               0.2 - thick);
    snaps_done_up(s, 6, gap, cap, socket, stud, post);
  });
}

TEST_CASE("assemblies: rivets and snaps whose backs lie against a pocket bag or a lining") {
  for (const int count : {1, 2, 5}) {
    CAPTURE(count);
    in_all_ways([&](Scene& s) {
      const double t = s.way.thickness;
      s.panel(Scene::above({60, 40}, -t - 1.4), 200, 480, 12);
      const std::vector<Solid> rivet{dome(4.5, 1.8), lifted(turned_over(dome(4.2, 1.2)), -t)};
      const std::vector<Solid> snap{dome(6, 2), lifted(turned_over(ring(2.2, 5.5, 1.3)), -t)};
      for (int i = 0; i < count; ++i) s.put(rivet, {110, 80.0 + 90 * i});
      for (int i = 0; i < count; ++i) s.put(snap, {190, 80.0 + 90 * i});
    });
  }
}

TEST_CASE("assemblies: snaps with square and long caps, and a magnet with a plate behind, hold the cloth between") {
  const auto slab = [](double width, double height, double thick) {
    const auto place = [=](int i, int j) { return Vec2{width * (i - 0.5), height * (j - 0.5)}; };
    return plate(
        1, 1, [](int, int) { return true; }, place, thick, false);
  };
  in_all_ways([&](Scene& s) {
    const double t = s.way.thickness;
    const Solid socket = lifted(turned_over(ring(2.2, 5.5, 1.8)), -t - 0.1);
    const std::vector<Solid> square{lifted(slab(12, 12, 1.6), 0.1), socket};
    const std::vector<Solid> oblong{lifted(slab(20, 12.5, 1.6), 0.1), socket};
    const std::vector<Solid> magnet{ring(2.4, 9, 2.4), lifted(slab(20, 11, 0.7), -t - 0.8)};
    for (int i = 0; i < 4; ++i) s.put(square, {110, 60.0 + 90 * i});
    for (int i = 0; i < 3; ++i) s.put(oblong, {160, 60.0 + 90 * i}, 0.3);
    s.put(magnet, {210, 240});
    for (int i = 0; i < 2; ++i) s.put(std::vector<Solid>{lifted(slab(14, 9, 1.4), 0.1)}, {210, 60.0 + 60 * i});
  });
}

TEST_CASE("assemblies: a cord lock's plunger is no kin of a snap's cap that is as large and has as many vertices") {
  in_all_ways([](Scene& s) {
    const double t = s.way.thickness;
    const auto disc = [](double r, double h) { return turned(Profile{{0, 0}, {r, 0}, {r, h}, {0, h}}, 16, false); };
    const std::vector<Solid> snap{lifted(disc(6.2, 1.6), 0.1), lifted(turned_over(ring(2.2, 5.5, 1.8)), -t - 0.1)};
    const std::vector<Solid> lock{lifted(box(18, 14, 9), 6), at(upright(disc(3.7, 10)), 0, 5, 6)};
    for (int i = 0; i < 5; ++i) s.put(snap, {110, 60.0 + 60 * i});
    for (int i = 0; i < 2; ++i) s.put(lock, {180, 100.0 + 160 * i});
  });
}

TEST_CASE("assemblies: a pearl snap: prong ring, pearl and socket; a tack button and its back; washers behind studs") {
  in_all_ways([](Scene& s) {
    const double t = s.way.thickness;
    const std::vector<Solid> pearl{ring(3.6, 5.4, 1.4), dome(3.8, 2.2), lifted(turned_over(ring(2, 5, 2)), -t)};
    const std::vector<Solid> tack{
        turned(Profile{{0, 0}, {3, 0}, {3, 2}, {8.5, 2.4}, {8.5, 3.6}, {0, 4.2}}, 24, false),
        lifted(
            turned_over(turned(Profile{{0, -t - 2}, {0.8, -t - 1}, {0.8, 0}, {5, 0}, {5, 0.8}, {0, 1.2}}, 16, false)),
            -t)};
    const std::vector<Solid> stud{
        turned(Profile{{0, -t - 1.5}, {0.9, -t - 1.5}, {0.9, 0}, {5, 0}, {4, 2}, {0, 3}}, 16, false),
        lifted(turned_over(ring(1, 4.2, 0.5)), -t)};
    for (int i = 0; i < 4; ++i) s.put(pearl, {110, 60.0 + 90 * i});
    for (int i = 0; i < 3; ++i) s.put(tack, {160, 60.0 + 90 * i});
    for (int i = 0; i < 7; ++i) s.put(stud, {210, 60.0 + 30 * i});
  });
}

TEST_CASE("assemblies: a capped rivet through a leather patch on the cloth") {
  in_all_ways([](Scene& s) {
    const double patch = 1.6;
    SheetOptions o;
    o.spacing = 9;
    o.thickness = 1.4;
    for (int i = 0; i < 3; ++i)
      s.add(sheet(Scene::above({135, 85.0 + 120 * i}, 0.5 * s.way.thickness + 0.9), 40, 40, {}, o), kNone);
    const std::vector<Solid> rivet{lifted(dome(4.5, 1.8), patch + 0.1),
                                   lifted(turned_over(dome(4.5, 1.8)), -s.way.thickness)};
    for (int i = 0; i < 3; ++i) s.put(rivet, {155, 105.0 + 120 * i});
  });
}

TEST_CASE("assemblies: rivets through felt and a pocket of felt, two thirds of a rivet thick together") {
  Scene s({2.2, 1, true});
  for (const double x : {60.0, 170.0}) {
    SheetOptions o;
    o.spacing = 9;
    o.thickness = 2.2;
    s.add(sheet(Scene::above({x, 85}, 2.5), 80, 90, {}, o), kNone);
    const std::vector<Solid> rivet{lifted(dome(4, 1.8), 2.5), lifted(turned_over(dome(3.6, 1)), -2.2)};
    for (const double side : {5.0, 75.0}) s.put(rivet, {x + side, 168});
  }
  s.check();
}

TEST_CASE("assemblies: rivets of two widths on posts of one make, at the corners of a pocket and along a hem") {
  for (const double t : {0.0, 0.8, 1.0, 1.2}) {
    CAPTURE(t);
    Scene s({t, 1, true});
    const double apart = 1.2 + t;
    s.panel(Scene::above({90, 300}, apart), 110, 130, 12);
    s.panel(Scene::above({40, 20}, -apart), 200, 40, 10);
    const auto rivet = [&](double r, int sides) {
      const double low = -apart - t;
      const Solid post = turned(Profile{{0, 0}, {1.2, 0}, {1.2, 1.4 - low}, {0, 1.4 - low}}, 12, false);
      const Solid back = turned(Profile{{0, 0}, {0.9 * r, 0}, {0.8 * r, 0.85}, {0, 0.85}}, sides, false);
      return std::vector<Solid>{lifted(dome(r, 1.5, sides), 0.05), lifted(post, low - 0.8),
                                lifted(turned_over(back), low - 0.05)};
    };
    for (const double x : {98.0, 192.0}) s.put(rivet(4.5, 18), {x, 422}, 0, apart);
    for (int i = 0; i < 4; ++i) s.put(rivet(5.5, 24), {60 + 50.0 * i, 40});
    s.check();
  }
}

TEST_CASE("assemblies: hooks hang in their eyes, rings in rings, and each stays by itself") {
  in_all_ways([](Scene& s) {
    const Path hook{{-5, 2, 0.7}, {-6, 0, 0.7},  {-5, -1, 0.7}, {0, 0, 0.7},  {4, 0, 0.7},
                    {5, 0, 1.4},  {4.6, 0, 2.4}, {3, 0, 2.6},   {1.5, 0, 2.5}};
    const Path eye{{4, -4, 0.6},    {3, -5, 0.6}, {2, -4, 0.6}, {3, -3, 0.6}, {0.5, -2.2, 1.2}, {-0.4, 0, 1.5},
                   {0.5, 2.2, 1.2}, {3, 3, 0.6},  {2, 4, 0.6},  {3, 5, 0.6},  {4, 4, 0.6}};
    for (int i = 0; i < 4; ++i) {
      s.put(std::vector<Solid>{wire(hook, 0.5)}, {100, 80.0 + 100 * i});
      s.put(std::vector<Solid>{wire(eye, 0.5)}, {103.2, 80.0 + 100 * i});
    }
    const Solid flat = loop(4, 0.7);
    for (int i = 0; i < 12; ++i)
      s.put(std::vector<Solid>{i % 2 == 0 ? flat : upright(flat)}, {200, 80.0 + 5.6 * i}, 0, 6);
  });
}

TEST_CASE("assemblies: a zipper with stops, box and pin, two sliders, each with a ring and a tab") {
  in_all_ways([](Scene& s) {
    const double lift = 1.6;
    for (const double side : {-1.0, 1.0}) s.panel(Scene::above({side < 0 ? 136.0 : 152.0, 40}, 0.4), 12, 420, 10);
    const std::vector<Solid> element{box(3.1, 1.7, 2.2)};
    for (int i = 0; i < 105; ++i)
      for (const double side : {-1.0, 1.0})
        s.put(element, {150 + side * 0.9, 52 + 3.8 * i + (side > 0 ? 1.9 : 0.0)}, 0, lift);
    const std::vector<Solid> stop{box(2.2, 3.2, 2.6, 2)};
    for (const double side : {-1.0, 1.0}) s.put(stop, {150 + side * 2.4, 454}, 0, lift);
    s.put(std::vector<Solid>{box(7, 8, 3.4)}, {150, 44}, 0, lift);
    Path bridge;
    for (int k = 0; k <= 6; ++k) bridge.push_back({0, 3.2 * std::cos(kPi * k / 6), 2.2 + 2.2 * std::sin(kPi * k / 6)});
    const std::vector<Solid> slider{box(9, 10, 4.2, 2), wire(bridge, 0.7), at(upright(loop(3, 0.6)), 0, 0, 5.4),
                                    at(box(5, 18, 1.6), 0, 7.5, 8.2)};
    s.put(slider, {150, 160}, 0, lift);
    s.put(slider, {150, 330}, kPi, lift);
  });
}

TEST_CASE("assemblies: beads on a thread are single; a sequin is held by the bead in its middle; sequins overlap") {
  in_all_ways([](Scene& s) {
    Path string;
    for (int k = 0; k <= 50; ++k) string.push_back(Scene::above({80, 60.0 + 8 * k}, 0.5 * s.way.thickness + 2)({0, 0}));
    s.add(wire(string, 0.2, 5), kNone);
    for (int i = 0; i < 80; ++i)
      s.put(std::vector<Solid>{lifted(upright(ring(0.4, 2, 3)), 0.5)}, {80, 65 + 4.8 * i}, 0, 1.5);
    const std::vector<Solid> sequin{turned(Profile{{3.5, 0.5}, {2, 0.1}, {0.5, 0}}, 12, false),
                                    lifted(ring(0.3, 1.1, 1.2, 10), 0.05)};
    for (int i = 0; i < 10; ++i)
      for (int j = 0; j < 8; ++j) s.put(sequin, {140 + 7.4 * j, 60 + 7.4 * i}, 0, 0.4);
    for (int i = 0; i < 30; ++i)  // like scales, each half over the next
      s.put(std::vector<Solid>{turned(Profile{{3.5, 0.3}, {2, 0.1}, {0.5, 0}}, 10, false)}, {220, 60 + 4.0 * i}, 0,
            0.5 + 0.05 * (i % 2));
  });
}

TEST_CASE("assemblies: stones in their settings, a buckle with roller and prong, a badge on its clutches") {
  in_all_ways([](Scene& s) {
    const double t = s.way.thickness;
    const std::vector<Solid> stone{ring(1.5, 2.1, 1.2, 8),
                                   lifted(turned(Profile{{0, 0}, {1.6, 0.7}, {1.2, 1.3}, {0, 1.4}}, 8, false), 0.2)};
    for (int i = 0; i < 30; ++i) s.put(stone, {80, 60 + 4.5 * i});
    const auto mask = [](int i, int j) { return i == 0 || i == 2 || j == 0 || j == 2; };
    const std::vector<double> x{-17, -14, 14, 17};
    const Solid frame = plate(
        3, 3, mask,
        [&](int i, int j) {
          return Vec2{x[static_cast<std::size_t>(i)], x[static_cast<std::size_t>(j)]};
        },
        3, false);
    const std::vector<Solid> buckle{
        lifted(frame, 1), at(upright(ring(2.2, 2.9, 24)), 15.5, 12, 2.5),
        wire(Path{{-17.5, 0, 2}, {-17, 0, 4.2}, {-14, 0, 5}, {0, 0, 5.2}, {15, 0, 6.2}}, 1.1, 8)};
    s.put(buckle, {170, 100});
    s.put(buckle, {170, 300}, 0.4);
    const std::vector<Solid> badge{
        lifted(box(24, 10, 1.6), 0.9), at(wire(Path{{0, 0, 1.2}, {0, 0, -1}, {0, 0, -t - 3}}, 0.5), 7, 0, 0),
        at(wire(Path{{0, 0, 1.2}, {0, 0, -1}, {0, 0, -t - 3}}, 0.5), -7, 0, 0),
        at(turned_over(dome(3, 2.5, 12)), 7, 0, -t - 0.3), at(turned_over(dome(3, 2.5, 12)), -7, 0, -t - 0.3)};
    s.put(badge, {200, 420});
  });
}

TEST_CASE("assemblies: stout buttons sewn on through and through, and buttons of rim and inlay") {
  in_all_ways([](Scene& s) {
    const std::vector<Solid> stout{
        lifted(turned(Profile{{0, 0}, {4.6, 0}, {5.7, 0.8}, {5.7, 2.5}, {4.6, 3.3}, {0, 3.3}}, 17, false), 0.3),
        strand({-0.6, -1.2}, {-0.6, 1.2}, -0.8, 3.9, 0.3), strand({0.6, -1.2}, {0.6, 1.2}, -0.8, 3.9, 0.3)};
    const std::vector<Solid> inlaid{lifted(ring(6.6, 8, 3), 0.4), lifted(holed(6.7, 2, 2, 1.5), 0.7),
                                    strand({-1.5, 0}, {1.5, 0}, -0.8, 3.1)};
    for (int i = 0; i < 3; ++i) s.put(stout, {110, 80.0 + 120 * i}, 0.9 * i);
    for (int i = 0; i < 3; ++i) s.put(inlaid, {190, 80.0 + 120 * i}, 0.9 * i);
  });
}

TEST_CASE("assemblies: a hook in a closed ring is not the ring's; a toggle is not its cord's, nor a ring its tab's") {
  in_all_ways([](Scene& s) {
    const Path hook{{-5, 2, 0.7}, {-6, 0, 0.7},  {-5, -1, 0.7}, {0, 0, 0.7},  {4, 0, 0.7},
                    {5, 0, 1.4},  {4.6, 0, 2.4}, {3, 0, 2.6},   {1.5, 0, 2.5}};
    for (int i = 0; i < 5; ++i) {
      s.put(std::vector<Solid>{wire(hook, 0.5)}, {90, 60.0 + 90 * i});
      s.put(std::vector<Solid>{lifted(loop(2.4, 0.5), 1.3)}, {96, 60.0 + 90 * i});
    }
    for (int i = 0; i < 2; ++i) {
      const Vec2 place{200, 100.0 + 200 * i};
      s.put(std::vector<Solid>{wire(Path{{-16, 0, 5}, {-10, 0, 5}, {0, 0, 5.4}, {10, 0, 5}, {16, 0, 5}}, 4.5, 10)},
            place);
      Path cord;
      for (int k = 0; k <= 24; ++k)
        cord.push_back(
            Scene::above({place.x + 2 * std::sin(0.5 * k), place.y - 60 + 5 * k}, 0.5 * s.way.thickness + 5)({0, 0}));
      s.add(wire(cord, 1.4, 8), kNone);
    }
  });
}

TEST_CASE("assemblies: halves stay together on a cloth so coarse that it passes them by") {
  for (const int count : {2, 6}) {
    CAPTURE(count);
    Scene s({0, 1, false});
    s.panel([](Vec2 p) { return Scene::front()(p) + Vec3{0, 600, 0}; }, 300, 550, 75);
    const std::vector<Solid> snap{lifted(dome(6, 2), 0.2), lifted(turned_over(ring(2.2, 5.5, 1.3)), -0.2)};
    for (int i = 0; i < count; ++i) s.put(snap, {70.0 + 13 * i, 640.0 + 70 * i});
    s.check();
  }
}

TEST_CASE("assemblies: a stud and a buckle on one strap have nothing to do with each other") {
  in_all_ways([](Scene& s) {
    SheetOptions o;
    o.spacing = 12;
    o.thickness = 1.8;
    const auto mask = [](int i, int j) { return i == 0 || i == 2 || j == 0 || j == 2; };
    const std::vector<double> x{-14, -11, 11, 14};
    const Solid frame = plate(
        3, 3, mask,
        [&](int i, int j) {
          return Vec2{x[static_cast<std::size_t>(i)], x[static_cast<std::size_t>(j)]};
        },
        2.5, false);
    const std::vector<Solid> buckle{
        lifted(frame, 0.4),
        wire(Path{{-12.5, 0, 0}, {-14.8, 0, 1.6}, {-12.5, 0, 4.2}, {0, 0, 4.4}, {13, 0, 4}}, 0.9, 8)};
    for (int i = 0; i < 3; ++i) {
      const Vec2 place{100.0, 80.0 + 150 * i};
      s.add(sheet(Scene::above({place.x - 20, place.y - 10}, 0.5 * s.way.thickness + 1.5), 90, 20, {}, o), kNone);
      s.put(buckle, place, 0, 2.6);
      s.put(std::vector<Solid>{dome(4, 2)}, {place.x + 50, place.y}, 0, 2.4);
    }
  });
}
