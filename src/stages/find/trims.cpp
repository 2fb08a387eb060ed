// SPDX-License-Identifier: MIT
#include "trimtack/trims.hpp"

#include <algorithm>
#include <array>
#include <numeric>
#include <ranges>
#include <utility>

#include "core/union_find.hpp"
#include "stages/find/chains.hpp"
#include "stages/find/row_ends.hpp"
#include "stages/find/trim_links.hpp"
#include "stages/find/two_sided.hpp"

namespace trimtack {
namespace {

constexpr double kDoubtful = 0.62;  // as likely cloth as a trim
constexpr Index kMany = 10;         // copies that make a rule strict
constexpr double kAlwaysRiveted = 0.9;
constexpr int kMostBars = 8;        // looked at in a frame
constexpr double kSmallPart = 0.6;  // of what it is fixed to, in length or in width and length: a shank, a crown
constexpr Index kFewAlike = 64;     // of a kind of parts that go into trims of several makes
constexpr double kOffAxis = 0.02;  // of a post, of the smaller half's width: what lies there by chance lies farther off
constexpr double kProud = 0.5;     // how far it stands out of a half, of its own width: it is beaten flat there

/// What fastens a set of parts to the garment, as flags.
enum Fastening : std::uint8_t { kSewn = 1, kClamped = 2, kRuns = 4 };

/// Sets of parts that move together. Each is fastened once: a rivet that clamps the cloth, a button on its threads and
/// a slider on its elements stay what they are, however close they lie.
class Sets {
 public:
  explicit Sets(std::size_t components) : joined_(static_cast<Index>(components)), fastening_(components, 0) {}
  Index find(Index c) { return joined_.find(c); }
  void fasten(Index c, Fastening how) { fastening_[find(c)] |= how; }
  bool runs(Index c) { return (fastening_[find(c)] & kRuns) != 0; }
  bool clamps(Index c) { return (fastening_[find(c)] & kClamped) != 0; }
  /// @param by_thread  one of the two is the thread that sews on the other
  /// @param always  their kinds meet wherever they occur
  bool may_join(Index a, Index b, bool by_thread, bool always) {
    const std::uint8_t x = fastening_[find(a)];
    const std::uint8_t y = fastening_[find(b)];
    if (find(a) == find(b) || x == 0 || y == 0) return true;
    if (((x | y) & kClamped) != 0) return false;
    return x == kSewn && y == kSewn ? by_thread : always;
  }
  void join(Index a, Index b) {
    const auto both = static_cast<std::uint8_t>(fastening_[find(a)] | fastening_[find(b)]);
    joined_.join(a, b);
    fastening_[find(a)] = both;
  }

 private:
  UnionFind joined_;
  std::vector<std::uint8_t> fastening_;  // of the set's first part
};

/// Parts as likely cloth as a trim that would fuse what else has nothing to do with each other: a strap with a stud and
/// a buckle on it. Straps have no holes.
std::vector<std::uint8_t> carriers(const RoleInput& in, std::span<const RoleVerdict> verdicts,
                                   std::span<const Link> links, std::span<const std::uint8_t> running,
                                   const Kinds& kinds) {
  const auto doubtful = [&](Index c) {
    const Detail& d = in.twin_details[twin_of(*in.families, c)];
    return verdicts[c].role == Role::Trim && verdicts[c].confidence < kDoubtful && !(d.closed && d.euler < 2);
  };
  UnionFind others(static_cast<Index>(verdicts.size()));
  for (const Link& l : links)
    if (!doubtful(l.host) && !doubtful(l.guest)) others.join(l.host, l.guest);
  std::vector<Index> carried(verdicts.size(), kNone);
  std::vector<std::uint8_t> out(verdicts.size(), 0);
  for (std::size_t i = 0; i < links.size(); ++i) {
    const Link& l = links[i];
    if (running[i] != 0 || kinds.attached(l.guest) < 0.6 || verdicts[l.guest].role != Role::Trim) continue;
    for (const auto& [one, other] : {std::pair{l.host, l.guest}, std::pair{l.guest, l.host}}) {
      if (!doubtful(one) || doubtful(other)) continue;
      const Index set = others.find(other);
      if (carried[one] != kNone && carried[one] != set) out[one] = 1;
      carried[one] = set;
    }
  }
  return out;
}

struct Search {
  const RoleInput& in;
  std::span<const RoleVerdict> verdicts;
  std::span<const Link> links;
  std::vector<std::uint8_t> running = running_links(in, verdicts, links);
  Kinds kinds{in, links, running};
  Threads threads{in, verdicts, links, running};
  std::vector<std::uint8_t> carrier = carriers(in, verdicts, links, running, kinds);
  std::vector<Index> row_end = find_row_ends(in, verdicts, links);

  bool is_thread(Index c) const {
    return verdicts[c].role == Role::Stitching ||
           (is_open_wire(in, c) && in.shapes[c].extents[0] > 4 * in.shapes[c].extents[2]);
  }
  /// Elements that run through a slider are no part of anything else, either; nor is what follows them on their tape.
  bool may_link(std::size_t i) const {
    const Link& l = links[i];
    return running[i] == 0 && carrier[l.host] == 0 && carrier[l.guest] == 0 && row_end[l.host] == row_end[l.guest] &&
           !(kinds.runs(l.guest) && verdicts[l.guest].role == Role::Trim);
  }
  bool always_meet(const Link& l) const {
    return kinds.share(l.host, l.guest) >= 0.6 && kinds.share(l.guest, l.host) >= 0.6;
  }
  /// Thread of a seam that runs below or beside.
  bool is_seam(Index guest) const {
    return verdicts[guest].role == Role::Stitching && threads.attached(in.shapes[guest]) < 0.6;
  }
};

/// Whether a part lies on the axis of two that clamp cloth, between their outsides.
bool lies_within(const RoleInput& in, Index part, const std::array<Index, 2>& halves) {
  const Shape& s = in.shapes[part];
  const Shape& a = in.shapes[halves[0]];
  const Shape& b = in.shapes[halves[1]];
  const Vec3 way = middle_of_extents(b) - middle_of_extents(a);
  const Vec3 axis = normalized(way);
  const Vec3 from_a = middle_of_extents(s) - middle_of_extents(a);
  const double along = dot(from_a, axis);
  if (length(from_a - along * axis) > kOffAxis * std::min(a.extents[0], b.extents[0])) return false;
  const double half = half_span(s, axis) - kProud * s.extents[2];
  return along - half >= -half_span(a, axis) && along + half <= length(way) + half_span(b, axis);
}

/// A post runs from the one half to the other on their axis: it is theirs, whatever layers lie between and whatever
/// rivets its like are in (posts come in a few lengths for caps of all widths: common practice, no source).
void join_posts(const RoleInput& in, std::span<const RoleVerdict> verdicts, std::span<const Link> links,
                std::span<const std::array<Index, 2>> two_sided, Sets& sets) {
  if (two_sided.empty()) return;
  std::vector<Index> pair_of(verdicts.size(), kNone);
  for (Index i = 0; i < two_sided.size(); ++i)
    for (const Index half : two_sided[i]) pair_of[half] = i;
  std::vector<std::array<Index, 2>> met;  // part, pair of which it meets a half
  for (const Link& l : links)
    for (const auto& [half, part] : {std::pair{l.host, l.guest}, std::pair{l.guest, l.host}})
      if (pair_of[half] != kNone && pair_of[part] == kNone && verdicts[part].role == Role::Trim)
        met.push_back({part, pair_of[half]});
  std::sort(met.begin(), met.end());
  for (std::size_t i = 1; i < met.size(); ++i) {
    if (met[i] != met[i - 1]) continue;
    const auto [part, pair] = met[i];
    const Index half = two_sided[pair][0];
    if (lies_within(in, part, two_sided[pair]) && sets.may_join(half, part, false, true)) sets.join(half, part);
  }
}

/// Elements run through a slider, whatever else it lies on: few of a kind that goes on outside.
void fasten_sliders(const Search& search, Sets& sets) {
  const Families& fam = *search.in.families;
  for (std::size_t i = 0; i < search.links.size(); ++i) {
    const Link& l = search.links[i];
    if (!l.nested || search.verdicts[l.guest].role != Role::Trim) continue;
    const bool elsewhere = fam.kin_count[kin_of(fam, l.guest)] >= kMany && search.kinds.attached(l.guest) < 0.5;
    if (search.running[i] != 0 || elsewhere) sets.fasten(l.host, kRuns);
  }
}

/// Flat parts on either face of the cloth clamp it, unless one part meets both or runs on elements: a slider's plates
/// hold the tapes, and its neck holds them apart.
void fasten_plates(const Search& search, std::span<const std::uint8_t> is_plate,
                   std::span<const std::array<Index, 2>> two_sided, Sets& sets) {
  std::vector<Index> pair_of(search.verdicts.size(), kNone);
  for (Index i = 0; i < two_sided.size(); ++i)
    for (const Index half : two_sided[i])
      if (is_plate[two_sided[i][0]] != 0 || is_plate[two_sided[i][1]] != 0) pair_of[half] = i;
  std::vector<std::array<Index, 3>> met;  // pair, part that meets it, half
  for (const Link& l : search.links)
    for (const auto& [half, part] : {std::pair{l.host, l.guest}, std::pair{l.guest, l.host}})
      if (pair_of[half] != kNone) met.push_back({pair_of[half], part, half});
  std::sort(met.begin(), met.end());
  std::vector<std::uint8_t> held(two_sided.size(), 0);
  for (std::size_t i = 0; i < met.size(); ++i) {
    const auto [pair, part, half] = met[i];
    const bool both = i > 0 && met[i - 1][0] == pair && met[i - 1][1] == part && met[i - 1][2] != half;
    if (both || sets.runs(part)) held[pair] = 1;
  }
  for (Index i = 0; i < two_sided.size(); ++i) {
    const Index half = two_sided[i][0];
    if (pair_of[half] == i && held[i] == 0 && !sets.runs(half)) sets.fasten(half, kClamped);
  }
}

/// A hard plate that two rivets of one kind hold is one trim with both, although each clamps the cloth: a clasp, a
/// badge on its posts.
void join_riveted_plates(const Search& search, Sets& sets) {
  std::vector<std::array<Index, 3>> held;  // plate, kin of the rivet, rivet
  for (std::size_t i = 0; i < search.links.size(); ++i) {
    const Link& l = search.links[i];
    if (!l.nested || !search.may_link(i) || !sets.clamps(l.guest) || sets.clamps(l.host) || sets.runs(l.host)) continue;
    const RoleVerdict& plate = search.verdicts[l.host];
    if (plate.role != Role::Trim || plate.confidence < kDoubtful) continue;
    if (search.kinds.share(l.host, l.guest) >= kAlwaysRiveted)
      held.push_back({l.host, kin_of(*search.in.families, l.guest), l.guest});
  }
  std::sort(held.begin(), held.end());
  for (std::size_t i = 1; i < held.size(); ++i) {
    const auto [plate, kin, rivet] = held[i];
    if (plate != held[i - 1][0] || kin != held[i - 1][1]) continue;
    sets.join(plate, rivet);
    sets.join(plate, held[i - 1][2]);
  }
}

/// Guests join the host they lie in when their kind always has one and the host's kind always has such guests. Threads
/// first: they make the rest fast.
void join_guests(const Search& search, Sets& sets) {
  const Families& fam = *search.in.families;
  const Kinds& kinds = search.kinds;
  const auto usual_host = [&](std::size_t i) {
    const Link& l = search.links[i];
    return l.nested && search.may_link(i) && kinds.hosting(l.host) >= 0.5 && kinds.hosting_such(l.host, l.guest) >= 0.6;
  };
  std::vector<Index> guests;
  for (std::size_t i = 0; i < search.links.size(); ++i)
    if (usual_host(i)) guests.push_back(search.links[i].guest);
  const KindShare attached(fam, std::move(guests));
  std::vector<std::size_t> best(search.in.shapes.size(), search.links.size());
  // Rather the kind of host that its kind is mostly found in than one that it touches by chance.
  const auto usual = [&](const Link& k) { return kinds.share(k.guest, k.host) >= 0.5; };
  for (std::size_t i = 0; i < search.links.size(); ++i) {
    const Link& l = search.links[i];
    if (!usual_host(i)) continue;
    if (attached.of(l.guest) < (fam.kin_count[kin_of(fam, l.guest)] < kMany ? 0.6 : 0.8)) continue;
    // A seam that runs under a button leaves most of its stitches outside.
    const bool copies = fam.twin_count[twin_of(fam, l.guest)] >= 8 && kinds.attached(l.guest) > 0.9;
    if (!copies && search.is_seam(l.guest)) continue;
    std::size_t& b = best[l.guest];
    if (b == search.links.size() || usual(l) > usual(search.links[b]) ||
        (usual(l) == usual(search.links[b]) && l.off_centre < search.links[b].off_centre))
      b = i;
  }
  for (const bool threads : {true, false})
    for (const std::size_t i : best) {
      if (i == search.links.size()) continue;
      const Link& l = search.links[i];
      const bool thread = search.is_thread(l.guest);
      if (thread != threads || !sets.may_join(l.host, l.guest, thread, search.always_meet(l))) continue;
      sets.join(l.host, l.guest);
      // One of a kind with a piece of wire in it may as well be a slider with its bridge.
      if (thread && fam.kin_count[kin_of(fam, l.host)] > 1) sets.fasten(l.host, kSewn);
    }
}

/// Whether a part's like that are in sets of several all meet another kind, set by set: of a slider's two plates only
/// one carries the crown.
class SetShare {
 public:
  SetShare(const Search& search, std::span<const Link* const> links, Sets& sets) : search_(search) {
    const Families& fam = *search.in.families;
    std::vector<std::uint8_t> wanted(fam.kin_count.size(), 0);
    for (const Link* l : links) {
      for (const auto& [one, other] : {std::pair{l->host, l->guest}, std::pair{l->guest, l->host}}) {
        wanted[kin_of(fam, one)] = 1;
        meetings_.push_back({kin_of(fam, one), kin_of(fam, other), sets.find(one)});
      }
    }
    for (Index c = 0; c < search.verdicts.size(); ++c)
      if (wanted[kin_of(fam, c)] != 0) members_.push_back({kin_of(fam, c), sets.find(c)});
    std::sort(members_.begin(), members_.end());
    std::sort(meetings_.begin(), meetings_.end());
    meetings_.erase(std::unique(meetings_.begin(), meetings_.end()), meetings_.end());
  }
  bool always_meet(Index from, Index other) {
    const Families& fam = *search_.in.families;
    const Index kin = kin_of(fam, from);
    const auto first = std::lower_bound(members_.begin(), members_.end(), Member{kin, 0});
    const auto last = std::upper_bound(members_.begin(), members_.end(), Member{kin, kNone});
    Index count = 0;
    for (auto m = first; m != last; ++count) {
      const auto next = std::upper_bound(m, last, *m);
      if (next - m < 2) return false;  // not the two of a set
      m = next;
    }
    const auto low = std::lower_bound(meetings_.begin(), meetings_.end(), Meeting{kin, kin_of(fam, other), 0});
    const auto high = std::upper_bound(meetings_.begin(), meetings_.end(), Meeting{kin, kin_of(fam, other), kNone});
    return count > 0 && high - low >= 0.6 * count;
  }

 private:
  using Member = std::array<Index, 2>;   // kin, set
  using Meeting = std::array<Index, 3>;  // kin, kin it meets, set of the first
  const Search& search_;
  std::vector<Member> members_;
  std::vector<Meeting> meetings_;
};

/// A bar is fixed in its frame at both ends, as no ring is that hangs in another; a prong reaches from it to the frame.
void join_bars(const Search& search, Sets& sets) {
  std::vector<const Link*> straight;  // by host
  for (std::size_t i = 0; i < search.links.size(); ++i) {
    const Link& l = search.links[i];
    if (search.may_link(i) && search.verdicts[l.guest].role == Role::Trim && may_be_bar(search.in, l))
      straight.push_back(&l);
  }
  std::stable_sort(straight.begin(), straight.end(), [](const Link* x, const Link* y) { return x->host < y->host; });
  std::vector<std::array<Index, 2>> bars;  // of frames
  for (const bool prongs : {false, true}) {
    Index host = kNone;
    int tried = 0;
    for (const Link* l : straight) {
      tried = l->host == host ? tried + 1 : 1;
      host = l->host;
      if (tried > kMostBars || sets.find(l->host) == sets.find(l->guest)) continue;
      const auto [first, last] = std::equal_range(bars.begin(), bars.end(), std::array{l->host, kNone},
                                                  [](const auto& x, const auto& y) { return x[0] < y[0]; });
      const auto from_bar = [&](const auto& bar) { return reaches_across(search.in, l->guest, l->host, bar[1]); };
      const bool fixed =
          prongs ? std::any_of(first, last, from_bar) : reaches_across(search.in, l->guest, l->host, l->host);
      if (!fixed || !sets.may_join(l->host, l->guest, false, true)) continue;
      sets.join(l->host, l->guest);
      if (!prongs) bars.push_back({l->host, l->guest});
    }
  }
}

void join_links(const Search& search, std::span<const Link* const> links, Sets& sets) {
  Chains chains(search.in, links);
  for (const Link* l : links)
    if (!chains.holds(l->host) && sets.may_join(l->host, l->guest, search.is_thread(l->guest), true))
      sets.join(l->host, l->guest);
}

bool are_few(const Search& search, const Link& l) {
  const Families& fam = *search.in.families;
  return fam.kin_count[kin_of(fam, l.host)] <= kFewAlike && fam.kin_count[kin_of(fam, l.guest)] <= kFewAlike;
}

/// Share of the sets that hold a part's like in which one of a list is: of a slider's two plates only one has the pull.
class ShareOfSets {
 public:
  ShareOfSets(const Search& search, std::span<const Index> parts, Sets& sets) : fam_(*search.in.families) {
    std::vector<std::uint8_t> wanted(fam_.kin_count.size(), 0);
    for (const Index c : parts) wanted[kin_of(fam_, c)] = 1;
    const auto list = [&](Index c, std::vector<Member>& members) {
      for (const Index kind : {twin_of(fam_, c), fam_.twins() + kin_of(fam_, c)})
        members.push_back({kind, sets.find(c)});
    };
    for (const Index c : parts) list(c, own_);
    for (Index c = 0; c < search.verdicts.size(); ++c)
      if (wanted[kin_of(fam_, c)] != 0) list(c, all_);
    for (std::vector<Member>* members : {&own_, &all_}) {
      std::sort(members->begin(), members->end());
      members->erase(std::unique(members->begin(), members->end()), members->end());
    }
  }
  double of(Index part) const {
    const Index twin = twin_of(fam_, part);
    const Index kind = fam_.twin_count[twin] < kFewTwins ? fam_.twins() + kin_of(fam_, part) : twin;
    const auto count = [&](const std::vector<Member>& members) {
      return std::upper_bound(members.begin(), members.end(), Member{kind, kNone}) -
             std::lower_bound(members.begin(), members.end(), Member{kind, 0});
    };
    const auto all = count(all_);
    return all > 0 ? static_cast<double>(count(own_)) / static_cast<double>(all) : 0;
  }

 private:
  using Member = std::array<Index, 2>;  // group of twins, or numbered after those of kin; set
  const Families& fam_;
  std::vector<Member> own_, all_;
};

/// Links of parts made alike for trims of several makes: a bridge in sliders of two widths, rings on charms. Each of
/// them meets one of a kind that always has such, and only that. Nested, one of wire, or small beside the other: a ring
/// or a tab may be larger than the slider that it is the pull of.
/// @param always  whether a part's kind always meets another part's
template <class Always>
std::vector<const Link*> made_alike(const Search& search, std::span<const Link* const> links, Sets& sets,
                                    Always&& always) {
  const Families& fam = *search.in.families;
  std::vector<const Link*> own;
  const auto is_small = [&](const Link& l) {
    const Shape& guest = search.in.shapes[l.guest];
    const Shape& host = search.in.shapes[l.host];
    const auto [shorter, longer] = std::minmax(guest.extents[0], host.extents[0]);
    return shorter < kSmallPart * longer || guest.area < kSmallPart * kSmallPart * host.area;
  };
  const auto of_wire = [&](const Link& l) { return is_wire(search.in, l.guest) || is_wire(search.in, l.host); };
  for (const Link* l : links)
    if (are_few(search, *l) && (l->nested || of_wire(*l) || is_small(*l))) own.push_back(l);
  if (own.empty()) return own;
  std::vector<std::array<Index, 2>> meetings;  // part, kin it meets
  std::vector<Index> parts;
  const auto both_ways = [](const Link& l) {
    return std::array{std::pair{l.host, l.guest}, std::pair{l.guest, l.host}};
  };
  for (const Link& l : search.links)
    if (are_few(search, l))
      for (const auto& [one, other] : both_ways(l)) meetings.push_back({one, kin_of(fam, other)});
  for (const Link* l : own)
    for (const auto& [one, other] : both_ways(*l))
      if (always(one, other)) parts.push_back(other);
  std::sort(meetings.begin(), meetings.end());
  const auto met = [&](Index part, Index other) {
    const auto [low, high] =
        std::equal_range(meetings.begin(), meetings.end(), std::array<Index, 2>{part, kin_of(fam, other)});
    return high - low;
  };
  const ShareOfSets regular(search, parts, sets);
  std::erase_if(own, [&](const Link* l) {
    return std::ranges::none_of(both_ways(*l), [&](const auto& pair) {
      const auto [one, other] = pair;
      return always(one, other) && regular.of(other) >= 0.9 && met(one, other) == 1 && met(other, one) <= 2;
    });
  });
  return own;
}

/// Parts side by side that always come together: slider, bridge and pull; dome and shank. Then what always comes
/// together with a set that holds several of its kind.
void join_couples(const Search& search, Sets& sets) {
  std::vector<const Link*> kept;
  std::vector<const Link*> rest;
  for (std::size_t i = 0; i < search.links.size(); ++i) {
    const Link& l = search.links[i];
    if (search.may_link(i) && !search.is_seam(l.guest)) (search.always_meet(l) ? kept : rest).push_back(&l);
  }
  const auto one_of_two = [&](Index many, Index one) { return search.kinds.share(one, many) >= 0.6; };
  const auto alike = made_alike(search, rest, sets, [&](Index one, Index other) { return one_of_two(other, one); });
  join_links(search, kept, sets);
  join_links(search, alike, sets);
  std::erase_if(rest, [&](const Link* l) {
    return sets.find(l->host) == sets.find(l->guest) ||
           !(are_few(search, *l) || one_of_two(l->host, l->guest) || one_of_two(l->guest, l->host));
  });
  if (rest.empty()) return;
  SetShare share(search, rest, sets);
  const auto last = made_alike(search, rest, sets, [&](Index one, Index other) {
    return one_of_two(other, one) || share.always_meet(one, other);
  });
  std::erase_if(rest, [&](const Link* l) {
    return !(one_of_two(l->host, l->guest) && share.always_meet(l->host, l->guest)) &&
           !(one_of_two(l->guest, l->host) && share.always_meet(l->guest, l->host));
  });
  join_links(search, rest, sets);
  join_links(search, last, sets);
}

}  // namespace

TrimGroups group_trims(const RoleInput& in, std::span<RoleVerdict> verdicts, const Executor& executor) {
  const Index n = static_cast<Index>(verdicts.size());
  std::vector<Index> candidates;
  for (Index c = 0; c < n; ++c)
    if (verdicts[c].role != Role::Cloth) candidates.push_back(c);
  std::vector<Half> halves;
  std::vector<Half> flat;
  std::vector<std::array<Index, 2>> two_sided;
  std::vector<Link> links;
  for_ranges(executor, 2, 1, [&](std::size_t which, std::size_t) {
    if (which == 1) {
      links = find_links(in, verdicts, candidates);
      return;
    }
    halves = round_parts(in, verdicts, candidates);
    flat = plates(in, verdicts, candidates);
    two_sided = find_two_sided(in, verdicts, halves, flat);
  });
  const auto riveted = find_riveted_hardware(in, verdicts, std::move(halves), links, two_sided);
  two_sided.insert(two_sided.end(), riveted.begin(), riveted.end());
  Sets sets(n);
  std::vector<std::uint8_t> is_plate(n, 0);
  for (const Half& h : flat) is_plate[h.component] = 1;
  for (const auto& [a, b] : two_sided) {
    sets.join(a, b);
    if (is_plate[a] == 0 && is_plate[b] == 0) sets.fasten(a, kClamped);
  }
  join_posts(in, verdicts, links, two_sided, sets);
  const Search search{in, verdicts, links};
  fasten_sliders(search, sets);
  fasten_plates(search, is_plate, two_sided, sets);
  join_riveted_plates(search, sets);
  join_guests(search, sets);
  join_bars(search, sets);
  for (const auto& [hook, gate] : find_gates(in, verdicts, candidates))
    if (sets.may_join(hook, gate, false, true)) sets.join(hook, gate);
  join_couples(search, sets);
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
