// SPDX-License-Identifier: MIT
/// The unit of an export, deduced from the garment's size and the spacing of its cloth, and the trade's sizes.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "trimtack/features.hpp"
#include "trimtack/parts.hpp"

namespace trimtack {

/// "mm", "cm", "m" or "in" as a Unit with confidence 1; nothing for another name.
std::optional<Unit> unit_named(const std::string& name);

/// Kinds of lengths the trade knows well enough to tell a unit from another one 2.54 or 10 times as large.
enum class Gauge : std::uint8_t {
  Button,     ///< diameter of a plate with sewing holes: the ligne series
  RoundPart,  ///< diameter of other round parts: snaps, rivets, beads, sequins
  Plate,      ///< thickness of round closed parts
  Stitch,     ///< length of one stitch
  Thread,     ///< its thickness
  Element,    ///< length of a zipper element
  Part,       ///< length of any other small closed part
  Count
};
struct Witness {
  Gauge gauge = Gauge::Part;
  double length = 0;  ///< file units
};

/// What the deduction looks at, in file units; 0 or nothing where it is unknown.
struct UnitEvidence {
  double diagonal = 0;                 ///< of the garment
  double cloth_spacing = 0;            ///< mean edge of its cloth
  double panel_thickness = 0;          ///< of thick panels
  std::span<const Witness> witnesses;  ///< one per kind of part, not per copy
};
/// How likely it is that a file unit stands for so many mm, of a giant's clothes for as many of an adult's.
struct UnitChance {
  double mm_per_unit = 1, probability = 1;
};

/// The likeliest of mm, cm, m and inch with its probability and reasons. Never fails: no evidence gives mm at the
/// confidence of the prior.
/// @param[out] chances  when given, every unit, also of a doll's and a giant's clothes, with its probability is
/// appended
Unit deduce_unit(const UnitEvidence& evidence, std::vector<UnitChance>* chances = nullptr);

}  // namespace trimtack
