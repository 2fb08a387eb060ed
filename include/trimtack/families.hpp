// SPDX-License-Identifier: MIT
/// Components that look like copies of each other by their invariants, before any is laid over another.
#pragma once

#include <span>
#include <vector>

#include "trimtack/features.hpp"

namespace trimtack {

/// Groups as flat lists. `twins`: same counts and equal invariants (copies, mirrored or not, up to rounding).
/// `kin`: twins and others with the same counts and nearly the same spread (copies that were bent onto the cloth).
struct Families {
  std::vector<Index> twin_of_component;
  std::vector<Index> twin_representative;  ///< smallest component of each
  std::vector<Index> twin_count;
  std::vector<Index> kin_of_twin;
  std::vector<Index> kin_count;  ///< components
  Index twins() const { return static_cast<Index>(twin_representative.size()); }
};

/// Cost: O(C log C) in the number of components. Deterministic; twins are numbered by their smallest component.
Families find_families(std::span<const Shape> shapes);

}  // namespace trimtack
