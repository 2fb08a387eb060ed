// SPDX-License-Identifier: MIT
/// parts.json: the parts of a combined export, which the author may edit. Its schema is parts.schema.json.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "trimtack/io/text_sink.hpp"
#include "trimtack/parts.hpp"
#include "trimtack/result.hpp"
#include "trimtack/split_maps.hpp"

namespace trimtack {

struct PartsFile {
  Parts parts;
  SplitMaps maps;
};

/// The file's text; numbers are shortest round-trip decimals. Cost: O(components + ranges + cloth vertices).
std::string write_parts_json(const Parts& parts, const SplitMaps& maps);
/// The same in pieces, in order. @error the first of the sink.
Result<void> write_parts_json(const Parts& parts, const SplitMaps& maps, const TextSink& sink);

/// Reads what write_parts_json wrote and an author edited. Unknown keys are skipped; `cloth_vertex_of` is for other
/// programs and is not read (the same numbers stand in `maps`). A component's trim may name any id, also a new one:
/// the list of trims is then the old one.
/// @param max_items  most faces and most vertices to accept: what the meshes beside the file really hold
/// @error BadInput naming the JSON path that is wrong: not JSON, missing key, wrong type, ranges out of order, out of
/// bounds or overlapping, faces in no component, unknown role.
/// Cost: O(text) time; memory O(ranges + max_items), whatever the text claims.
Result<PartsFile> read_parts_json(std::string_view text, const std::string& file,
                                  std::uint64_t max_items = std::uint64_t{1} << 26U);

}  // namespace trimtack
