// SPDX-License-Identifier: MIT
/// From a combined export to its parts: weld, components, features, roles, trims, prototypes, rows, unit.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "trimtack/mesh.hpp"
#include "trimtack/parallel.hpp"
#include "trimtack/parts.hpp"
#include "trimtack/report.hpp"
#include "trimtack/result.hpp"

namespace trimtack {

enum class SelectorKind : std::uint8_t { Name, Material, Component, Face };
/// What the author settled: components that match become `role`. Name and material are patterns with * and ?
/// on the object/group or material name, case-insensitive; component and face are numbers (0-based).
struct Override {
  Role role = Role::Cloth;
  SelectorKind kind = SelectorKind::Name;
  std::string pattern;
};

struct IdentifyOptions {
  std::optional<Unit> unit;      ///< declared by the user, otherwise deduced
  std::optional<UpAxis> up;      ///< declared by the user, otherwise deduced
  double uncertain_below = 0.85;  ///< confidence under which a component is "uncertain"
  bool use_names = true;
  std::vector<Override> overrides;  ///< later ones win
  const Parts* edited = nullptr;    ///< roles and trim ids as the author edited them in parts.json
  /// Empty, or one number per vertex: only vertices of one group are welded (see cut.hpp).
  std::span<const Index> weld_groups;
  Executor executor;
};

/// @error Usage when an override matches nothing (lists near matches); BadInput for a mesh without faces.
/// Deterministic: independent of thread count; ids follow the order of first faces.
Result<Parts> identify(const SourceMesh& mesh, const IdentifyOptions& options, Report& report);

}  // namespace trimtack
