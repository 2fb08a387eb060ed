// SPDX-License-Identifier: MIT
/// parts.json as events: grammar and types are checked while reading, ranges against each other afterwards.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "trimtack/parts.hpp"
#include "trimtack/result.hpp"
#include "trimtack/split_maps.hpp"

namespace trimtack::parts_json {

/// The lists of one output map: vertices, texcoords, normals, faces, loose.
using MapRanges = std::array<std::vector<IndexRange>, 5>;

/// What the file says, before its ranges are compared.
struct Raw {
  Parts parts;                    ///< component_of_face and component_of_vertex still empty
  std::array<MapRanges, 3> maps;  ///< cloth, trims, stitching
  std::array<std::vector<Index>, 3> loose_before_face;
  std::vector<SpanningElement> spanning;
};

/// @error BadInput naming the JSON path. Cost: O(text); memory: O(ranges and texts read).
Result<Raw> read_raw(std::string_view text, const std::string& file);

}  // namespace trimtack::parts_json
