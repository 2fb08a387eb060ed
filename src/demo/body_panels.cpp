// SPDX-License-Identifier: MIT
// Fronts and back. The outline of each piece is what a shirt-block draft gives for a chest of 102 cm with a boxy ease
// (common practice, no source): straight side seams, scooped armholes, level back neck, scooped front neck.
#include "demo/panels.hpp"

namespace trimtack::coat {
namespace {

std::vector<Vec2> straight(const Vec2& a, const Vec2& b) {
  std::vector<Vec2> line;
  for (int i = 0; i <= 64; ++i) line.push_back(mix(a, b, i / 64.0));
  return line;
}

std::vector<Vec2> curve(const Vec2& a, const Vec2& b, const Vec2& c, const Vec2& d) {
  std::vector<Vec2> line;
  for (int i = 0; i <= 128; ++i) line.push_back(bezier(a, b, c, d, i / 128.0));
  return line;
}

void append(std::vector<Vec2>& line, const std::vector<Vec2>& more) {
  line.insert(line.end(), more.begin() + (line.empty() ? 0 : 1), more.end());
}

constexpr double kUnderarm = 1262, kNeckPoint = 78, kShoulderTip = 218;

/// The pattern y of the shoulder line at x.
double shoulder_y(const Body& body, Half half, double x) { return body.chest_line + body.rise(half, x); }

/// Side seam and armhole of a half, from the hem to the shoulder tip; x positive.
std::vector<Vec2> outer_edge(const Body& body, Half half, int side, int armhole) {
  const double w = body.quarter(half);
  const auto lift = [&](Vec2 p) { return body.point(half, p); };
  const Vec2 under{w, kUnderarm}, tip{kShoulderTip, shoulder_y(body, half, kShoulderTip)};
  std::vector<Vec2> line = resample(straight({w, body.hem}, under), side, lift);
  const double cross = half == Half::Front ? 186 : 200;
  append(line, resample(curve(under, {mix(w, cross, 0.72), kUnderarm - 2}, {cross, mix(kUnderarm, tip.y, 0.36)}, tip),
                        armhole, lift));
  return line;
}

/// How far the fronts stand off where they overlap: the left one lies over the right one, a millimetre apart.
double overlap(const Vec2& p, bool left) { return (left ? 0.6 : -0.6) * ramp(85, 28, std::abs(p.x)); }

}  // namespace

Panel make_front(const Body& body, bool left, std::uint64_t seed) {
  const double s = left ? 1 : -1;
  const auto lift = [&](Vec2 p) {
    const Vec2 q{s * p.x, p.y};
    return body.offset(Half::Front, q, overlap(q, left));
  };
  const Vec2 neck{0, body.chest_line + 146}, point{kNeckPoint, shoulder_y(body, Half::Front, kNeckPoint)};
  const Vec2 tip{kShoulderTip, shoulder_y(body, Half::Front, kShoulderTip)}, edge{-kPlacket, neck.y};
  std::vector<Vec2> top = resample(straight(edge, neck), kPlacketColumns, lift);
  append(top, resample(curve(neck, {48, neck.y}, {70, neck.y + 34}, point), kNeckColumns, lift));
  std::vector<Vec2> shoulder;
  for (int i = 0; i <= 64; ++i) {
    const double x = mix(point.x, tip.x, i / 64.0);
    shoulder.push_back({x, shoulder_y(body, Half::Front, x)});
  }
  append(top, resample(shoulder, kShoulderColumns, lift));
  const Vec2 corner{-kPlacket, body.hem};
  const auto bottom = resample(straight(corner, {body.front_quarter, body.hem}), kFrontColumns, lift);
  const auto front_edge = resample(straight(corner, edge), kFrontRows, lift);
  const auto outer = outer_edge(body, Half::Front, kSideRows, kArmholeRows);

  Panel panel;
  panel.name = left ? "front_left" : "front_right";
  panel.group = "body";
  panel.material = "canvas_indigo";
  panel.columns = kFrontColumns;
  panel.rows = kFrontRows;
  panel.triangles = true;
  panel.flipped = !left;
  panel.cut = fill_grid(bottom, top, front_edge, outer);
  // A free mesher's vertices are not on a grid: push the inner ones about.
  Random random{seed * 31 + (left ? 5U : 9U)};
  for (int j = 1; j < panel.rows; ++j)
    for (int i = 1; i < panel.columns; ++i) {
      Vec2& p = panel.cut[panel.at(i, j)];
      double room = 10;
      for (const auto& [k, l] : {std::pair{i - 1, j}, {i + 1, j}, {i, j - 1}, {i, j + 1}}) {
        const Vec2& q = panel.cut[panel.at(k, l)];
        room = std::min(room, std::hypot(q.x - p.x, q.y - p.y));
      }
      p.x += 0.15 * room * random.between(-1, 1);
      p.y += 0.15 * room * random.between(-1, 1);
    }
  for (Vec2& p : panel.cut) p.x *= s;
  for (const Vec2& p : panel.cut) panel.positions.push_back(lift({s * p.x, p.y}));
  // The back is coarser: every other vertex of the shared seams lies on the straight line between its neighbours.
  for (int j = 1; j < panel.rows; j += 2)
    panel.positions[panel.at(panel.columns, j)] =
        mix(panel.positions[panel.at(panel.columns, j - 1)], panel.positions[panel.at(panel.columns, j + 1)], 0.5);
  const int shoulder_start = kPlacketColumns + kNeckColumns;
  for (int i = shoulder_start + 1; i < panel.columns; i += 2)
    panel.positions[panel.at(i, panel.rows)] =
        mix(panel.positions[panel.at(i - 1, panel.rows)], panel.positions[panel.at(i + 1, panel.rows)], 0.5);
  mesh_grid(panel);
  return panel;
}

Panel make_back(const Body& body, const Panel& front_left, const Panel& front_right) {
  const auto lift = [&](Vec2 p) { return body.point(Half::Back, p); };
  const double point_y = shoulder_y(body, Half::Back, kNeckPoint), dip = 26;
  const int half_shoulder = kShoulderColumns / 2;
  std::vector<Vec2> shoulder, neck;
  for (int i = 0; i <= 64; ++i) {
    const double x = mix(kShoulderTip, kNeckPoint, i / 64.0);
    shoulder.push_back({-x, shoulder_y(body, Half::Back, x)});
  }
  neck = curve({-kNeckPoint, point_y}, {-kNeckPoint + 12, point_y - dip}, {-40, point_y - dip}, {0, point_y - dip});
  for (std::size_t i = neck.size() - 1; i-- > 0;) neck.push_back({-neck[i].x, neck[i].y});
  std::vector<Vec2> top = resample(shoulder, half_shoulder, lift);
  append(top, resample(neck, kBackNeckColumns, lift));
  std::vector<Vec2> other(top.begin(), top.begin() + half_shoulder + 1);
  std::reverse(other.begin(), other.end());
  for (Vec2& p : other) p.x = -p.x;
  append(top, other);
  const auto right = outer_edge(body, Half::Back, kSideRows / 2, kArmholeRows / 2);
  std::vector<Vec2> left = right;
  for (Vec2& p : left) p.x = -p.x;
  const double w = body.back_quarter;

  Panel panel;
  panel.name = "back";
  panel.group = "body";
  panel.material = "canvas_indigo";
  panel.columns = kBackColumns;
  panel.rows = kBackRows;
  panel.flipped = true;
  panel.cut = fill_grid(resample(straight({-w, body.hem}, {w, body.hem}), kBackColumns, lift), top, left, right);
  for (const Vec2& p : panel.cut) panel.positions.push_back(lift(p));
  // Sewn: side seams, armhole corners and shoulders take the fronts' vertices.
  for (int j = 0; j <= panel.rows; ++j) {
    if (j > kSideRows / 2 && j < panel.rows) continue;
    panel.positions[panel.at(panel.columns, j)] = front_left.positions[front_left.at(kFrontColumns, 2 * j)];
    panel.positions[panel.at(0, j)] = front_right.positions[front_right.at(kFrontColumns, 2 * j)];
  }
  for (int i = 0; i <= half_shoulder; ++i) {
    panel.positions[panel.at(i, panel.rows)] = front_right.positions[front_right.at(kFrontColumns - 2 * i, kFrontRows)];
    panel.positions[panel.at(panel.columns - i, panel.rows)] =
        front_left.positions[front_left.at(kFrontColumns - 2 * i, kFrontRows)];
  }
  mesh_grid(panel);
  return panel;
}

}  // namespace trimtack::coat
