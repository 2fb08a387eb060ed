// SPDX-License-Identifier: MIT
// Top stops, the insertion pin and the box are clamped to the edge of one tape, as the elements are, in line with them
// and right behind the last one; a slider, its bridge and its pull keep to the middle between the two sides (zipper
// makers' glossaries).
#include "stages/row_ends.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "stages/nearest_points.hpp"

namespace trimtack {
namespace {

constexpr std::size_t kNear = 8;  // elements about a part, or about an element
constexpr Index kFewestElements = 16;
constexpr double kRound = 0.82;      // outline, as of beads
constexpr Index kHeldBySlider = 3;   // elements; a stop lies close behind one
constexpr Index kFewParts = 8;       // of a kind: two stops a zipper
constexpr double kSquare = 0.4;      // cosine: a row runs square to its elements
constexpr double kOpposite = 0.35;   // of the pitch
constexpr double kFarthest = 2.5;    // pitches between the last element and what comes behind it
constexpr double kBeside = 0.75;     // of an element's length, off the row
constexpr double kOneSided = 0.5;    // of the way off the other row
constexpr double kOtherSide = 0.25;  // of an element's length: no nearer do two sides lie

class Elements {
 public:
  Elements(const RoleInput& in, std::vector<Index> elements, std::vector<Vec3> centres)
      : in_(in), elements_(std::move(elements)), centres_(std::move(centres)), nearest_(centres_) {}

  /// The last element of the row that goes on to the part, kNone without.
  Index end_before(Index part) const {
    const Shape& s = in_.shapes[part];
    const Vec3 p = middle_of_extents(s);
    std::array<NearPoint, kNear> near;
    const std::size_t found = nearest_.find(p, near);
    for (std::size_t i = 0; i < found; ++i) {
      const Index e = near[i].index;
      Vec3 step;
      if (!is_last(e, step)) continue;
      const double pitch = length(step);
      const Vec3 ahead = (1 / pitch) * step;
      const double along = dot(p - centres_[e], ahead);
      const double off = off_row(p, e, ahead);
      if (along < 0.25 * pitch || along > half_span(s, ahead) + kFarthest * pitch) continue;
      const double size = in_.shapes[elements_[e]].extents[0];
      if (off > kBeside * size || !one_sided(p, e, ahead, off, std::span(near).first(found))) continue;
      return elements_[e];
    }
    return kNone;
  }

 private:
  double off_row(const Vec3& p, Index element, const Vec3& ahead) const {
    const Vec3 d = p - centres_[element];
    return length(d - dot(d, ahead) * ahead);
  }

  /// Whether the part lies much nearer to this row than to the other side's, where there is one.
  bool one_sided(const Vec3& p, Index e, const Vec3& ahead, double off, std::span<const NearPoint> near) const {
    const double size = in_.shapes[elements_[e]].extents[0];
    return std::all_of(near.begin(), near.end(), [&](const NearPoint& other) {
      const bool facing = off_row(centres_[other.index], e, ahead) > kOtherSide * size;
      return !facing || off < kOneSided * off_row(p, static_cast<Index>(other.index), ahead);
    });
  }

  /// Whether a row ends with this element, and the step from the one before it.
  bool is_last(Index e, Vec3& step) const {
    const Shape& s = in_.shapes[elements_[e]];
    std::array<NearPoint, kNear> near;
    const std::size_t found = nearest_.find(centres_[e], near);
    Vec3 back{};
    for (std::size_t k = 0; k < found; ++k) {
      const Vec3 to = centres_[near[k].index] - centres_[e];
      const double d = length(to);
      if (!(d > 0) || std::abs(dot(s.axes.column(0), to)) > kSquare * d) continue;
      if (length(back) == 0)
        back = to;
      else if (length(back + to) < kOpposite * length(back))
        return false;
    }
    step = -back;
    return length(back) > 0;
  }

  const RoleInput& in_;
  std::vector<Index> elements_;
  std::vector<Vec3> centres_;
  NearestPoints nearest_;
};

}  // namespace

std::vector<Index> find_row_ends(const RoleInput& in, std::span<const RoleVerdict> verdicts,
                                 std::span<const Link> links) {
  const Families& fam = *in.families;
  std::vector<Index> ends(verdicts.size(), kNone);
  const auto may_be_element = [&](Index c) {
    return fam.kin_count[kin_of(fam, c)] >= kFewestElements && verdicts[c].role == Role::Trim &&
           in.twin_details[twin_of(fam, c)].roundness < kRound;
  };
  std::vector<std::uint8_t> within(fam.kin_count.size(), 0);  // kin that lie in a slider
  std::vector<Index> held(verdicts.size(), 0);
  for (const Link& l : links)
    if (l.nested && may_be_element(l.guest)) {
      within[kin_of(fam, l.guest)] = 1;
      ++held[l.host];
    }
  std::vector<Index> elements;
  std::vector<Vec3> centres;
  for (Index c = 0; c < verdicts.size(); ++c)
    if (within[kin_of(fam, c)] != 0 && verdicts[c].role == Role::Trim) {
      elements.push_back(c);
      centres.push_back(middle_of_extents(in.shapes[c]));
    }
  if (elements.empty()) return ends;
  std::vector<Index> parts;
  for (const Link& l : links)
    for (const Index c : {l.host, l.guest})
      if (verdicts[c].role == Role::Trim && fam.kin_count[kin_of(fam, c)] <= kFewParts && held[c] < kHeldBySlider)
        parts.push_back(c);
  std::sort(parts.begin(), parts.end());
  parts.erase(std::unique(parts.begin(), parts.end()), parts.end());
  const Elements rows(in, std::move(elements), std::move(centres));
  for (const Index c : parts) ends[c] = rows.end_before(c);
  return ends;
}

}  // namespace trimtack
