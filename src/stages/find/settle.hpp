// SPDX-License-Identifier: MIT
/// What the author settled: selectors and an edited parts list.
#pragma once

#include <span>
#include <vector>

#include "trimtack/identify.hpp"
#include "trimtack/roles.hpp"
#include "trimtack/trims.hpp"

namespace trimtack {

/// By name or material a selector matches the components that have at least half of their faces under a matching name.
struct Selection {
  std::vector<Index> components;  ///< ascending
  std::vector<Index> partly;      ///< those with fewer of their faces so, ascending
};
/// @error Usage when nothing matches, with near matches.
Result<Selection> select(const SourceMesh& mesh, const ComponentMap& components, const Override& selector);

/// True if `text` matches `pattern` with * (any run) and ? (one character), without regard to ASCII case.
bool matches_pattern(std::string_view text, std::string_view pattern);

/// Roles from the edited list. @error BadInput when it describes other components than the mesh has.
Result<void> take_edited_roles(const ComponentMap& components, const Parts& edited, std::span<RoleVerdict> verdicts,
                               std::vector<std::uint8_t>& settled);

/// Trims as the edited list groups them: ids in their order, then hard components without an id, one trim each.
TrimGroups edited_trims(const Parts& edited, std::span<RoleVerdict> verdicts);

}  // namespace trimtack
