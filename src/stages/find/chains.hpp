// SPDX-License-Identifier: MIT
/// Sets of parts without an end. Private to the search for trims.
#pragma once

#include <algorithm>
#include <array>
#include <span>
#include <utility>
#include <vector>

#include "core/union_find.hpp"
#include "stages/find/trim_links.hpp"

namespace trimtack {

/// Sets that are chains: beads on a string, hooks in eyes, rings in rings. Each part is held by itself.
class Chains {
 public:
  Chains(const RoleInput& in, std::span<const Link* const> links) : sets_(static_cast<Index>(in.shapes.size())) {
    const Families& fam = *in.families;
    std::vector<Index> parts;
    std::vector<std::array<Index, 2>> meetings;  // part, kin it meets
    for (const Link* l : links) {
      sets_.join(l->host, l->guest);
      for (const auto& [one, other] : {std::pair{l->host, l->guest}, std::pair{l->guest, l->host}}) {
        parts.push_back(one);
        meetings.push_back({one, kin_of(fam, other)});
      }
    }
    std::sort(parts.begin(), parts.end());
    parts.erase(std::unique(parts.begin(), parts.end()), parts.end());
    size_.assign(in.shapes.size(), 0);
    bodies_.assign(in.shapes.size(), 0);
    repeats_.assign(in.shapes.size(), 0);
    for (const Index c : parts) {
      ++size_[sets_.find(c)];
      if (!is_wire(in, c)) bodies_[sets_.find(c)] = 1;
    }
    find_repeats(fam, meetings);
  }
  bool holds(Index c) {
    const Index set = sets_.find(c);
    return size_[set] > kMostParts || bodies_[set] == 0 || repeats_[set] != 0;
  }

 private:
  static constexpr Index kMostParts = 12;  // of an assembly

  /// Two of one kind on one of another, and two of that other kind on one of the first: there is no end.
  void find_repeats(const Families& fam, std::vector<std::array<Index, 2>>& meetings) {
    std::sort(meetings.begin(), meetings.end());
    std::vector<std::array<Index, 3>> twice;  // set, kin, kin met twice
    for (std::size_t i = 1; i < meetings.size(); ++i)
      if (meetings[i] == meetings[i - 1])
        twice.push_back({sets_.find(meetings[i][0]), kin_of(fam, meetings[i][0]), meetings[i][1]});
    std::sort(twice.begin(), twice.end());
    for (const auto& [set, from, to] : twice)
      if (std::binary_search(twice.begin(), twice.end(), std::array<Index, 3>{set, to, from})) repeats_[set] = 1;
  }

  UnionFind sets_;
  std::vector<Index> size_;
  std::vector<std::uint8_t> bodies_, repeats_;
};

}  // namespace trimtack
