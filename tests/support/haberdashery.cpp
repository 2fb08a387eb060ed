// SPDX-License-Identifier: MIT
#include "support/haberdashery.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace trimtack::testing {
namespace {

constexpr double kPi = std::numbers::pi;

Solid lifted(const Solid& s, double z) { return moved(s, Mat3{}, {0, 0, z}); }
Solid turned_over(const Solid& s) { return moved(s, Mat3{{1, 0, 0, 0, -1, 0, 0, 0, -1}}, {}); }
Solid spun(const Solid& s, double angle) {
  return moved(s, Mat3{{std::cos(angle), -std::sin(angle), 0, std::sin(angle), std::cos(angle), 0, 0, 0, 1}}, {});
}
Solid tipped(const Solid& s) { return moved(s, Mat3{{1, 0, 0, 0, 0, -1, 0, 1, 0}}, {}); }  // z -> -y, y -> z

/// Round plate with sewing holes, as cells of a polar grid.
Solid holed_disc(double radius, double thickness, int holes, int sides) {
  sides = std::max(8, sides / 8 * 8);
  const std::vector<double> r{0, 0.17 * radius, 0.3 * radius, 0.62 * radius, 0.9 * radius, radius};
  const auto mask = [&](int i, int j) {
    if (j != 1 || holes == 0) return true;
    const int per = sides / holes;
    return i % per >= std::max(1, sides / 8);
  };
  const auto place = [&](int i, int j) {
    if (j == 0) return Vec2{0, 0};
    const double a = 2 * kPi * i / sides;
    return Vec2{r[static_cast<std::size_t>(j)] * std::cos(a), r[static_cast<std::size_t>(j)] * std::sin(a)};
  };
  return plate(sides, 5, mask, place, thickness, true);
}

Solid dome(double radius, double height, int sides, int rings, bool open_below) {
  std::vector<Vec2> profile;
  if (!open_below) profile.push_back({0, 0});
  for (int i = 0; i <= rings; ++i) {
    const double a = 0.5 * kPi * i / rings;
    profile.push_back({i == rings ? 0.0 : radius * std::cos(a), height * std::sin(a)});
  }
  return turned(profile, sides, false);
}

Solid ring(double inner, double outer, double height, int sides, int around) {
  std::vector<Vec2> profile;
  for (int k = 0; k < around; ++k) {
    const double a = 2 * kPi * (k + 0.5) / around;
    profile.push_back({0.5 * (inner + outer) + 0.5 * (outer - inner) * std::cos(a), 0.5 * height * (1 + std::sin(a))});
  }
  return turned(profile, sides, true);
}

Solid wire(std::vector<Vec3> path, double radius, int sides, Ends ends) {
  const std::vector<double> radii(path.size(), radius);
  return swept(path, radii, sides, ends);
}

int sides_of(Random& random) {
  constexpr std::array<int, 6> choice{8, 12, 16, 24, 32, 48};
  return choice[static_cast<std::size_t>(random.pick(6))];
}

}  // namespace

TrimModel make_button(Random& random, double diameter, int holes, bool with_thread) {
  TrimModel model{"button", {}, 0.5 * diameter};
  const double r = 0.5 * diameter;
  const double t = random.between(1.8, 3.6) * std::min(1.0, diameter / 12);
  const double lift = random.between(0.0, 1.0);
  const int sides = sides_of(random);
  if (holes > 0) {
    model.parts.push_back(lifted(holed_disc(r, t, holes, std::max(16, sides)), lift));
  } else {
    const std::vector<Vec2> profile{{0, 0},        {0.8 * r, 0},       {r, 0.3 * t}, {r, 0.7 * t},
                                    {0.85 * r, t}, {0.6 * r, 0.8 * t}, {0, 0.75 * t}};
    model.parts.push_back(lifted(turned(profile, sides, false), lift));
  }
  if (!with_thread || holes == 0) return model;
  const double hole = 0.235 * r;
  const double top = lift + t + 0.3;
  const int style = random.pick(4);
  const double thread = random.between(0.2, 0.45);
  const auto strand = [&](double a, double b, double shift) {
    const auto at = [&](double angle, double z) {
      return Vec3{hole * std::cos(angle), hole * std::sin(angle) + shift, z};
    };
    return wire({at(a, -0.8), at(a, lift + 0.5 * t), at(a, top), 0.5 * (at(a, top) + at(b, top)) + Vec3{0, 0, 0.15},
                 at(b, top), at(b, lift + 0.5 * t), at(b, -0.8)},
                thread, 5, Ends::Fan);
  };
  const double first = 0.5 * 2 * kPi / 8;
  if (holes == 2) {
    for (int k = 0; k <= style % 3; ++k) model.parts.push_back(strand(first, first + kPi, 0.25 * k));
  } else if (style == 0) {  // two separate bars, flat boxes on top
    model.parts.push_back(moved(spun(box(2.4 * hole, 0.7, 0.5), first), Mat3{}, {0.5 * hole, -0.5 * hole, top}));
    model.parts.push_back(moved(spun(box(2.4 * hole, 0.7, 0.5), first), Mat3{}, {-0.5 * hole, 0.5 * hole, top}));
  } else if (style == 1) {  // a cross
    model.parts.push_back(strand(first, first + kPi, 0));
    model.parts.push_back(strand(first + 0.5 * kPi, first + 1.5 * kPi, 0));
  } else {
    model.parts.push_back(strand(first, first + 0.5 * kPi, 0));
    model.parts.push_back(strand(first + kPi, first + 1.5 * kPi, 0));
  }
  return model;
}

TrimModel make_shank_button(Random& random, double diameter) {
  TrimModel model{"shank button", {}, 0.5 * diameter};
  const double r = 0.5 * diameter;
  const int sides = sides_of(random);
  model.parts.push_back(lifted(dome(r, random.between(0.3, 0.7) * r, sides, 4, false), 2.5));
  std::vector<Vec3> loop;
  for (int k = 0; k < 10; ++k) loop.push_back({1.8 * std::cos(0.2 * kPi * k), 0, 1.3 + 1.8 * std::sin(0.2 * kPi * k)});
  model.parts.push_back(wire(loop, 0.5, 6, Ends::Loop));
  return model;
}

TrimModel make_snap(Random& random, double cloth) {
  constexpr std::array<double, 4> sizes{10.2, 12.7, 15.2, 7.0};
  const double r = 0.5 * sizes[static_cast<std::size_t>(random.pick(4))];
  TrimModel model{"snap", {}, r};
  const int sides = sides_of(random);
  const double z = 0.5 * cloth + random.between(0, 0.3);
  model.parts.push_back(lifted(dome(r, 0.35 * r, sides, 4, random.chance(0.4)), z));
  const std::vector<Vec2> stud{{0, 0}, {0.9 * r, 0}, {0.9 * r, 0.8}, {0.45 * r, 0.9}, {0.4 * r, 2.2}, {0, 2.4}};
  model.parts.push_back(lifted(turned_over(turned(stud, sides, false)), -z));
  return model;
}

TrimModel make_rivet(Random& random, double cloth) {
  const double r = random.between(3.5, 5.5);
  TrimModel model{"rivet", {}, r};
  const int sides = sides_of(random);
  const double z = 0.5 * cloth;
  model.parts.push_back(lifted(dome(r, 0.4 * r, sides, 3, false), z));
  if (random.chance(0.5)) {  // the nail goes through
    const std::vector<Vec2> nail{{0, 0},          {0.9 * r, 0},          {0.9 * r, 0.7},
                                 {0.25 * r, 0.7}, {0.25 * r, cloth + 1}, {0, cloth + 1}};
    model.parts.push_back(lifted(turned(nail, sides, false), -z - 0.7));
  } else {
    model.parts.push_back(lifted(turned_over(dome(0.9 * r, 0.25 * r, sides, 3, false)), -z));
  }
  return model;
}

TrimModel make_eyelet(Random& random, double cloth) {
  constexpr std::array<double, 4> inner{4, 5.5, 6.5, 9.53};
  const double r = 0.5 * inner[static_cast<std::size_t>(random.pick(4))];
  TrimModel model{"eyelet", {}, 1.8 * r};
  const int sides = sides_of(random);
  const double z = 0.5 * cloth;
  const std::vector<Vec2> flared{{r, -z - 0.4},       {r, z + 0.3},        {1.25 * r, z + 0.8}, {1.7 * r, z + 0.5},
                                 {1.7 * r, z + 0.05}, {1.2 * r, z + 0.05}, {1.12 * r, -z - 0.4}};
  std::vector<Vec2> profile(flared.rbegin(), flared.rend());
  model.parts.push_back(turned(profile, sides, true));
  model.parts.push_back(lifted(ring(1.1 * r, 1.7 * r, 0.7, sides, 6), -z - 0.7));
  return model;
}

TrimModel make_hook(Random& random) {
  const double s = random.between(0.8, 1.6);
  TrimModel model{"hook", {}, 6 * s};
  std::vector<Vec3> path;
  for (int k = 0; k <= 8; ++k) {
    const double a = kPi * (1.4 * k / 8 - 0.2);
    path.push_back({-5 - 1.5 * std::sin(a), 2 - 1.5 * std::cos(a), 0.7});
  }
  path.push_back({0, 0.8, 0.7});
  for (int k = 0; k <= 8; ++k) {
    const double a = kPi * k / 8;
    path.push_back({4 + 1.4 * std::sin(a), 0.5, 2.1 - 1.4 * std::cos(a)});
  }
  path.push_back({1, 0.5, 3.4});
  for (Vec3& p : path) p = s * p;
  model.parts.push_back(wire(path, 0.5 * s, 6, Ends::Flat));
  return model;
}

TrimModel make_eye(Random& random) {
  const double s = random.between(0.8, 1.6);
  TrimModel model{"eye", {}, 5 * s};
  std::vector<Vec3> path;
  for (int k = 0; k <= 6; ++k) {
    const double a = kPi * (1.7 * k / 6 + 0.3);
    path.push_back({2.8 + 1.1 * std::cos(a), -3.2 + 1.1 * std::sin(a), 0.6});
  }
  for (int k = 0; k <= 8; ++k) {
    const double a = kPi * k / 8 - 0.5 * kPi;
    path.push_back({-1 - 3 * std::cos(a), 3 * std::sin(a), 0.6});
  }
  for (int k = 0; k <= 6; ++k) {
    const double a = kPi * (1.7 * k / 6);
    path.push_back({2.8 - 1.1 * std::cos(a + kPi), 3.2 + 1.1 * std::sin(a + kPi), 0.6});
  }
  for (Vec3& p : path) p = s * p;
  model.parts.push_back(wire(path, 0.5 * s, 6, Ends::Fan));
  return model;
}

TrimModel make_buckle(Random& random) {
  const double w = random.between(22, 48);
  const double h = w * random.between(0.7, 1.1);
  const double t = random.between(1.8, 3.5);
  TrimModel model{"buckle", {}, 0.7 * w};
  const bool bar = random.chance(0.5);
  const double rim = random.between(2.5, 4.5);
  const std::vector<double> xs{-0.5 * w, -0.5 * w + rim, -0.5 * rim, 0.5 * rim, 0.5 * w - rim, 0.5 * w};
  const std::vector<double> ys{-0.5 * h, -0.5 * h + rim, 0, 0.5 * h - rim, 0.5 * h};
  model.parts.push_back(
      lifted(plate(
                 5, 4, [&](int i, int j) { return i == 0 || i == 4 || j == 0 || j == 3 || (bar && i == 2); },
                 [&](int i, int j) {
                   return Vec2{xs[static_cast<std::size_t>(i)], ys[static_cast<std::size_t>(j)]};
                 },
                 t, false),
             0.5));
  const double from = bar ? 0.0 : -0.5 * w + 0.5 * rim;
  const double to = 0.5 * w;
  std::vector<Vec3> path;  // once around the bar, then across the frame
  const double turn = 0.5 * std::max(rim, t) + 1.3;
  for (int k = 0; k <= 6; ++k) {
    const double a = kPi * (0.2 - 1.4 * k / 6);
    path.push_back({from + turn * std::cos(a + kPi), 0, 0.5 + 0.5 * t + turn * std::sin(a)});
  }
  std::reverse(path.begin(), path.end());
  path.push_back({0.5 * (from + to), 0, 0.5 + t + 1.2});
  path.push_back({to, 0, 0.5 + t + 0.9});
  if (random.chance(0.5)) {
    model.parts.push_back(wire(path, 1.0, 8, Ends::Flat));
  } else {
    model.parts.push_back(moved(box(to - from + 2, 2.5, 1.6), Mat3{}, {0.5 * (from + to), 0, 0.5 + t + 0.5}));
  }
  return model;
}

TrimModel make_d_ring(Random& random) {
  const double r = random.between(8, 16);
  TrimModel model{"ring", {}, 1.3 * r};
  std::vector<Vec3> path;
  const bool round = random.chance(0.3);
  const int n = 16;
  for (int k = 0; k <= n; ++k) {
    const double a = (round ? 2 * kPi : kPi) * k / (round ? n + 1 : n);
    path.push_back({r * std::cos(a), r * std::sin(a), 1.6});
  }
  model.parts.push_back(wire(path, random.between(1.0, 1.8), 8, Ends::Loop));
  return model;
}

TrimModel make_slider(Random& random, double gauge) {
  TrimModel model{"slider", {}, 2.2 * gauge};
  const double w = 1.7 * gauge;
  const double l = 2.0 * gauge;
  const double t = 0.75 * gauge;
  const std::vector<double> half{0.5 * w, 0.55 * w, 0.45 * w, 0.3 * w};
  const Solid body = plate(
      4, 3, [](int, int) { return true; },
      [&](int i, int j) {
        return Vec2{w * (i / 4.0 - 0.5) * 2 * half[static_cast<std::size_t>(j)] / w, l * (j / 3.0 - 0.5)};
      },
      t, false);
  model.parts.push_back(lifted(body, -0.5 * t + 0.3));
  std::vector<Vec3> bridge;
  for (int k = 0; k <= 6; ++k)
    bridge.push_back({0, 0.35 * l * std::cos(kPi * k / 6), 0.5 * t + 0.2 + 0.35 * gauge * std::sin(kPi * k / 6)});
  if (random.chance(0.5)) model.parts.push_back(wire(bridge, 0.12 * gauge, 6, Ends::Flat));
  const double pw = 0.9 * gauge;
  const double pl = random.between(2.5, 5.5) * gauge;
  const std::vector<double> xs{-0.5 * pw, -0.25 * pw, 0.25 * pw, 0.5 * pw};
  const std::vector<double> ys{0, 0.12 * pl, 0.3 * pl, pl};
  const bool hole = random.chance(0.7);
  const Solid tab = plate(
      3, 3, [&](int i, int j) { return !(hole && i == 1 && j == 1); },
      [&](int i, int j) {
        return Vec2{xs[static_cast<std::size_t>(i)], -ys[static_cast<std::size_t>(j)]};
      },
      0.22 * gauge, false);
  model.parts.push_back(lifted(moved(tab, Mat3{}, {0, 0.2 * l, 0}), 0.5 * t + 0.3));
  return model;
}

TrimModel make_zipper_element(Random& random, double gauge) {
  TrimModel model{"zipper element", {}, 0.5 * gauge};
  const double l = 0.62 * gauge;
  const double w = random.between(0.28, 0.4) * gauge;
  const double t = random.between(0.3, 0.5) * gauge;
  Solid body;
  switch (random.pick(3)) {
    case 0:
      body = box(l, w, t);
      break;
    case 1: {
      const std::vector<double> xs{-0.5 * l, 0.1 * l, 0.5 * l};
      const std::vector<double> ys{-0.5 * w, -0.25 * w, 0.25 * w, 0.5 * w};
      body = moved(plate(
                       2, 3, [](int i, int j) { return i == 1 || j == 1; },
                       [&](int i, int j) {
                         return Vec2{xs[static_cast<std::size_t>(i)], ys[static_cast<std::size_t>(j)]};
                       },
                       t, false),
                   Mat3{}, {0, 0, -0.5 * t});
      break;
    }
    default: {
      const std::vector<Vec3> path{{-0.5 * l, 0, 0}, {0, 0, 0}, {0.3 * l, 0, 0}, {0.5 * l, 0, 0}};
      const std::vector<double> radii{0.4 * t, 0.5 * t, 0.6 * t, 0.35 * t};
      body = swept(path, radii, 8, Ends::Flat);
    }
  }
  model.parts.push_back(body);
  return model;
}

TrimModel make_zipper_stop(Random& random, double gauge) {
  return {"zipper stop", {box(random.between(0.8, 1.3) * gauge, 0.7 * gauge, 0.6 * gauge, 2)}, gauge};
}

TrimModel make_bead(Random& random) {
  const double r = random.between(0.9, 4);
  TrimModel model{"bead", {}, r};
  if (random.chance(0.5))
    model.parts.push_back(lifted(ball(r, 6 + 2 * random.pick(5), 4 + random.pick(6)), 0.9 * r));
  else
    model.parts.push_back(lifted(tipped(ring(0.25 * r, r, 1.3 * r, 10 + 2 * random.pick(4), 6)), r));
  return model;
}

TrimModel make_sequin(Random& random) {
  const double r = random.between(1.5, 5);
  TrimModel model{"sequin", {}, r};
  const int sides = 6 + 2 * random.pick(9);
  const double cup = random.chance(0.5) ? 0.15 * r : 0.0;
  if (random.chance(0.6)) {
    const std::vector<Vec2> profile{{r, cup}, {0.55 * r, 0.1}, {0.15 * r, 0}};
    model.parts.push_back(lifted(turned(profile, sides, false), 0.3));
  } else {
    const std::vector<Vec2> profile{{r, cup}, {0.5 * r, 0.05}, {0, 0}};
    model.parts.push_back(lifted(turned(profile, sides, false), 0.3));
  }
  return model;
}

TrimModel make_rhinestone(Random& random) {
  const double r = random.between(1, 4);
  TrimModel model{"rhinestone", {}, r};
  const int sides = 6 + random.pick(7);
  std::vector<Vec2> profile{{r, 0}, {r, 0.15 * r}, {0.6 * r, 0.6 * r}, {0, 0.6 * r}};
  if (random.chance(0.5)) profile.insert(profile.begin(), {0, 0});
  model.parts.push_back(turned(profile, sides, false));
  return model;
}

TrimModel make_cord_end(Random& random, double cord) {
  const double l = random.between(10, 22);
  TrimModel model{"cord end", {}, l};
  const double r = cord * random.between(1.15, 1.5);
  const std::vector<Vec2> profile{{0, 0}, {r, 0}, {r, 0.7 * l}, {0.7 * r, l}, {0, l}};
  model.parts.push_back(turned(profile, sides_of(random), false));
  return model;
}

TrimModel make_toggle(Random& random) {
  const double l = random.between(25, 50);
  TrimModel model{"toggle", {}, 0.5 * l};
  std::vector<Vec3> path;
  std::vector<double> radii;
  for (int k = 0; k <= 8; ++k) {
    const double x = k / 4.0 - 1;
    path.push_back({0.5 * l * x, 0, 5});
    radii.push_back(0.14 * l * std::sqrt(1.05 - 0.8 * x * x));
  }
  model.parts.push_back(swept(path, radii, sides_of(random), Ends::Flat));
  return model;
}

TrimModel make_badge(Random& random) {
  const double w = random.between(14, 34);
  const double h = w * random.between(0.3, 0.7);
  TrimModel model{"badge", {}, 0.6 * w};
  const double t = random.between(1.0, 2.2);
  const double bevel = 0.4;
  Solid s;  // bevelled plate
  const auto ring_of = [&](double inset, double z) {
    return std::vector<Index>{
        s.add_vertex({-0.5 * w + inset, -0.5 * h + inset, z}), s.add_vertex({0.5 * w - inset, -0.5 * h + inset, z}),
        s.add_vertex({0.5 * w - inset, 0.5 * h - inset, z}), s.add_vertex({-0.5 * w + inset, 0.5 * h - inset, z})};
  };
  const auto a = ring_of(0, 0);
  const auto b = ring_of(0, t - bevel);
  const auto c = ring_of(bevel, t);
  s.add_face({a[3], a[2], a[1], a[0]});
  s.add_face(c);
  for (std::size_t k = 0; k < 4; ++k) {
    const std::size_t m = (k + 1) % 4;
    s.add_face({a[k], a[m], b[m], b[k]});
    s.add_face({b[k], b[m], c[m], c[k]});
  }
  model.parts.push_back(lifted(s, 0.3));
  return model;
}

Solid make_stitch(int style, double length, double radius) {
  const double l = 0.5 * length;
  switch (style) {
    case 0: {  // capsule
      const std::vector<Vec3> path{
          {-l, 0, 0}, {-0.8 * l, 0, 0.3 * radius}, {0, 0, radius}, {0.8 * l, 0, 0.3 * radius}, {l, 0, 0}};
      const std::vector<double> radii{0.5 * radius, radius, radius, radius, 0.5 * radius};
      return swept(path, radii, 6, Ends::Fan);
    }
    case 1:
      return box(length, 2 * radius, 1.4 * radius);
    case 2: {  // open ribbon
      Solid s;
      for (const double x : {-l, -0.5 * l, 0.5 * l, l})
        for (const double y : {-radius, radius}) s.add_vertex({x, y, std::abs(x) < l ? 0.6 * radius : 0.0});
      for (const Index k : {0U, 2U, 4U}) s.add_face({k, k + 2, k + 3, k + 1});
      return s;
    }
    case 3: {  // open tube
      const std::vector<Vec3> path{{-l, 0, 0}, {0, 0, radius}, {l, 0, 0}};
      const std::vector<double> radii(3, radius);
      return swept(path, radii, 5, Ends::Open);
    }
    case 4: {  // spindle of few triangles
      Solid s;
      const Index a = s.add_vertex({-l, 0, 0});
      const Index b = s.add_vertex({l, 0, 0});
      std::array<Index, 3> m{};
      for (std::size_t k = 0; k < 3; ++k) {
        const double t = 2 * kPi * static_cast<double>(k) / 3;
        m[k] = s.add_vertex({0, radius * std::cos(t), radius * std::sin(t)});
      }
      for (std::size_t k = 0; k < 3; ++k) {
        s.add_face({a, m[(k + 1) % 3], m[k]});
        s.add_face({b, m[k], m[(k + 1) % 3]});
      }
      return s;
    }
    default: {  // one flat quad
      Solid s;
      s.add_face({s.add_vertex({-l, -radius, 0}), s.add_vertex({l, -radius, 0}), s.add_vertex({l, radius, 0}),
                  s.add_vertex({-l, radius, 0})});
      return s;
    }
  }
}

}  // namespace trimtack::testing
