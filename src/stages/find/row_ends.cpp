// SPDX-License-Identifier: MIT
// Top stops, the insertion pin and the box are clamped to the edge of one tape, as the elements are, in line with them
// and right behind the last one; a slider, its bridge and its pull keep to the middle between the two sides (zipper
// makers' glossaries).
#include "stages/find/row_ends.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "stages/find/nearest_points.hpp"

namespace trimtack {
namespace {

constexpr std::size_t kNear = 8;  // elements about a part, or about an element
constexpr Index kFewestElements = 16;
constexpr double kRound = 0.82;        // outline, as of beads
constexpr double kMostInHosts = 0.5;   // of a kind: threads lie in buttons, elements go on outside of the slider
constexpr Index kHeldBySlider = 3;     // elements; a stop lies close behind one
constexpr double kUnderPlate = 0.75;   // of an element's length, between its middle and a slider's plate
constexpr Index kFewParts = 32;        // of a kind: two stops a zipper, of which a jacket has a dozen
constexpr Index kElementsPerPart = 8;  // at least: buttons in a row have a few threads each
constexpr double kSquare = 0.4;        // cosine: a row runs square to its elements
constexpr double kOpposite = 0.35;     // of the pitch
constexpr double kFarthest = 2.5;      // pitches between the last element and what comes behind it
constexpr double kBeside = 0.75;       // of an element's length, off the row
constexpr double kOneSided = 0.33;     // of the way to the other row
constexpr double kOtherSide = 0.25;    // of an element's length: no nearer do two sides lie

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
      if (off > kBeside * size || !one_sided(p, e, ahead, std::span(near).first(found))) continue;
      return elements_[e];
    }
    return kNone;
  }

 private:
  double off_row(const Vec3& p, Index element, const Vec3& ahead) const {
    const Vec3 d = p - centres_[element];
    return length(d - dot(d, ahead) * ahead);
  }

  /// Whether the part lies on this row's side, or farther out, where another side faces it.
  bool one_sided(const Vec3& p, Index e, const Vec3& ahead, std::span<const NearPoint> near) const {
    const double size = in_.shapes[elements_[e]].extents[0];
    return std::all_of(near.begin(), near.end(), [&](const NearPoint& other) {
      const Vec3 d = centres_[other.index] - centres_[e];
      const Vec3 across = d - dot(d, ahead) * ahead;
      const double apart = length(across);
      return apart <= kOtherSide * size || dot(p - centres_[e], across) < kOneSided * apart * apart;
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

/// Whether an element lies under a slider's plate, touching or not: of a slider in parts no part holds the elements.
bool lies_under(const Shape& element, const Shape& plate) {
  const Vec3 d = middle_of_extents(element) - middle_of_extents(plate);
  const auto off = [&](int k) { return std::abs(dot(plate.axes.column(k), d)); };
  return off(0) < 0.5 * plate.extents[0] && off(1) < 0.5 * plate.extents[1] &&
         off(2) < 0.5 * plate.extents[2] + kUnderPlate * element.extents[0];
}

/// Counts the elements under each of the parts.
/// @param may_be_element  of what there are many
/// @param within  set for the kin that lie under a part
void find_under_plates(const RoleInput& in, std::span<const Index> parts, std::vector<Index> may_be_element,
                       std::vector<std::uint8_t>& within, std::vector<Index>& held) {
  std::vector<Vec3> centres;
  centres.reserve(may_be_element.size());
  for (const Index c : may_be_element) centres.push_back(middle_of_extents(in.shapes[c]));
  const NearestPoints nearest(centres);
  for (const Index part : parts) {
    std::array<NearPoint, kNear> near;
    const std::size_t found = nearest.find(middle_of_extents(in.shapes[part]), near);
    std::vector<Index> under;
    for (std::size_t k = 0; k < found; ++k)
      if (const Index e = may_be_element[near[k].index]; lies_under(in.shapes[e], in.shapes[part])) under.push_back(e);
    if (under.size() < kHeldBySlider) continue;
    held[part] = std::max(held[part], static_cast<Index>(under.size()));
    for (const Index e : under) within[kin_of(*in.families, e)] = 1;
  }
}

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
  std::vector<Index> guests;
  for (const Link& l : links)
    if (l.nested && may_be_element(l.guest)) {
      guests.push_back(l.guest);
      ++held[l.host];
    }
  const KindShare nested(fam, guests);
  for (const Index c : guests)
    if (nested.of(c) < kMostInHosts) within[kin_of(fam, c)] = 1;
  const auto is_few = [&](Index c) {
    return verdicts[c].role == Role::Trim && fam.kin_count[kin_of(fam, c)] <= kFewParts;
  };
  std::vector<Index> parts;
  for (const Link& l : links)
    for (const Index c : {l.host, l.guest})
      if (is_few(c)) parts.push_back(c);
  std::sort(parts.begin(), parts.end());
  parts.erase(std::unique(parts.begin(), parts.end()), parts.end());
  std::vector<Index> many;
  for (Index c = 0; c < verdicts.size() && !parts.empty(); ++c)
    if (may_be_element(c) && nested.of(c) < kMostInHosts) many.push_back(c);
  if (!many.empty()) find_under_plates(in, parts, std::move(many), within, held);
  std::vector<Index> elements;
  std::vector<Vec3> centres;
  for (Index c = 0; c < verdicts.size(); ++c)
    if (within[kin_of(fam, c)] != 0 && verdicts[c].role == Role::Trim) {
      elements.push_back(c);
      centres.push_back(middle_of_extents(in.shapes[c]));
    }
  if (elements.empty()) return ends;
  std::erase_if(parts, [&](Index c) { return held[c] >= kHeldBySlider; });
  const Elements rows(in, std::move(elements), std::move(centres));
  for (const Index c : parts) {
    const Index e = rows.end_before(c);
    if (e != kNone && fam.kin_count[kin_of(fam, e)] >= kElementsPerPart * fam.kin_count[kin_of(fam, c)]) ends[c] = e;
  }
  return ends;
}

}  // namespace trimtack
