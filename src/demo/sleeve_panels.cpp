// SPDX-License-Identifier: MIT
// Sleeves, cuffs and the turned-down collar, sewn to the edges of the body pieces.
#include "demo/panels.hpp"

namespace trimtack::coat {
namespace {

using std::numbers::pi;
constexpr double kUpperArm = 78, kWrist = 56, kCuffLength = 62;

/// Centre line of the arm at `reach` mm from the root: a little forward towards the hand, as arms hang.
Vec3 arm_centre(const Arm& arm, double reach) {
  const double t = reach / arm.reach;
  return arm.root + reach * arm.axis + (34 * t * t) * arm.ahead;
}

/// Direction around the sleeve: 0 and 2 pi at the underarm, over the front, pi on top.
Vec3 around(const Arm& arm, double angle) { return -std::cos(angle) * arm.over + (0.92 * std::sin(angle)) * arm.ahead; }

double sleeve_radius(double t) { return mix(kUpperArm, kWrist, std::pow(t, 0.9)); }

/// Folds of a sleeve: slanting ones in the crook of the elbow, rings above the cuff.
double sleeve_fold(double reach, double angle, bool left) {
  const double phase = left ? 0.4 : 1.9;
  const double crook = ramp(150, 250, reach) * ramp(430, 320, reach) * std::pow(std::sin(angle / 2 + 0.5), 2);
  const double rings = ramp(380, 490, reach) * ramp(560, 545, reach);
  return 4.5 * crook * std::sin(2 * pi * reach / 104 + 1.2 * std::cos(angle) + phase) +
         3.5 * rings * std::sin(2 * pi * reach / 88 + 1.5 * std::cos(angle + phase));
}

/// Cut coordinates of a strip: each row as long as it is worn, the rows as far apart as in the middle.
void cut_by_rows(Panel& panel) {
  double up = 0;
  for (int j = 0; j <= panel.rows; ++j) {
    const std::size_t first = panel.cut.size();
    double along = 0;
    for (int i = 0; i <= panel.columns; ++i) {
      if (i > 0) along += length(panel.positions[panel.at(i, j)] - panel.positions[panel.at(i - 1, j)]);
      panel.cut.push_back({along, up});
    }
    for (std::size_t k = first; k < panel.cut.size(); ++k) panel.cut[k].x -= along / 2;
    const int middle = panel.columns / 2;
    if (j < panel.rows) up += length(panel.positions[panel.at(middle, j + 1)] - panel.positions[panel.at(middle, j)]);
  }
}

}  // namespace

Arm make_arm(bool left) {
  Arm arm;
  const double s = left ? 1 : -1, angle = 42 * pi / 180;
  arm.root = {s * 208, 1356, -14};
  arm.axis = {s * std::sin(angle), -std::cos(angle), 0};
  arm.over = {s * std::cos(angle), std::sin(angle), 0};
  arm.ahead = {0, 0, 1};
  return arm;
}

Panel make_sleeve(const Panel& front, const Panel& back, bool left) {
  const Arm arm = make_arm(left);
  Panel panel;
  panel.name = left ? "sleeve_left" : "sleeve_right";
  panel.group = "sleeves";
  panel.material = "canvas_indigo";
  panel.columns = kSleeveColumns;
  panel.rows = kSleeveRows;
  panel.flipped = left;
  // The armhole, from the underarm up the front, over the shoulder tip and down the back.
  std::vector<Vec3> ring;
  for (int j = kSideRows; j <= kFrontRows; j += 2) ring.push_back(front.positions[front.at(kFrontColumns, j)]);
  for (int j = kBackRows - 1; j >= kSideRows / 2; --j)
    ring.push_back(back.positions[back.at(left ? kBackColumns : 0, j)]);
  for (int j = 0; j <= panel.rows; ++j)
    for (int i = 0; i <= panel.columns; ++i) {
      const double t = static_cast<double>(j) / panel.rows, angle = 2 * pi * i / panel.columns;
      const Vec3& start = ring[static_cast<std::size_t>(i)];
      const double start_reach = dot(start - arm.root, arm.axis);
      const double reach = mix(start_reach, arm.reach, t);
      const Vec3 start_out = start - arm.root - start_reach * arm.axis;
      const double radius = sleeve_radius(std::max(0.0, reach) / arm.reach) + sleeve_fold(reach, angle, left);
      const Vec3 out = mix(start_out, radius * around(arm, angle), ramp(0.0, 0.42, t));
      Vec3 point = j == 0 ? start : arm_centre(arm, reach) + out;
      if (j > 0) point += (ramp(0.0, 0.3, t) - 1) * (arm_centre(arm, reach) - arm.root - reach * arm.axis);
      if (i == panel.columns) point = panel.positions[panel.at(0, j)];  // the underarm seam
      panel.positions.push_back(point);
      panel.cut.push_back({66.0 * (angle - pi), -reach});
    }
  mesh_grid(panel);
  return panel;
}

Panel make_cuff(const Panel& sleeve, bool left) {
  const Arm arm = make_arm(left);
  Panel panel;
  panel.name = left ? "cuff_left" : "cuff_right";
  panel.group = "sleeves";
  panel.material = "canvas_indigo";
  panel.columns = 2 * kSleeveColumns;
  panel.rows = kCuffRows;
  panel.triangles = true;
  panel.flipped = sleeve.flipped;
  for (int j = 0; j <= panel.rows; ++j)
    for (int i = 0; i <= panel.columns; ++i) {
      const double angle = 2 * pi * i / panel.columns, down = kCuffLength * j / panel.rows;
      const double radius = kWrist + 1.6 * ramp(0, 9, down);
      Vec3 point = arm_centre(arm, arm.reach + down) + radius * around(arm, angle);
      if (j == 0) {
        const Vec3& before = sleeve.positions[sleeve.at(i / 2, sleeve.rows)];
        const Vec3& after = sleeve.positions[sleeve.at((i + 1) / 2, sleeve.rows)];
        point = i % 2 == 0 ? before : mix(before, after, 0.5);
      }
      if (i == panel.columns) point = panel.positions[panel.at(0, j)];
      panel.positions.push_back(point);
      panel.cut.push_back({kWrist * (angle - pi), -arm.reach - down});
    }
  mesh_grid(panel);
  return panel;
}

std::array<Panel, 2> make_collar(const Body& body, const Panel& front_left, const Panel& front_right,
                                 const Panel& back) {
  // The neckline from the right front's centre over the back to the left front's centre, and for each of its points
  // the place on the body where the edge of the collar's fall comes to lie.
  struct Stop {
    Vec3 seam, rest, rest_normal;
  };
  std::vector<Stop> stops;
  const auto lay = [&](const Panel& panel, Half half, int i, bool last, double side) {
    const Vec2 p = panel.cut[panel.at(i, panel.rows)];
    const Vec2 before = panel.cut[panel.at(std::max(i - 1, 0), panel.rows)];
    const Vec2 after = panel.cut[panel.at(i + (last ? 0 : 1), panel.rows)];
    double nx = after.y - before.y, ny = -(after.x - before.x);
    if (ny > 0) nx = -nx, ny = -ny;  // away from the neck is down, in the pattern
    const double size = std::hypot(nx, ny);
    nx /= size;
    ny /= size;
    if (nx * side < 0 && half == Half::Front) nx = -nx;
    double fall = 52;
    Vec2 q{p.x + fall * nx, p.y + fall * ny};
    if (half == Half::Front) {  // the points of the collar hang lower and leave the centre open
      const double x = std::abs(p.x), tip = ramp(52, 0, x);
      q = {p.x + fall * nx * (1 - tip) + side * tip * 30, p.y + fall * ny * (1 - tip) - tip * 74};
    }
    // Past the shoulder line the surface goes on over the other half.
    const double top = body.chest_line + body.rise(half, q.x);
    Half where = half;
    if (q.y > top) {
      where = half == Half::Front ? Half::Back : Half::Front;
      q.y = body.chest_line + body.rise(where, q.x) - (q.y - top);
    }
    stops.push_back({panel.positions[panel.at(i, panel.rows)], body.offset(where, q, 4.5), body.normal(where, q)});
  };
  for (int i = kPlacketColumns; i <= kPlacketColumns + kNeckColumns; ++i)
    lay(front_right, Half::Front, i, i == kPlacketColumns + kNeckColumns, -1);
  for (int i = 1; i < kBackNeckColumns; ++i) lay(back, Half::Back, kShoulderColumns / 2 + i, false, 1);
  for (int i = kPlacketColumns + kNeckColumns; i >= kPlacketColumns; --i)
    lay(front_left, Half::Front, i, i == kPlacketColumns + kNeckColumns, 1);

  for (int pass = 0; pass < 6; ++pass)  // evens out the bend at the shoulder seams
    for (std::size_t i = 1; i + 1 < stops.size(); ++i)
      stops[i].rest = mix(stops[i].rest, mix(stops[i - 1].rest, stops[i + 1].rest, 0.5), 0.5);
  // The band stands on the neckline, the fall is sewn to its upper edge, rolls over and lies down.
  std::array<Panel, 2> collar;
  for (const bool band : {true, false}) {
    Panel& panel = collar[band ? 0 : 1];
    panel.name = band ? "collar_band" : "collar_fall";
    panel.group = "body";
    panel.material = "canvas_indigo";
    panel.columns = static_cast<int>(stops.size()) - 1;
    panel.rows = band ? 3 : 9;
    panel.triangles = true;
    for (int j = 0; j <= panel.rows; ++j)
      for (const Stop& stop : stops) {
        const Vec3 out = normalized(stop.seam - Vec3{0, stop.seam.y, -8});
        const Vec3 up = normalized(Vec3{0, 1, 0} - 0.12 * out);
        const Vec3 crest = stop.seam + mix(24, 34, ramp(30, -60, stop.seam.z)) * up;
        const double t = static_cast<double>(j) / panel.rows;
        const Vec3 away = crest + 2 * up + 14 * out;
        const Vec3 land = stop.rest + 4 * stop.rest_normal - 0.4 * (stop.rest - crest);
        panel.positions.push_back(band ? mix(stop.seam, crest, t) : bezier(crest, away, land, stop.rest, t));
      }
    cut_by_rows(panel);
    mesh_grid(panel);
  }
  return collar;
}

}  // namespace trimtack::coat
