// SPDX-License-Identifier: MIT
#include "stages/find/cap_seats.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <utility>

#include "core/square_to.hpp"
#include "stages/find/axis_lines.hpp"

namespace trimtack {
namespace {

constexpr double kRest = 0.06;    // of the cap's diameter: how far off it, or in it, the hardware's surface lies
constexpr double kDeepest = 1.0;  // of the same: a rivet's post is hardly longer (common practice, no source)

/// More round parts than this on one piece are no rivets: stones in a setting.
constexpr Index kMostCaps = 16;

/// Where a part meets a line, counted from a cap's middle.
struct Span {
  double near = std::numeric_limits<double>::infinity();
  double far = -std::numeric_limits<double>::infinity();
};

/// The hardware's spans ahead of the cap, line by line, and behind it.
std::array<std::array<Span, kRays>, 2> spans_of(const RoleInput& in, const Half& cap, Index hardware) {
  const Vec3 side = square_to(cap.axis);
  const Vec3 other_side = cross(cap.axis, side);
  const Lines lines = lines_beside();
  const auto local = [&](Index v) {
    const Vec3 p = in.mesh->positions[v] - cap.middle;
    return Vec3{dot(p, side), dot(p, other_side), dot(p, cap.axis)};
  };
  std::array<std::array<Span, kRays>, 2> out{};
  for (const Index f : in.components->faces_of(hardware)) {
    const auto corners = in.mesh->face(f);
    for (std::size_t k = 2; k < corners.size(); ++k) {
      const std::array<Vec3, 3> t{local(corners[0]), local(corners[k - 1]), local(corners[k])};
      each_crossing(kRingOfLines * 2 * cap.radius, lines, t, [&](std::size_t ray, double at, bool) {
        Span& span = out[at > 0 ? 0 : 1][ray];
        span.near = std::min(span.near, std::abs(at));
        span.far = std::max(span.far, std::abs(at));
      });
    }
  }
  return out;
}

/// How far from the cap's middle the hardware ends that the cap rests on with one of its faces, 0 if it does not.
double rests_until(const Half& cap, std::span<const Span> spans) {
  std::size_t resting = 0;
  double far = 0;
  for (const Span& s : spans) {
    if (std::abs(s.near - cap.half_depth) > kRest * 2 * cap.radius) continue;
    ++resting;
    far = std::max(far, s.far);
  }
  return 2 * resting > kRays && far - cap.half_depth <= kDeepest * 2 * cap.radius ? far : 0;
}

}  // namespace

bool seat_caps(const RoleInput& in, std::span<const RoleVerdict> verdicts, std::span<const Link> links,
               std::vector<Half>& halves) {
  std::vector<Index> half_of(verdicts.size(), kNone);
  for (Index i = 0; i < halves.size(); ++i) half_of[halves[i].component] = i;
  std::vector<std::array<Index, 2>> seats;  // half, hardware
  std::vector<Index> caps_on(verdicts.size(), 0);
  for (const Link& l : links)
    for (const auto& [cap, hardware] : {std::pair{l.host, l.guest}, std::pair{l.guest, l.host}}) {
      const Index half = half_of[cap];
      if (half == kNone || half_of[hardware] != kNone || verdicts[hardware].role != Role::Trim) continue;
      if (in.shapes[hardware].extents[0] <= 2 * halves[half].radius) continue;
      seats.push_back({half, hardware});
      ++caps_on[hardware];
    }
  std::vector<std::array<double, 2>> until(halves.size(), {0, 0});  // ahead, behind
  for (const auto& [half, hardware] : seats) {
    if (caps_on[hardware] > kMostCaps) continue;
    const auto spans = spans_of(in, halves[half], hardware);
    for (std::size_t k = 0; k < 2; ++k) until[half][k] = std::max(until[half][k], rests_until(halves[half], spans[k]));
  }
  bool any = false;
  for (Index i = 0; i < halves.size(); ++i) {
    const auto [ahead, behind] = until[i];
    if ((ahead > 0) == (behind > 0)) continue;
    Half& half = halves[i];
    const double deeper = 0.5 * (std::max(ahead, behind) - half.half_depth);
    half.middle = half.middle + (ahead > 0 ? deeper : -deeper) * half.axis;
    half.half_depth += deeper;
    half.on_hardware = any = true;
  }
  return any;
}

}  // namespace trimtack
