// SPDX-License-Identifier: MIT
// From measures to a verdict and one sentence of advice. A rigid piece of length l on a bend of radius R stands off by
// R - sqrt(R^2 - l^2/4) (sagitta); from the length and the stand-off seen, R follows, and from R the length of a piece
// that keeps within the limit.
#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <numbers>
#include <string>

#include "trimtack/fit.hpp"

namespace trimtack {
namespace {

constexpr double kRadians = std::numbers::pi / 180.0;
constexpr double kSmallestForAdvice = 4;  // mm; nobody meshes cloth for a smaller footprint
/// A lean or a shake that moves the rim by less than this (mm) is not seen: angles of stitches and beads do not count.
constexpr double kSeenAtRim = 0.15;
constexpr double kLongTrim = 1.8;  // length over width above which cutting in pieces makes sense

std::string number(double value, int decimals) {
  char text[64];
  const auto end = std::to_chars(text, text + sizeof text, value, std::chars_format::fixed, decimals).ptr;
  return {text, end};
}

std::string layer_text(const FitSummary& summary, Index component) {
  if (component == kNone) return "another layer";
  const bool named = component < summary.layer_name.size() && !summary.layer_name[component].empty();
  return named ? summary.layer_name[component] : "layer " + std::to_string(component);
}

/// Largest length of a rigid piece that stands off by at most `limit` where one of `length_mm` stands off by `lift`.
double piece_length(double length_mm, double lift, double limit) {
  const double half = 0.5 * length_mm;
  const double radius = (half * half + lift * lift) / (2 * lift);
  return 2 * std::sqrt(std::max(0.0, limit * (2 * radius - limit)));
}

struct Context {
  const FitSummary& summary;
  const BindTable& table;
  const TrimFit& trim;
  double limit = 0;
  double value = 0;
  Index own_layer = kNone;
};

bool follows_tilt(const Context& c) {
  const double rim = 0.5 * c.trim.footprint_mm * std::sin(kRadians * c.trim[Measure::Tilt].value);
  return rim > 0.5 * c.value;
}

std::string patch_advice(const Context& c) {
  if (c.trim.footprint_mm >= kSmallestForAdvice && c.trim.cloth_edge_mm > 0.5 * c.trim.footprint_mm) {
    return "use denser cloth under it: " + number(std::max(1.0, 0.4 * c.trim.footprint_mm), 0) +
           " mm spacing instead of " + number(c.trim.cloth_edge_mm, 1) + " mm";
  }
  return "bind it with a larger patch, so that it follows more of the cloth around it";
}

/// Lift or sink that differs across the footprint without a lean: the cloth bends under a stiff trim.
bool follows_bend(const Context& c) { return c.trim.spread_mm > 0.6 * c.value; }

std::string bend_advice(const Context& c) {
  const double piece = piece_length(c.trim.footprint_mm, c.value, c.limit);
  if (c.trim.footprint_mm > kLongTrim * c.trim.footprint_narrow_mm) {
    return "It is too long for this bend; cut it in " + std::to_string(c.trim.pieces) + " rigid pieces of at most " +
           number(piece, 1) + " mm, or move it off the bend.";
  }
  return "It is too wide for this bend; use one of at most " + number(piece, 1) +
         " mm there, seat it (follow --seat), or move it off the bend.";
}

std::string gap_advice(const Context& c) {
  const bool lifted = c.trim.cause == Measure::Lift;
  if (follows_tilt(c)) {
    return (lifted ? "It leans and lifts on one side; " : "It leans into the cloth; ") + patch_advice(c) +
           ", or seat it (follow --seat).";
  }
  if (c.trim.pieces > 1 && follows_bend(c)) return bend_advice(c);
  return lifted ? "It floats above its cloth; seat it (follow --seat)."
                : "It sinks into its cloth; seat it (follow --seat).";
}

std::string advice(const Context& c) {
  switch (c.trim.cause) {
    case Measure::Lift:
    case Measure::Sink:
      return gap_advice(c);
    case Measure::Tilt:
      return "It leans against its cloth; " + patch_advice(c) + ".";
    case Measure::Stretch:
      return "The cloth under it stretches by " + number(c.value, 0) +
             " %, where a hole or thread would tear; move it, or stiffen the cloth there.";
    case Measure::Squeeze:
      return "The cloth under it is squeezed by " + number(c.value, 0) + " %; move it, or stiffen the cloth there.";
    case Measure::Shear:
      return "The cloth under it shears; move it, or stiffen the cloth there.";
    case Measure::OtherLayer:
      return "Cloth of " + layer_text(c.summary, c.trim.other_layer) +
             " runs into it; seat it (follow --seat) or keep the layers apart in the simulation.";
    case Measure::WrongLayer:
      if (c.trim.lies_on == c.own_layer) {
        return "It is sunk through the cloth that it follows and lies on the layer beneath; lift it out in the export, "
               "or bind it to the layer it lies on.";
      }
      return "It lies on " + layer_text(c.summary, c.trim.lies_on) +
             " but follows another layer; bind it to the one it lies on (bind --layer).";
    case Measure::Clamped:
      return "Cloth of " + layer_text(c.summary, c.trim.clamped_layer) +
             ", which it clamps as well, slips or parts from the cloth that it follows; tie the layers together under "
             "it in the simulation, or bind it to that one if it is only buttoned through the other (bind --layer).";
    case Measure::Jitter:
    case Measure::JitterMove:
      return "It shakes against its cloth; " + patch_advice(c) + ".";
    case Measure::Rigidity:
      return "It does not keep its shape; the binding table is damaged, bind again.";
    case Measure::Collision:
      return "It runs into " +
             (c.trim.other_trim == kNone ? "another trim" : c.table.bindings[c.trim.other_trim].name) +
             "; widen their spacing or ease the bend.";
    case Measure::Collapse:
      return "Face " + std::to_string(c.trim.bad_triangle) +
             " of the cloth under it collapses or folds over; repair the cloth in that frame or use a larger patch.";
    case Measure::Lost:
      return "Its patch of cloth gives no frame; repair the cloth in that frame or use a larger patch.";
    case Measure::Sliver:
      return "A thin triangle carries it; remesh the cloth there, or bind it with a larger patch.";
  }
  return {};
}

/// Value over limit; a count that must not occur ranks above any ratio up to 2.
double over(double value, double limit) {
  if (value <= 0) return 0;
  return limit > 0 ? value / limit : 2.0 + value;
}

/// Faults that bring others with them are named before those, however small their number.
constexpr std::array kRoots{Measure::Rigidity, Measure::Collapse, Measure::Lost, Measure::WrongLayer};

void judge(const FitLimits& limits, TrimFit& trim) {
  double worst = 0;
  const auto ratio_of = [&](Measure m) {
    const double value = trim[m].value;
    const bool angle = m == Measure::Tilt || m == Measure::Jitter;
    const bool unseen = angle && 0.5 * trim.footprint_mm * std::sin(kRadians * std::min(value, 90.0)) < kSeenAtRim;
    return unseen ? 0.0 : over(value, limits[m]);
  };
  for (std::size_t i = 0; i < kMeasureCount; ++i) {
    const auto measure = static_cast<Measure>(i);
    const double ratio = ratio_of(measure);
    // Rounding is no near miss, and a thin triangle that is still all right is none either.
    const bool close_counts = measure != Measure::Rigidity && measure != Measure::Sliver;
    if (ratio <= worst || (ratio <= 1 && !close_counts)) continue;
    worst = ratio;
    trim.cause = measure;
  }
  trim.verdict = worst > 1 ? Verdict::Fault : (worst > limits.near ? Verdict::Close : Verdict::Good);
  for (const Measure root : kRoots) {
    if (ratio_of(root) <= 1) continue;
    trim.cause = root;
    return;
  }
}

}  // namespace

FitSummary finish_fit(const FitModel& model, FitState state, const FitOptions& options) {
  FitSummary summary = std::move(state.summary);
  summary.limits = options.limits;
  const double mm = model.mm_per_unit;
  for (std::size_t t = 0; t < summary.trims.size(); ++t) {
    TrimFit& trim = summary.trims[t];
    const FitPlace& place = model.places[t];
    if (!summary.frames.empty()) {
      trim.gap_mean = static_cast<float>(state.mean_sum[t] / static_cast<double>(summary.frames.size()));
    }
    trim.gap_rest = static_cast<float>(mm * place.rest_gap_mean);
    trim.footprint_mm = static_cast<float>(mm * place.width);
    trim.footprint_narrow_mm = static_cast<float>(mm * place.narrow);
    trim.cloth_edge_mm = static_cast<float>(mm * place.edge);
    trim.lies_on = place.touched;
    const Mat3 back = transposed(place.to_place.rotation);
    trim.centre = -(back * place.to_place.translation);
    trim.outward = back * Vec3{0, 0, 1};
    trim.worst[static_cast<std::size_t>(Measure::Sliver)].frame = 0;
    judge(options.limits, trim);
    const Measure bent = trim[Measure::Sink].value > trim[Measure::Lift].value ? Measure::Sink : Measure::Lift;
    const double off = trim[bent].value, limit = options.limits[bent];
    if (off > limit && limit > 0 && trim.footprint_mm > 0) {
      const double piece = piece_length(trim.footprint_mm, off, limit);
      if (piece > 0) trim.pieces = static_cast<int>(std::min(999.0, std::ceil(trim.footprint_mm / piece - 1e-6)));
    }
  }
  for (std::size_t t = 0; t < summary.trims.size(); ++t) {
    TrimFit& trim = summary.trims[t];
    if (trim.verdict == Verdict::Good) continue;
    const Context context{summary,
                          *model.table,
                          trim,
                          options.limits[trim.cause],
                          trim[trim.cause].value,
                          model.table->bindings[t].layer};
    trim.advice = advice(context);
  }
  return summary;
}

}  // namespace trimtack
