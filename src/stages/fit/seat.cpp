// SPDX-License-Identifier: MIT
// The gaps are read along the trim's axis, so a shift along it changes every gap by exactly the shift, and the bounds
// on it are exact. The tilt is a ridge regression (Hoerl and Kennard 1970) of the gap's change on the footprint's
// coordinates: its solution is a smooth function of the cloth, which an active-set solution is not, so that seated
// trims do not rock from frame to frame. Rows: the smallest majorant whose slope is bounded (two passes, as in a
// distance transform, Felzenszwalb and Huttenlocher 2012).
#include "trimtack/seat.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <vector>

#include "stages/fit/fit_place.hpp"

namespace trimtack {
namespace {

constexpr std::size_t kTrimsPerRange = 32;
constexpr double kRadians = std::numbers::pi / 180.0;
constexpr int kTiltSteps = 2;

struct Bounds {
  double low = -std::numeric_limits<double>::infinity();    ///< no point deeper than at rest
  double high = std::numeric_limits<double>::infinity();    ///< ... on the other face of the cloth
  double touch = -std::numeric_limits<double>::infinity();  ///< beyond this every point has more gap than at rest
};

/// Bounds on the shift along z, from scratch.gap.
Bounds shift_bounds(const FitModel& model, const FitPlace& place, std::span<const double> gap) {
  Bounds b;
  for (Index k = 0; k < place.point_count; ++k) {
    const double rest = model.rest_gap[place.first_point + k], now = gap[k];
    const double needed = std::min(rest, 0.0) - now;
    if (model.side[place.first_point + k] > 0) {
      b.low = std::max(b.low, needed);
      if (rest <= place.lift_below) b.touch = std::max(b.touch, rest - now);
    } else {
      b.high = std::min(b.high, -needed);
    }
  }
  return b;
}

double depth_beyond_rest(const FitModel& model, const FitPlace& place, std::span<const double> gap, double shift) {
  double worst = 0;
  for (Index k = 0; k < place.point_count; ++k) {
    const double now = gap[k] + model.side[place.first_point + k] * shift;
    worst = std::max(worst, std::max(0.0, -now) - std::max(0.0, -model.rest_gap[place.first_point + k]));
  }
  return worst;
}

/// The shift nearest to zero within the bounds; half way where the two faces of the cloth contradict.
double choose_shift(const Bounds& b, bool& limited) {
  const double high = std::min(b.high, std::max(b.touch, b.low));
  if (b.low > b.high) {
    limited = true;
    return 0.5 * (b.low + b.high);
  }
  if (!std::isfinite(b.low)) return std::min(0.0, b.high);
  return std::clamp(0.0, b.low, high);
}

/// Slopes of the plane through the gap's change, damped where the footprint is too narrow to tell.
Vec2 gap_slopes(const FitModel& model, const FitPlace& place, std::span<const double> gap) {
  double x = 0, y = 0, e = 0;
  const std::size_t first = place.first_point;
  const auto change = [&](Index k) { return model.side[first + k] * (gap[k] - model.rest_gap[first + k]); };
  for (Index k = 0; k < place.point_count; ++k) {
    const double w = model.weight[first + k];
    x += w * model.point[first + k].x, y += w * model.point[first + k].y, e += w * change(k);
  }
  double xx = 0, xy = 0, yy = 0, xe = 0, ye = 0;
  for (Index k = 0; k < place.point_count; ++k) {
    const double w = model.weight[first + k], d = change(k) - e;
    const double px = model.point[first + k].x - x, py = model.point[first + k].y - y;
    xx += w * px * px, xy += w * px * py, yy += w * py * py, xe += w * px * d, ye += w * py * d;
  }
  const double damping = 0.01 * place.edge * place.edge;
  xx += damping, yy += damping;
  const double det = xx * yy - xy * xy;
  if (!(det > 0)) return {};
  return {(yy * xe - xy * ye) / det, (xx * ye - xy * xe) / det};
}

/// Turns a pose about the middle of the footprint so that the plane of the given slopes becomes level.
Pose tilted(const FitPlace& place, const Pose& pose, const Vec2& slope, double angle) {
  // In place coordinates the trim must turn about the horizontal axis across the slope.
  const double steep = std::hypot(slope.x, slope.y);
  const Vec3 axis{-slope.y / steep, slope.x / steep, 0};
  const double s = std::sin(0.5 * angle);
  const Mat3 turn = to_matrix({axis.x * s, axis.y * s, 0, std::cos(0.5 * angle)});
  const Mat3& to = place.to_place.rotation;
  const Mat3 at_rest = transposed(to) * turn * to;
  const Vec3 centre = -(transposed(to) * place.to_place.translation);
  Pose out;
  out.rotation = pose.rotation * at_rest;
  out.translation = apply(pose, centre) - out.rotation * centre;
  return out;
}

void level(const FitModel& model, const FitPlace& place, std::span<const Vec3> deformed, double max_tilt_deg,
           PlaceScratch& scratch, Pose& pose, Seating& seating) {
  const Pose given = pose;
  for (int step = 0; step < kTiltSteps; ++step) {
    const Vec2 slope = gap_slopes(model, place, scratch.gap);
    const double steep = std::hypot(slope.x, slope.y);
    if (!(steep > 0)) break;
    pose = tilted(place, pose, slope, std::atan(steep));
    const double angle = rotation_angle_deg(pose.rotation, given.rotation);
    if (angle > max_tilt_deg) {
      pose = tilted(place, given, slope, kRadians * max_tilt_deg);
      seating.limited = true;
    }
    load_patch(model, place, deformed, pose, scratch);
    measure_gaps(model, place, scratch);
    if (seating.limited) break;
  }
  seating.tilt = static_cast<float>(rotation_angle_deg(pose.rotation, given.rotation));
}

/// Middle of the footprint, posed.
Vec3 middle(const FitPlace& place, const Pose& pose) {
  return apply(pose, -(transposed(place.to_place.rotation) * place.to_place.translation));
}

/// Raises shifts along rows until neighbours differ by at most slope x spacing.
void smooth_rows(const FitModel& model, std::span<const Pose> poses, double slope, std::span<double> shift) {
  const auto& next = model.next_in_row;
  std::vector<std::uint8_t> has_previous(next.size(), 0);
  for (const Index n : next) {
    if (n != kNone) has_previous[n] = 1;
  }
  const auto spacing = [&](Index a, Index b) {
    return length(middle(model.places[a], poses[a]) - middle(model.places[b], poses[b]));
  };
  std::vector<Index> row;
  for (Index start = 0; start < next.size(); ++start) {
    if (has_previous[start] != 0 || next[start] == kNone) continue;
    row.clear();
    for (Index i = start; i != kNone && row.size() <= next.size(); i = next[i]) row.push_back(i);
    for (std::size_t i = 1; i < row.size(); ++i) {
      shift[row[i]] = std::max(shift[row[i]], shift[row[i - 1]] - slope * spacing(row[i - 1], row[i]));
    }
    for (std::size_t i = row.size() - 1; i-- > 0;) {
      shift[row[i]] = std::max(shift[row[i]], shift[row[i + 1]] - slope * spacing(row[i], row[i + 1]));
    }
  }
}

}  // namespace

void seat(const FitModel& model, std::span<const Vec3> deformed, const SeatOptions& options, std::span<Pose> poses,
          std::span<Seating> out) {
  const std::size_t count = poses.size();
  const double mm = model.mm_per_unit;
  std::vector<double> shift(count, 0);
  std::vector<Seating> done(count);
  for_ranges(options.executor, count, kTrimsPerRange, [&](std::size_t begin, std::size_t end) {
    PlaceScratch scratch;
    for (std::size_t t = begin; t < end; ++t) {
      const FitPlace& place = model.places[t];
      if (place.point_count == 0) continue;
      load_patch(model, place, deformed, poses[t], scratch);
      measure_gaps(model, place, scratch);
      done[t].sink_before = static_cast<float>(mm * depth_beyond_rest(model, place, scratch.gap, 0));
      if (options.max_tilt_deg > 0) {
        level(model, place, deformed, options.max_tilt_deg, scratch, poses[t], done[t]);
      }
      shift[t] = choose_shift(shift_bounds(model, place, scratch.gap), done[t].limited);
    }
  });
  smooth_rows(model, poses, options.row_slope, shift);
  for_ranges(options.executor, count, kTrimsPerRange, [&](std::size_t begin, std::size_t end) {
    PlaceScratch scratch;
    for (std::size_t t = begin; t < end; ++t) {
      const FitPlace& place = model.places[t];
      if (place.point_count == 0) continue;
      const double largest = options.max_shift_mm / mm;
      const double left = std::abs(shift[t]) - largest;
      if (left > 0) done[t].limited = true, done[t].left = static_cast<float>(mm * left);
      const double by = std::clamp(shift[t], -largest, largest);
      const Vec3 axis = transposed(place.to_place.rotation) * Vec3{0, 0, 1};
      poses[t].translation += by * (poses[t].rotation * axis);
      load_patch(model, place, deformed, poses[t], scratch);
      measure_gaps(model, place, scratch);
      done[t].shift = static_cast<float>(mm * by);
      done[t].sink_after = static_cast<float>(mm * depth_beyond_rest(model, place, scratch.gap, 0));
    }
  });
  std::copy(done.begin(), done.begin() + static_cast<std::ptrdiff_t>(out.size()), out.begin());
}

}  // namespace trimtack
