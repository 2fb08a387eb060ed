// SPDX-License-Identifier: MIT
#include "demo/shape.hpp"

namespace trimtack::coat {
namespace {

using std::numbers::pi;

/// Angles at equal arc lengths along a quarter ellipse, from the depth axis to the width axis.
std::vector<double> equal_arc_angles(double width, double depth, double& quarter) {
  constexpr int kSteps = 4096, kEntries = 513;
  std::vector<double> length(kSteps + 1, 0.0);
  for (int i = 1; i <= kSteps; ++i) {
    const double a = pi / 2 * (i - 0.5) / kSteps;
    length[static_cast<std::size_t>(i)] = length[static_cast<std::size_t>(i - 1)] +
                                          std::hypot(width * std::cos(a), depth * std::sin(a)) * (pi / 2 / kSteps);
  }
  quarter = length.back();
  std::vector<double> angle(kEntries);
  std::size_t at = 0;
  for (int e = 0; e < kEntries; ++e) {
    const double target = quarter * e / (kEntries - 1);
    while (at + 2 < length.size() && length[at + 1] < target) ++at;
    const double t = (target - length[at]) / (length[at + 1] - length[at]);
    angle[static_cast<std::size_t>(e)] = pi / 2 * (static_cast<double>(at) + t) / kSteps;
  }
  return angle;
}

double look_up(const std::vector<double>& table, double fraction) {
  const double x = std::clamp(fraction, 0.0, 1.0) * static_cast<double>(table.size() - 1);
  const auto i = std::min(static_cast<std::size_t>(x), table.size() - 2);
  return mix(table[i], table[i + 1], x - static_cast<double>(i));
}

/// The shoulder line: level at the neck, falling by a third towards the arm.
Vec3 shoulder_line(double x) {
  const double fall = 0.33 * 15.0 * std::log1p(std::exp((x - 70.0) / 15.0));
  const double reach = x < 216 ? x : 216 + 0.5 * (x - 216);
  return {reach, 1480.0 - fall, -20.0};
}

}  // namespace

Vec3 turned(const Vec3& v, const Vec3& axis, double angle_rad) {
  const double c = std::cos(angle_rad), s = std::sin(angle_rad);
  return c * v + s * cross(axis, v) + ((1 - c) * dot(axis, v)) * axis;
}

double Body::rise(Half half, double x) const {
  return half == Half::Front ? 268.0 - 0.32 * std::abs(x) : 240.0 - 0.22 * std::abs(x);
}

Vec3 Body::point(Half half, const Vec2& p) const {
  const bool front = half == Half::Front;
  const double x = std::abs(p.x), side = p.x < 0 ? -1.0 : 1.0;
  const double angle = look_up(front ? front_angle : back_angle, x / quarter(half));
  const double depth = front ? front_depth : -back_depth;
  const Vec3 chest{half_width * std::sin(angle), chest_line, depth * std::cos(angle)};
  if (p.y <= chest_line) {
    const double below = chest_line - p.y;
    const double flare = 1.0 + 0.045 * below / 460.0;
    // Soft folds that grow towards the hem; flat at the front edge and at the side seams.
    const double window = std::pow(std::sin(pi * x / quarter(half)), 2);
    const double fold = 7.0 * ramp(60, 460, below) * window * std::cos(2 * pi * x / 148.0 + fold_phase + side);
    const Vec3 out = normalized({chest.x / (half_width * half_width), 0, chest.z / (depth * depth)});
    const Vec3 at = Vec3{flare * chest.x, p.y, flare * chest.z} + fold * out;
    return {side * at.x, at.y, at.z};
  }
  const double v = (p.y - chest_line) / rise(half, p.x);
  const Vec3 top = shoulder_line(x);
  const double round = front ? 0.62 : 0.8;
  const double in = round * (1 - std::cos(pi / 2 * v)) + (1 - round) * std::pow(v, 1.6);
  const double up = round * std::sin(pi / 2 * v) + (1 - round) * v;
  return {side * mix(chest.x, top.x, in), mix(chest.y, top.y, up), mix(chest.z, top.z, in)};
}

Vec3 Body::normal(Half half, const Vec2& p) const {
  constexpr double kStep = 0.25;
  const Vec3 along = point(half, {p.x + kStep, p.y}) - point(half, {p.x - kStep, p.y});
  const Vec3 up = point(half, {p.x, p.y + kStep}) - point(half, {p.x, p.y - kStep});
  const Vec3 n = normalized(cross(along, up));
  return half == Half::Front ? n : -n;
}

Body make_body(std::uint64_t seed) {
  Body body;
  body.front_angle = equal_arc_angles(body.half_width, body.front_depth, body.front_quarter);
  body.back_angle = equal_arc_angles(body.half_width, body.back_depth, body.back_quarter);
  Random random{seed * 7919 + 17};
  body.fold_phase = random.between(0, 2 * pi);
  return body;
}

Vec2 bezier(const Vec2& a, const Vec2& b, const Vec2& c, const Vec2& d, double t) {
  const Vec3 p = bezier(Vec3{a.x, a.y, 0}, Vec3{b.x, b.y, 0}, Vec3{c.x, c.y, 0}, Vec3{d.x, d.y, 0}, t);
  return {p.x, p.y};
}

Vec3 bezier(const Vec3& a, const Vec3& b, const Vec3& c, const Vec3& d, double t) {
  const double s = 1 - t;
  return (s * s * s) * a + (3 * s * s * t) * b + (3 * s * t * t) * c + (t * t * t) * d;
}

std::vector<Vec2> resample(std::span<const Vec2> line, int segments, const std::function<Vec3(Vec2)>& lift) {
  std::vector<double> length(line.size(), 0.0);
  Vec3 before = lift(line[0]);
  for (std::size_t i = 1; i < line.size(); ++i) {
    const Vec3 here = lift(line[i]);
    length[i] = length[i - 1] + trimtack::length(here - before);
    before = here;
  }
  std::vector<Vec2> out;
  out.reserve(static_cast<std::size_t>(segments) + 1);
  std::size_t at = 0;
  for (int k = 0; k <= segments; ++k) {
    const double target = length.back() * k / segments;
    while (at + 2 < line.size() && length[at + 1] < target) ++at;
    const double step = length[at + 1] - length[at];
    out.push_back(mix(line[at], line[at + 1], step > 0 ? (target - length[at]) / step : 0.0));
  }
  out.front() = line.front();
  out.back() = line.back();
  return out;
}

}  // namespace trimtack::coat
