// SPDX-License-Identifier: MIT
// Laws of reading and writing OBJ, on any bytes: reading ends with a mesh whose indices are in range or with an error
// that names the file; writing, spliced or formatted, reads back to the same content; the order in which blocks
// are parsed does not matter; nor does what is empty behind it, without which the lines that most files consist of are
// not read the short way; triangles are as many as the corners ask for.
#include <algorithm>
#include <cstdint>
#include <string>
#include <vector>

#include "fuzz/fuzz_check.hpp"
#include "trimtack/io/obj.hpp"

namespace {

using namespace trimtack;

/// Runs tasks last to first: anything that depends on the order shows.
void run_backwards(void*, std::size_t count, Executor::Task task, void* context) {
  for (std::size_t i = count; i > 0; --i) task(context, i - 1);
}

bool in_range(const std::vector<Index>& list, std::size_t count) {
  return std::all_of(list.begin(), list.end(), [&](Index i) { return i == kNone || i < count; });
}

void check_sound(const SourceMesh& mesh) {
  const std::size_t corners = mesh.corner_position.size();
  require_law(mesh.face_offsets.back() == corners, "the last face ends at the last corner");
  require_law(mesh.corner_texcoord.empty() || mesh.corner_texcoord.size() == corners, "one texcoord index a corner");
  require_law(mesh.corner_normal.empty() || mesh.corner_normal.size() == corners, "one normal index a corner");
  require_law(std::none_of(mesh.corner_position.begin(), mesh.corner_position.end(),
                           [&](Index i) { return i >= mesh.positions.size(); }),
              "corner positions in range");
  require_law(in_range(mesh.corner_texcoord, mesh.texcoords.size()), "corner texcoords in range");
  require_law(in_range(mesh.corner_normal, mesh.normals.size()), "corner normals in range");
  for (const LooseElement& element : mesh.loose) {
    require_law(std::all_of(element.vertices.begin(), element.vertices.end(),
                            [&](Index i) { return i < mesh.positions.size(); }),
                "vertices of loose elements in range");
    require_law(in_range(element.texcoords, mesh.texcoords.size()), "texcoords of loose elements in range");
  }
  require_law(std::all_of(mesh.positions.begin(), mesh.positions.end(), [](const Vec3& p) { return is_finite(p); }),
              "positions are finite");
  std::size_t triangles = 0;
  for (Index f = 0; f < mesh.face_count(); ++f) triangles += mesh.face(f).size() - 2;
  require_law(triangulate(view(mesh)).triangles.size() == triangles, "corners - 2 triangles a face");
}

void check_round_trip(const SourceMesh& mesh, bool splice) {
  ObjWriteOptions options;
  options.splice = splice;
  const std::string text = write_obj(mesh, options);
  options.executor.run = run_backwards;
  require_law(write_obj(mesh, options) == text, "same bytes for any executor");
  Report report;
  const Result<SourceMesh> again = parse_obj(text, "again.obj", {}, report);
  require_law(again.has_value(), "what is written can be read: " + (again ? std::string() : to_text(again.error())));
  std::string where;
  require_law(same_content(mesh, *again, &where), "read, write, read gives the same content: " + where);
  require_law(report.findings.empty(), "what is written holds nothing unknown");
}

/// The same text, with so many empty lines behind it that every line may be read the short way (io/obj_plain.hpp).
void check_padded(const std::string& text, const Result<SourceMesh>& mesh) {
  if (text.ends_with('\\')) return;  // would be continued
  Report report;
  const Result<SourceMesh> padded = parse_obj(text + std::string(400, '\n'), "input.obj", {}, report);
  require_law(mesh.has_value() == padded.has_value(), "same outcome with empty lines behind it");
  if (!mesh) {
    require_law(to_text(mesh.error()) == to_text(padded.error()), "same error with empty lines behind it");
    return;
  }
  std::string where;
  require_law(same_content(*mesh, *padded, &where), "same content with empty lines behind it: " + where);
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string text(reinterpret_cast<const char*>(data), size);
  Report report;
  Report report_backwards;
  ObjReadOptions backwards;
  backwards.executor.run = run_backwards;
  backwards.block_bytes = size == 0 ? 1 : 1 + data[size / 2] % 64;
  const Result<SourceMesh> mesh = parse_obj(text, "input.obj", {}, report);
  const Result<SourceMesh> other = parse_obj(text, "input.obj", backwards, report_backwards);
  require_law(mesh.has_value() == other.has_value(), "same outcome for any executor");
  check_padded(text, mesh);
  if (!mesh) {
    require_law(to_text(mesh.error()) == to_text(other.error()), "same error for any executor");
    require_law(mesh.error().subject == "input.obj" && !mesh.error().message.empty(), "errors name the file");
    return 0;
  }
  std::string where;
  require_law(same_content(*mesh, *other, &where), "same content for any executor and block size: " + where);
  require_law(report.findings.size() == report_backwards.findings.size(), "same findings for any executor");
  for (std::size_t i = 0; i < report.findings.size(); ++i) {
    require_law(to_text(report.findings[i]) == to_text(report_backwards.findings[i]), "same findings");
  }
  check_sound(*mesh);
  check_round_trip(*mesh, true);
  check_round_trip(*mesh, false);
  return 0;
}
