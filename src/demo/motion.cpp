// SPDX-License-Identifier: MIT
// The elbow bends along a circular arc of constant length on the arm's centre line (Barr 1984, global and local
// deformations of solid primitives).
#include "demo/motion.hpp"

namespace trimtack::coat {
namespace {

using std::numbers::pi;
constexpr double kElbowFrom = 215, kElbowTo = 425;

Vec3 bent(const Vec3& p, double angle) {
  if (angle == 0) return p;
  const Arm arm = make_arm(true);
  const Vec3 d = p - arm.root;
  const double reach = dot(d, arm.axis), over = dot(d, arm.over), ahead = dot(d, arm.ahead);
  if (reach <= kElbowFrom || over < -115) return p;
  const double radius = (kElbowTo - kElbowFrom) / angle;
  const double turn = std::min(1.0, (reach - kElbowFrom) / (kElbowTo - kElbowFrom)) * angle;
  const double rest = std::max(0.0, reach - kElbowTo);
  const double along = kElbowFrom + (radius - ahead) * std::sin(turn) + rest * std::cos(turn);
  const double forth = radius - (radius - ahead) * std::cos(turn) + rest * std::sin(turn);
  return arm.root + along * arm.axis + over * arm.over + forth * arm.ahead;
}

/// Long soft waves, outwards.
Vec3 wrinkled(const Vec3& p, const Motion& m) {
  const double x = p.x / 240, z = p.z / 130, size = std::max(0.25, std::hypot(x, z));
  const double wave = 0.5 * std::sin(2 * pi * (0.8 * p.x + p.y) / 236 + m.phase) +
                      0.3 * std::sin(2 * pi * (p.y - 0.6 * p.x + 0.3 * p.z) / 187 + 2 * m.phase) +
                      0.2 * std::sin(2 * pi * (p.x + 0.2 * p.y) / 168 - m.phase);
  const double calm = mix(1.0, 0.3, ramp(270, 420, std::abs(p.x)));  // on the sleeves this is not quite outwards
  return (calm * m.wrinkle * wave / size) * Vec3{x, 0, z};
}

}  // namespace

Motion motion_at(double t, double seed_phase) {
  Motion m;
  m.elbow_rad = 72 * pi / 180 * ramp(0, 0.55, t);
  m.twist_rad = 11 * pi / 180 * std::sin(1.5 * pi * ramp(0.15, 1, t));
  m.growth = 0.035 * ramp(0.5, 0.95, t);
  m.wrinkle = 4.5 * ramp(0, 0.4, t);
  m.slip = 1.7 * ramp(0.05, 0.8, t);
  m.phase = seed_phase + 2.2 * t;
  return m;
}

Vec3 moved(const Vec3& rest, const Motion& m) {
  Vec3 p = bent(rest, m.elbow_rad) + wrinkled(rest, m);
  // The arms turn with the shoulders, whatever their height.
  const double arm = ramp(252, 345, std::abs(rest.x));
  const double height = mix(rest.y, 1365, arm);
  p = turned(p, {0, 1, 0}, m.twist_rad * ramp(840, 1360, height));
  return {p.x * (1 + m.growth), p.y * (1 + 0.35 * m.growth), p.z * (1 + m.growth)};
}

Vec3 slipped(const Vec3& rest, const Motion& m) {
  const double share = m.slip * ramp(58, 26, std::abs(rest.x)) * ramp(1400, 1340, rest.y);
  const Vec3 out = normalized({rest.x / (240.0 * 240.0), 0, rest.z / (130.0 * 130.0)});
  return rest - share * out + share * cross(Vec3{0, 1, 0}, out);
}

}  // namespace trimtack::coat
