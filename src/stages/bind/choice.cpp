// SPDX-License-Identifier: MIT
// Which vertices, which order: predicted bias under the expected bend against predicted noise.
// Vertices of a large patch are thinned by what they contribute (the size of their weights in the fit of all of them)
// and by how far they are from those taken already. Source of the idea: Elfving, "Optimum allocation in linear
// regression theory", Ann. Math. Statist. 23 (1952): the best design for a slope lies where its weights are large.
#include "stages/bind/choice.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace trimtack {
namespace {

// Sizes that are tried, about a quarter apart: between two neighbours the noise differs by about as much as the 10 %
// within which a choice need not be improved.
constexpr std::array<std::size_t, 15> kCounts{4, 5, 6, 8, 10, 12, 15, 19, 24, 30, 38, 48, 64, 80, 96};
// A patch of more than 32 vertices is thinned to one of the two numbers: the outer ones of a disc tell a slope nearly
// as well as all of them, and the table is what a host has to load and evaluate.
constexpr std::array<std::size_t, 2> kThinned{24, 32};
// Thinned patches may reach a little beyond the fixed radius: so few vertices have the noise of all within it.
constexpr double kThinnedReach = 1.2;
// Of the sizes that are too large, so many of the best are thinned.
constexpr std::size_t kMostThinned = 2;
// A larger patch must earn its place in the table: the smallest within 5 % of the best error is taken, and what lies
// below 0.00001 degrees counts as equal.
constexpr double kNearlyBest = 1.05, kInvisible = 0.00001 * std::numbers::pi / 180;
// A real bend is not quite a cylinder: its change over a patch of radius r costs a share of (r / R)^2. Small enough
// never to outweigh noise, large enough that without noise patches shrink with the mesh instead of fitting the trial by
// luck.
constexpr double kUnevenBend = 0.002;
constexpr std::size_t kStitchCount = 10, kStitchFallback = 12, kFallbackCount = 16;
// A trim follows the cloth under it. Beyond the fixed radius a patch may only grow while it has few vertices: farther
// off the cloth does something else (a bend need not go on as the trial bend does).
constexpr std::size_t kFewVertices = 12;
// At a border half of the disc is missing: up to this many vertices from 1.4 times the radius stand in for it.
constexpr std::size_t kBorderVertices = 20;
constexpr double kBorderReach = 1.4;

}  // namespace

GrowLimits grow_limits(const Expectation& expect, bool wide) {
  if (!wide) return {24, 16, 2 * expect.fixed_radius};
  return {static_cast<Index>(kCounts.back()), 24, kBorderReach * expect.fixed_radius};
}

/// Two sizes that cut between equal distances would depend on numbering; take all of the equal ones.
std::size_t FrameChooser::with_equals(std::size_t count) const {
  if (count == 0 || count >= grown_.size()) return std::min(count, grown_.size());
  const double limit = grown_[count - 1].distance * (1 + 1e-9);
  while (count < grown_.size() && grown_[count].distance <= limit) ++count;
  return count;
}

std::size_t FrameChooser::within(double radius) const {
  std::size_t n = 0;
  while (n < grown_.size() && grown_[n].distance <= radius * (1 + 1e-9)) ++n;
  return n;
}

/// Fills sizes_, ascending.
void FrameChooser::list_sizes(double fixed_radius, bool wide) {
  const std::size_t fixed = within(fixed_radius), thinned = within(kThinnedReach * fixed_radius);
  const std::size_t border = std::min(within(kBorderReach * fixed_radius), kBorderVertices);
  std::size_t most = std::max({fixed, border, kFewVertices});
  if (thinned > kThinned.back()) most = std::max(most, thinned);
  most = std::min({most, grown_.size(), wide ? grown_.size() : kStitchCount});
  sizes_.clear();
  for (const std::size_t n : kCounts)
    if (n <= most) sizes_.push_back(with_equals(n));
  sizes_.push_back(std::min(fixed, most));
  sizes_.push_back(most);
  std::sort(sizes_.begin(), sizes_.end());
  sizes_.erase(std::unique(sizes_.begin(), sizes_.end()), sizes_.end());
}

/// Predictions for the points summed; false when there is no fit or its noise alone is too much to win.
bool FrameChooser::predict(const Expectation& expect, Candidate& candidate) {
  const double most_noise = only_good_enough_ ? expect.good_enough : 1.2 * best_ + kInvisible;
  FitPrediction prediction;
  if (!sums_.predict(candidate.order, expect.noise > 0 ? most_noise / expect.noise : 1e300, prediction)) return false;
  candidate.jitter = prediction.jitter;
  candidate.bias = prediction.bias;
  const double uneven = kUnevenBend * sums_.squared_radius() * expect.curvature * expect.curvature;
  candidate.error = std::hypot(candidate.bias, candidate.jitter * expect.noise, uneven);
  return true;
}

void FrameChooser::try_triangle(std::span<const FitPoint> triangle, const Expectation& expect) {
  sums_.start(triangle, expect.curvature, grown_.empty() ? 1 : grown_.back().distance);
  sums_.extend(3);
  // Where only a good enough frame counts, one that is noisier than the best such allows cannot be taken.
  const double most_noise = only_good_enough_ ? (1 + 1e-9) * (kNearlyBest * expect.good_enough + kInvisible) : 1e300;
  FitPrediction prediction;
  if (!sums_.predict(1, expect.noise > 0 ? most_noise / expect.noise : 1e300, prediction)) return;
  Candidate candidate{0, 3, 3, kAll, prediction.jitter, prediction.bias, 0};
  candidate.error = std::hypot(candidate.bias, candidate.jitter * expect.noise);
  best_ = candidate.error;
  candidates_.push_back(candidate);
}

void FrameChooser::try_sizes(const Expectation& expect, bool wide, std::size_t most_vertices) {
  list_sizes(expect.fixed_radius, wide);
  sums_.start(points_, expect.curvature, grown_.empty() ? 1 : grown_.back().distance);
  for (const std::size_t size : sizes_) {
    sums_.extend(size);
    for (int order = 1; order <= 2; ++order) {
      Candidate candidate{order, size, size, kAll, 0, 0, 0};
      if (!predict(expect, candidate)) continue;
      if (size > most_vertices) {
        larger_.push_back(candidate);
        continue;
      }
      best_ = std::min(best_, candidate.error);
      candidates_.push_back(candidate);
    }
    if (best_ <= expect.good_enough) return;  // sizes ascend
  }
  if (wide && !only_good_enough_) try_beyond(expect, most_vertices);
}

/// Whether what is best is off for want of a second order, of which there is none.
bool FrameChooser::misses_bend(const Expectation& expect) const {
  const auto best = std::min_element(candidates_.begin(), candidates_.end(),
                                     [](const Candidate& p, const Candidate& q) { return p.error < q.error; });
  const auto is_bent = [](const Candidate& c) { return c.order == 2; };
  return best != candidates_.end() && best->bias > best->jitter * expect.noise &&
         std::none_of(candidates_.begin(), candidates_.end(), is_bent) &&
         std::none_of(larger_.begin(), larger_.end(), is_bent);
}

/// On narrow strips of cells all within the fixed radius may lie on two lines, and so few vertices tell no bend across
/// them. The patch then goes on to the first size that does.
void FrameChooser::try_beyond(const Expectation& expect, std::size_t most_vertices) {
  if (!misses_bend(expect)) return;
  for (const std::size_t n : kCounts) {
    const std::size_t size = with_equals(n);
    if (n <= sizes_.back() || n > grown_.size()) continue;
    sums_.extend(size);
    Candidate candidate{2, size, size, kAll, 0, 0, 0};
    if (!predict(expect, candidate) || candidate.error >= best_) continue;
    if (size > most_vertices) {
      larger_.push_back(candidate);
    } else {
      best_ = candidate.error;
      candidates_.push_back(candidate);
    }
    return;
  }
}

/// Thins the most promising of the patches that are too large.
void FrameChooser::try_thinned(const Expectation& expect) {
  std::stable_sort(larger_.begin(), larger_.end(),
                   [](const Candidate& p, const Candidate& q) { return p.error < q.error; });
  if (larger_.size() > kMostThinned) larger_.resize(kMostThinned);
  for (const Candidate& all : larger_) {
    if (all.error * kNearlyBest + kInvisible >= best_) break;  // what all of them cannot do, some of them cannot
    for (const std::size_t count : kThinned) {
      Candidate candidate{all.order, all.reach, count, select(all.reach, count, all.order), 0, 0, 0};
      picked_.clear();
      for (const Index i : selected_[candidate.selection]) picked_.push_back(points_[i]);
      sums_.start(picked_, expect.curvature, grown_.back().distance);
      sums_.extend(picked_.size());
      if (!predict(expect, candidate)) continue;
      best_ = std::min(best_, candidate.error);
      candidates_.push_back(candidate);
      if (candidate.error <= kNearlyBest * all.error) break;
    }
  }
}

/// Takes `count` of the nearest `reach` vertices: those that weigh most in a fit of all, kept apart. Ties: the nearer.
/// @return which of selected_ holds them
std::size_t FrameChooser::select(std::size_t reach, std::size_t count, int order) {
  const std::span<const FitPoint> points(points_.data(), reach);
  if (selections_ == selected_.size()) selected_.emplace_back();
  std::vector<Index>& out = selected_[selections_];
  out.clear();
  worth_.assign(reach, 1);
  const std::span<double> a(a_.data(), reach), b(b_.data(), reach);
  if (fit_frame(points, order, a, b))
    for (std::size_t i = 0; i < reach; ++i) worth_[i] = a[i] * a[i] + b[i] * b[i];
  nearest_.assign(reach, 1);
  bool first = true;
  while (out.size() < std::min(count, reach)) {
    std::size_t next = 0;
    double most = -1;
    for (std::size_t i = 0; i < reach; ++i)
      if (const double value = worth_[i] * nearest_[i]; value > most) most = value, next = i;
    out.push_back(static_cast<Index>(next));
    for (std::size_t i = 0; i < reach; ++i) {
      const double x = points[i].x - points[next].x, y = points[i].y - points[next].y, squared = x * x + y * y;
      nearest_[i] = first ? squared : std::min(nearest_[i], squared);
    }
    nearest_[next] = -1e300;
    first = false;
  }
  std::sort(out.begin(), out.end());
  return selections_++;
}

const FrameChooser::Candidate* FrameChooser::best_candidate(const Expectation& expect) const {
  const double limit = std::max(kNearlyBest * best_ + kInvisible, expect.good_enough);
  const Candidate* chosen = nullptr;
  for (const Candidate& c : candidates_) {
    if (c.error > limit) continue;
    if (chosen == nullptr || c.count < chosen->count || (c.count == chosen->count && c.error < chosen->error))
      chosen = &c;
  }
  return chosen;
}

void FrameChooser::make_weights(const Candidate& candidate, std::span<const Index> corners,
                                std::span<const FitPoint> triangle, FrameWeights& out) {
  out.valid = false;
  const bool is_triangle = candidate.order == 0;
  picked_.clear();
  if (is_triangle) {
    picked_.assign(triangle.begin(), triangle.end());
  } else if (candidate.selection == kAll) {
    picked_.assign(points_.begin(), points_.begin() + static_cast<std::ptrdiff_t>(candidate.count));
  } else {
    for (const Index i : selected_[candidate.selection]) picked_.push_back(points_[i]);
  }
  const std::size_t count = picked_.size();
  const std::span<double> a(a_.data(), count), b(b_.data(), count);
  if (!fit_frame(picked_, std::max(candidate.order, 1), a, b) || !make_orthonormal(picked_, a, b)) return;
  out.valid = true;
  out.order = candidate.order;
  out.bias = candidate.bias;
  out.error = candidate.error;
  out.jitter = predicted_jitter(a, b);
  out.radius = 0;
  out.vertices.assign(corners.begin(), corners.end());
  out.a.assign(corners.size(), 0);
  out.b.assign(corners.size(), 0);
  for (std::size_t i = 0; i < count; ++i) {
    const std::size_t place = candidate.selection == kAll ? i : selected_[candidate.selection][i];
    const Index vertex = is_triangle ? corners[i] : grown_[place].vertex;
    const auto at =
        std::find(out.vertices.begin(), out.vertices.begin() + static_cast<std::ptrdiff_t>(corners.size()), vertex);
    auto slot = static_cast<std::size_t>(at - out.vertices.begin());
    if (slot == corners.size()) {
      slot = out.vertices.size();
      out.vertices.push_back(vertex);
      out.a.push_back(0);
      out.b.push_back(0);
    }
    out.a[slot] = a[i];
    out.b[slot] = b[i];
    if (!is_triangle) out.radius = std::max(out.radius, grown_[place].distance);
  }
}

/// The fallback looks at more cloth than the chosen patch, in first order: the sturdiest there is.
void FrameChooser::make_fallback(const Candidate* chosen, std::span<const Index> corners, bool wide,
                                 std::size_t most_vertices) {
  const std::size_t used = chosen == nullptr ? 0 : chosen->reach;
  std::size_t reach = std::min(wide ? std::max<std::size_t>(2 * used, 12) : kStitchFallback, grown_.size());
  reach = with_equals(reach);
  // Where the cloth ends with the chosen patch, its half in first order is at least another one.
  if (reach <= used) reach = with_equals(std::max<std::size_t>(used / 2, 4));
  Candidate fallback{1, reach, reach, kAll, 0, 0, 0};
  if (reach > most_vertices) fallback = {1, reach, kFallbackCount, select(reach, kFallbackCount, 1), 0, 0, 0};
  if (reach >= 3) make_weights(fallback, corners, {}, out_.fallback);
}

const ChosenFrames& FrameChooser::choose(std::span<const GrownVertex> grown, std::span<const Index> corners,
                                         const Expectation& expect, FrameChoice choice, bool wide,
                                         bool only_good_enough) {
  grown_ = grown;
  only_good_enough_ = only_good_enough;
  points_.clear();
  for (const GrownVertex& g : grown) points_.push_back({g.x, g.y, g.z});
  a_.resize(std::max<std::size_t>(points_.size(), 3));
  b_.resize(a_.size());
  candidates_.clear();
  larger_.clear();
  selections_ = 0;
  best_ = 1e300;
  out_.chosen.valid = out_.fallback.valid = out_.misses_bend = false;

  const bool bridge = corners.size() != 3;
  std::array<FitPoint, 3> triangle{};
  if (choice != FrameChoice::Patch && !bridge) {
    for (std::size_t k = 0; k < 3; ++k) {
      const auto at =
          std::find_if(grown.begin(), grown.end(), [&](const GrownVertex& g) { return g.vertex == corners[k]; });
      if (at != grown.end()) triangle[k] = {at->x, at->y, at->z};
    }
    try_triangle(triangle, expect);
  }
  if ((choice != FrameChoice::Triangle && best_ > expect.good_enough) || candidates_.empty()) {
    try_sizes(expect, wide, bridge ? grown.size() : kThinned.back());
    if (!larger_.empty() && !only_good_enough && best_ > expect.good_enough) try_thinned(expect);
    out_.misses_bend = wide && best_ > expect.good_enough && misses_bend(expect);
  }
  if (only_good_enough && best_ > expect.good_enough) return out_;
  const Candidate* chosen = best_candidate(expect);
  if (chosen != nullptr) make_weights(*chosen, corners, triangle, out_.chosen);
  make_fallback(chosen, corners, wide, bridge ? grown.size() : kFallbackCount);
  if (!out_.chosen.valid) std::swap(out_.chosen, out_.fallback);
  return out_;
}

}  // namespace trimtack
