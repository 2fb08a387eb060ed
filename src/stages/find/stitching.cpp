// SPDX-License-Identifier: MIT
// Seams are sewn at 6 to 20 stitches an inch (1.3 to 4.2 mm each); sewing thread is well below a millimetre thick. A
// stitch lies along its seam (lockstitch), slanted (zigzag) or across (satin, bartack); zipper elements lie across, but
// are as thick as a millimetre or more and stouter; beads are as wide as long. Thread that holds a button lies within
// the button, in each of them; a seam runs under one now and then.
#include <algorithm>
#include <cmath>
#include <utility>

#include "core/memory.hpp"
#include "stages/find/clues.hpp"
#include "stages/find/nearest_points.hpp"

namespace trimtack {
namespace {

constexpr std::size_t kFewest = 8, kFewestLoops = 30;
constexpr double kLongestMm = 12;
constexpr double kLeastSlender = 1.1;
constexpr std::size_t kEnough = 2000;  // members tell what all do
constexpr double kAlike = 1.4;
constexpr double kNextTo = 3;  // of its length: from one stitch to the next but one
constexpr double kLongestRun = 6;
constexpr std::size_t kMostThreads = 6;  // in a button
constexpr double kSureUnit = 0.97;
constexpr double kSmallDollMm = 220;  // bags, hats and shoes are larger
constexpr double kHostOdds = 0.8;
constexpr double kLargestHostMm = 90;
constexpr double kFineMm = 0.65, kHeavyMm = 1;  // saddle stitches, tents, sails (common practice, no source)
constexpr double kYarnMm = 1.15,
                 kBentOnce = 2;  // blanket stitches (common practice, no source); wire length over extent
constexpr double kClear = 0.88;  // of their length between the middles of two whose ends hardly meet
// Wire of a coil, and in its thicknesses a step to the next turn (common practice, no source).
constexpr double kCoilMm = 0.4, kCoilPitch = 2.6;
constexpr float kHeld = -4;
constexpr float kUnsure = 1, kAdopted = 2;

double median(std::vector<double>& values) {
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

/// How a kind of pieces lies in its rows: shares of the members looked at.
struct Rows {
  double along = 0;   ///< with the next one ahead along their own length, or slanted in a row that goes on
  double square = 0;  ///< square to a row that goes on to both sides
  double facing = 0;  ///< between two of the other side of a zipper, half overlapping with both
  double pitch = 0;   ///< median step to the next one of those square to their row, file units
};

/// Whether two neighbours lie on one side, before and behind, as elements of a zipper's other side do.
/// @param row, across  along the row and square to it, of unit length
bool faces_two(const Vec3& row, const Vec3& across, double own_length, const Vec3& to, const Vec3& other) {
  const double a = dot(across, to);
  const double b = dot(across, other);
  if (std::abs(a - b) > 0.15 * own_length || std::abs(a) < 0.2 * own_length || std::abs(a) > 0.95 * own_length)
    return false;
  const double step = dot(row, to);
  return std::abs(step + dot(row, other)) < 0.35 * std::abs(step) &&
         length(to - a * across - step * row) < 0.3 * own_length;
}

/// How one piece lies among its neighbours.
struct Place {
  bool along = false, square = false, facing = false;
  double pitch = 0;
};

/// @param to  the neighbours' middles from its own, the nearest first
Place place_among(const Shape& s, std::span<const Vec3> to) {
  const Vec3 axis = s.axes.column(0);
  bool ahead = false;
  bool clear = false;  // of one ahead: their ends hardly meet
  Vec3 row{};          // to the next one of a row that goes on to both sides, square to it
  for (std::size_t k = 0; k < to.size() && !clear; ++k) {
    const double d = length(to[k]);
    const double step_along = std::abs(dot(axis, to[k]));
    // One after the other: less overlap along their length than elements of two zipper sides mostly have.
    if (step_along > 0.8 * d && step_along > 0.75 * s.extents[0]) {
      ahead = true;
      clear = step_along > kClear * s.extents[0];
    }
    // Or slanted in a row that goes on to both sides; a zipper's row runs square to its elements.
    for (std::size_t j = 0; j < k && !clear; ++j) {
      if (length(to[k] + to[j]) >= 0.35 * d) continue;
      clear = step_along > 0.4 * d;
      if (step_along < 0.3 * d && length(row) == 0) row = to[k];
    }
  }
  Place place;
  place.along = ahead || clear;
  place.pitch = length(row);
  if (clear || !(place.pitch > 0)) return place;
  // The turns of a coil are slanted, their rows are not.
  const Vec3 along_row = (1 / place.pitch) * row;
  const Vec3 square = axis - dot(axis, along_row) * along_row;
  const Vec3 across = (1 / std::max(length(square), 1e-300)) * square;
  for (std::size_t k = 0; k < to.size() && !place.facing; ++k)
    for (std::size_t j = 0; j < k && !place.facing; ++j)
      place.facing = faces_two(along_row, across, s.extents[0], to[k], to[j]);
  // The sides of a zipper may hardly overlap; they mesh all the same.
  place.along = place.along && !place.facing;
  place.square = !place.along;
  return place;
}

Rows look_at_rows(const RoleInput& in, std::span<const Index> members, std::span<const Vec3> centres,
                  const NearestPoints& nearest) {
  const std::size_t step = std::max<std::size_t>(1, members.size() / kEnough);
  std::size_t looked = 0;
  std::size_t along = 0;
  std::size_t square = 0;
  std::size_t facing = 0;
  std::vector<double> pitches;
  for (std::size_t i = 0; i < members.size(); i += step) {
    std::array<NearPoint, 7> near;
    std::array<Vec3, 7> to;
    const std::size_t found = nearest.find(centres[i], near);
    const Shape& s = in.shapes[members[i]];
    std::size_t count = 0;
    for (std::size_t k = 0; k < found; ++k) {
      const double d = std::sqrt(near[k].squared_distance);
      if (near[k].index != i && d > 0 && d <= 4 * s.extents[0]) to[count++] = centres[near[k].index] - centres[i];
    }
    const Place place = place_among(s, std::span<const Vec3>(to.data(), count));
    ++looked;
    along += place.along ? 1 : 0;
    square += place.square ? 1 : 0;
    facing += place.facing ? 1 : 0;
    if (place.square) pitches.push_back(place.pitch);
  }
  if (looked == 0) return {};
  const auto share = [&](std::size_t count) { return static_cast<double>(count) / static_cast<double>(looked); };
  return {share(along), share(square), share(facing), pitches.empty() ? 0 : median(pitches)};
}

/// Larger hard parts that may hold pieces of thread.
std::vector<Index> find_hosts(const RoleInput& in, std::span<const RoleVerdict> verdicts) {
  std::vector<Index> hosts;
  for (Index c = 0; c < verdicts.size(); ++c)
    if (verdicts[c].log_odds > kHostOdds && in.shapes[c].extents[0] * least_mm(in.scale) < kLargestHostMm)
      hosts.push_back(c);
  return hosts;
}

bool holds(const Shape& host, const Shape& guest) {
  if (guest.area > 0.5 * host.area) return false;
  const Vec3 d = guest.centroid - host.centroid;
  for (int i = 0; i < 3; ++i) {
    const auto j = static_cast<std::size_t>(i);
    // Thread lies on the button's face; prongs stand around a stone.
    const double slack = j == 2 ? 0.1 * host.extents[1] + 0.5 * guest.extents[2] : 0.5 * guest.extents[1];
    if (std::abs(dot(host.axes.column(i), d) - host.extent_mids[j]) > 0.5 * host.extents[j] + slack) return false;
  }
  return true;
}

/// Whether a row of stitches goes on from one of those within a host to one outside of it.
bool goes_on(const RoleInput& in, std::span<const Index> held, std::span<const Index> members,
             const NearestPoints& nearest) {
  for (const Index c : held) {
    const Shape& s = in.shapes[c];
    std::array<NearPoint, 7> near;
    const std::size_t found = nearest.find(s.centroid, near);
    for (std::size_t k = 0; k < found; ++k) {
      const Index other = members[near[k].index];
      const Vec3 to = in.shapes[other].centroid - s.centroid;
      const double d = length(to);
      if (d < 2.5 * s.extents[0] && std::abs(dot(to, s.axes.column(0))) > 0.8 * d &&
          std::find(held.begin(), held.end(), other) == held.end() && other != c)
        return true;
    }
  }
  return false;
}

/// Thread that holds buttons is no seam: most of its pieces lie in one. Where only a few do and no row goes on, they
/// are unsure.
void take_held(const RoleInput& in, std::span<const Index> hosts, double shortest, std::span<const Index> members,
               const NearestPoints& nearest, std::vector<float>& odds) {
  const Families& fam = *in.families;
  const auto kin_of = [&](Index c) { return fam.kin_of_twin[fam.twin_of_component[c]]; };
  std::vector<Index> held;
  for (const Index h : hosts) {
    if (in.shapes[h].extents[0] < shortest || kin_of(h) == kin_of(members[0])) continue;
    std::array<NearPoint, 8> near;
    const std::size_t found = nearest.find(in.shapes[h].centroid, near);
    std::vector<Index> own;
    for (std::size_t k = 0; k < found; ++k)
      if (const Index c = members[near[k].index]; holds(in.shapes[h], in.shapes[c])) own.push_back(c);
    if (!own.empty() && own.size() <= kMostThreads && !goes_on(in, own, members, nearest))
      held.insert(held.end(), own.begin(), own.end());
  }
  std::sort(held.begin(), held.end());
  held.erase(std::unique(held.begin(), held.end()), held.end());
  const bool most = 2 * held.size() > members.size();
  if (most)
    for (const Index c : members) odds[c] = -kUnsure;
  for (const Index c : held) odds[c] = most ? kHeld : std::min(odds[c], kUnsure);
}

struct Thread {  // medians of a kind, mm
  double slender = 0, width = 0, length = 0;
  bool flat = false;                        ///< without any depth
  bool ring = false;                        ///< closed with a hole, as links of a chain
  bool loop = false;                        ///< fine and bent tight, as overlock loops: not the outline tells its width
  bool heavy = false;                       ///< the same of yarn, bent once, as blanket stitches around an edge
  double pitch_in_widths = 0;               ///< of those square to their row
  double arch_slender = 0, arch_width = 0;  ///< along and through a heavy thread that is bent up, else 0
};

Thread measure(const RoleInput& in, std::span<const Index> members) {
  std::vector<double> slender;
  std::vector<double> width;
  std::vector<double> length;
  std::vector<double> depth;
  const double mm = in.scale.mm_per_unit;
  const Index first = *std::min_element(members.begin(), members.end());
  const Detail& d = in.twin_details[in.families->twin_of_component[first]];
  const Look l = look_at(in.shapes[first], d);
  for (const Index c : members) {
    const Shape& s = in.shapes[c];
    // The axes across a square bar are arbitrary, its moments are not: those of its walls are a sixth of the width's
    // square.
    const bool even = !l.round && s.moments[1] < 1.3 * s.moments[2];
    const double w = even ? std::min(s.extents[1], std::sqrt(6.5 * s.moments[1])) : s.extents[1];
    slender.push_back(w > 0 ? s.extents[0] / w : 100.0);
    width.push_back(w * mm);
    length.push_back(s.extents[0] * mm);
    depth.push_back(s.extents[2] * mm);
  }
  Thread t;
  t.slender = median(slender);
  t.width = median(width);
  t.length = median(length);
  t.flat = median(depth) < 0.05;
  t.ring = d.closed && d.euler < 2;
  const bool arch = is_arch(l, d);
  if (arch && d.thickness * mm < kHeavyMm) {
    t.arch_slender = l.slender;
    t.arch_width = d.thickness * mm;
  }
  t.heavy = d.thickness * mm >= kFineMm;
  if (l.form != Form::Wire || d.euler < 1 || d.thickness * mm >= (arch ? kFineMm : kYarnMm)) return t;
  t.loop = !arch && l.coil > 1.3 && l.slender > 8 && (!t.heavy || l.coil < kBentOnce);
  if (t.loop || (arch && !t.heavy)) {
    t.slender = l.slender;
    t.width = d.thickness * mm;
  }
  return t;
}

double thread_odds(const Thread& t, const Rows& rows, std::size_t count) {
  double x = t.slender > 4 ? 1.5 : (t.slender > 3 ? 0.7 : (t.slender > 2.2 ? 0.0 : -1.0));
  x += t.width < kFineMm ? 1.5 : (t.width < 1.0 ? 0.7 : (t.width < 1.2 ? -0.3 : -4.0));
  // Zigzag and satin stitches lie slanted or across; that speaks against thread only when it is thick.
  const bool fine = t.width < 0.8 && t.slender > 2.8;
  x += rows.along > 0.7 ? 2.5 : (rows.along > 0.5 ? 1.2 : (rows.along > 0.3 ? 0.3 : (fine ? 0.0 : -1.5)));
  if (rows.square > 0.5 && !fine && !t.flat) x -= rows.square > 0.8 ? 3.5 : 2;  // as zipper elements lie
  // Turns of a coil are as fine and slender as thread, but no thread meshes.
  if (rows.facing > 0.5) x -= t.loop ? (rows.facing > 0.8 ? 8 : 6) : 3;
  x -= t.length > 8 ? 2.0 : (t.length > 6 ? 1.0 : 0.0);  // longer than any machine stitch in use
  x += count >= 100 ? 1.0 : (count >= 30 ? 0.5 : 0.0);
  if (t.length > 6) x = std::min(x, static_cast<double>(kUnsure));  // fur and fringes are as fine
  // A doll's zipper elements are as fine as thread, but not as slender as satin stitches.
  if (rows.square > 0.5 && t.slender < 4 && !t.loop) x = std::min(x, static_cast<double>(kUnsure));
  // One side of a coil alone is a row of loops as overlock is, of a wire that few threads are as thick as.
  const bool turns = t.loop && t.width > kCoilMm && t.pitch_in_widths < kCoilPitch;
  if (rows.square > 0.5 && turns) x = std::min(x, static_cast<double>(kUnsure));
  return x;
}

double thread_odds_at(const Thread& t, const Rows& rows, std::size_t count, double larger) {
  Thread other = t;
  other.width *= larger;
  other.length *= larger;
  return thread_odds(other, rows, count);
}

/// Over the units that it could be, also a giant's. What would be no thread on an adult is unsure on a doll: bugle
/// beads and sequins made as much smaller.
double mean_thread_odds(const Thread& t, const Rows& rows, std::size_t count, const GarmentScale& scale) {
  const auto sure = [&](const UnitChance& u) {
    return u.mm_per_unit == scale.mm_per_unit && u.probability > kSureUnit;
  };
  double x = thread_odds(t, rows, count);
  if (std::none_of(scale.unit_chances.begin(), scale.unit_chances.end(), sure) && !scale.unit_chances.empty()) {
    double thread = 0;
    double total = 0;
    for (const UnitChance& u : scale.unit_chances) {
      const double odds = thread_odds_at(t, rows, count, u.mm_per_unit / scale.mm_per_unit);
      thread += u.probability / (1 + std::exp(-odds));
      total += u.probability;
    }
    const double p = std::clamp(thread / std::max(total, 1e-6), 1e-6, 1 - 1e-6);
    x = std::log(p / (1 - p));
  }
  const double doll = doll_factor(scale, scale.mm_per_unit, kSmallDollMm);
  return doll > 1 && thread_odds_at(t, rows, count, doll) < 0 ? std::min(x, static_cast<double>(kUnsure)) : x;
}

/// Whether a piece is a stitch that rounding or bending set apart from its kind.
bool stray_of(const Shape& s, const Shape& o) {
  const auto alike = [](double a, double b) { return a < kAlike * b && b < kAlike * a; };
  return s.vertex_count == o.vertex_count && alike(s.extents[0], o.extents[0]) && alike(s.area, o.area);
}

/// Whether it may be a few stitches in a row, or around a corner, whose ends coincide.
bool run_of(const Shape& s, const Shape& o) {
  const double more = static_cast<double>(s.vertex_count) / o.vertex_count;
  return more > 1 && more <= kLongestRun && s.extents[0] < kLongestRun * o.extents[0] &&
         s.area < kAlike * more * o.area && s.area * kAlike > more * o.area;
}

/// Whether it may be the same mesh, squeezed together where the cloth folds or bent around a corner of the seam: as
/// thick or of as much surface, no longer, and next to the other. Moments tell how thick, since the axes across a
/// square bar are arbitrary.
bool squeezed_of(const Shape& s, const Shape& o, double squared_distance) {
  if (s.vertex_count != o.vertex_count || s.face_count % o.face_count != 0) return false;
  const double thick = s.moments[1] + s.moments[2];
  const double other = o.moments[1] + o.moments[2];
  const bool squeezed = thick < kAlike * kAlike * other && other < kAlike * kAlike * thick;
  const bool bent = s.area < kAlike * o.area && o.area < kAlike * s.area;
  return s.extents[0] < kAlike * o.extents[0] && (squeezed || bent) &&
         squared_distance < kNextTo * kNextTo * o.extents[0] * o.extents[0];
}

/// Twins that are as many vertices as threads.
std::vector<std::uint8_t> twins_like(const RoleInput& in, std::span<const Index> threads) {
  const Families& fam = *in.families;
  std::vector<std::uint8_t> out(fam.twins(), 0);
  for (const Index c : threads) out[fam.twin_of_component[c]] = 1;
  std::vector<Index> counts;
  for (Index t = 0; t < fam.twins(); ++t)
    if (out[t] != 0) counts.push_back(in.shapes[fam.twin_representative[t]].vertex_count);
  std::sort(counts.begin(), counts.end());
  counts.erase(std::unique(counts.begin(), counts.end()), counts.end());
  for (Index t = 0; t < fam.twins(); ++t)
    if (std::binary_search(counts.begin(), counts.end(), in.shapes[fam.twin_representative[t]].vertex_count))
      out[t] = 1;
  return out;
}

/// What lies beside a stitch and is as large belongs to its seam; so, perhaps, does the same mesh in a fold between
/// two.
/// @param strays  pieces of kinds that were not judged, besides those that are too few for it
void adopt_strays(const RoleInput& in, std::vector<Index> strays, std::vector<float>& odds) {
  const Families& fam = *in.families;
  std::vector<Index> threads;
  for (Index c = 0; c < odds.size(); ++c)
    if (odds[c] > 0) threads.push_back(c);
  if (threads.empty()) return;
  const std::vector<std::uint8_t> like = twins_like(in, threads);
  std::vector<std::uint8_t> unjudged(odds.size(), 0);
  for (const Index c : strays) unjudged[c] = 1;
  for (Index c = 0; c < odds.size(); ++c) {
    const Index twin = fam.twin_of_component[c];
    if (odds[c] > 0 || !(in.shapes[c].extents[0] * in.scale.mm_per_unit < kLongestMm)) continue;
    const bool few = odds[c] == 0 && fam.kin_count[fam.kin_of_twin[twin]] < kFewest;
    if (few) unjudged[c] = 1;
    if (few || (like[twin] != 0 && unjudged[c] == 0)) strays.push_back(c);
  }
  if (strays.empty()) return;
  std::vector<Vec3> centres;
  centres.reserve(threads.size());
  for (const Index c : threads) centres.push_back(in.shapes[c].centroid);
  const NearestPoints nearest(centres);
  for (const Index c : strays) {
    std::array<NearPoint, 4> near;
    const Shape& s = in.shapes[c];
    const std::size_t found = nearest.find(s.centroid, near);
    const auto squeezed = std::count_if(near.begin(), near.begin() + found, [&](const NearPoint& n) {
      return squeezed_of(s, in.shapes[threads[n.index]], n.squared_distance);
    });
    if (squeezed > 1) odds[c] = std::max(odds[c], kUnsure);
    for (std::size_t k = 0; k < found && unjudged[c] != 0; ++k) {
      const Index other = threads[near[k].index];
      const Shape& o = in.shapes[other];
      if (!(near[k].squared_distance < 16 * s.extents[0] * s.extents[0])) continue;
      if (stray_of(s, o))
        odds[c] = std::max(odds[c], std::min(odds[other], kAdopted));
      else if (run_of(s, o))
        odds[c] = std::max(odds[c], std::min(odds[other], kUnsure));
    }
  }
}

}  // namespace

std::vector<float> stitching_odds(const RoleInput& in, std::span<const RoleVerdict> verdicts) {
  const Families& fam = *in.families;
  std::vector<float> odds = filled_large<float>(in.shapes.size(), 0.0F);
  const double mm = in.scale.mm_per_unit;
  const double longest = kLongestMm / least_mm(in.scale);
  // Members per kin, flat; only kin that are numerous and small.
  std::vector<Index> start(fam.kin_count.size() + 1, 0);
  const auto kin_of = [&](Index c) { return fam.kin_of_twin[fam.twin_of_component[c]]; };
  const auto fits = [&](Index c) { return fam.kin_count[kin_of(c)] >= kFewest && in.shapes[c].extents[0] < longest; };
  for (Index c = 0; c < in.shapes.size(); ++c)
    if (fits(c)) ++start[kin_of(c) + std::size_t{1}];
  for (std::size_t k = 1; k < start.size(); ++k) start[k] += start[k - 1];
  std::vector<Index> members = filled_large<Index>(start.back(), 0);
  std::vector<Index> next(start.begin(), start.end() - 1);
  for (Index c = 0; c < in.shapes.size(); ++c)
    if (fits(c)) members[next[kin_of(c)]++] = c;
  std::vector<Index> hosts;
  std::vector<Index> strays;
  for (std::size_t kin = 0; kin + 1 < start.size(); ++kin) {
    const std::span<const Index> own(members.data() + start[kin], start[kin + 1] - start[kin]);
    if (own.size() < kFewest) continue;
    Thread t = measure(in, own);
    if (t.ring || t.slender < kLeastSlender) continue;
    std::vector<Vec3> centres;
    reserve_large(centres, own.size());
    for (const Index c : own) centres.push_back(in.shapes[c].centroid);
    const NearestPoints nearest(centres);
    const Rows rows = look_at_rows(in, own, centres, nearest);
    if (t.width > 0) t.pitch_in_widths = rows.pitch * mm / t.width;
    // Heavy thread, one stitch after the other; across a row wire as thick may be a zipper's.
    if (rows.along > 0.7 && t.arch_width > 0) {
      t.slender = t.arch_slender;
      t.width = t.arch_width;
    }
    const double x = mean_thread_odds(t, rows, own.size(), in.scale);
    // As wide as long, nearly: only in rows.
    const double in_rows = t.heavy ? rows.along - 0.2 : std::max(rows.along, rows.square);
    if (t.loop && (own.size() < kFewestLoops || in_rows < 0.5)) {
      // Stitches around a corner look like loops.
      if (own.size() < kFewestLoops) strays.insert(strays.end(), own.begin(), own.end());
      continue;
    }
    if (t.slender < 1.6 && (rows.along < 0.7 || t.width > 1.05)) {
      if (t.flat && t.length < 2.5)
        for (const Index c : own) odds[c] = -kUnsure;
      continue;
    }
    for (const Index c : own) odds[c] = static_cast<float>(x);
    if (x <= kHeld) continue;
    if (hosts.empty()) hosts = find_hosts(in, verdicts);
    take_held(in, hosts, 1.1 * t.length / mm, own, nearest, odds);
  }
  adopt_strays(in, std::move(strays), odds);
  return odds;
}

}  // namespace trimtack
