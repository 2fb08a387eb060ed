// SPDX-License-Identifier: MIT
// One frame of measures. Jitter is what is left of a trim's step from frame to frame after the cloth's own motion (the
// rigid motion of the patch around it) and after any steady drift (the step before): the smaller of the step and its
// change. A jump, a spike and a shake all show in full; a slow turn against a bending patch does not.
#include "trimtack/fit.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "stages/bind/box_tree.hpp"
#include "stages/bind/trim_collisions.hpp"
#include "stages/fit/fit_clamp.hpp"
#include "stages/fit/fit_contact.hpp"
#include "stages/fit/fit_passed.hpp"
#include "stages/fit/fit_place.hpp"

namespace trimtack {
namespace {

constexpr std::size_t kTrimsPerRange = 32;
constexpr double kDegrees = 180.0 / std::numbers::pi;
constexpr std::size_t kSeriesValues = 4'000'000;  // 8 MB of time lines at most ...
constexpr std::size_t kFewestBuckets = 16;        // ... unless the garment has very many trims
constexpr std::size_t kMostBuckets = 512;

/// Angle between unit vectors, exact for small ones (Kahan, "How futile are mindless assessments of roundoff", 2006).
double angle_deg(const Vec3& a, const Vec3& b) { return 2 * kDegrees * std::atan2(length(a - b), length(a + b)); }

/// Rotation vector in degrees.
Vec3 rotation_vector_deg(const Mat3& r) {
  const Vec3 twist{r(2, 1) - r(1, 2), r(0, 2) - r(2, 0), r(1, 0) - r(0, 1)};
  return rotation_angle_deg(r, Mat3{}) * normalized(twist);
}

/// A step beyond the cloth's own motion and beyond the step before it; known when three frames in a row are.
struct Step {
  double turn_deg = 0, move = 0;
  bool known = false;
};

Step step_beyond(FitState::Motion& last, const Mat3& turn, const Vec3& move, bool known) {
  Step step;
  if (!known) {
    last.known = 0;
    return step;
  }
  if (last.known > 0) {
    const Vec3 turn_step = rotation_vector_deg(turn * transposed(last.turn));
    const Vec3 move_step = move - last.move;
    if (last.known > 1) {
      step.turn_deg = std::min(length(turn_step), length(turn_step - last.turn_step));
      step.move = std::min(length(move_step), length(move_step - last.move_step));
      step.known = true;
    }
    last.turn_step = turn_step;
    last.move_step = move_step;
  }
  last.turn = turn;
  last.move = move;
  last.known = static_cast<std::uint8_t>(std::min(2, last.known + 1));
  return step;
}

/// What neither a patch that stays flat nor one that bends explains.
void measure_jitter(const FitModel& model, const FitPlace& place, const PlaceScratch& scratch, FitState::Last& last,
                    FitMeasures& out) {
  Mat3 turn;
  Vec3 move;
  const bool flat_known = patch_motion(model, place, scratch, turn, move);
  const Step flat = step_beyond(last.motion[0], turn, move, flat_known);
  const bool bent_known = bent_patch_motion(model, place, scratch, turn, move);
  const Step bent = step_beyond(last.motion[1], turn, move, bent_known);
  if (!flat.known) return;
  out[Measure::Jitter] = static_cast<float>(bent.known ? std::min(flat.turn_deg, bent.turn_deg) : flat.turn_deg);
  out[Measure::JitterMove] =
      static_cast<float>(model.mm_per_unit * (bent.known ? std::min(flat.move, bent.move) : flat.move));
}

/// Cloth that is no number shows as collapsed; what was computed from it counts as nothing.
void drop_not_finite(FitMeasures& m) {
  for (float& v : m.value) v = std::isfinite(v) ? v : 0.0F;
  for (float* v : {&m.gap_min, &m.gap_mean, &m.gap_max, &m.tilt_from_layer, &m.spacing, &m.spread}) {
    if (!std::isfinite(*v)) *v = 0;
  }
}

/// A stretched patch still gives a pose; what is wrong with it shows in the strain and the gaps.
float lost_value(PoseQuality quality) {
  return quality == PoseQuality::Lost ? 2.0F : (quality == PoseQuality::Chosen ? 0.0F : 1.0F);
}

/// Posed box of a trim, and the largest relative change of an edge's length.
double pose_trim(const TrimShapes& trims, std::size_t t, const Pose& pose, std::vector<Vec3>& posed, Box& box) {
  const Vec3* rest = trims.vertices.data() + trims.vertex_offsets[t];
  posed.resize(trims.vertex_offsets[t + 1] - trims.vertex_offsets[t]);
  for (std::size_t i = 0; i < posed.size(); ++i) posed[i] = apply(pose, rest[i]);
  box = bounds(posed);
  double worst = 0;
  for (Index k = trims.triangle_offsets[t]; k < trims.triangle_offsets[t + 1]; ++k) {
    const Tri& v = trims.triangles[k];
    for (std::size_t i = 0; i < 3; ++i) {
      const Index a = v[i], b = v[(i + 1) % 3];
      const double before = length(rest[a] - rest[b]), after = length(posed[a] - posed[b]);
      if (before > 0) worst = std::max(worst, std::abs(after / before - 1));
    }
  }
  return worst;
}

/// Back from place coordinates.
Vec3 at_rest(const FitPlace& place, const Vec3& p) {
  return transposed(place.to_place.rotation) * (p - place.to_place.translation);
}

/// Where the middle of a trim's footprint is now.
Vec3 middle(const FitPlace& place, const Pose& pose) { return apply(pose, at_rest(place, Vec3{})); }

// Frames are poses, not a motion, where half of the trims turn by more than this (degrees) against the first one at
// once and at least a quarter of all step beyond the limits.
constexpr double kLeapDeg = 10, kLeaping = 0.25;
constexpr std::size_t kFewestLeaping = 4;

/// How much the garment has bent since the last frame: the median angle by which trims have turned against the first.
/// Remembers how the trims lie.
double bending_step(std::span<const Pose> poses, FitState& state) {
  if (poses.empty()) return 0;
  std::vector<double> turned;
  turned.reserve(poses.size());
  const Mat3 first = poses[0].rotation * transposed(state.last[0].rotation);
  for (std::size_t t = 0; t < poses.size(); ++t) {
    const Mat3 step = poses[t].rotation * transposed(state.last[t].rotation);
    const double angle = rotation_angle_deg(step, first);
    turned.push_back(std::isfinite(angle) ? angle : 0);
    state.last[t].rotation = poses[t].rotation;
  }
  const auto half = turned.begin() + static_cast<std::ptrdiff_t>(turned.size() / 2);
  std::nth_element(turned.begin(), half, turned.end());
  return *half;
}

/// Between poses that do not follow one another nothing shakes: steps count for nothing there.
void leave_out_leaps(double bent_deg, const FitLimits& limits, std::span<FitMeasures> out) {
  if (!(bent_deg > kLeapDeg)) return;
  const auto over = [&](const FitMeasures& m) {
    return m[Measure::Jitter] > limits[Measure::Jitter] || m[Measure::JitterMove] > limits[Measure::JitterMove];
  };
  const auto stepping = static_cast<std::size_t>(std::count_if(out.begin(), out.end(), over));
  if (stepping < kFewestLeaping || static_cast<double>(stepping) < kLeaping * static_cast<double>(out.size())) return;
  for (FitMeasures& m : out) m[Measure::Jitter] = m[Measure::JitterMove] = 0;
}

void measure_place(const FitModel& model, const FitPlace& place, std::span<const Vec3> deformed, const Pose& pose,
                   const FitOptions& options, PlaceScratch& scratch, FitMeasures& out) {
  const double mm = model.mm_per_unit;
  const Vec3 normal = measure_gaps(model, place, scratch);
  const GapChange change = gap_change(model, place, scratch.gap);
  out.gap_min = static_cast<float>(mm * change.min);
  out.gap_mean = static_cast<float>(mm * change.mean);
  out.gap_max = static_cast<float>(mm * change.max);
  out[Measure::Lift] = static_cast<float>(mm * change.lift);
  out[Measure::Sink] = static_cast<float>(mm * change.sink);
  out.spread = static_cast<float>(mm * change.spread);
  out.lift_at = at_rest(place, model.point[place.first_point + change.lift_point]);
  out.sink_at = at_rest(place, model.point[place.first_point + change.sink_point]);
  out[Measure::Tilt] = static_cast<float>(angle_deg(normal, place.rest_normal));
  out.tilt_from_layer = static_cast<float>(angle_deg(normal, place.axis));
  const Strain strain = measure_strain(model, place, options.collapse_ratio, scratch);
  out[Measure::Stretch] = static_cast<float>(100 * strain.stretch);
  out[Measure::Squeeze] = static_cast<float>(100 * strain.squeeze);
  out[Measure::Shear] = static_cast<float>(strain.shear_deg);
  out[Measure::Collapse] = static_cast<float>(strain.collapsed);
  if (strain.first_collapsed != kNone) out.bad_triangle = model.cloth->triangles.face[strain.first_collapsed];
  const ClampSlip clamped = measure_clamp(model, place, deformed, pose);
  out[Measure::Clamped] = static_cast<float>(mm * clamped.moved);
  out.clamped_layer = clamped.component;
  if (place.touched_place == kNone) return;
  const FitPlace& touched = model.places[place.touched_place];
  load_patch(model, touched, deformed, pose, scratch);
  measure_gaps(model, touched, scratch);
  const GapChange slip = gap_change(model, touched, scratch.gap);
  out[Measure::WrongLayer] = static_cast<float>(mm * std::max({slip.lift, slip.sink, place.sunk_through}));
}

void measure_contacts(const FitModel& model, std::span<const Vec3> deformed, std::span<const Pose> poses,
                      std::span<const Box> boxes, const FitOptions& options, FitState& state,
                      std::span<FitMeasures> out) {
  const double mm = model.mm_per_unit;
  refit(*state.tree, deformed, model.cloth->triangles.triangles);
  measure_run_in(model, *state.tree, deformed, poses, options.executor, [&](std::size_t t, const RunIn& run) {
    if (run.depth <= 0 || mm * run.depth <= out[t][Measure::OtherLayer]) return;
    out[t][Measure::OtherLayer] = static_cast<float>(mm * run.depth);
    out[t].other_layer = run.component;
  });
  for (const TrimContact& contact : measure_collisions(*model.trims, boxes, poses, options.executor)) {
    const auto depth = static_cast<float>(mm * contact.depth);
    const auto note = [&](Index one, Index other) {
      if (depth <= out[one][Measure::Collision]) return;
      out[one][Measure::Collision] = depth;
      out[one].other_trim = other;
    };
    note(contact.first, contact.second);
    note(contact.second, contact.first);
  }
}

/// Halves the time lines when they are full.
void thin(FitSeries& series) {
  const std::size_t lines = series.value.size() / std::max<std::size_t>(series.capacity, 1);
  const std::size_t half = (series.buckets + 1) / 2;
  for (std::size_t line = 0; line < lines; ++line) {
    std::uint16_t* v = series.value.data() + line * series.capacity;
    for (std::size_t b = 0; b < half; ++b) {
      v[b] = 2 * b + 1 < series.buckets ? std::max(v[2 * b], v[2 * b + 1]) : v[2 * b];
    }
    std::fill(v + half, v + series.capacity, std::uint16_t{0});
  }
  series.buckets = half;
  series.frames_per_bucket *= 2;
}

void add_to_series(FitSeries& series, std::size_t frame_index, std::span<const FitMeasures> measures) {
  while (frame_index / series.frames_per_bucket >= series.capacity) thin(series);
  const std::size_t bucket = frame_index / series.frames_per_bucket;
  series.buckets = std::max(series.buckets, bucket + 1);
  for (std::size_t t = 0; t < measures.size(); ++t) {
    for (std::size_t channel = 0; channel < FitSeries::kShown.size(); ++channel) {
      const float hundredths = 100.0F * measures[t][FitSeries::kShown[channel]];
      const auto value = static_cast<std::uint16_t>(std::clamp(std::round(hundredths), 0.0F, 65535.0F));
      std::uint16_t& at = series.value[(t * FitSeries::kShown.size() + channel) * series.capacity + bucket];
      at = std::max(at, value);
    }
  }
}

void add_to_summary(std::uint64_t number, std::span<const FitMeasures> measures, FitState& state) {
  FitSummary& summary = state.summary;
  add_to_series(summary.series, summary.frames.size(), measures);
  FrameFit frame;
  frame.number = number;
  const bool first = summary.frames.empty();
  for (std::size_t t = 0; t < measures.size(); ++t) {
    const FitMeasures& m = measures[t];
    TrimFit& trim = summary.trims[t];
    for (std::size_t i = 0; i < kMeasureCount; ++i) {
      if (m.value[i] > trim.worst[i].value) {
        trim.worst[i] = {m.value[i], number};
        const auto measure = static_cast<Measure>(i);
        if (measure == Measure::OtherLayer) trim.other_layer = m.other_layer;
        if (measure == Measure::Clamped) trim.clamped_layer = m.clamped_layer;
        if (measure == Measure::Collision) trim.other_trim = m.other_trim;
        if (measure == Measure::Collapse) trim.bad_triangle = m.bad_triangle;
        if (measure == Measure::Lift) {
          trim.lift_at = m.lift_at;
          if (m.value[i] >= trim[Measure::Sink].value) trim.spread_mm = m.spread;
        }
        if (measure == Measure::Sink) {
          trim.sink_at = m.sink_at;
          if (m.value[i] >= trim[Measure::Lift].value) trim.spread_mm = m.spread;
        }
      }
      if (m.value[i] > frame.worst[i].value) frame.worst[i] = {m.value[i], t};
    }
    trim.gap_min = first ? m.gap_min : std::min(trim.gap_min, m.gap_min);
    trim.gap_max = first ? m.gap_max : std::max(trim.gap_max, m.gap_max);
    state.mean_sum[t] += m.gap_mean;
  }
  summary.frames.push_back(frame);
}

}  // namespace

FitState begin_fit(const FitModel& model, const FitOptions& options) {
  FitState state;
  const std::size_t count = model.table->bindings.size();
  state.last.resize(count);
  state.watched.assign(model.watch.size(), 1);
  state.mean_sum.assign(count, 0);
  state.tree = std::make_shared<BoxTree>(*model.tree);
  state.summary.limits = options.limits;
  state.summary.trims.resize(count);
  FitSeries& series = state.summary.series;
  const std::size_t lines = std::max<std::size_t>(count * FitSeries::kShown.size(), 1);
  series.capacity = std::clamp(kSeriesValues / lines, kFewestBuckets, kMostBuckets);
  series.value.assign(lines * series.capacity, 0);
  return state;
}

void measure_fit(const FitModel& model, std::span<const Vec3> deformed, std::span<const Pose> poses,
                 std::span<const PoseQuality> quality, std::uint64_t frame, const FitOptions& options, FitState& state,
                 std::span<FitMeasures> out) {
  const std::size_t count = poses.size();
  std::vector<Box> boxes(count);
  for_ranges(options.executor, count, kTrimsPerRange, [&](std::size_t begin, std::size_t end) {
    PlaceScratch scratch;
    std::vector<Vec3> posed;
    for (std::size_t t = begin; t < end; ++t) {
      out[t] = FitMeasures{};
      out[t][Measure::Rigidity] = static_cast<float>(pose_trim(*model.trims, t, poses[t], posed, boxes[t]));
      if (!quality.empty()) out[t][Measure::Lost] = lost_value(quality[t]);
      const FitPlace& place = model.places[t];
      if (model.trims->role[t] == Role::Trim) out[t][Measure::Sliver] = static_cast<float>(place.sliver);
      const Index next = model.next_in_row[t];
      if (next != kNone) {
        const Vec3 step = middle(model.places[next], poses[next]) - middle(place, poses[t]);
        out[t].spacing = static_cast<float>(model.mm_per_unit * length(step));
      }
      if (place.point_count == 0) continue;
      load_patch(model, place, deformed, poses[t], scratch);
      measure_jitter(model, place, scratch, state.last[t], out[t]);
      measure_place(model, place, deformed, poses[t], options, scratch, out[t]);
      const Passed passed = measure_passed(model, t, deformed, poses[t], state.watched);
      out[t][Measure::OtherLayer] = static_cast<float>(model.mm_per_unit * passed.depth);
      out[t].other_layer = passed.component;
    }
  });
  measure_contacts(model, deformed, poses, boxes, options, state, out);
  for (FitMeasures& m : out) drop_not_finite(m);
  leave_out_leaps(bending_step(poses, state), options.limits, out);
  add_to_summary(frame, out, state);
}

}  // namespace trimtack
