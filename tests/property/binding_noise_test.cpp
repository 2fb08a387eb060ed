// SPDX-License-Identifier: MIT
// Noise: predicted jitter against closed forms, Monte Carlo and the Cramer-Rao bound.
// Sources: Shuster & Oh 1981 (covariance of a frame from noisy points); Golub & Van Loan (least squares: equal weights
// reach the bound for independent equal noise, Gauss-Markov).
#include <catch2/catch.hpp>

#include "stages/bind/frame_fit.hpp"
#include "support/sheets.hpp"

using namespace trimtack;
using namespace trimtack::testing;

namespace {

double jitter_of(const std::vector<FitPoint>& points, int order) {
  std::vector<double> a(points.size()), b(points.size());
  REQUIRE(fit_frame(points, order, a, b));
  return predicted_jitter(a, b);
}

struct Spread {
  double worst_tilt = 0, spin = 0;  ///< standard deviations, radians
};

/// Moves every vertex by independent noise and measures how the frame turns.
Spread measured(const BindTable& table, Index binding, const std::vector<Vec3>& rest, double sigma, int trials,
                std::uint64_t seed) {
  std::mt19937_64 random(seed);
  std::normal_distribution<double> noise(0, sigma);
  const Patch& patch = table.patches[table.bindings[binding].patch];
  double xx = 0, yy = 0, xy = 0, zz = 0;
  std::vector<Vec3> moved = rest;
  for (int k = 0; k < trials; ++k) {
    for (Index i = patch.first; i < patch.first + patch.count; ++i) {
      const Index v = table.vertices[i];
      moved[v] = rest[v] + Vec3{noise(random), noise(random), noise(random)};
    }
    const Mat3 r = evaluate(table, patch, moved).rotation;
    const Vec3 w = 0.5 * Vec3{r(2, 1) - r(1, 2), r(0, 2) - r(2, 0), r(1, 0) - r(0, 1)};
    xx += w.x * w.x, yy += w.y * w.y, xy += w.x * w.y, zz += w.z * w.z;
  }
  const double n = trials;
  return {std::sqrt((0.5 * (xx + yy) + std::hypot(0.5 * (xx - yy), xy)) / n), std::sqrt(zz / n)};
}

/// Least-squares bound for the vertices that a binding uses and the order of its model.
double bound_of(const BindTable& table, Index binding, const std::vector<Vec3>& rest) {
  const Binding& b = table.bindings[binding];
  const Patch& patch = table.patches[b.patch];
  const int order = b.order == 2 ? 2 : 1;
  const std::size_t terms = order == 2 ? 6 : 3;
  std::vector<std::array<double, 6>> rows;
  for (Index i = patch.first; i < patch.first + patch.count; ++i) {
    if (table.a[i] == 0 && table.b[i] == 0) continue;  // a corner listed for the position only
    const Vec3 p = rest[table.vertices[i]] - patch.origin;
    const double x = dot(p, patch.frame.column(0)), y = dot(p, patch.frame.column(1));
    rows.push_back({1, x, y, x * x, x * y, y * y});
  }
  // Inverse of the normal matrix by Gauss-Jordan; its 2x2 block for the slopes is the bound.
  std::array<std::array<double, 12>, 6> m{};
  for (const auto& r : rows)
    for (std::size_t i = 0; i < terms; ++i)
      for (std::size_t j = 0; j < terms; ++j) m[i][j] += r[i] * r[j];
  for (std::size_t i = 0; i < terms; ++i) m[i][6 + i] = 1;
  for (std::size_t i = 0; i < terms; ++i) {
    std::size_t pivot = i;
    for (std::size_t j = i; j < terms; ++j)
      if (std::abs(m[j][i]) > std::abs(m[pivot][i])) pivot = j;
    std::swap(m[i], m[pivot]);
    const double d = m[i][i];
    for (double& v : m[i]) v /= d;
    for (std::size_t j = 0; j < terms; ++j) {
      if (j == i) continue;
      const double f = m[j][i];
      for (std::size_t k = 0; k < 12; ++k) m[j][k] -= f * m[i][k];
    }
  }
  const double aa = m[1][7], ab = m[1][8], bb = m[2][8];
  return std::sqrt(0.5 * (aa + bb) + std::hypot(0.5 * (aa - bb), ab));
}

}  // namespace

TEST_CASE("A predicted fit is refused when it is noisier than the limit, and only then") {
  std::mt19937_64 random(31);
  std::uniform_real_distribution<double> unit(0, 1);
  int predicted = 0;
  for (int round = 0; round < 20000; ++round) {
    // Patches of all proportions, about the anchor or beside it.
    const double thin = std::pow(10, -4 * unit(random)), turn = 6 * unit(random), beside = 3 * unit(random);
    std::vector<FitPoint> points(3 + random() % 22);
    for (FitPoint& p : points) {
      const double x = 2 * unit(random) - 1 + beside, y = thin * (2 * unit(random) - 1);
      p = {20 * (std::cos(turn) * x - std::sin(turn) * y), 20 * (std::sin(turn) * x + std::cos(turn) * y), 0};
    }
    FitSums sums;
    sums.start(points, 0, 30);
    sums.extend(points.size());
    for (int order = 1; order <= 2; ++order) {
      FitPrediction whole, part;
      if (!sums.predict(order, 1e300, whole)) continue;
      ++predicted;
      REQUIRE(sums.predict(order, whole.jitter, part));
      REQUIRE(part.jitter == whole.jitter);
      REQUIRE_FALSE(sums.predict(order, 0.999999 * whole.jitter, part));
      REQUIRE_FALSE(sums.predict(order, 0.01 * whole.jitter, part));
    }
  }
  CHECK(predicted > 20000);
}

TEST_CASE("N1 N3 N4 predicted jitter equals the closed forms of ring, triangle and sliver") {
  for (const int n : {3, 6, 24}) {
    std::vector<FitPoint> ring;
    for (int i = 0; i < n; ++i) ring.push_back({6 * std::cos(2 * kPi * i / n), 6 * std::sin(2 * kPi * i / n), 0});
    CHECK(jitter_of(ring, 1) == Approx(std::sqrt(2.0 / n) / 6).epsilon(1e-12));
  }
  CHECK(0.05 * std::sqrt(2.0 / 3) / 6 * kDeg == Approx(0.390).epsilon(1e-3));
  const double edge = 3;
  CHECK(jitter_of({{0, 0, 0}, {edge, 0, 0}, {edge / 2, edge * std::sqrt(3.0) / 2, 0}}, 1) ==
        Approx(std::sqrt(2.0) / edge).epsilon(1e-12));
  CHECK(0.01 * jitter_of({{0, 0, 0}, {3, 0, 0}, {1.5, 0.3, 0}}, 1) * kDeg == Approx(2.339).epsilon(2e-3));
}

TEST_CASE("N2 a uniform disc has 2 sigma / (r sqrt N)") {
  std::vector<FitPoint> points;
  for (double x = -5.95; x < 6; x += 0.1)
    for (double y = -5.95; y < 6; y += 0.1)
      if (x * x + y * y < 36) points.push_back({x, y, 0});
  const double closed = 2 / (6 * std::sqrt(static_cast<double>(points.size())));
  CHECK(jitter_of(points, 1) == Approx(closed).epsilon(0.03));
  CHECK(jitter_of(points, 1) >= closed * 0.999);  // equal weights are the best there is
}

TEST_CASE("N1 to N4 measured jitter equals the predicted one and nearly reaches the Cramer-Rao bound") {
  struct Case {
    SheetOptions sheet;
    FrameChoice choice;
    double noise;
  };
  std::vector<Case> cases;
  for (const FrameChoice choice : {FrameChoice::Triangle, FrameChoice::Auto, FrameChoice::Patch})
    for (const double step : {20.0, 10.0, 5.0, 3.0})
      for (const double noise : {0.02, 0.05, 0.2})
        cases.push_back({{-60, 60, -60, 60, step, Cells::Mixed, 0.25, 41, 0}, choice, noise});
  double worst_ratio = 0, best_ratio = 10, worst_bound = 0;
  for (const Case& c : cases) {
    const Pattern pattern = make_pattern(c.sheet);
    const std::vector<Vec3> rest = shaped(pattern, flat_shape);
    const ClothMesh cloth = cloth_of(pattern, rest);
    const ClothIndex index(cloth);
    TrimShapes trims;
    for (const Vec3& foot : {Vec3{1.3, 2.2, 0.1}, Vec3{-59.5, 10.7, 0.1}, Vec3{20.2, 58.9, 0.1}}) {
      const Solid s = disc(foot, {0, 0, 1}, 4.5, 2.5);
      append_trim(trims, "disc", s.vertices, s.triangles);
    }
    BindOptions options;
    options.frame = c.choice;
    options.noise_mm = c.noise;
    Report report;
    const auto table = bind(index, trims, millimetres(), options, report);
    for (Index t = 0; t < trims.id.size(); ++t) {
      const double predicted = table->bindings[t].jitter_deg_per_mm / kDeg;
      // Small enough to stay in first order: 0.2 degrees of tilt at most.
      const double sigma = std::min(c.noise, 0.0035 / predicted);
      const double ratio = measured(*table, t, rest, sigma, 4000, 90 + t).worst_tilt / (sigma * predicted);
      worst_ratio = std::max(worst_ratio, ratio);
      best_ratio = std::min(best_ratio, ratio);
      worst_bound = std::max(worst_bound, predicted / bound_of(*table, t, rest));
      CHECK(ratio == Approx(1).margin(0.1));
      CHECK(predicted <= 1.15 * bound_of(*table, t, rest));
    }
  }
  WARN("measured / predicted jitter between " << best_ratio << " and " << worst_ratio << "; predicted / bound at most "
                                              << worst_bound);
}

TEST_CASE("N1 20,000 trials on one patch agree with the prediction within 3 %") {
  const Pattern pattern = make_pattern({-60, 60, -60, 60, 5, Cells::Quads, 0.2, 43, 0});
  const std::vector<Vec3> rest = shaped(pattern, flat_shape);
  const ClothMesh cloth = cloth_of(pattern, rest);
  const ClothIndex index(cloth);
  TrimShapes trims;
  const Solid s = disc({1.3, 2.2, 0.1}, {0, 0, 1}, 4.5, 2.5);
  append_trim(trims, "disc", s.vertices, s.triangles);
  Report report;
  const auto table = bind(index, trims, millimetres(), {}, report);
  const Spread spread = measured(*table, 0, rest, 0.01, 20000, 7);
  CHECK(spread.worst_tilt / (0.01 * table->bindings[0].jitter_deg_per_mm / kDeg) == Approx(1).margin(0.03));
  CHECK(spread.spin < spread.worst_tilt);
}
