// SPDX-License-Identifier: MIT
// What is sewn on or assembled in a workshop is made alike every time: parts of one trim meet wherever their kinds
// occur, parts that meet by chance do not.
#include "stages/find/trim_links.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <utility>

#include "stages/find/clues.hpp"
#include "stages/find/contacts.hpp"

namespace trimtack {
namespace {

/// More guests of one kind than this are a chain that runs under the host, unless the whole kind lies in such hosts.
constexpr Index kMostLikeGuests = 4;
constexpr Index kMostLikeThreads = 8;
// Of the smaller length. A thread may pass through the middle of a wide hole without touching it.
constexpr double kTouchReach = 0.06;
constexpr double kNestedReach = 0.12;
constexpr double kThreadReach = 0.5;
constexpr double kSortRatio = 1.25;  // guests are sorted by their length against the host's in steps of this
constexpr double kMostSteps = 100;
constexpr Index kNearSteps = 2;  // threads of buttons that differ in thickness
// Length over thickness: a stout disc measures as a piece of tube.
constexpr double kWireSlender = 4;
constexpr double kRoundSlender = 9;
constexpr double kStraight = 1.2;      // wire length over extent
constexpr Index kFewGates = 64;        // of a kind: a belt or a chain has a dozen spring hooks
constexpr double kEndInBar = 0.75;     // of the ring's thickness: in its middle, or on its surface
constexpr double kThickestGate = 1.1;  // of the hook's wire (common practice, no source): tips of cords are thicker

bool is_smaller(const Shape& a, const Shape& b) {
  return a.area != b.area ? a.area < b.area : a.extents[0] < b.extents[0];
}

/// Whether the guest's middle lies within the host's extents, and how far out in all directions together: of sequins
/// that overlap a bead holds the one in whose middle it lies, however high it stands on both.
bool is_nested(const Shape& host, const Shape& guest, double& off_centre) {
  const Vec3 d = guest.centroid - host.centroid;
  const double slack = 0.1 * host.extents[1] + 0.25 * guest.extents[2];
  bool inside = true;
  double squared = 0;
  for (int i = 0; i < 3; ++i) {
    const auto j = static_cast<std::size_t>(i);
    const double off = std::abs(dot(host.axes.column(i), d) - host.extent_mids[j]);
    const double half = 0.5 * host.extents[j] + slack;
    inside = inside && off <= half;
    if (half > 0) squared += (off / half) * (off / half);
  }
  off_centre = std::sqrt(squared);
  return inside;
}

Look look_of(const RoleInput& in, Index c) { return look_at(in.shapes[c], in.twin_details[twin_of(*in.families, c)]); }

/// Of the links that do not run through their host.
std::vector<Index> guests_of(std::span<const Link> links, std::span<const std::uint8_t> running) {
  std::vector<Index> guests;
  for (std::size_t i = 0; i < links.size(); ++i)
    if (running[i] == 0) guests.push_back(links[i].guest);
  return guests;
}

}  // namespace

bool is_wire(const RoleInput& in, Index c) {
  const Look l = look_of(in, c);
  if (l.form != Form::Wire) return false;
  const bool disc = l.round && l.width > 0.75 * l.length && in.twin_details[twin_of(*in.families, c)].euler == 2;
  return l.slender > (disc ? kRoundSlender : kWireSlender);
}

bool is_open_wire(const RoleInput& in, Index c) {
  return in.twin_details[twin_of(*in.families, c)].euler == 2 && is_wire(in, c);
}

bool may_be_bar(const RoleInput& in, const Link& l) {
  const Detail& ring = in.twin_details[twin_of(*in.families, l.host)];
  if (!l.nested || !ring.closed || ring.euler > 0) return false;
  const Look bar = look_of(in, l.guest);
  return bar.form == Form::Wire && bar.coil < kStraight && is_open_wire(in, l.guest);
}

namespace {

/// Whether a place lies on a part's surface, or within its wire.
bool lies_on(const RoleInput& in, const Vec3& p, Index part) {
  const double reach = kEndInBar * in.twin_details[twin_of(*in.families, part)].thickness;
  double nearest = std::numeric_limits<double>::infinity();
  const auto& at = in.mesh->positions;
  for (const Index f : in.components->faces_of(part)) {
    const auto corners = in.mesh->face(f);
    for (std::size_t k = 1; k + 1 < corners.size(); ++k)
      nearest = std::min(nearest, squared_distance_to_triangle(p, at[corners[0]], at[corners[k]], at[corners[k + 1]]));
  }
  return nearest <= reach * reach;
}

/// The two ends of a straight part.
std::array<Vec3, 2> ends_of(const Shape& s) {
  const Vec3 half = 0.5 * s.extents[0] * s.axes.column(0);
  return {middle_of_extents(s) - half, middle_of_extents(s) + half};
}

}  // namespace

bool reaches_across(const RoleInput& in, Index part, Index ring, Index other) {
  const auto [one, end] = ends_of(in.shapes[part]);
  return (lies_on(in, one, ring) && lies_on(in, end, other)) || (lies_on(in, end, ring) && lies_on(in, one, other));
}

std::vector<std::array<Index, 2>> find_gates(const RoleInput& in, std::span<const RoleVerdict> verdicts,
                                             std::span<const Index> candidates) {
  std::vector<Index> wires;
  std::vector<std::uint8_t> camps(in.shapes.size(), 0);
  for (const Index c : candidates) {
    if (verdicts[c].role != Role::Trim || in.families->kin_count[kin_of(*in.families, c)] > kFewGates) continue;
    if (!is_open_wire(in, c)) continue;
    camps[c] = look_of(in, c).coil < kStraight ? 1 : 2;
    wires.push_back(c);
  }
  std::vector<std::array<Index, 2>> gates;
  const FaceView faces{in.mesh->positions, in.mesh->face_offsets, in.mesh->corner_position};
  for (const auto& [a, b] : find_contacts(faces, *in.components, in.shapes, wires, kTouchReach, camps)) {
    const Index gate = camps[a] == 1 ? a : b;
    const Index hook = gate == a ? b : a;
    const Shape& s = in.shapes[gate];
    const double wire = in.twin_details[twin_of(*in.families, hook)].thickness;
    if (in.twin_details[twin_of(*in.families, gate)].thickness > kThickestGate * wire) continue;
    if (s.extents[0] < in.shapes[hook].extents[0] && !lies_on(in, middle_of_extents(s), hook) &&
        reaches_across(in, gate, hook, hook))
      gates.push_back({hook, gate});
  }
  return gates;
}

namespace {

/// What wires are, looked at once a part.
class Wires {
 public:
  explicit Wires(const RoleInput& input) : in_(input), known_(input.shapes.size(), kUnknown) {}
  bool has_form(Index c) { return (look(c) & kForm) != 0; }
  bool is_open(Index c) { return (look(c) & kOpen) != 0; }

 private:
  static constexpr std::uint8_t kUnknown = 4, kForm = 1, kOpen = 2;

  std::uint8_t look(Index c) {
    if (known_[c] == kUnknown) {
      known_[c] = static_cast<std::uint8_t>((look_of(in_, c).form == Form::Wire ? kForm : 0) |
                                            (is_open_wire(in_, c) ? kOpen : 0));
    }
    return known_[c];
  }

  const RoleInput& in_;
  std::vector<std::uint8_t> known_;
};

/// How two parts of different kinds would hang together, and how near they have to come for that; negative where they
/// cannot.
double link_reach(const RoleInput& in, std::span<const RoleVerdict> verdicts, Wires& wires, Index a, Index b, Link& l) {
  const bool a_guest = is_smaller(in.shapes[a], in.shapes[b]);
  l.host = a_guest ? b : a;
  l.guest = a_guest ? a : b;
  if (verdicts[l.host].role == Role::Stitching) return -1;
  if (wires.is_open(a) && wires.is_open(b)) return -1;
  l.nested = is_nested(in.shapes[l.host], in.shapes[l.guest], l.off_centre);
  const double share = !l.nested ? kTouchReach : (wires.has_form(l.guest) ? kThreadReach : kNestedReach);
  return share * std::min(in.shapes[a].extents[0], in.shapes[b].extents[0]);
}

}  // namespace

std::vector<Link> find_links(const RoleInput& in, std::span<const RoleVerdict> verdicts,
                             std::span<const Index> candidates) {
  const FaceView faces{in.mesh->positions, in.mesh->face_offsets, in.mesh->corner_position};
  std::vector<Link> links;
  std::vector<std::uint8_t> camps(in.shapes.size(), 0);
  std::vector<Index> kinds(in.shapes.size(), kNone);
  for (const Index c : candidates) {
    camps[c] = verdicts[c].role == Role::Stitching ? 1 : 0;
    kinds[c] = kin_of(*in.families, c);
  }
  Wires wires(in);
  const auto limit = [&](Index a, Index b) {
    Link unused;
    return link_reach(in, verdicts, wires, a, b, unused);
  };
  for (const auto& [a, b] :
       find_contacts(faces, *in.components, in.shapes, candidates, kThreadReach, camps, kinds, limit)) {
    Link& l = links.emplace_back();
    link_reach(in, verdicts, wires, a, b, l);
  }
  return links;
}

std::vector<std::uint8_t> running_links(const RoleInput& in, std::span<const RoleVerdict> verdicts,
                                        std::span<const Link> links) {
  const Families& fam = *in.families;
  std::vector<std::array<Index, 2>> keys;
  keys.reserve(links.size());
  for (const Link& l : links) keys.push_back({l.host, kin_of(fam, l.guest)});
  std::vector<std::array<Index, 2>> sorted = keys;
  std::sort(sorted.begin(), sorted.end());
  std::vector<Index> nested;
  for (const Link& l : links)
    if (l.nested) nested.push_back(l.guest);
  std::sort(nested.begin(), nested.end());
  nested.erase(std::unique(nested.begin(), nested.end()), nested.end());
  std::vector<Index> nested_of_kin(fam.kin_count.size(), 0);
  for (const Index c : nested) ++nested_of_kin[kin_of(fam, c)];
  std::vector<std::uint8_t> out(links.size(), 0);
  for (std::size_t i = 0; i < links.size(); ++i) {
    const auto [low, high] = std::equal_range(sorted.begin(), sorted.end(), keys[i]);
    if (high - low <= static_cast<std::ptrdiff_t>(kMostLikeGuests)) continue;
    // All of them within such hosts: threads through the holes, stones in a setting.
    const Index kin = keys[i][1];
    const bool all_nested = nested_of_kin[kin] >= 0.95 * fam.kin_count[kin];
    const bool few = high - low <= static_cast<std::ptrdiff_t>(kMostLikeThreads);
    out[i] = all_nested && (few || verdicts[links[i].guest].role == Role::Trim) ? 0 : 1;
  }
  return out;
}

KindShare::KindShare(const Families& families, std::vector<Index> parts)
    : fam_(families), of_twin_(families.twins(), 0), of_kin_(families.kin_count.size(), 0) {
  std::sort(parts.begin(), parts.end());
  parts.erase(std::unique(parts.begin(), parts.end()), parts.end());
  for (const Index c : parts) {
    ++of_twin_[twin_of(fam_, c)];
    ++of_kin_[kin_of(fam_, c)];
  }
}

double KindShare::of(Index part) const {
  const Index twin = twin_of(fam_, part);
  const Index kin = kin_of(fam_, part);
  if (fam_.twin_count[twin] < kFewTwins) return static_cast<double>(of_kin_[kin]) / fam_.kin_count[kin];
  return static_cast<double>(of_twin_[twin]) / fam_.twin_count[twin];
}

Kinds::Kinds(const RoleInput& input, std::span<const Link> links, std::span<const std::uint8_t> running)
    : in_(input), fam_(*input.families), attached_(fam_, guests_of(links, running)) {
  rare_.assign(fam_.kin_count.size(), 0);
  runs_.assign(fam_.kin_count.size(), 0);
  for (Index t = 0; t < fam_.twins(); ++t)
    if (fam_.twin_count[t] < kFewTwins) rare_[fam_.kin_of_twin[t]] = 1;
  std::vector<Index> hosts;
  for (std::size_t i = 0; i < links.size(); ++i) {
    const Link& l = links[i];
    for (const auto& [one, other] : {std::pair{l.host, l.guest}, std::pair{l.guest, l.host}}) {
      meetings_.push_back({twin_of(fam_, one), kin_of(fam_, other), one});
      if (rare_[kin_of(fam_, one)] != 0)
        meetings_.push_back({fam_.twins() + kin_of(fam_, one), kin_of(fam_, other), one});
    }
    if (running[i] != 0 && l.nested) runs_[kin_of(fam_, l.guest)] = 1;
    if (!l.nested) continue;
    hosts.push_back(l.host);
    if (running[i] == 0)
      for (Index step = 0; step <= 2 * kNearSteps; ++step)
        sorts_.push_back({kin_of(fam_, l.host), sort_of(l.host, l.guest) + 2 * step, l.host});
  }
  const auto make_unique = [](auto& list) {
    std::sort(list.begin(), list.end());
    list.erase(std::unique(list.begin(), list.end()), list.end());
  };
  make_unique(hosts);
  make_unique(meetings_);
  make_unique(sorts_);
  hosts_of_kin_.assign(fam_.kin_count.size(), 0);
  for (const Index c : hosts) ++hosts_of_kin_[kin_of(fam_, c)];
}

/// Even for bodies, odd for wire; one step of length is two.
Index Kinds::sort_of(Index host, Index guest) const {
  const double length = in_.shapes[guest].extents[0] / std::max(in_.shapes[host].extents[0], 1e-300);
  const double steps = length > 0 ? std::floor(std::log(length) / std::log(kSortRatio)) : -kMostSteps;
  return static_cast<Index>(2 * (std::clamp(steps, -kMostSteps, kMostSteps) + kMostSteps)) +
         (is_wire(in_, guest) ? 1U : 0U);
}

Index Kinds::count_meetings(Index from, Index to) const {
  const auto low = std::lower_bound(meetings_.begin(), meetings_.end(), Meeting{from, to, 0});
  const auto high = std::upper_bound(meetings_.begin(), meetings_.end(), Meeting{from, to, kNone});
  return static_cast<Index>(high - low);
}

double Kinds::share(Index from, Index other) const {
  const Index twin = twin_of(fam_, from);
  const Index kin = kin_of(fam_, from);
  const bool few = fam_.twin_count[twin] < kFewTwins;
  const Index met = count_meetings(few ? fam_.twins() + kin : twin, kin_of(fam_, other));
  return static_cast<double>(met) / (few ? fam_.kin_count[kin] : fam_.twin_count[twin]);
}

double Kinds::hosting(Index host) const {
  const Index kin = kin_of(fam_, host);
  return static_cast<double>(hosts_of_kin_[kin]) / fam_.kin_count[kin];
}

double Kinds::hosting_such(Index host, Index guest) const {
  const Index kin = kin_of(fam_, host);
  const Index sort = sort_of(host, guest) + 2 * kNearSteps;
  const auto low = std::lower_bound(sorts_.begin(), sorts_.end(), Meeting{kin, sort, 0});
  const auto high = std::upper_bound(sorts_.begin(), sorts_.end(), Meeting{kin, sort, kNone});
  return static_cast<double>(high - low) / fam_.kin_count[kin];
}

Threads::Threads(const RoleInput& in, std::span<const RoleVerdict> verdicts, std::span<const Link> links,
                 std::span<const std::uint8_t> running) {
  std::vector<std::uint8_t> attached(verdicts.size(), 0);
  for (std::size_t i = 0; i < links.size(); ++i)
    if (running[i] == 0) attached[links[i].guest] = 1;
  std::vector<std::pair<Key, Index>> pieces;
  for (Index c = 0; c < verdicts.size(); ++c)
    if (verdicts[c].role == Role::Stitching)
      pieces.push_back({{in.shapes[c].vertex_count, in.shapes[c].extents[0]}, c});
  std::sort(pieces.begin(), pieces.end());
  sum_.push_back(0);
  for (const auto& [key, c] : pieces) {
    keys_.push_back(key);
    sum_.push_back(sum_.back() + attached[c]);
  }
}

double Threads::attached(const Shape& shape) const {
  const double length = shape.extents[0];
  const auto low = std::lower_bound(keys_.begin(), keys_.end(), Key{shape.vertex_count, length / 1.3}) - keys_.begin();
  const auto high = std::upper_bound(keys_.begin(), keys_.end(), Key{shape.vertex_count, length * 1.3}) - keys_.begin();
  const auto at = [&](std::ptrdiff_t i) { return static_cast<double>(sum_[static_cast<std::size_t>(i)]); };
  return high > low ? (at(high) - at(low)) / static_cast<double>(high - low) : 0;
}

}  // namespace trimtack
