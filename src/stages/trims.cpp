// SPDX-License-Identifier: MIT
#include "trimtack/trims.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>
#include <utility>

#include "core/union_find.hpp"
#include "stages/clues.hpp"
#include "stages/contacts.hpp"
#include "stages/two_sided.hpp"

namespace trimtack {
namespace {

/// How a pair of components hangs together.
struct Link {
  Index host, guest;  // the guest is the smaller one
  double distance;
  bool nested;  // the guest's middle lies within the host's extents
};

/// More guests of one kind than this are a chain that runs under the host (zipper elements in a slider).
constexpr Index kMostLikeGuests = 4;
constexpr Index kMostParts = 6;  // of an assembly
constexpr Index kFewTwins = 3;
// Of the smaller length: a thread may pass through the middle of a wide hole without touching it.
constexpr double kNestedReach = 0.25;

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

/// (kind of one, kin of the other, member): which members of a kind have a link with the other kind. A kind is a group
/// of twins, or (numbered after those) of kin.
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
  /// @param in_chain  links that are no sign of an assembly
  Kinds(const Families& fam, std::span<const Link> links, std::span<const std::uint8_t> in_chain)
      : fam_(fam), attached_of_twin_(fam.twins(), 0) {
    rare_.assign(fam.kin_count.size(), 0);
    for (Index t = 0; t < fam.twins(); ++t)
      if (fam.twin_count[t] < kFewTwins) rare_[fam.kin_of_twin[t]] = 1;
    std::vector<Index> attached;
    std::vector<Index> hosts;
    for (std::size_t i = 0; i < links.size(); ++i) {
      const Link& l = links[i];
      for (const auto& [one, other] : {std::pair{l.host, l.guest}, std::pair{l.guest, l.host}}) {
        meetings_.push_back({twin_of(fam, one), kin_of(fam, other), one});
        if (rare_[kin_of(fam, one)] != 0)
          meetings_.push_back({fam.twins() + kin_of(fam, one), kin_of(fam, other), one});
      }
      if (in_chain[i] == 0) attached.push_back(l.guest);
      if (l.nested) hosts.push_back(l.host);
    }
    std::sort(hosts.begin(), hosts.end());
    hosts.erase(std::unique(hosts.begin(), hosts.end()), hosts.end());
    hosts_of_kin_.assign(fam.kin_count.size(), 0);
    for (const Index c : hosts) ++hosts_of_kin_[kin_of(fam, c)];
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
  /// Share of the copies of `from` that meet one of `other`'s kin. One or two copies tell no rule, since rounding may
  /// have parted them from their kin; then all kin count.
  double share(Index from, Index other) const {
    const Index twin = twin_of(fam_, from);
    const bool few = fam_.twin_count[twin] < kFewTwins;
    const Index kind = few ? fam_.twins() + kin_of(fam_, from) : twin;
    const Index kin = kin_of(fam_, other);
    const auto low = std::lower_bound(meetings_.begin(), meetings_.end(), Meeting{kind, kin, 0});
    const auto high = std::upper_bound(meetings_.begin(), meetings_.end(), Meeting{kind, kin, kNone});
    return static_cast<double>(high - low) / (few ? fam_.kin_count[kin_of(fam_, from)] : fam_.twin_count[twin]);
  }
  /// Share of the copies of a part that are a guest of anything.
  double attached(Index guest) const {
    const Index twin = twin_of(fam_, guest);
    if (fam_.twin_count[twin] < kFewTwins) return attached_kin(guest);
    return static_cast<double>(attached_of_twin_[twin]) / fam_.twin_count[twin];
  }
  /// Share of a part's kin that have any guest within their extents.
  double hosting(Index host) const {
    const Index kin = kin_of(fam_, host);
    return static_cast<double>(hosts_of_kin_[kin]) / fam_.kin_count[kin];
  }
  double attached_kin(Index guest) const {
    const Index kin = kin_of(fam_, guest);
    return static_cast<double>(attached_of_kin_[kin]) / fam_.kin_count[kin];
  }

 private:
  const Families& fam_;
  std::vector<Meeting> meetings_;
  std::vector<Index> attached_of_twin_;
  std::vector<Index> attached_of_kin_, hosts_of_kin_;
  std::vector<std::uint8_t> rare_;  // kin with groups of few twins
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

std::vector<Link> links_of(const RoleInput& in, std::span<const RoleVerdict> verdicts,
                           std::span<const Index> candidates, const FaceView& faces) {
  std::vector<Link> links;
  std::vector<std::uint8_t> guests(in.shapes.size(), 0);
  for (const Index c : candidates) guests[c] = verdicts[c].role == Role::Stitching ? 1 : 0;
  for (const Contact& k :
       find_contacts(faces, *in.welded, *in.components, in.shapes, candidates, kNestedReach, guests)) {
    if (kin_of(*in.families, k.a) == kin_of(*in.families, k.b)) continue;
    // Two open wires, a hook and its eye: each is sewn to its own cloth, however close they lie.
    if (is_open_wire(in, k.a) && is_open_wire(in, k.b)) continue;
    const bool a_guest = is_smaller(in.shapes[k.a], in.shapes[k.b]);
    const Link l{a_guest ? k.b : k.a, a_guest ? k.a : k.b, k.distance,
                 is_nested(in.shapes[a_guest ? k.b : k.a], in.shapes[a_guest ? k.a : k.b])};
    if (verdicts[l.host].role == Role::Stitching) continue;
    const bool wire = look_at(in.shapes[l.guest], in.twin_details[twin_of(*in.families, l.guest)]).form == Form::Wire;
    const double share = l.nested ? (wire ? kNestedReach : 0.12) : 0.06;
    const double reach = share * std::min(in.shapes[k.a].extents[0], in.shapes[k.b].extents[0]);
    if (k.distance <= reach) links.push_back(l);
  }
  return links;
}

/// How many of the pieces of thread of about one length, modelled alike, hang on something.
class Threads {
 public:
  Threads(const RoleInput& in, std::span<const RoleVerdict> verdicts, std::span<const Link> links,
          std::span<const std::uint8_t> in_chain) {
    std::vector<std::uint8_t> attached(verdicts.size(), 0);
    for (std::size_t i = 0; i < links.size(); ++i)
      if (in_chain[i] == 0) attached[links[i].guest] = 1;
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
  double attached(const Shape& shape) const {
    const double length = shape.extents[0];
    const auto low =
        std::lower_bound(keys_.begin(), keys_.end(), Key{shape.vertex_count, length / 1.3}) - keys_.begin();
    const auto high =
        std::upper_bound(keys_.begin(), keys_.end(), Key{shape.vertex_count, length * 1.3}) - keys_.begin();
    const auto at = [&](std::ptrdiff_t i) { return static_cast<double>(sum_[static_cast<std::size_t>(i)]); };
    return high > low ? (at(high) - at(low)) / static_cast<double>(high - low) : 0;
  }

 private:
  using Key = std::pair<Index, double>;  // vertices, length
  std::vector<Key> keys_;
  std::vector<Index> sum_;
};

/// Guests join their nearest host when their kind always has one and the host's kind always has guests.
void join_guests(const RoleInput& in, std::span<const RoleVerdict> verdicts, std::span<const Link> links,
                 UnionFind& sets) {
  const Families& fam = *in.families;
  const std::vector<std::uint8_t> in_chain = chained(fam, links);
  const Kinds kinds(fam, links, in_chain);
  const Threads threads(in, verdicts, links, in_chain);
  std::vector<std::size_t> best(in.shapes.size(), links.size());
  for (std::size_t i = 0; i < links.size(); ++i) {
    const Link& l = links[i];
    if (!l.nested || in_chain[i] != 0 || kinds.hosting(l.host) < 0.5) continue;
    if (kinds.attached(l.guest) < 0.6) continue;
    // A seam that runs under a button leaves most of its stitches outside.
    const bool copies = fam.twin_count[twin_of(fam, l.guest)] >= 8 && kinds.attached(l.guest) > 0.9;
    if (verdicts[l.guest].role == Role::Stitching && !copies && threads.attached(in.shapes[l.guest]) < 0.6) continue;
    // Rather the kind of host that its kind is mostly found in than one that it touches by chance.
    std::size_t& b = best[l.guest];
    const auto usual = [&](const Link& k) { return kinds.share(k.guest, k.host) >= 0.5; };
    if (b == links.size() || usual(l) > usual(links[b]) ||
        (usual(l) == usual(links[b]) && l.distance < links[b].distance))
      b = i;
  }
  for (const std::size_t i : best)
    if (i < links.size()) sets.join(links[i].host, links[i].guest);
}

/// Parts side by side that always come together (slider, bridge and pull; dome and shank) form small sets of their own;
/// in a chain of beads everyone has two neighbours, and the set would not end.
void join_couples(const RoleInput& in, std::span<const RoleVerdict> verdicts, std::span<const Link> links,
                  UnionFind& sets) {
  const std::vector<std::uint8_t> in_chain = chained(*in.families, links);
  const Kinds kinds(*in.families, links, in_chain);
  const Threads threads(in, verdicts, links, in_chain);
  UnionFind trial(static_cast<Index>(in.shapes.size()));
  std::vector<const Link*> kept;
  for (std::size_t i = 0; i < links.size(); ++i) {
    const Link& l = links[i];
    if (in_chain[i] != 0 || kinds.share(l.host, l.guest) < 0.6 || kinds.share(l.guest, l.host) < 0.6) continue;
    if (verdicts[l.guest].role == Role::Stitching && threads.attached(in.shapes[l.guest]) < 0.6) continue;
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

}  // namespace

TrimGroups group_trims(const RoleInput& in, std::span<RoleVerdict> verdicts) {
  const Index n = static_cast<Index>(verdicts.size());
  std::vector<Index> candidates;
  for (Index c = 0; c < n; ++c)
    if (verdicts[c].role != Role::Cloth) candidates.push_back(c);
  const FaceView faces{in.mesh->positions, in.mesh->face_offsets, in.mesh->corner_position};
  UnionFind sets(n);
  const std::vector<Link> links = links_of(in, verdicts, candidates, faces);
  join_guests(in, verdicts, links, sets);
  join_couples(in, verdicts, links, sets);
  for (const auto& [a, b] : find_two_sided(in, verdicts, candidates)) sets.join(a, b);
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
