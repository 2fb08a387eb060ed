// SPDX-License-Identifier: MIT
/// The unit of an export, deduced from the garment's size and the spacing of its cloth, and the trade's sizes.
#pragma once

#include <optional>
#include <span>
#include <string>

#include "trimtack/features.hpp"
#include "trimtack/parts.hpp"

namespace trimtack {

/// "mm", "cm", "m" or "in" as a Unit with confidence 1; nothing for another name.
std::optional<Unit> unit_named(const std::string& name);

/// What the deduction looks at, in file units.
struct UnitEvidence {
  double diagonal = 0;                     ///< of the garment
  double cloth_spacing = 0;                ///< mean edge of its cloth
  std::span<const double> part_sizes;      ///< lengths of small parts that look like trims
  std::span<const double> part_thickness;  ///< their thicknesses
};
/// The likeliest of mm, cm, m and inch with its probability and reasons. Never fails: no evidence gives mm at the
/// confidence of the prior.
Unit deduce_unit(const UnitEvidence& evidence);

}  // namespace trimtack
