// SPDX-License-Identifier: MIT
#include "trimtack/trims.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <numeric>
#include <utility>

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

/// How two kinds of parts (twin groups) meet over the whole garment.
struct KindPair {
  Index met_a = 0, met_b = 0;  // members that touch at least one of the other kind
};

}  // namespace

TrimGroups group_trims(const RoleInput& in, std::span<Verdict> verdicts) {
  const Families& fam = *in.families;
  const Index n = static_cast<Index>(verdicts.size());
  std::vector<Index> candidates;
  for (Index c = 0; c < n; ++c)
    if (verdicts[c].role != Role::Cloth) candidates.push_back(c);
  const FaceView faces{in.mesh->positions, in.mesh->face_offsets, in.mesh->corner_position};
  std::vector<Contact> contacts;
  for (const Contact& contact : find_contacts(faces, *in.welded, *in.components, in.shapes, candidates, 0.12)) {
    const Index ta = fam.twin_of_component[contact.a];
    const Index tb = fam.twin_of_component[contact.b];
    if (ta == tb) continue;
    if (verdicts[contact.a].role == Role::Stitching && verdicts[contact.b].role == Role::Stitching) continue;
    contacts.push_back(contact);
  }
  // A pair of kinds forms an assembly when most members of both kinds meet one of the other.
  struct Meeting {
    Index from, to, member;
    auto operator<=>(const Meeting&) const = default;
  };
  std::vector<Meeting> meetings;
  for (const Contact& k : contacts) {
    const Index ta = fam.kin_of_twin[fam.twin_of_component[k.a]];
    const Index tb = fam.kin_of_twin[fam.twin_of_component[k.b]];
    meetings.push_back({ta, tb, k.a});
    meetings.push_back({tb, ta, k.b});
  }
  std::sort(meetings.begin(), meetings.end());
  meetings.erase(std::unique(meetings.begin(), meetings.end()), meetings.end());
  const auto share = [&](Index from, Index to) {
    const auto low = std::lower_bound(meetings.begin(), meetings.end(), Meeting{from, to, 0});
    const auto high = std::lower_bound(meetings.begin(), meetings.end(), Meeting{from, to + 1, 0});
    return static_cast<double>(high - low) / fam.kin_count[from];
  };
  Union sets(n);
  for (const Contact& k : contacts) {
    const Index ta = fam.kin_of_twin[fam.twin_of_component[k.a]];
    const Index tb = fam.kin_of_twin[fam.twin_of_component[k.b]];
    if (share(ta, tb) >= 0.6 && share(tb, ta) >= 0.6) sets.join(k.a, k.b);
  }
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
