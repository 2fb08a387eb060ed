// SPDX-License-Identifier: MIT
// What a two-sided trim clamps, or a stem goes through, is read along lines through it at rest: the sheet that it
// follows, the cloth behind that, the far half. A place on the own sheet and one on another that lie on one line stay
// together while the trim holds. The mean over the lines is taken, so that a bend or a stretch of all layers together,
// which moves the two against one another by opposite amounts on opposite sides of the middle, counts for nothing;
// neither does the pose's own error.
#include "stages/fit/fit_clamp.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "stages/fit/fit_lines.hpp"

namespace trimtack {
namespace {

constexpr std::size_t kTrimsPerRange = 32;
// A half may be let into the cloth by so much of the trim's size, at most a millimetre, as in the choice of the layer.
constexpr double kLetIn = 0.05, kMostLetInMm = 1;
// Of the far half only what comes as near as this (of its size, at least a millimetre) holds the cloth; the rest stands
// off by design: the dome of a stud round its rim, the post in the middle.
constexpr double kStandsOff = 0.05, kLeastStandsOffMm = 1;
constexpr int kLinesAlong = 7;  // each side of the trim: some ten on the flange of an eyelet
constexpr std::size_t kFewestLines = 4;
// What goes through the own sheet by more than this (mm) and is this slender (share of the trim) is a stem; its end is
// what lies as deep as the deepest vertex but for a tenth.
constexpr double kStemMm = 0.3, kSlender = 0.5, kTip = 0.1;
constexpr double kSameHit = 1e-6;      // of the trim's size: triangles that meet on a line
constexpr std::size_t kMostTips = 64;  // looked at

/// A line on which the trim has its own sheet and a far half.
struct Held {
  const FitLine* line;
  double own, far;
};

/// Whether the trim reaches beyond its own cloth on both sides, so that a far half is possible at all.
bool reaches_through(const FitModel& model, const FitPlace& place, const Box& box) {
  double low = std::numeric_limits<double>::infinity(), high = -low;
  for (Index k = place.first_point; k < place.first_point + place.point_count; ++k) {
    const double z = model.point[k].z - model.side[k] * model.rest_gap[k];
    low = std::min(low, z), high = std::max(high, z);
  }
  return box.min.z < low && box.max.z > high;
}

/// Lines on which the trim looks at its own sheet from both sides, as near on the far one as it comes to it. In a solid
/// that is sunk in its cloth, or in a post, it looks away from it.
std::vector<Held> held_lines(std::span<const FitLine> lines, double stands_off) {
  std::vector<Held> held;
  double nearest = std::numeric_limits<double>::infinity();
  for (const FitLine& line : lines) {
    if (line.own.empty()) continue;
    const double own = line.own.back().z;  // of thick cloth the sheet next to the nearer half
    const auto above = std::find_if(line.trim.begin(), line.trim.end(), [&](const LineHit& h) { return h.z >= own; });
    if (above == line.trim.begin() || above == line.trim.end()) continue;
    const LineHit& far = *(above - 1);
    if (above->faces_up || !far.faces_up) continue;
    nearest = std::min(nearest, own - far.z);
    held.push_back({&line, own, far.z});
  }
  std::erase_if(held, [&](const Held& h) { return h.own - h.far > nearest + stands_off; });
  return held;
}

Vec3 at(std::span<const Vec3> positions, const Tri& v, const std::array<double, 3>& bary) {
  return bary[0] * positions[v[0]] + bary[1] * positions[v[1]] + bary[2] * positions[v[2]];
}

/// Lines through the end of a shank, thread or prong that goes through the own sheet, to that end.
std::vector<Held> stem_lines(const FitModel& model, std::size_t t, double size, FitLines& scratch) {
  const FitPlace& place = model.places[t];
  double own = 0, low = 0;
  for (Index k = place.first_point; k < place.first_point + place.point_count; ++k) {
    own += model.weight[k] * (model.point[k].z - model.side[k] * model.rest_gap[k]);
  }
  for (const Vec3& p : scratch.vertices) low = std::min(low, p.z);
  std::vector<Held> held;
  const double depth = own - low;
  if (depth < kStemMm / model.mm_per_unit) return held;
  std::vector<Vec3> tips;
  for (const Vec3& p : scratch.vertices) {
    if (p.z <= low + kTip * depth) tips.push_back(p);
  }
  const Box box = bounds(tips);
  if (std::hypot(box.max.x - box.min.x, box.max.y - box.min.y) > kSlender * size) return held;
  for (std::size_t i = 0; tips.size() > kMostTips && i < kMostTips; ++i) tips[i] = tips[i * tips.size() / kMostTips];
  tips.resize(std::min(tips.size(), kMostTips));
  lay_lines(model, t, tips, scratch);
  for (std::size_t i = 0; i < tips.size(); ++i) {
    const FitLine& line = scratch.lines[i];
    if (!line.own.empty() && line.own.back().z > tips[i].z) held.push_back({&line, line.own.back().z, tips[i].z});
  }
  return held;
}

/// Appends the sheets that a line meets between the trim's own and its far half.
/// @param same  hits as near as this are of triangles that meet on the line
void add_clamps(const FitModel& model, const Held& held, double let_in, double same,
                std::vector<FitModel::Clamp>& out) {
  const ClothMesh& cloth = *model.cloth;
  const LineHit& own = held.line->own.back();
  const std::size_t first = out.size();
  double before = std::numeric_limits<double>::infinity();
  for (auto hit = held.line->other.rbegin(); hit != held.line->other.rend(); ++hit) {
    if (hit->z > held.own) continue;
    if (hit->z < held.far - let_in) break;
    const Index component = cloth.component_of_face[cloth.triangles.face[hit->triangle]];
    const bool again = before - hit->z < same && out.back().component == component;
    before = hit->z;
    if (again) continue;
    FitModel::Clamp clamp;
    clamp.own = cloth.triangles.triangles[own.triangle], clamp.own_bary = own.bary;
    clamp.other = cloth.triangles.triangles[hit->triangle], clamp.other_bary = hit->bary;
    clamp.apart = at(cloth.positions, clamp.other, clamp.other_bary) - at(cloth.positions, clamp.own, clamp.own_bary);
    clamp.component = component;
    clamp.sheet = static_cast<Index>(std::count_if(out.begin() + static_cast<std::ptrdiff_t>(first), out.end(),
                                                   [&](const FitModel::Clamp& c) { return c.component == component; }));
    out.push_back(clamp);
  }
}

std::vector<FitModel::Clamp> clamps_of(const FitModel& model, std::size_t t, std::vector<Index>& stack,
                                       FitLines& scratch) {
  std::vector<FitModel::Clamp> out;
  const FitPlace& place = model.places[t];
  const TrimShapes& trims = *model.trims;
  if (trims.role[t] != Role::Trim || place.point_count == 0 || keeps_to_one_sheet(trims, t)) return out;
  if (trims.vertex_offsets[t] == trims.vertex_offsets[t + 1]) return out;
  const Box box = bounds(in_place(model, t));
  if (!reaches_through(model, place, box)) return out;
  const double mm = 1 / model.mm_per_unit, size = std::max(box.max.x - box.min.x, box.max.y - box.min.y);
  double let_in = std::min(kLetIn * size, kMostLetInMm * mm);
  look_near(model, t, 0, let_in, stack, scratch);
  lay_lines(model, t, kLinesAlong, scratch);
  std::vector<Held> held = held_lines(scratch.lines, std::max(kStandsOff * size, kLeastStandsOffMm * mm));
  if (held.size() < kFewestLines) {
    held = stem_lines(model, t, size, scratch);
    let_in = 0;  // it has to go through
  }
  for (const Held& h : held) add_clamps(model, h, let_in, kSameHit * size, out);
  const auto sheet_of = [](const FitModel::Clamp& c) { return std::pair{c.component, c.sheet}; };
  const auto by_sheet = [&](const FitModel::Clamp& p, const FitModel::Clamp& q) { return sheet_of(p) < sheet_of(q); };
  std::stable_sort(out.begin(), out.end(), by_sheet);
  // A sheet that ends under the trim is held by its edge alone.
  std::erase_if(out, [&, all = out](const FitModel::Clamp& c) {
    const auto [first, last] = std::equal_range(all.begin(), all.end(), c, by_sheet);
    return 2 * static_cast<std::size_t>(last - first) <= held.size();
  });
  return out;
}

}  // namespace

void find_clamps(FitModel& model, const Executor& executor) {
  const std::size_t count = model.trims->id.size();
  std::vector<std::vector<FitModel::Clamp>> found(count);
  for_ranges(executor, count, kTrimsPerRange, [&](std::size_t begin, std::size_t end) {
    std::vector<Index> stack;
    FitLines lines;
    for (std::size_t t = begin; t < end; ++t) found[t] = clamps_of(model, t, stack, lines);
  });
  for (std::size_t t = 0; t < count; ++t) {
    model.places[t].first_clamp = static_cast<Index>(model.clamp.size());
    model.places[t].clamp_count = static_cast<Index>(found[t].size());
    model.clamp.insert(model.clamp.end(), found[t].begin(), found[t].end());
  }
}

ClampSlip measure_clamp(const FitModel& model, const FitPlace& place, std::span<const Vec3> deformed,
                        const Pose& pose) {
  ClampSlip slip;
  const Mat3 back = transposed(pose.rotation);
  const std::span<const FitModel::Clamp> all{model.clamp.data() + place.first_clamp, place.clamp_count};
  for (std::size_t first = 0, end = 0; first < all.size(); first = end) {
    Vec3 sum;
    const auto same_sheet = [&](const FitModel::Clamp& c) {
      return c.component == all[first].component && c.sheet == all[first].sheet;
    };
    for (end = first; end < all.size() && same_sheet(all[end]); ++end) {
      const FitModel::Clamp& c = all[end];
      sum += back * (at(deformed, c.other, c.other_bary) - at(deformed, c.own, c.own_bary)) - c.apart;
    }
    const double moved = length(sum) / static_cast<double>(end - first);
    if (moved > slip.moved) slip = {moved, all[first].component};
  }
  return slip;
}

}  // namespace trimtack
