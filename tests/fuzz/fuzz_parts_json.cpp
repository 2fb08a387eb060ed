// SPDX-License-Identifier: MIT
// Laws of reading parts.json, on any bytes: parts whose numbers all refer to something, or an error that names the
// file; what is read can be written and read again and gives the same text. The input up to a zero byte is the text;
// two bytes before it say how many faces and vertices the meshes hold.
#include <cstdint>
#include <string>
#include <string_view>

#include "fuzz/fuzz_check.hpp"
#include "trimtack/io/parts_json.hpp"
#include "trimtack/pipeline.hpp"

using namespace trimtack;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  constexpr std::uint64_t kMost = 5000;
  Result<PartsFile> read = read_parts_json(text, "parts.json", kMost);
  if (!read) {
    require_law(read.error().code == ErrorCode::BadInput && read.error().subject == "parts.json" &&
                    !read.error().message.empty(),
                "errors name the file");
    return 0;
  }
  Parts& parts = read->parts;
  require_law(parts.component_of_face.size() == parts.source_faces && parts.source_faces <= kMost, "faces as claimed");
  for (const Index c : parts.component_of_face) require_law(c < parts.components.size(), "a component for every face");
  for (const Index c : parts.component_of_vertex) {
    require_law(c == kNone || c < parts.components.size(), "components of vertices are there");
  }
  for (const Trim& trim : parts.trims) {
    for (const Index c : trim.components) require_law(c < parts.components.size(), "components of trims are there");
    require_law(trim.prototype == kNone || trim.prototype < parts.prototypes.size(), "prototypes are there");
    require_law(trim.row == kNone || trim.row < parts.rows.size(), "rows are there");
  }
  const std::string written = write_parts_json(parts, read->maps);
  const Result<PartsFile> again = read_parts_json(written, "again.json", kMost);
  require_law(again.has_value(),
              "what is read can be written and read: " + (again ? std::string() : to_text(again.error())));
  require_law(write_parts_json(again->parts, again->maps) == written, "and gives the same text");
  // Meshes that do not belong to it are refused, not believed.
  (void)join({}, {}, {}, read->maps).has_value();
  keep_stitching_with_cloth(parts);
  return 0;
}
