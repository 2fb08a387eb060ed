// SPDX-License-Identifier: MIT
/// parts.json: the parts of a combined export, which the author may edit.
#pragma once

#include <string>
#include <string_view>

#include "trimtack/parts.hpp"
#include "trimtack/result.hpp"
#include "trimtack/split.hpp"

namespace trimtack {

struct PartsFile {
  Parts parts;
  SplitMaps maps;
};
std::string write_parts_json(const Parts& parts, const SplitMaps& maps);
/// @error BadInput naming the JSON path that is wrong (ranges out of order or out of bounds, unknown role, ...).
Result<PartsFile> read_parts_json(std::string_view text, const std::string& file);

}  // namespace trimtack
