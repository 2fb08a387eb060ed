// SPDX-License-Identifier: MIT
/// The first half of the search for parts: everything measured, the unit, a role per component.
#pragma once

#include <vector>

#include "trimtack/identify_options.hpp"
#include "trimtack/report.hpp"
#include "trimtack/result.hpp"
#include "trimtack/roles.hpp"

namespace trimtack {

struct Study {
  WeldMap welded;
  ComponentMap components;
  std::vector<Shape> shapes;
  Families families;
  std::vector<Detail> details;  ///< per twin group
  Box box;
  GarmentScale scale;
  Unit deduced, unit;
  std::vector<RoleVerdict> verdicts;
  /// Views of this study; it must outlive them.
  RoleInput input(const SourceMesh& mesh, bool use_names) const;
};

/// @error BadInput for a mesh without usable faces. Reports a unit that is unsure or contradicted.
Result<Study> study(const SourceMesh& mesh, const IdentifyOptions& options, Report& report);

/// The second half: what identify() makes of a study, which is used up. @error as identify().
Result<Parts> list_parts(const SourceMesh& mesh, Study& study, const IdentifyOptions& options, Report& report);

}  // namespace trimtack
