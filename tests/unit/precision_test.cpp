// SPDX-License-Identifier: MIT
// How finely positions were written, and the tilt that follows (checks Q1 and N3).
#include "trimtack/precision.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <cstdio>
#include <numbers>
#include <random>

#include "trimtack/io/obj.hpp"

using namespace trimtack;

namespace {

SourceMesh parsed(const std::string& text) {
  Report report;
  Result<SourceMesh> mesh = parse_obj(text, "a.obj", {}, report);
  if (!mesh) FAIL(to_text(mesh.error()));
  return std::move(*mesh);
}

/// A wavy sheet of `edge` mm cells written with printf's `format` in units of `mm`.
std::string sheet(const char* format, double mm, double edge) {
  std::string text;
  for (int j = 0; j < 30; ++j) {
    for (int i = 0; i < 30; ++i) {
      text += "v";
      for (const double x :
           {edge * i + std::sin(0.7 * j), edge * j + std::cos(0.9 * i), 20 * std::sin(0.3 * i + 0.2 * j)}) {
        char number[40];
        std::snprintf(number, sizeof number, format, x / mm);
        text += std::string(" ") + number;
      }
      text += "\n";
    }
  }
  return text + "f 1 2 32 31\n";
}

}  // namespace

TEST_CASE("the step is the last digit that the numbers use", "[precision]") {
  CHECK(position_precision(parsed(sheet("%.4f", 1000, 10))).step == Approx(1e-4));
  CHECK(position_precision(parsed(sheet("%.4f", 1000, 10))).decimals == 4);
  CHECK(position_precision(parsed(sheet("%.6f", 1000, 10))).step == Approx(1e-6));
  CHECK(position_precision(parsed(sheet("%.2f", 1, 10))).step == Approx(1e-2));
  CHECK(position_precision(parsed(sheet("%.0f", 0.01, 10))).step == Approx(1));
  CHECK(position_precision(parsed(sheet("%.3e", 1, 10))).step <= 0.1);  // 1.234e+02: one decimal
  CHECK(position_precision(parsed(sheet("%.3e", 1, 10))).step >= 0.001);
  CHECK(position_precision(parsed(sheet("%.17g", 1, 10))).step < 1e-12);
}

TEST_CASE("numbers that are exact in themselves are not called rounded", "[precision]") {
  std::string grid;
  for (int i = 0; i < 400; ++i)
    grid += "v " + std::to_string(10 * (i % 20)) + " " + std::to_string(5 * (i / 20)) + " 0\n";
  CHECK(position_precision(parsed(grid + "f 1 2 22 21\n")).step == 0);
  CHECK(position_precision(parsed("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n")).step == 0);
}

TEST_CASE("single precision is known by its numbers, and is coarse far from the origin", "[precision]") {
  SourceMesh mesh;
  for (int i = 0; i < 50; ++i)
    mesh.positions.push_back({static_cast<double>(static_cast<float>(1e7 + 0.37 * i)), 0.1F, 0});
  CHECK(position_precision(mesh).step == 1);  // 2^24 > 1e7 > 2^23
  CHECK_FALSE(position_precision(mesh).text);
  mesh.positions.push_back({0.1, 0, 0});
  CHECK(position_precision(mesh).step == 0);
}

TEST_CASE("N3: the tilt of a triangle with rounded corners, against a million sampled triangles", "[precision]") {
  const Precision four_decimals_in_metres{0.1, true, 4};  // in mm
  const double noise = rounding_noise(four_decimals_in_metres), edge = 10;
  CHECK(noise == Approx(0.05 / std::sqrt(3.0)));
  std::mt19937_64 random(91);
  std::uniform_real_distribution<double> error(-0.05, 0.05);
  const Vec3 a{0, 0, 0}, b{edge, 0, 0}, c{edge / 2, edge * std::sqrt(3.0) / 2, 0};
  double sum = 0;
  constexpr int kTrials = 1'000'000;
  const auto off = [&] { return Vec3{error(random), error(random), error(random)}; };
  for (int i = 0; i < kTrials; ++i) {
    const Vec3 p = a + off(), q = b + off(), r = c + off();
    const Vec3 n = normalized(cross(q - p, r - p));
    sum += n.x * n.x;
  }
  const double sampled = std::sqrt(sum / kTrials) * 180 / std::numbers::pi;
  CHECK(triangle_tilt_deg(noise, edge) == Approx(sampled).epsilon(0.005));
  CHECK(triangle_tilt_deg(noise, edge) == Approx(0.2339).epsilon(0.001));  // Q1: above 0.1 degrees, must be reported
}
