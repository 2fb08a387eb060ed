// SPDX-License-Identifier: MIT
#include "stages/choice.hpp"

#include <algorithm>
#include <cmath>

namespace trimtack {
namespace {

// Sizes that are tried, about a quarter apart: between two neighbours the noise differs by about as much as the 10 %
// within which a choice need not be improved.
constexpr std::array<std::size_t, 13> kCounts{4, 5, 6, 8, 10, 12, 15, 19, 24, 30, 38, 48, 64};
// A larger patch must earn its place in the table: the smallest within 5 % of the best error is taken, and what lies
// below 0.00001 degrees counts as equal.
constexpr double kNearlyBest = 1.05, kInvisible = 0.00001 * 3.14159265358979323846 / 180;
// A real bend is not quite a cylinder: its change over a patch of radius r costs a share of (r / R)^2. Small enough
// never to outweigh noise, large enough that without noise patches shrink with the mesh instead of fitting the trial by
// luck.
constexpr double kUnevenBend = 0.002;
constexpr std::size_t kStitchCount = 10, kStitchFallback = 16;
// A trim follows the cloth under it. Beyond the fixed radius a patch may only grow while it has few vertices: farther
// off the cloth does something else (a bend need not go on as the trial bend does).
constexpr std::size_t kFewVertices = 12;
// At a border half of the disc is missing: up to this many vertices from 1.4 times the radius stand in for it.
constexpr std::size_t kBorderVertices = 20;
constexpr double kBorderReach = 1.4;

/// Two sizes that cut between equal distances would depend on numbering; take all of the equal ones.
std::size_t with_equals(std::span<const GrownVertex> grown, std::size_t count) {
  if (count == 0 || count >= grown.size()) return std::min(count, grown.size());
  const double limit = grown[count - 1].distance * (1 + 1e-9);
  while (count < grown.size() && grown[count].distance <= limit) ++count;
  return count;
}

}  // namespace

std::vector<std::size_t> FrameChooser::counts(std::span<const GrownVertex> grown, double fixed_radius,
                                              std::size_t most) const {
  std::vector<std::size_t> out;
  const auto within_radius = [&](double radius) {
    std::size_t n = 0;
    while (n < grown.size() && grown[n].distance <= radius * (1 + 1e-9)) ++n;
    return n;
  };
  const std::size_t within = within_radius(fixed_radius);
  const std::size_t nearby = std::min(within_radius(kBorderReach * fixed_radius), kBorderVertices);
  most = std::min(most, std::max({within, nearby, kFewVertices}));
  for (const std::size_t n : kCounts)
    if (n <= most && n <= grown.size()) out.push_back(with_equals(grown, n));
  out.push_back(std::min({within, most, grown.size()}));
  std::sort(out.begin(), out.end());
  out.erase(std::unique(out.begin(), out.end()), out.end());
  return out;
}

/// Predictions for the first `count` points; false when there is no fit or its noise alone is above `give_up_above`.
bool FrameChooser::evaluate(Candidate& candidate, const Expectation& expect, double give_up_above) {
  const std::span<const FitPoint> points(points_.data(), candidate.count);
  const std::span<double> a(a_.data(), candidate.count), b(b_.data(), candidate.count);
  if (!fit_frame(points, candidate.order, a, b)) return false;
  candidate.jitter = predicted_jitter(a, b);
  const double noise = candidate.jitter * expect.noise;
  if (noise > give_up_above) return false;
  candidate.bias = trial_.worst_error(points, a, b);
  const double bend = points[candidate.count - 1].x * points[candidate.count - 1].x +
                      points[candidate.count - 1].y * points[candidate.count - 1].y;
  candidate.error = std::hypot(candidate.bias, noise, kUnevenBend * bend * expect.curvature * expect.curvature);
  return true;
}

FrameWeights FrameChooser::weights_of(const Candidate& candidate, std::span<const GrownVertex> grown,
                                      std::span<const Index> corners, std::span<const FitPoint> triangle) {
  FrameWeights out;
  const bool is_triangle = candidate.order == 0;
  const std::size_t count = is_triangle ? 3 : candidate.count;
  const std::span<const FitPoint> points = is_triangle ? triangle : std::span<const FitPoint>(points_.data(), count);
  const std::span<double> a(a_.data(), count), b(b_.data(), count);
  if (!fit_frame(points, std::max(candidate.order, 1), a, b) || !make_orthonormal(points, a, b)) return out;
  out.valid = true;
  out.order = candidate.order;
  out.bias = candidate.bias;
  out.error = candidate.error;
  out.jitter = predicted_jitter(a, b);
  out.vertices.assign(corners.begin(), corners.end());
  out.a.assign(corners.size(), 0);
  out.b.assign(corners.size(), 0);
  for (std::size_t i = 0; i < count; ++i) {
    const Index vertex = is_triangle ? corners[i] : grown[i].vertex;
    const auto at = std::find(out.vertices.begin(), out.vertices.end(), vertex);
    const auto slot = static_cast<std::size_t>(at - out.vertices.begin());
    if (at == out.vertices.end()) {
      out.vertices.push_back(vertex);
      out.a.push_back(0);
      out.b.push_back(0);
    }
    out.a[slot] = a[i];
    out.b[slot] = b[i];
  }
  if (!is_triangle && count > 0) out.radius = grown[count - 1].distance;
  return out;
}

ChosenFrames FrameChooser::choose(std::span<const GrownVertex> grown, std::span<const Index> corners,
                                  const Expectation& expect, FrameChoice choice, bool wide) {
  points_.clear();
  for (const GrownVertex& g : grown) points_.push_back({g.x, g.y, g.z});
  storage_.resize(BendTrial::storage_size(points_.size()));
  a_.resize(std::max<std::size_t>(points_.size(), 3));
  b_.resize(a_.size());

  std::vector<Candidate> candidates;
  std::array<FitPoint, 3> triangle{};
  for (std::size_t k = 0; k < 3; ++k) {
    const auto at =
        std::find_if(grown.begin(), grown.end(), [&](const GrownVertex& g) { return g.vertex == corners[k]; });
    if (at != grown.end()) triangle[k] = {at->x, at->y, at->z};
  }
  if (choice != FrameChoice::Patch && corners.size() == 3) {
    Candidate smallest{0, 3, 0, 0, 0};
    std::array<double, 3> a{}, b{};
    if (fit_frame(triangle, 1, a, b)) {
      std::array<double, BendTrial::kAxes * 6> storage;
      BendTrial trial;
      trial.prepare(triangle, expect.curvature, storage);
      smallest.jitter = predicted_jitter(a, b);
      smallest.bias = trial.worst_error(triangle, a, b);
      smallest.error = std::hypot(smallest.bias, smallest.jitter * expect.noise);
      candidates.push_back(smallest);
    }
  }
  const bool triangle_only = choice == FrameChoice::Triangle && !candidates.empty();
  const std::size_t most = wide ? grown.size() : std::min(grown.size(), kStitchCount);
  double best = candidates.empty() ? 1e300 : candidates.front().error;
  if (!triangle_only) {
    const std::vector<std::size_t> sizes = counts(grown, expect.fixed_radius, most);
    trial_.prepare({points_.data(), sizes.empty() ? 0 : sizes.back()}, expect.curvature, storage_);
    for (const std::size_t count : sizes)
      for (int order = 1; order <= 2; ++order) {
        Candidate c{order, count, 0, 0, 0};
        if (!evaluate(c, expect, 1.2 * best + kInvisible)) continue;
        best = std::min(best, c.error);
        candidates.push_back(c);
      }
  }
  const Candidate* chosen = nullptr;
  for (const Candidate& c : candidates) {
    if (c.error > kNearlyBest * best + kInvisible) continue;
    if (chosen == nullptr || c.count < chosen->count || (c.count == chosen->count && c.error < chosen->error))
      chosen = &c;
  }
  ChosenFrames out;
  if (chosen != nullptr) out.chosen = weights_of(*chosen, grown, corners, triangle);

  // The fallback looks at more cloth than the chosen patch, in first order: the sturdiest there is.
  const std::size_t used = chosen == nullptr ? 0 : chosen->count;
  const std::size_t target = wide ? std::max<std::size_t>(2 * used, 12) : kStitchFallback;
  Candidate fallback{1, with_equals(grown, std::min(target, grown.size())), 0, 0, 0};
  // Where the cloth ends with the chosen patch, its half in first order is at least another one.
  if (fallback.count <= used) fallback.count = with_equals(grown, std::max<std::size_t>(used / 2, 4));
  if (fallback.count >= 3) out.fallback = weights_of(fallback, grown, corners, triangle);
  if (!out.chosen.valid) std::swap(out.chosen, out.fallback);
  return out;
}

}  // namespace trimtack
