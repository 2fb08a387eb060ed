// SPDX-License-Identifier: MIT
// The frame maths alone: closed forms first, then properties over random gradients.
#include "runtime/frame.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <cstring>
#include <limits>
#include <random>
#include <vector>

namespace frame = trimtack::frame;

namespace {

constexpr double kDegPerRad = 57.295779513082320877;

double orthonormality(const double r[9]) {
  double worst = 0;
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) {
      const double g = r[i] * r[j] + r[3 + i] * r[3 + j] + r[6 + i] * r[6 + j];
      worst = std::max(worst, std::fabs(g - (i == j ? 1 : 0)));
    }
  return worst;
}

double determinant(const double r[9]) {
  return r[0] * (r[4] * r[8] - r[5] * r[7]) - r[1] * (r[3] * r[8] - r[5] * r[6]) + r[2] * (r[3] * r[7] - r[4] * r[6]);
}

double in_plane_angle_deg(const double r[9]) { return std::atan2(r[3], r[0]) * kDegPerRad; }

}  // namespace

TEST_CASE("R2: a planar shear turns the frame by -atan(g / 2)") {
  // Ogden, Non-linear Elastic Deformations: polar factor of a simple shear.
  for (const double g : {0.1, 0.5, 1.0, -0.7, 5.0}) {
    const double t[3] = {1, 0, 0}, b[3] = {g, 1, 0};
    double r[9];
    REQUIRE(frame::polar_frame(t, b, r) == frame::FrameStatus::Good);
    CHECK(std::fabs(in_plane_angle_deg(r) + std::atan(g / 2) * kDegPerRad) < 1e-9);
    double stretch[2];
    frame::principal_stretches(frame::measure(t, b), stretch);
    CHECK(stretch[0] == Approx(std::sqrt(1 + g * g / 4) + std::fabs(g) / 2).epsilon(1e-14));
    CHECK(stretch[1] == Approx(std::sqrt(1 + g * g / 4) - std::fabs(g) / 2).epsilon(1e-13));
  }
}

TEST_CASE("R3: any planar gradient with positive determinant turns by atan2(F21 - F12, F11 + F22)") {
  std::mt19937_64 random(7);
  std::uniform_real_distribution<double> number(-2, 2);
  double worst = 0;
  for (int i = 0; i < 20000; ++i) {
    const double t[3] = {number(random), number(random), 0}, b[3] = {number(random), number(random), 0};
    if (t[0] * b[1] - t[1] * b[0] < 1e-3) continue;
    double r[9];
    REQUIRE(frame::polar_frame(t, b, r) == frame::FrameStatus::Good);
    const double expected = std::atan2(t[1] - b[0], t[0] + b[1]);
    worst = std::max(worst, std::fabs(std::remainder(std::atan2(r[3], r[0]) - expected, 2 * M_PI)));
  }
  INFO("seed 7");
  CHECK(worst < 1e-12);
}

TEST_CASE("R4: a pure stretch does not turn the frame") {
  std::mt19937_64 random(11);
  std::uniform_real_distribution<double> number(0.2, 3), off(-0.19, 0.19);
  for (int i = 0; i < 2000; ++i) {
    const double xy = off(random);
    const double t[3] = {number(random), xy, 0}, b[3] = {xy, number(random), 0};
    double r[9];
    REQUIRE(frame::polar_frame(t, b, r) == frame::FrameStatus::Good);
    CHECK(std::fabs(in_plane_angle_deg(r)) < 1e-12);
  }
}

TEST_CASE("the frame is a proper rotation to 1e-15 for any gradient of any size down to the rank limit") {
  INFO("seed 3");
  std::mt19937_64 random(3);
  std::normal_distribution<double> normal;
  std::uniform_real_distribution<double> exponent(-6.5, 0), size(-60, 60);
  double worst = 0, worst_determinant = 0;
  int good = 0;
  for (int i = 0; i < 50000; ++i) {
    const double flat = std::pow(10, exponent(random)), scale = std::pow(10, size(random) / 4);
    double t[3], b[3];
    for (int k = 0; k < 3; ++k) t[k] = scale * normal(random);
    for (int k = 0; k < 3; ++k) b[k] = 0.7 * t[k] + scale * flat * normal(random);
    double r[9];
    if (frame::polar_frame(t, b, r) != frame::FrameStatus::Good) continue;
    ++good;
    worst = std::max(worst, orthonormality(r));
    worst_determinant = std::max(worst_determinant, std::fabs(determinant(r) - 1));
  }
  CHECK(good > 45000);
  CHECK(worst < 1.5e-15);
  CHECK(worst_determinant < 1.5e-15);
}

TEST_CASE("the double frame agrees with the same formula in long double") {
  INFO("seed 5");
  std::mt19937_64 random(5);
  std::normal_distribution<double> normal;
  double worst = 0;
  for (int i = 0; i < 20000; ++i) {
    double t[3], b[3], r[9];
    long double tl[3], bl[3], rl[9];
    for (int k = 0; k < 3; ++k) tl[k] = t[k] = normal(random);
    for (int k = 0; k < 3; ++k) bl[k] = b[k] = normal(random);
    const auto g = frame::measure(t, b);
    if (g.area < 0.05 * g.squares) continue;
    REQUIRE(frame::polar_frame(t, b, r) == frame::FrameStatus::Good);
    REQUIRE(frame::polar_frame(tl, bl, rl) == frame::FrameStatus::Good);
    for (int k = 0; k < 9; ++k) worst = std::max(worst, static_cast<double>(std::fabs(rl[k] - r[k])));
  }
  CHECK(worst < 1e-14);
}

TEST_CASE("R8: rank-1, collapsed and non-finite gradients have no frame and leave the output alone") {
  const double nan = std::numeric_limits<double>::quiet_NaN(), inf = std::numeric_limits<double>::infinity();
  const double cases[][6] = {{0, 0, 0, 0, 0, 0},    {1, 2, 3, 0, 0, 0},     {0, 0, 0, 1, 2, 3},
                             {1, 2, 3, 2, 4, 6},    {1, 2, 3, -1, -2, -3},  {1, 0, 0, 1, 1e-9, 0},
                             {nan, 0, 0, 0, 1, 0},  {1, 0, 0, 0, nan, 0},   {inf, 0, 0, 0, 1, 0},
                             {1, 0, 0, 0, -inf, 0}, {1e200, 0, 0, 0, 1, 0}, {1e-200, 0, 0, 0, 1e-200, 0}};
  for (const auto& c : cases) {
    double r[9] = {9, 9, 9, 9, 9, 9, 9, 9, 9};
    CHECK(frame::polar_frame(c, c + 3, r) != frame::FrameStatus::Good);
    for (const double x : r) CHECK(x == 9);
  }
}

TEST_CASE("the stretch test without square roots agrees with the principal stretches") {
  INFO("seed 13");
  std::mt19937_64 random(13);
  std::uniform_real_distribution<double> number(-6, 6);
  int inside = 0;
  for (int i = 0; i < 20000; ++i) {
    double t[3], b[3], s[2];
    for (int k = 0; k < 3; ++k) t[k] = number(random);
    for (int k = 0; k < 3; ++k) b[k] = number(random);
    const auto g = frame::measure(t, b);
    frame::principal_stretches(g, s);
    if (std::fabs(s[0] - 4) < 1e-9 || std::fabs(s[1] - 2) < 1e-9) continue;
    const bool expected = s[0] < 4 && s[1] > 2;
    inside += expected ? 1 : 0;
    CHECK(frame::stretch_within(g, 2.0, 4.0) == expected);
  }
  CHECK(inside > 100);
  const double t[3] = {std::nan(""), 0, 0}, b[3] = {0, 1, 0};
  CHECK_FALSE(frame::stretch_within(frame::measure(t, b), 0.1, 4.0));
}

TEST_CASE("sums do not feel how far the garment stands from the origin") {
  const std::uint32_t vertices[4] = {0, 1, 2, 3};
  // Weights whose sums are 1, 0, 0 only to rounding.
  const double c[4] = {0.1, 0.2, 0.3, 0.4}, a[4] = {0.3, -0.1, -0.1, -0.1}, b[4] = {-0.7, 0.4, 0.1, 0.2};
  const double near[12] = {0, 0, 0, 5, 0.5, 0, 0.25, 4, 1, -3, 2, 0.125};
  const auto at_origin = frame::weighted_sums<double>(near, 24, vertices, 4, c, a, b, 1);
  double far[12];
  for (int i = 0; i < 12; ++i) far[i] = near[i] + 1e7;  // exact: 10 km in mm
  const auto far_away = frame::weighted_sums<double>(far, 24, vertices, 4, c, a, b, 1);
  CHECK(std::memcmp(at_origin.t, far_away.t, sizeof far_away.t) == 0);
  CHECK(std::memcmp(at_origin.b, far_away.b, sizeof far_away.b) == 0);
  CHECK(std::memcmp(at_origin.offset, far_away.offset, sizeof far_away.offset) == 0);
}

TEST_CASE("sums take floats, doubles, any stride and interleaved weights alike") {
  INFO("seed 17");
  std::mt19937_64 random(17);
  std::uniform_real_distribution<float> number(-100, 100);
  const std::uint32_t vertices[5] = {4, 0, 3, 1, 2};
  double c[5], a[5], b[5], mixed[15];
  for (int i = 0; i < 5; ++i) {
    mixed[3 * i] = c[i] = number(random), mixed[3 * i + 1] = a[i] = number(random);
    mixed[3 * i + 2] = b[i] = number(random);
  }
  float single[15];
  double twice[15];
  std::vector<unsigned char> odd(5 * 29 + 1);
  for (int i = 0; i < 15; ++i) twice[i] = single[i] = number(random);
  for (int i = 0; i < 5; ++i) std::memcpy(odd.data() + 1 + i * 29, single + 3 * i, 12);
  const auto x = frame::weighted_sums<double>(single, 12, vertices, 5, c, a, b, 1);
  const auto y = frame::weighted_sums<double>(twice, 24, vertices, 5, mixed, mixed + 1, mixed + 2, 3);
  const auto z =
      frame::weighted_sums<double>(reinterpret_cast<const float*>(odd.data() + 1), 29, vertices, 5, c, a, b, 1);
  CHECK(std::memcmp(&x, &y, sizeof x) == 0);
  CHECK(std::memcmp(&x, &z, sizeof x) == 0);
}

TEST_CASE("R0: the pose of the rest patch is the identity to 3e-12 at coordinates near 1000") {
  INFO("seed 19");
  std::mt19937_64 random(19);
  std::uniform_real_distribution<double> number(-1, 1);
  double worst = 0;
  for (int i = 0; i < 5000; ++i) {
    const double t[3] = {number(random), number(random), number(random)};
    const double b[3] = {number(random), number(random), number(random)};
    const double base[3] = {1000 + number(random), -1000 + number(random), 1000 + number(random)};
    const double offset[3] = {number(random), number(random), number(random)};
    double origin[3], rest[9], rotation[9], translation[3];
    for (int k = 0; k < 3; ++k) origin[k] = base[k] + offset[k];
    if (frame::polar_frame(t, b, rest) != frame::FrameStatus::Good) continue;
    frame::relative_rotation(rest, rest, rotation);
    frame::translation_of(rotation, base, offset, origin, translation);
    for (int k = 0; k < 3; ++k) {
      const double x = rotation[3 * k] * origin[0] + rotation[3 * k + 1] * origin[1] + rotation[3 * k + 2] * origin[2];
      worst = std::max(worst, std::fabs(x + translation[k] - origin[k]));
      worst = std::max(worst, std::fabs(translation[k]));
    }
  }
  CHECK(worst < 3e-12);
}

TEST_CASE("quaternions: matrix -> quaternion -> matrix is exact to rounding, w >= 0, any length gives a rotation") {
  INFO("seed 23");
  std::mt19937_64 random(23);
  std::normal_distribution<double> normal;
  for (int i = 0; i < 5000; ++i) {
    double t[3], b[3], r[9], q[4], back[9];
    for (int k = 0; k < 3; ++k) t[k] = normal(random);
    for (int k = 0; k < 3; ++k) b[k] = normal(random);
    if (frame::polar_frame(t, b, r) != frame::FrameStatus::Good) continue;
    frame::to_quaternion(r, q);
    CHECK(q[3] >= 0);
    frame::to_matrix(q, back);
    for (int k = 0; k < 9; ++k) CHECK(std::fabs(back[k] - r[k]) < 2e-15);
    for (double& x : q) x *= 0.9923;
    frame::to_matrix(q, back);
    CHECK(orthonormality(back) < 2e-15);
  }
  // Half turns, where w = 0.
  const double half_turns[3][9] = {
      {1, 0, 0, 0, -1, 0, 0, 0, -1}, {-1, 0, 0, 0, 1, 0, 0, 0, -1}, {-1, 0, 0, 0, -1, 0, 0, 0, 1}};
  for (int axis = 0; axis < 3; ++axis) {
    double q[4];
    frame::to_quaternion(half_turns[axis], q);
    for (int k = 0; k < 4; ++k) CHECK(std::fabs(q[k]) == (k == axis ? 1 : 0));
  }
}
