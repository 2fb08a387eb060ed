// SPDX-License-Identifier: MIT
/// What the author and the caller tell the search for parts.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "trimtack/parallel.hpp"
#include "trimtack/parts.hpp"

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
  std::optional<Unit> unit;       ///< declared by the user, otherwise deduced
  std::optional<UpAxis> up;       ///< declared by the user, otherwise deduced
  double uncertain_below = 0.85;  ///< confidence under which a component is "uncertain"
  bool use_names = true;
  std::vector<Override> overrides;  ///< later ones win
  const Parts* edited = nullptr;    ///< roles and trim ids as the author edited them in parts.json
  /// Empty, or one number per vertex: only vertices of one group are welded (see welded_trims.hpp).
  std::span<const Index> weld_groups;
  Executor executor;
};

}  // namespace trimtack
