// SPDX-License-Identifier: MIT
// Laws of finding and splitting parts, on small meshes built from any bytes: the same parts for any executor; every
// face in one component; the outputs joined are the original; parts.json reads back as what was written; a cut undone
// is the mesh before the cut.
#include <cstdint>
#include <string>

#include "fuzz/byte_garment.hpp"
#include "fuzz/fuzz_check.hpp"
#include "support/reversed_executor.hpp"
#include "trimtack/io/obj.hpp"
#include "trimtack/io/parts_json.hpp"
#include "trimtack/pipeline.hpp"
#include "trimtack/welded_trims.hpp"

using namespace trimtack;

namespace {

PipelineOptions options_of(fuzz::ByteSource& in) {
  PipelineOptions options;
  const std::uint8_t bits = in.byte();
  options.identify.use_names = (bits & 1U) == 0;
  options.stitching = (bits & 6U) == 2 ? StitchingChoice::Cloth : StitchingChoice::Bind;
  options.cut = (bits & 24U) == 8;
  options.pieces = (bits & 32U) != 0;
  if ((bits & 64U) != 0) options.identify.unit = Unit{1, "mm", 1, {"declared"}};
  return options;
}

void check_parts(const Garment& garment) {
  const Parts& parts = garment.parts;
  require_law(parts.component_of_face.size() == garment.combined.face_count(), "one component a face");
  std::vector<int> seen(garment.combined.face_count());
  for (std::size_t c = 0; c < parts.components.size(); ++c) {
    for (const IndexRange& range : parts.components[c].faces) {
      require_law(range.first < range.end && range.end <= seen.size(), "face ranges in range");
      for (Index f = range.first; f < range.end; ++f) {
        ++seen[f];
        require_law(parts.component_of_face[f] == c, "ranges and component_of_face agree");
      }
    }
    require_law(parts.components[c].confidence >= 0 && parts.components[c].confidence <= 1, "confidence in 0..1");
  }
  for (const int n : seen) require_law(n == 1, "every face is in one component");
}

void check_join(const Garment& garment) {
  const SourceMesh cloth = extract(garment.combined, garment.maps.cloth);
  const SourceMesh trims = extract(garment.combined, garment.maps.trims);
  const SourceMesh stitching = extract(garment.combined, garment.maps.stitching);
  const Result<SourceMesh> joined = join(cloth, trims, stitching, garment.maps);
  require_law(joined.has_value(), "the outputs can be joined");
  std::string where;
  require_law(same_content(*joined, garment.combined, &where), "joined outputs are the original: " + where);
}

void check_parts_json(const Garment& garment, const std::string& text) {
  const Result<PartsFile> read = read_parts_json(text, "parts.json");
  require_law(read.has_value(), "parts.json is read: " + (read ? std::string() : to_text(read.error())));
  require_law(read->parts.component_of_face == garment.parts.component_of_face, "the same components");
  require_law(write_parts_json(read->parts, read->maps) == text, "read and written again is the same text");
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size > 400) return 0;
  fuzz::ByteSource in(data, size);
  PipelineOptions options = options_of(in);
  const SourceMesh mesh = fuzz::make_byte_garment(in);
  Report report, reversed_report;
  const Result<Garment> garment = take_apart(mesh, options, report);
  options.identify.executor = options.bind.executor = test::reversed_executor();
  const Result<Garment> reversed = take_apart(mesh, options, reversed_report);
  require_law(garment.has_value() == reversed.has_value(), "the same outcome for any executor");
  if (!garment) {
    require_law(garment.error().code != ErrorCode::Internal && !garment.error().message.empty(), "errors say why");
    return 0;
  }
  const std::string text = write_parts_json(garment->parts, garment->maps);
  require_law(text == write_parts_json(reversed->parts, reversed->maps), "the same parts for any executor");
  require_law(report.findings.size() == reversed_report.findings.size(), "the same findings for any executor");
  check_parts(*garment);
  check_join(*garment);
  check_parts_json(*garment, text);
  if (options.cut) {
    const Result<CutMesh> cut = cut_welded_trims(mesh, options.identify, report);
    require_law(cut.has_value(), "what can be taken apart can be cut");
    require_law(same_content(undo_cut(*cut), mesh), "a cut undone is the mesh before");
  }
  return 0;
}
