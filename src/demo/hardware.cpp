// SPDX-License-Identifier: MIT
// Sizes: buttons and caps by the ligne; hole and edge thickness, snap, rivet and zipper parts from common practice (no
// published table). A No. 5 zipper's closed chain is about 5 to 7 mm wide (ASTM D3657, table of slider mouths).
#include "demo/hardware.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>
#include <tuple>

namespace trimtack::coat {
namespace {

using std::numbers::pi;

struct Profile {
  double radius = 0, z = 0;
};

/// Adds vertices once per place, so that pieces built side by side share them.
class Builder {
 public:
  Index vertex(const Vec3& p) {
    const auto key = std::make_tuple(std::llround(p.x * 1e6), std::llround(p.y * 1e6), std::llround(p.z * 1e6));
    const auto [it, fresh] = known_.try_emplace(key, static_cast<Index>(solid_.vertices.size()));
    if (fresh) solid_.vertices.push_back(p);
    return it->second;
  }
  /// A polygon; repeated corners are dropped, and the face with them when fewer than three are left.
  void face(const std::vector<Vec3>& points) {
    std::vector<Index> corners;
    for (const Vec3& p : points) {
      const Index v = vertex(p);
      if (std::find(corners.begin(), corners.end(), v) == corners.end()) corners.push_back(v);
    }
    if (corners.size() >= 3) solid_.faces.push_back(std::move(corners));
  }
  Solid take() { return std::move(solid_); }

 private:
  Solid solid_;
  std::map<std::tuple<long long, long long, long long>, Index> known_;
};

Vec3 polar(double radius, double angle, double z) { return {radius * std::cos(angle), radius * std::sin(angle), z}; }

/// Skin between rings of equal count; the rings go round counter-clockwise as seen from where the skin's right side is
/// when the second ring lies inside the first.
void skin(Builder& builder, const std::vector<Vec3>& outer, const std::vector<Vec3>& inner) {
  const std::size_t n = outer.size();
  for (std::size_t i = 0; i < n; ++i) {
    const std::size_t k = (i + 1) % n;
    builder.face({outer[i], outer[k], inner[k], inner[i]});
  }
}

std::vector<Vec3> ring(double radius, double z, int sides, double x = 0, double y = 0) {
  std::vector<Vec3> out;
  out.reserve(static_cast<std::size_t>(sides));
  for (int i = 0; i < sides; ++i) out.push_back(polar(radius, 2 * pi * i / sides, z) + Vec3{x, y, 0});
  return out;
}

/// Surface of revolution about z through the profile (from the bottom on the axis to the top on the axis).
void revolve(Builder& builder, const std::vector<Profile>& profile, int sides) {
  for (std::size_t k = 0; k + 1 < profile.size(); ++k)
    skin(builder, ring(profile[k].radius, profile[k].z, sides), ring(profile[k + 1].radius, profile[k + 1].z, sides));
}

/// One flat side of a button between its rim and its holes, at height z; `up` turns it to face +z.
void holed_disc(Builder& builder, double radius, double z, int holes, double hole_radius, double hole_pitch, bool up) {
  constexpr int kArc = 8, kSpoke = 4, kLoop = kArc + 2 * kSpoke;  // corners around each hole's sector
  const double sector = 2 * pi / holes;
  const int arc = holes == 4 ? kArc : 2 * kArc, loop = holes == 4 ? kLoop : 2 * kArc + 2 * kSpoke;
  for (int h = 0; h < holes; ++h) {
    const double middle = sector * (h + 0.5);
    const Vec3 centre = polar(hole_pitch, middle, z);
    std::vector<Vec3> edge;
    edge.reserve(static_cast<std::size_t>(2 * kSpoke + arc));
    for (int i = 0; i < kSpoke; ++i) edge.push_back(polar(radius * i / kSpoke, sector * h, z));
    for (int i = 0; i < arc; ++i) edge.push_back(polar(radius, sector * (h + static_cast<double>(i) / arc), z));
    for (int i = kSpoke; i > 0; --i) edge.push_back(polar(radius * i / kSpoke, sector * (h + 1), z));
    std::vector<Vec3> between, hole;
    for (int i = 0; i < loop; ++i) {
      const Vec3& p = edge[static_cast<std::size_t>(i)];
      const double angle = middle + pi + 2 * pi * i / loop;
      hole.push_back(centre + polar(hole_radius, angle, 0));
      between.push_back(0.5 * (p + hole.back()));
    }
    if (!up) {
      std::reverse(edge.begin(), edge.end());
      std::reverse(between.begin(), between.end());
      std::reverse(hole.begin(), hole.end());
    }
    skin(builder, edge, between);
    skin(builder, between, hole);
  }
}

/// A closed tube of `sides` along a path.
Solid tube(const std::vector<Vec3>& path, double radius, int sides) {
  Builder builder;
  std::vector<std::vector<Vec3>> rings;
  Vec3 across = normalized(cross(path[1] - path[0], Vec3{0.3, 1, 0.1}));
  for (std::size_t i = 0; i < path.size(); ++i) {
    const Vec3 ahead = normalized(path[std::min(i + 1, path.size() - 1)] - path[i > 0 ? i - 1 : 0]);
    across = normalized(across - dot(across, ahead) * ahead);
    const Vec3 other = cross(ahead, across);
    std::vector<Vec3> round;
    for (int k = 0; k < sides; ++k) {
      const double a = 2 * pi * k / sides;
      round.push_back(path[i] + (radius * std::cos(a)) * across + (radius * std::sin(a)) * other);
    }
    rings.push_back(std::move(round));
  }
  for (std::size_t i = 0; i + 1 < rings.size(); ++i) skin(builder, rings[i], rings[i + 1]);
  std::vector<Vec3> start = rings.front();
  std::reverse(start.begin(), start.end());
  builder.face(start);
  builder.face(rings.back());
  return builder.take();
}

/// A rectangle with its corners cut off, counter-clockwise.
std::vector<Vec3> octagon(const Vec2& low, const Vec2& high, double cut, double z) {
  return {{low.x + cut, low.y, z},   {high.x - cut, low.y, z}, {high.x, low.y + cut, z}, {high.x, high.y - cut, z},
          {high.x - cut, high.y, z}, {low.x + cut, high.y, z}, {low.x, high.y - cut, z}, {low.x, low.y + cut, z}};
}

/// A box with its vertical edges cut off by `chamfer`, from z0 to z1; the top is `inset` mm smaller all round.
void block(Builder& builder, Vec2 low, Vec2 high, double z0, double z1, double chamfer, double inset) {
  const auto outline = [&](double in, double z) {
    return octagon({low.x + in, low.y + in}, {high.x - in, high.y - in}, chamfer, z);
  };
  std::vector<Vec3> bottom = outline(0, z0), waist = outline(0, 0.5 * (z0 + z1)), top = outline(inset, z1);
  skin(builder, bottom, waist);
  skin(builder, waist, top);
  builder.face(top);
  std::reverse(bottom.begin(), bottom.end());
  builder.face(bottom);
}

}  // namespace

Solid make_button(double diameter, double thickness, int holes, double hole_diameter, double hole_pitch, double stand) {
  constexpr int kRound = 5;
  const double radius = diameter / 2, rim = thickness / 2, well = 0.78 * radius, dip = 0.22 * thickness;
  const int sides = 32;
  Builder builder;
  const double back = stand, front = stand + thickness - dip;
  holed_disc(builder, well, front, holes, hole_diameter / 2, hole_pitch, true);
  holed_disc(builder, well, back, holes, hole_diameter / 2, hole_pitch, false);
  // Round rim from the back up to the raised edge, then down into the well.
  std::vector<Profile> profile{{well, back}};
  for (int i = 0; i <= 2 * kRound; ++i) {
    const double a = -pi / 2 + pi * i / (2 * kRound);
    profile.push_back({radius - rim * 0.7 + 0.7 * rim * std::cos(a), stand + rim + rim * std::sin(a)});
  }
  profile.push_back({well + 0.35 * (radius - 0.7 * rim - well), 0.5 * (stand + thickness + front)});
  profile.push_back({well, front});
  revolve(builder, profile, sides);
  const int loop = holes == 4 ? 16 : 24;
  for (int h = 0; h < holes; ++h) {
    const double middle = 2 * pi / holes * (h + 0.5);
    std::vector<Vec3> low, high;
    for (int i = 0; i < loop; ++i) {
      const Vec3 p = polar(hole_pitch, middle, 0) + polar(hole_diameter / 2, middle + pi + 2 * pi * i / loop, 0);
      low.push_back(p + Vec3{0, 0, back});
      high.push_back(p + Vec3{0, 0, front});
    }
    skin(builder, high, low);
  }
  Solid solid = builder.take();
  solid.material = "horn_brown";
  return solid;
}

std::vector<Solid> make_button_threads(double thickness, int holes, double hole_pitch, double stand) {
  std::vector<Solid> threads;
  const double top = stand + 0.9 * thickness;
  for (int bar = 0; bar < holes / 2; ++bar) {
    const double sector = 2 * pi / holes;
    const Vec3 from = polar(hole_pitch, sector * (2 * bar + 0.5), 0);
    const Vec3 to = polar(hole_pitch, sector * (2 * bar + 1.5), 0);
    std::vector<Vec3> path{0.7 * from + Vec3{0, 0, -0.3}, from + Vec3{0, 0, stand}};
    constexpr int kArch = 6;
    for (int i = 0; i <= kArch; ++i) {
      const double t = static_cast<double>(i) / kArch;
      path.push_back(from + t * (to - from) + Vec3{0, 0, top + 0.35 * std::sin(pi * t)});
    }
    path.push_back(to + Vec3{0, 0, stand});
    path.push_back(0.7 * to + Vec3{0, 0, -0.3});
    threads.push_back(tube(path, 0.42, 8));
    threads.back().material = "thread_ecru";
  }
  return threads;
}

std::vector<Solid> make_snap(double cap_diameter) {
  constexpr int kSides = 28;
  const double r = cap_diameter / 2, grip = 0.5;
  Builder cap, socket;
  revolve(cap, {{0, 0.05}, {0.9 * r, 0.05}, {r, 0.45}, {0.97 * r, 1.1}, {0.78 * r, 1.9}, {0.42 * r, 2.35}, {0, 2.5}},
          kSides);
  revolve(socket,
          {{0, -grip - 1.3},
           {2.0, -grip - 1.3},
           {2.4, -grip - 1.7},
           {4.3, -grip - 1.7},
           {4.8, -grip - 1.2},
           {4.8, -grip - 0.3},
           {4.4, -grip},
           {1.6, -grip},
           {1.6, 0.6},
           {0, 0.6}},
          kSides);
  std::vector<Solid> parts{cap.take(), socket.take()};
  for (Solid& part : parts) part.material = "brass_aged";
  return parts;
}

std::vector<Solid> make_rivet(double burr_diameter, double head_diameter, double grip) {
  constexpr int kSides = 24;
  const double r = burr_diameter / 2, h = head_diameter / 2;
  Builder burr, nail;
  revolve(burr,
          {{0, 0.05},
           {0.95 * r, 0.05},
           {r, 0.4},
           {0.92 * r, 0.9},
           {0.6 * r, 1.2},
           {0.46 * r, 1.15},
           {0.34 * r, 1.6},
           {0, 1.7}},
          kSides);
  revolve(nail,
          {{0, -grip - 1},
           {0.9 * h, -grip - 1},
           {h, -grip - 0.6},
           {h, -grip - 0.25},
           {0.9 * h, -grip},
           {1.2, -grip},
           {1.2, 0.8},
           {0, 0.8}},
          kSides);
  std::vector<Solid> parts{burr.take(), nail.take()};
  for (Solid& part : parts) part.material = "copper";
  return parts;
}

Solid make_zip_element() {
  Builder builder;
  block(builder, {-2.3, -0.55}, {1.9, 0.55}, -1.1, 1.2, 0.22, 0.14);
  Solid solid = builder.take();
  solid.material = "brass_bright";
  return solid;
}

std::vector<Solid> make_zip_slider() {
  // The body in one skin from the bottom up: lower plate, post between the tapes, upper plate, lug.
  Builder body, pull;
  const std::vector<std::vector<Vec3>> rings{
      octagon({-4.0, -5.3}, {4.0, 5.3}, 1.5, -2.3), octagon({-4.2, -5.5}, {4.2, 5.5}, 1.6, -2.0),
      octagon({-4.2, -5.5}, {4.2, 5.5}, 1.6, -1.4), octagon({-0.4, 3.4}, {0.4, 4.8}, 0.1, -1.4),
      octagon({-0.4, 3.4}, {0.4, 4.8}, 0.1, 1.5),   octagon({-4.2, -5.5}, {4.2, 5.5}, 1.6, 1.5),
      octagon({-4.2, -5.5}, {4.2, 5.5}, 1.6, 2.1),  octagon({-3.9, -5.2}, {3.9, 5.2}, 1.5, 2.4),
      octagon({-0.9, -1.6}, {0.9, 2.2}, 0.3, 2.4),  octagon({-0.9, -1.6}, {0.9, 2.2}, 0.3, 4.2),
      octagon({-0.7, -1.3}, {0.7, 1.9}, 0.25, 4.6)};
  for (std::size_t i = 0; i + 1 < rings.size(); ++i) skin(body, rings[i], rings[i + 1]);
  body.face(rings.back());
  std::vector<Vec3> bottom = rings.front();
  std::reverse(bottom.begin(), bottom.end());
  body.face(bottom);
  // The pull: a flat ring hanging on the lug, touching it, that runs out into a blade, lying towards -y.
  const std::vector<Vec2> outline{{3.2, 3.6},  {-3.2, 3.6}, {-3.6, -3.5}, {-2.6, -20},
                                  {-1.2, -22}, {1.2, -22},  {2.6, -20},   {3.6, -3.5}};
  const std::vector<Vec2> hole{{1.4, 2.6},   {-1.4, 2.6}, {-1.6, 1.2}, {-1.6, -1.6},
                               {-1.1, -2.4}, {1.1, -2.4}, {1.6, -1.6}, {1.6, 1.2}};
  const auto raised = [](const std::vector<Vec2>& line, double z) {
    std::vector<Vec3> out;
    out.reserve(line.size());
    for (const Vec2& p : line) out.push_back({p.x, p.y, z});
    return out;
  };
  const auto low = raised(outline, 2.9), high = raised(outline, 3.7), low_hole = raised(hole, 2.9),
             high_hole = raised(hole, 3.7);
  skin(pull, low, high);
  skin(pull, high, high_hole);
  skin(pull, high_hole, low_hole);
  skin(pull, low_hole, low);
  std::vector<Solid> parts{body.take(), pull.take()};
  for (Solid& part : parts) part.material = "brass_bright";
  return parts;
}

Solid make_zip_stop(double width) {
  Builder builder;
  block(builder, {-width / 2, -1.4}, {width / 2, 1.4}, -1.2, 1.3, 0.3, 0.2);
  Solid solid = builder.take();
  solid.material = "brass_bright";
  return solid;
}

Solid make_stitch(double length) {
  const double h = length / 2;
  Solid solid = tube({{-h, 0, -0.32}, {-0.6 * h, 0, 0.12}, {0.6 * h, 0, 0.12}, {h, 0, -0.32}}, 0.3, 5);
  solid.stitching = true;
  solid.material = "thread_ecru";
  return solid;
}

Solid make_bar(double length, double width, double thickness) {
  // A flat bar with round ends and a long slot; both outlines have the same number of corners.
  const auto outline = [&](double in, double z) {
    constexpr int kEnd = 8, kSide = 24;
    const double r = width / 2 - in, straight = length / 2 - width / 2;
    std::vector<Vec3> out;
    for (const double way : {1.0, -1.0}) {
      for (int i = 0; i < kEnd; ++i) {
        const double a = -pi / 2 + pi * i / kEnd;
        out.push_back({way * (straight + r * std::cos(a)), way * r * std::sin(a), z});
      }
      for (int i = 0; i < kSide; ++i) out.push_back({way * straight * (1 - 2.0 * i / kSide), way * r, z});
    }
    return out;
  };
  const double slot = 0.32 * width, bevel = 0.2 * thickness;
  const std::vector<std::vector<Vec3>> round{
      outline(bevel, 0),         outline(0, bevel),        outline(0, thickness - bevel),
      outline(bevel, thickness), outline(slot, thickness), outline(slot, 0)};
  Builder builder;
  for (std::size_t i = 0; i < round.size(); ++i) skin(builder, round[i], round[(i + 1) % round.size()]);
  Solid solid = builder.take();
  solid.material = "steel_blued";
  return solid;
}

}  // namespace trimtack::coat
