// SPDX-License-Identifier: MIT
// The tangent of half an angle is y / (r + x); halved twice more it is below a fifth, where few terms of the arc
// tangent's series do.
#include "stages/find/angles.hpp"

#include <cmath>
#include <limits>
#include <numbers>

namespace trimtack {
namespace {

[[gnu::always_inline]] inline double angle_of(double squared_y, double x) {
  const double across = std::abs(x);
  const double y = std::sqrt(squared_y);
  const double r = std::sqrt(squared_y + x * x) + across;
  const double half = y / (r > std::numeric_limits<double>::min() ? r : std::numeric_limits<double>::min());
  const double quarter = half / (1 + std::sqrt(1 + half * half));
  const double t = quarter / (1 + std::sqrt(1 + quarter * quarter));
  const double s = t * t;
  double sum = 1.0 / 21;
  sum = 1.0 / 19 - s * sum;
  sum = 1.0 / 17 - s * sum;
  sum = 1.0 / 15 - s * sum;
  sum = 1.0 / 13 - s * sum;
  sum = 1.0 / 11 - s * sum;
  sum = 1.0 / 9 - s * sum;
  sum = 1.0 / 7 - s * sum;
  sum = 1.0 / 5 - s * sum;
  sum = 1.0 / 3 - s * sum;
  sum = 1.0 - s * sum;
  const double angle = 8 * t * sum;
  return x < 0 ? std::numbers::pi - angle : angle;
}

/// Whole groups of four; what is left over from earlier is measured along.
[[gnu::always_inline]] inline void measure_all(AngleBatch& batch) {
  const std::size_t groups = (batch.count + 3) / 4;
  for (std::size_t i = 0; i < 4 * groups; ++i) batch.angle[i] = angle_of(batch.squared_cross[i], batch.dots[i]);
}

void measure_baseline(AngleBatch& batch) { measure_all(batch); }

#if defined(__x86_64__) && defined(__GNUC__)
/// Four lanes to a register; no fused operations, so the same bits.
__attribute__((target("avx2"))) void measure_wide(AngleBatch& batch) { measure_all(batch); }

auto measure_here() { return __builtin_cpu_supports("avx2") ? &measure_wide : &measure_baseline; }
#else
auto measure_here() { return &measure_baseline; }
#endif

}  // namespace

void AngleBatch::measure() {
  static const auto best = measure_here();
  best(*this);
}

}  // namespace trimtack
