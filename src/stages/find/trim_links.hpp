// SPDX-License-Identifier: MIT
/// Which hard parts touch or hold each other, and how regularly their kinds do. Private to the search for trims.
#pragma once

#include <array>
#include <span>
#include <vector>

#include "trimtack/roles.hpp"

namespace trimtack {

/// How a pair of components hangs together.
struct Link {
  Index host = 0, guest = 0;  ///< the guest is the smaller one
  double off_centre = 0;      ///< of the guest's middle, in half extents of the host
  bool nested = false;        ///< the guest's middle lies within the host's extents
};

constexpr Index kFewTwins = 3;  ///< fewer tell no rule: then all kin count

inline Index twin_of(const Families& fam, Index c) { return fam.twin_of_component[c]; }
inline Index kin_of(const Families& fam, Index c) { return fam.kin_of_twin[twin_of(fam, c)]; }

/// Wire with two ends: thread, a hook, a prong, a pin.
bool is_open_wire(const RoleInput& input, Index component);
bool is_wire(const RoleInput& input, Index component);

/// Whether the guest is a straight wire within the host's ring: a frame's bar, or its prong.
bool may_be_bar(const RoleInput& input, const Link& link);
/// Whether one of a straight part's two ends lies on or in the ring, the other one on or in what is given.
bool reaches_across(const RoleInput& input, Index part, Index ring, Index other);

/// Bent wires and the straight ones that close them: the gate of a spring hook is held by it at both of its ends, as
/// neither an eye nor another hook is, and no thicker.
std::vector<std::array<Index, 2>> find_gates(const RoleInput& input, std::span<const RoleVerdict> verdicts,
                                             std::span<const Index> candidates);

/// Pairs of candidates that touch, or of which one lies within the other. Two of a kind are none, nor are two pieces of
/// stitching or two open wires (a hook and its eye: each is sewn to its own cloth).
std::vector<Link> find_links(const RoleInput& input, std::span<const RoleVerdict> verdicts,
                             std::span<const Index> candidates);

/// Flags links whose host has more guests of one kind than an assembly has, while that kind goes on elsewhere: zipper
/// elements run through the slider, a seam under the button.
std::vector<std::uint8_t> running_links(const RoleInput& input, std::span<const RoleVerdict> verdicts,
                                        std::span<const Link> links);

/// Share of the copies of a part that are in a list.
class KindShare {
 public:
  /// @param parts  in any order, also several times
  KindShare(const Families& families, std::vector<Index> parts);
  double of(Index part) const;

 private:
  const Families& fam_;
  std::vector<Index> of_twin_, of_kin_;
};

/// How regularly kinds of parts meet over the whole garment.
class Kinds {
 public:
  /// @param running  links that are no sign of an assembly
  Kinds(const RoleInput& input, std::span<const Link> links, std::span<const std::uint8_t> running);
  /// Share of the copies of `from` that meet one of `other`'s kin. One or two copies tell no rule, since rounding may
  /// have parted them from their kin; then all kin count.
  double share(Index from, Index other) const;
  /// Share of the copies of a part that are a guest of anything.
  double attached(Index guest) const { return attached_.of(guest); }
  /// Whether a part's kind runs through some host, as zipper elements do through their slider.
  bool runs(Index guest) const { return runs_[kin_of(fam_, guest)] != 0; }
  /// Share of a part's kin that have any guest within their extents.
  double hosting(Index host) const;
  /// Share of the host's kin that have a guest about as large and as slender as this one.
  double hosting_such(Index host, Index guest) const;

 private:
  /// (kind of one, kin of the other, member): which members of a kind have a link with the other kind. A kind is a
  /// group of twins, or (numbered after those) of kin.
  struct Meeting {
    Index from, to, member;
    friend bool operator==(const Meeting&, const Meeting&) = default;
    friend bool operator<(const Meeting& a, const Meeting& b) {
      if (a.from != b.from) return a.from < b.from;
      return a.to != b.to ? a.to < b.to : a.member < b.member;
    }
  };
  Index count_meetings(Index from, Index to) const;
  Index sort_of(Index host, Index guest) const;

  const RoleInput& in_;
  const Families& fam_;
  std::vector<Meeting> meetings_;
  std::vector<Meeting> sorts_;  // host's kin, guest's sort, host
  KindShare attached_;
  std::vector<Index> hosts_of_kin_;
  std::vector<std::uint8_t> rare_;  // kin with groups of few twins
  std::vector<std::uint8_t> runs_;  // kin
};

/// How many of the pieces of thread of about one length, modelled alike, hang on something.
class Threads {
 public:
  Threads(const RoleInput& input, std::span<const RoleVerdict> verdicts, std::span<const Link> links,
          std::span<const std::uint8_t> running);
  double attached(const Shape& shape) const;

 private:
  using Key = std::pair<Index, double>;  // vertices, length
  std::vector<Key> keys_;
  std::vector<Index> sum_;
};

}  // namespace trimtack
