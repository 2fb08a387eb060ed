// SPDX-License-Identifier: MIT
// Laws of reading and writing PLY, on any bytes: a mesh with indices in range and finite positions, or an error that
// names the file; what is written in double reads back as the same positions and faces.
#include <algorithm>
#include <cstdint>
#include <string>
#include <string_view>

#include "fuzz/fuzz_check.hpp"
#include "trimtack/io/ply.hpp"

using namespace trimtack;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view bytes(reinterpret_cast<const char*>(data), size);
  Report report;
  const Result<SourceMesh> mesh = parse_ply(bytes, "a.ply", {}, report);
  Report ignored;
  const Result<SourceMesh> alone = parse_ply(bytes, "a.ply", {.faces = false, .max_memory_bytes = 0}, ignored);
  if (!mesh) {
    require_law(mesh.error().code == ErrorCode::BadInput && mesh.error().subject == "a.ply", "errors name the file");
    return 0;
  }
  require_law(alone.has_value() && alone->positions == mesh->positions, "positions alone are the same");
  const std::size_t corners = mesh->corner_position.size();
  require_law(mesh->face_offsets.back() == corners, "the last face ends at the last corner");
  require_law(std::all_of(mesh->corner_position.begin(), mesh->corner_position.end(),
                          [&](Index v) { return v < mesh->positions.size(); }),
              "corners in range");
  for (Index f = 0; f < mesh->face_count(); ++f) require_law(mesh->face(f).size() >= 3, "three corners a face");
  require_law(std::all_of(mesh->positions.begin(), mesh->positions.end(), [](const Vec3& p) { return is_finite(p); }),
              "positions are finite");
  require_law(mesh->corner_texcoord.empty() || mesh->corner_texcoord.size() == corners, "one texcoord index a corner");
  require_law(mesh->corner_normal.empty() || mesh->corner_normal.size() == corners, "one normal index a corner");
  for (const bool binary : {false, true}) {
    const PlyWriteOptions options{.binary = binary, .float64 = true, .corner_data = false, .comment = ""};
    const Result<std::string> written = write_ply(*mesh, options);
    require_law(written.has_value(), "finite positions can be written");
    const Result<SourceMesh> again = parse_ply(*written, "b.ply", {}, ignored);
    require_law(again.has_value(), "what is written can be read");
    require_law(again->positions == mesh->positions && again->corner_position == mesh->corner_position &&
                    again->face_offsets == mesh->face_offsets,
                "read, write, read gives the same mesh");
  }
  return 0;
}
