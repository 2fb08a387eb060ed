// SPDX-License-Identifier: MIT
#include "trimtack/trims.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>
#include <utility>

#include "stages/clues.hpp"
#include "stages/contacts.hpp"

namespace trimtack {
namespace {

class Union {
 public:
  explicit Union(Index n) : parent_(n) { std::iota(parent_.begin(), parent_.end(), Index{0}); }
  Index find(Index v) {
    while (parent_[v] != v) v = parent_[v] = parent_[parent_[v]];
    return v;
  }
  void join(Index a, Index b) {
    a = find(a);
    b = find(b);
    parent_[std::max(a, b)] = std::min(a, b);
  }

 private:
  std::vector<Index> parent_;
};

/// How a pair of components hangs together.
struct Link {
  Index host, guest;  // the guest is the smaller one
  double distance;
  bool nested;  // the guest's middle lies within the host's extents
};

/// More guests of one kind than this are a chain that runs under the host (zipper elements in a slider).
constexpr Index kMostLikeGuests = 4;
constexpr Index kMostParts = 6;  // of an assembly

Index twin_of(const Families& fam, Index c) { return fam.twin_of_component[c]; }
Index kin_of(const Families& fam, Index c) { return fam.kin_of_twin[twin_of(fam, c)]; }

bool is_nested(const Shape& host, const Shape& guest) {
  const Vec3 d = guest.centroid - host.centroid;
  const double slack = 0.1 * host.extents[1] + 0.25 * guest.extents[2];
  for (int i = 0; i < 3; ++i) {
    const auto j = static_cast<std::size_t>(i);
    if (std::abs(dot(host.axes.column(i), d) - host.extent_mids[j]) > 0.5 * host.extents[j] + slack) return false;
  }
  return true;
}

/// (twin group of one, kin of the other, member): which members of a kind have a link with the other kind.
struct Meeting {
  Index from, to, member;
  friend bool operator==(const Meeting&, const Meeting&) = default;
  friend bool operator<(const Meeting& a, const Meeting& b) {
    if (a.from != b.from) return a.from < b.from;
    return a.to != b.to ? a.to < b.to : a.member < b.member;
  }
};

/// How regularly kinds of parts meet over the whole garment.
class Kinds {
 public:
  Kinds(const Families& fam, std::span<const Link> links) : fam_(fam), attached_of_twin_(fam.twins(), 0) {
    std::vector<Index> attached;
    for (const Link& l : links) {
      meetings_.push_back({twin_of(fam, l.host), kin_of(fam, l.guest), l.host});
      meetings_.push_back({twin_of(fam, l.guest), kin_of(fam, l.host), l.guest});
      attached.push_back(l.guest);
    }
    std::sort(meetings_.begin(), meetings_.end());
    meetings_.erase(std::unique(meetings_.begin(), meetings_.end()), meetings_.end());
    std::sort(attached.begin(), attached.end());
    attached.erase(std::unique(attached.begin(), attached.end()), attached.end());
    attached_of_kin_.assign(fam.kin_count.size(), 0);
    for (const Index c : attached) {
      ++attached_of_twin_[twin_of(fam, c)];
      ++attached_of_kin_[kin_of(fam, c)];
    }
  }
  /// Share of the copies of `from` that meet one of `other`'s kin.
  double share(Index from, Index other) const {
    const Index twin = twin_of(fam_, from);
    const Index kin = kin_of(fam_, other);
    const auto low = std::lower_bound(meetings_.begin(), meetings_.end(), Meeting{twin, kin, 0});
    const auto high = std::upper_bound(meetings_.begin(), meetings_.end(), Meeting{twin, kin, kNone});
    return static_cast<double>(high - low) / fam_.twin_count[twin];
  }
  /// Share of the copies of a part that are a guest of anything.
  double attached(Index guest) const {
    const Index twin = twin_of(fam_, guest);
    return static_cast<double>(attached_of_twin_[twin]) / fam_.twin_count[twin];
  }
  double attached_kin(Index guest) const {
    const Index kin = kin_of(fam_, guest);
    return static_cast<double>(attached_of_kin_[kin]) / fam_.kin_count[kin];
  }

 private:
  const Families& fam_;
  std::vector<Meeting> meetings_;
  std::vector<Index> attached_of_twin_;
  std::vector<Index> attached_of_kin_;
};

/// Links whose host carries more of the guest's copies than an assembly does.
std::vector<std::uint8_t> chained(const Families& fam, std::span<const Link> links) {
  std::vector<std::array<Index, 2>> keys;
  keys.reserve(links.size());
  for (const Link& l : links) keys.push_back({l.host, twin_of(fam, l.guest)});
  std::vector<std::array<Index, 2>> sorted = keys;
  std::sort(sorted.begin(), sorted.end());
  std::vector<std::uint8_t> out(links.size(), 0);
  for (std::size_t i = 0; i < links.size(); ++i) {
    const auto [low, high] = std::equal_range(sorted.begin(), sorted.end(), keys[i]);
    out[i] = high - low > static_cast<std::ptrdiff_t>(kMostLikeGuests) ? 1 : 0;
  }
  return out;
}

bool is_smaller(const Shape& a, const Shape& b) {
  return a.area != b.area ? a.area < b.area : a.extents[0] < b.extents[0];
}

bool is_open_wire(const RoleInput& in, Index c) {
  const Detail& d = in.twin_details[twin_of(*in.families, c)];
  return d.euler == 2 && look_at(in.shapes[c], d).form == Form::Wire;
}

std::vector<Link> links_of(const RoleInput& in, std::span<const Verdict> verdicts, std::span<const Index> candidates,
                           const FaceView& faces) {
  std::vector<Link> links;
  std::vector<std::uint8_t> guests(in.shapes.size(), 0);
  for (const Index c : candidates) guests[c] = verdicts[c].role == Role::Stitching ? 1 : 0;
  for (const Contact& k : find_contacts(faces, *in.welded, *in.components, in.shapes, candidates, 0.12, guests)) {
    if (kin_of(*in.families, k.a) == kin_of(*in.families, k.b)) continue;
    // Two open wires, a hook and its eye: each is sewn to its own cloth, however close they lie.
    if (is_open_wire(in, k.a) && is_open_wire(in, k.b)) continue;
    const bool a_guest = is_smaller(in.shapes[k.a], in.shapes[k.b]);
    const Link l{a_guest ? k.b : k.a, a_guest ? k.a : k.b, k.distance,
                 is_nested(in.shapes[a_guest ? k.b : k.a], in.shapes[a_guest ? k.a : k.b])};
    if (verdicts[l.host].role == Role::Stitching) continue;
    const double reach = (l.nested ? 0.12 : 0.06) * std::min(in.shapes[k.a].extents[0], in.shapes[k.b].extents[0]);
    if (k.distance <= reach) links.push_back(l);
  }
  return links;
}

/// Guests join their nearest host when their kind always has one and the host's kind always has such guests.
void join_guests(const RoleInput& in, std::span<const Verdict> verdicts, std::span<const Link> links, Union& sets) {
  const Families& fam = *in.families;
  const Kinds kinds(fam, links);
  const std::vector<std::uint8_t> in_chain = chained(fam, links);
  std::vector<std::size_t> best(in.shapes.size(), links.size());
  for (std::size_t i = 0; i < links.size(); ++i) {
    const Link& l = links[i];
    if (!l.nested || in_chain[i] != 0 || kinds.share(l.host, l.guest) < 0.5) continue;
    // A seam that runs under a button leaves most of its stitches outside.
    const bool thread = verdicts[l.guest].role == Role::Stitching;
    if ((thread ? kinds.attached_kin(l.guest) : kinds.attached(l.guest)) < 0.6) continue;
    std::size_t& b = best[l.guest];
    if (b == links.size() || l.distance < links[b].distance) b = i;
  }
  for (const std::size_t i : best)
    if (i < links.size()) sets.join(links[i].host, links[i].guest);
}

/// Parts side by side that always come together (slider, bridge and pull; dome and shank) form small sets of their own;
/// in a chain of beads everyone has two neighbours, and the set would not end.
void join_couples(const RoleInput& in, std::span<const Link> links, Union& sets) {
  const Kinds kinds(*in.families, links);
  const std::vector<std::uint8_t> in_chain = chained(*in.families, links);
  Union trial(static_cast<Index>(in.shapes.size()));
  std::vector<const Link*> kept;
  for (std::size_t i = 0; i < links.size(); ++i) {
    const Link& l = links[i];
    if (in_chain[i] != 0 || kinds.share(l.host, l.guest) < 0.6 || kinds.share(l.guest, l.host) < 0.6) continue;
    trial.join(l.host, l.guest);
    kept.push_back(&l);
  }
  std::vector<Index> size(in.shapes.size(), 0);
  std::vector<Index> seen;
  for (const Link* l : kept) {
    seen.push_back(l->host);
    seen.push_back(l->guest);
  }
  std::sort(seen.begin(), seen.end());
  seen.erase(std::unique(seen.begin(), seen.end()), seen.end());
  for (const Index c : seen) ++size[trial.find(c)];
  for (const Link* l : kept)
    if (size[trial.find(l->host)] <= kMostParts) sets.join(l->host, l->guest);
}

Vec3 axis_of(const RoleInput& in, Index c) {
  return in.shapes[c].axes.column(in.twin_details[in.families->twin_of_component[c]].round_axis);
}

/// Round parts on one axis, one behind the other with cloth between: fronts and backs of rivets, snaps, eyelets.
void join_fronts_and_backs(const RoleInput& in, std::span<const Verdict> verdicts, std::span<const Index> candidates,
                           const FaceView& faces, Union& sets) {
  const Families& fam = *in.families;
  std::vector<Index> round;
  for (const Index c : candidates) {
    const Detail& d = in.twin_details[fam.twin_of_component[c]];
    const Shape& s = in.shapes[c];
    if (verdicts[c].role == Role::Trim && d.roundness > 0.8 && s.extents[1] > 0.75 * s.extents[0] &&
        s.extents[2] < 0.8 * s.extents[0])
      round.push_back(c);
  }
  std::vector<Link> links;
  for (const Contact& k : find_contacts(faces, *in.welded, *in.components, in.shapes, round, 0.6)) {
    const Shape& a = in.shapes[k.a];
    const Shape& b = in.shapes[k.b];
    const Vec3 u = axis_of(in, k.a);
    if (std::abs(dot(u, axis_of(in, k.b))) < 0.95) continue;
    const double small = std::min(a.extents[0], b.extents[0]);
    if (small < 0.4 * std::max(a.extents[0], b.extents[0])) continue;
    const Vec3 d = b.centroid - a.centroid;
    if (length(d - dot(d, u) * u) > 0.15 * small) continue;
    const bool a_guest = is_smaller(a, b);
    links.push_back({a_guest ? k.b : k.a, a_guest ? k.a : k.b, k.distance, false});
  }
  const Kinds kinds(fam, links);
  std::vector<Index> partners(in.shapes.size(), 0);
  for (const Link& l : links) {
    ++partners[l.host];
    ++partners[l.guest];
  }
  for (const Link& l : links) {
    const bool paired = partners[l.host] == 1 && partners[l.guest] == 1;  // not a stack, not a string of beads
    if (paired && kinds.share(l.host, l.guest) >= 0.5 && kinds.share(l.guest, l.host) >= 0.5)
      sets.join(l.host, l.guest);
  }
}

}  // namespace

TrimGroups group_trims(const RoleInput& in, std::span<Verdict> verdicts) {
  const Index n = static_cast<Index>(verdicts.size());
  std::vector<Index> candidates;
  for (Index c = 0; c < n; ++c)
    if (verdicts[c].role != Role::Cloth) candidates.push_back(c);
  const FaceView faces{in.mesh->positions, in.mesh->face_offsets, in.mesh->corner_position};
  Union sets(n);
  const std::vector<Link> links = links_of(in, verdicts, candidates, faces);
  join_guests(in, verdicts, links, sets);
  join_couples(in, links, sets);
  join_fronts_and_backs(in, verdicts, candidates, faces, sets);
  TrimGroups groups;
  groups.of_component.assign(n, kNone);
  std::vector<Index> number(n, kNone);
  Index count = 0;
  for (const Index c : candidates) {
    Index& id = number[sets.find(c)];
    if (id == kNone) id = count++;
    groups.of_component[c] = id;
  }
  groups.offsets.assign(count + std::size_t{1}, 0);
  for (const Index c : candidates) ++groups.offsets[groups.of_component[c] + std::size_t{1}];
  std::partial_sum(groups.offsets.begin(), groups.offsets.end(), groups.offsets.begin());
  groups.components.resize(candidates.size());
  std::vector<Index> next(groups.offsets.begin(), groups.offsets.end() - 1);
  for (const Index c : candidates) groups.components[next[groups.of_component[c]]++] = c;
  for (Index t = 0; t < count; ++t) {
    const auto own = groups.components_of(t);
    const bool any_trim = std::any_of(own.begin(), own.end(), [&](Index c) { return verdicts[c].role == Role::Trim; });
    if (any_trim)
      for (const Index c : own) verdicts[c].role = Role::Trim;
  }
  return groups;
}

}  // namespace trimtack
