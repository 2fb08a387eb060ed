// SPDX-License-Identifier: MIT
// Seams are sewn at 6 to 20 stitches an inch (1.3 to 4.2 mm each); sewing thread is well below a millimetre thick. A
// stitch lies along its seam (lockstitch), slanted (zigzag) or across (satin, bartack); zipper elements lie across, but
// are as thick as a millimetre or more and stouter; beads are as wide as long.
#include <algorithm>
#include <cmath>

#include "stages/clues.hpp"
#include "stages/nearest_points.hpp"

namespace trimtack {
namespace {

constexpr std::size_t kFewest = 8;
constexpr double kLongestMm = 12;

double median(std::vector<double>& values) {
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

/// Share of the members with a neighbour ahead or behind, within reach of a stitch, nearly along their own length.
double along_share(const RoleInput& in, std::span<const Index> members) {
  std::vector<Vec3> centres;
  centres.reserve(members.size());
  for (const Index c : members) centres.push_back(in.shapes[c].centroid);
  const NearestPoints nearest(centres);
  // Enough members tell what all do.
  const std::size_t step = std::max<std::size_t>(1, members.size() / 2000);
  std::size_t looked = 0;
  std::size_t along = 0;
  for (std::size_t i = 0; i < members.size(); i += step) {
    std::array<NearPoint, 7> near;
    const std::size_t found = nearest.find(centres[i], near);
    const Shape& s = in.shapes[members[i]];
    const Vec3 axis = s.axes.column(0);
    bool ahead = false;
    for (std::size_t k = 0; k < found && !ahead; ++k) {
      if (near[k].index == i) continue;
      const Vec3 to = centres[near[k].index] - centres[i];
      const double d = std::sqrt(near[k].squared_distance);
      if (!(d > 0) || d > 4 * s.extents[0]) continue;
      const double step_along = std::abs(dot(axis, to));
      // One after the other: no overlap along their length, as elements of two zipper sides have.
      ahead = step_along > 0.8 * d && step_along > 0.75 * s.extents[0];
      // Or slanted in a row that goes on to both sides; a zipper's row runs square to its elements.
      for (std::size_t j = 0; j < k && !ahead; ++j)
        ahead =
            near[j].index != i && step_along > 0.4 * d && length(to + (centres[near[j].index] - centres[i])) < 0.35 * d;
    }
    ++looked;
    along += ahead ? 1 : 0;
  }
  return looked > 0 ? static_cast<double>(along) / static_cast<double>(looked) : 0;
}

}  // namespace

std::vector<float> stitching_odds(const RoleInput& in) {
  const Families& fam = *in.families;
  std::vector<float> odds(in.shapes.size(), 0.0F);
  const double mm = in.scale.mm_per_unit;
  // Members per kin, flat; only kin that are numerous and small.
  std::vector<Index> start(fam.kin_count.size() + 1, 0);
  const auto kin_of = [&](Index c) { return fam.kin_of_twin[fam.twin_of_component[c]]; };
  const auto fits = [&](Index c) {
    return fam.kin_count[kin_of(c)] >= kFewest && in.shapes[c].extents[0] * mm < kLongestMm;
  };
  for (Index c = 0; c < in.shapes.size(); ++c)
    if (fits(c)) ++start[kin_of(c) + std::size_t{1}];
  for (std::size_t k = 1; k < start.size(); ++k) start[k] += start[k - 1];
  std::vector<Index> members(start.back());
  std::vector<Index> next(start.begin(), start.end() - 1);
  for (Index c = 0; c < in.shapes.size(); ++c)
    if (fits(c)) members[next[kin_of(c)]++] = c;
  for (std::size_t kin = 0; kin + 1 < start.size(); ++kin) {
    const std::span<const Index> own(members.data() + start[kin], start[kin + 1] - start[kin]);
    if (own.size() < kFewest) continue;
    std::vector<double> slender;
    std::vector<double> width;
    for (const Index c : own) {
      const Shape& s = in.shapes[c];
      // The axes across a square or round bar are arbitrary, its moments are not: those of the walls of a square one
      // are a sixth of the width's square, of a round one an eighth.
      const bool even = s.moments[1] < 1.3 * s.moments[2];
      const double w = even ? std::min(s.extents[1], std::sqrt(6.5 * s.moments[1])) : s.extents[1];
      slender.push_back(w > 0 ? s.extents[0] / w : 100.0);
      width.push_back(w * mm);
    }
    const double m = median(slender);
    const double w = median(width);
    if (m < 1.6) continue;
    double x = m > 4 ? 1.5 : (m > 3 ? 0.7 : (m > 2.2 ? 0.0 : -1.0));
    x += w < 0.65 ? 1.5 : (w < 1.0 ? 0.7 : (w < 1.5 ? -0.3 : -2.0));
    const double along = along_share(in, own);
    // Zigzag and satin stitches lie slanted or across; that speaks against thread only when it is thick.
    x += along > 0.7 ? 2.5 : (along > 0.5 ? 1.2 : (along > 0.3 ? 0.3 : (w < 0.8 && m > 2.8 ? 0.0 : -1.5)));
    const double l = in.shapes[own[own.size() / 2]].extents[0] * mm;
    x -= l > 8 ? 2.0 : (l > 6 ? 1.0 : 0.0);  // longer than any machine stitch in use
    x += own.size() >= 100 ? 1.0 : (own.size() >= 30 ? 0.5 : 0.0);
    for (const Index c : own) odds[c] = static_cast<float>(x);
  }
  return odds;
}

}  // namespace trimtack
