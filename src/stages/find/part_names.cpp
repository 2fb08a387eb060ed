// SPDX-License-Identifier: MIT
#include "stages/find/part_names.hpp"

#include <algorithm>
#include <bit>
#include <functional>
#include <span>

#include "core/memory.hpp"
#include "core/utf8.hpp"

namespace trimtack {
namespace {

/// Number of the object (or, above all objects, group) name of a face; kNone without.
Index label_of(const SourceMesh& mesh, Index face) {
  const FaceState state = state_of(mesh, face);
  if (state.object < mesh.objects.size() && !mesh.objects[state.object].empty()) return state.object;
  if (state.group < mesh.groups.size() && !mesh.groups[state.group].empty())
    return static_cast<Index>(mesh.objects.size()) + state.group;
  return kNone;
}

/// Which of a list's names have been given: a table with open addressing (Knuth, The Art of Computer Programming vol.
/// 3, section 6.4).
class TakenNames {
 public:
  explicit TakenNames(std::span<const std::string> names)
      : names_(names), slots_(filled_large<Index>(std::bit_ceil(2 * names.size() + 1), kNone)) {}
  /// @return whether no earlier one has this name
  bool insert(Index name) {
    const std::size_t mask = slots_.size() - 1;
    std::size_t slot = std::hash<std::string>{}(names_[name]) & mask;
    for (; slots_[slot] != kNone; slot = (slot + 1) & mask)
      if (names_[slots_[slot]] == names_[name]) return false;
    slots_[slot] = name;
    return true;
  }

 private:
  std::span<const std::string> names_;
  std::vector<Index> slots_;
};

}  // namespace

std::vector<std::string> name_trims(const SourceMesh& mesh, const ComponentMap& components, const Parts& parts) {
  const std::size_t labels = mesh.objects.size() + mesh.groups.size();
  std::vector<std::uint8_t> soft(labels, 0);
  for (Index c = 0; c < parts.components.size(); ++c) {
    if (parts.components[c].role != Role::Cloth) continue;
    const Index label = label_of(mesh, components.faces_of(c)[0]);
    if (label != kNone) soft[label] = 1;
  }
  std::vector<Index> label(parts.trims.size(), kNone);
  std::vector<Index> uses(labels, 0);
  for (Index t = 0; t < parts.trims.size(); ++t) {
    const Index l = label_of(mesh, components.faces_of(parts.trims[t].components[0])[0]);
    if (l == kNone || soft[l] != 0) continue;
    label[t] = l;
    ++uses[l];
  }
  std::vector<Index> next(labels, 0);
  std::vector<std::string> names(parts.trims.size());
  TakenNames taken(names);
  for (Index t = 0; t < parts.trims.size(); ++t) {
    std::string& name = names[t];
    if (label[t] == kNone) {
      name = (parts.trims[t].role == Role::Stitching ? "stitch-" : "trim-") + std::to_string(t + 1);
    } else {
      const std::size_t l = label[t];
      name = valid_utf8(l < mesh.objects.size() ? mesh.objects[l] : mesh.groups[l - mesh.objects.size()]);
      if (uses[l] > 1) name += "-" + std::to_string(++next[l]);
    }
    while (!taken.insert(t)) name += "'";
  }
  return names;
}

}  // namespace trimtack
