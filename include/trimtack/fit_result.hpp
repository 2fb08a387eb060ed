// SPDX-License-Identifier: MIT
/// What `check` finds out about a garment: measures of fit, limits, verdicts. Plain data, filled by fit.hpp.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "trimtack/parts.hpp"
#include "trimtack/types.hpp"

namespace trimtack {

/// What is held against a limit, per trim and frame. Every value is 0 when all is well and grows as the fit gets worse.
enum class Measure : std::uint8_t {
  Lift,        ///< largest growth of the gap between footprint and layer since rest
  Sink,        ///< largest depth of the footprint below its layer beyond that at rest
  Tilt,        ///< change of the angle between the trim and its layer's normal since rest
  Stretch,     ///< largest principal stretch of the cloth under the trim, minus 1, in percent
  Squeeze,     ///< 1 minus the smallest principal stretch, in percent
  Shear,       ///< largest change of a right angle drawn on the cloth under the trim
  OtherLayer,  ///< how far cloth outside its own patch has run into the trim since rest
  WrongLayer,  ///< how much the trim has moved against the layer it lies on, where that is not the one it follows
  Clamped,     ///< how far layers that it clamps have moved against one another under it since rest
  Jitter,      ///< turn since the last frame beyond the cloth's own motion and any steady drift
  JitterMove,  ///< the same for the position
  Rigidity,    ///< largest relative change of an edge's length in the posed trim
  Collision,   ///< how far two trims have run into one another since rest
  Collapse,    ///< collapsed or folded triangles under the trim
  Lost,        ///< 1: the pose is a fallback, 2: no pose could be found and the last good one was kept
  Sliver,      ///< longest edge over smallest height of the triangle that carries the trim (rest)
};
inline constexpr std::size_t kMeasureCount = 16;

/// How a measure is named, printed and limited.
struct MeasureInfo {
  Measure measure = Measure::Lift;
  const char* name = "";     ///< short and stable; the option is --max-NAME, the column NAME
  const char* unit = "";     ///< "mm", "deg", "%", "" for ratios and counts
  double limit = 0;          ///< default: values above it are a fault
  int decimals = 2;          ///< as many as make sense in a table
  const char* meaning = "";  ///< one phrase for --help and the report
};
/// One entry per Measure, in order.
std::span<const MeasureInfo, kMeasureCount> measure_infos();
inline const MeasureInfo& info_of(Measure m) { return measure_infos()[static_cast<std::size_t>(m)]; }

/// The largest value that is still all right, per measure.
struct FitLimits {
  std::array<double, kMeasureCount> value;
  double near = 0.8;  ///< a value above near x limit makes the verdict Close
  FitLimits();        ///< the defaults of measure_infos()
  double& operator[](Measure m) { return value[static_cast<std::size_t>(m)]; }
  double operator[](Measure m) const { return value[static_cast<std::size_t>(m)]; }
};

/// One trim in one frame. Lengths in mm, angles in degrees.
struct FitMeasures {
  std::array<float, kMeasureCount> value{};
  float gap_min = 0, gap_mean = 0, gap_max = 0;  ///< signed, along the trim's axis; negative = sunk in; the largest
                                                 ///< one of the part that stands on the cloth at rest
  float tilt_from_layer = 0;                     ///< angle between the trim's own axis and the layer's normal
  float spacing = 0;                             ///< distance to the next trim of its row, 0 for the last or none
  Index other_layer = kNone;                     ///< component that ran into it, for OtherLayer
  Index clamped_layer = kNone;                   ///< component that has moved under it, for Clamped
  Index other_trim = kNone;                      ///< table index of the trim it ran into, for Collision
  Index bad_triangle = kNone;                    ///< face of cloth.obj, for Collapse
  float spread = 0;                              ///< largest minus smallest change of the gap across the footprint
  Vec3 lift_at, sink_at;                         ///< footprint points of Lift and Sink, rest coordinates
  float& operator[](Measure m) { return value[static_cast<std::size_t>(m)]; }
  float operator[](Measure m) const { return value[static_cast<std::size_t>(m)]; }
};

enum class Verdict : std::uint8_t { Good, Close, Fault };
const char* to_text(Verdict verdict);  ///< "good", "close", "fault"

/// A worst value and the number of the frame it was seen in (0: at rest).
struct Worst {
  float value = 0;
  std::uint64_t frame = 0;
};

/// All frames of one trim.
struct TrimFit {
  std::array<Worst, kMeasureCount> worst{};
  float gap_min = 0, gap_max = 0, gap_mean = 0;  ///< smallest, largest, and mean of the frames' means
  float gap_rest = 0;                            ///< mean gap at rest
  float footprint_mm = 0;                        ///< largest width of the footprint
  float footprint_narrow_mm = 0;                 ///< its width across that
  float cloth_edge_mm = 0;                       ///< median edge of the cloth under it
  Index other_layer = kNone, clamped_layer = kNone, other_trim = kNone, bad_triangle = kNone;  ///< of the worst frames
  Index lies_on = kNone;  ///< component it really lies on, when that is not the one it follows
  Verdict verdict = Verdict::Good;
  Measure cause = Measure::Lift;  ///< what is worst relative to its limit
  Vec3 centre, outward;           ///< middle of the footprint, and the direction away from the cloth; rest coordinates
  Vec3 lift_at, sink_at;          ///< footprint points of the worst lift and sink, rest coordinates
  float spread_mm = 0;            ///< how much lift and sink differ across the footprint where the worse one is worst
  int pieces = 1;                 ///< rigid pieces that would keep the gap within the limit
  std::string advice;             ///< one sentence; empty when good
  const Worst& operator[](Measure m) const { return worst[static_cast<std::size_t>(m)]; }
};

/// One frame of the whole garment.
struct FrameFit {
  std::uint64_t number = 0;
  std::array<Worst, kMeasureCount> worst{};  ///< `frame` holds the table index of the worst trim here
};

/// Time lines, thinned so that memory stays bounded: bucket b holds the largest value of its frames, in hundredths of
/// the measure's unit, at most 65535.
struct FitSeries {
  static constexpr std::array<Measure, 4> kShown{Measure::Lift, Measure::Sink, Measure::Tilt, Measure::Jitter};
  std::size_t frames_per_bucket = 1, buckets = 0, capacity = 0;
  std::vector<std::uint16_t> value;  ///< [trim][channel][bucket], `capacity` buckets wide
  std::uint16_t at(std::size_t trim, std::size_t channel, std::size_t bucket) const {
    return value[(trim * kShown.size() + channel) * capacity + bucket];
  }
};

/// Everything `check` and the report need. Trims in table order.
struct FitSummary {
  FitLimits limits;
  std::vector<TrimFit> trims;
  std::vector<FrameFit> frames;
  FitSeries series;
  std::vector<std::string> layer_name;  ///< by component id, for sentences; may be empty
};

/// Trims from the worst to the best: verdict, then value over limit, then table order.
std::vector<Index> worst_first(const FitSummary& summary);
/// value / limit of a trim's cause (how far over the limit), 0 when there is none.
double severity(const TrimFit& trim, const FitLimits& limits);

}  // namespace trimtack
