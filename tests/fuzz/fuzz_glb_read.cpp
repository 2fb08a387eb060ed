// SPDX-License-Identifier: MIT
// Laws of reading glTF garments, on any bytes: a mesh with indices in range and finite positions whose frames can be
// asked for, or an error that names the file. Bytes that do not begin as GLB are taken as JSON text.
#include <algorithm>
#include <cstdint>
#include <string>
#include <vector>

#include "fuzz/fuzz_check.hpp"
#include "trimtack/io/gltf.hpp"

using namespace trimtack;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  Report report;
  GltfReadOptions options;
  options.max_memory_bytes = std::uint64_t{64} << 20;
  const Result<GltfGarment> garment =
      GltfGarment::parse(std::string(reinterpret_cast<const char*>(data), size), "a.glb", {}, options, report);
  if (!garment) {
    require_law(garment.error().code == ErrorCode::BadInput && garment.error().subject == "a.glb",
                "errors name the file");
    return 0;
  }
  const SourceMesh& mesh = garment->mesh();
  require_law(mesh.face_count() > 0, "there is a face");
  require_law(mesh.face_offsets.back() == mesh.corner_position.size(), "the last face ends at the last corner");
  const auto within = [](const std::vector<Index>& list, std::size_t count) {
    return std::all_of(list.begin(), list.end(), [&](Index i) { return i < count || i == kNone; });
  };
  require_law(std::all_of(mesh.corner_position.begin(), mesh.corner_position.end(),
                          [&](Index v) { return v < mesh.positions.size(); }),
              "corners in range");
  require_law(within(mesh.corner_texcoord, mesh.texcoords.size()), "texture coordinates in range");
  require_law(within(mesh.corner_normal, mesh.normals.size()), "normals in range");
  require_law(std::all_of(mesh.positions.begin(), mesh.positions.end(), [](const Vec3& p) { return is_finite(p); }),
              "positions are finite");
  const std::vector<AttachedFile> files = garment->material_files(report);
  require_law(files.empty() == mesh.materials.empty(), "a library where there are materials");
  if (!files.empty()) {
    for (const std::string& picture : pictures_named(files[0].bytes)) {
      require_law(std::any_of(files.begin() + 1, files.end(), [&](const AttachedFile& f) { return f.name == picture; }),
                  "pictures that the library names are there");
    }
  }
  std::vector<Vec3> positions(mesh.positions.size());
  (void)garment->pose(kNone, 0, positions).has_value();
  for (std::size_t clip = 0; clip < garment->clips().size(); ++clip) {
    const std::vector<double>& seconds = garment->clips()[clip].seconds;
    require_law(!seconds.empty() && std::is_sorted(seconds.begin(), seconds.end()), "frames ascend");
    for (const std::size_t i : {std::size_t{0}, seconds.size() / 2, seconds.size() - 1}) {
      const Result<void> done = garment->pose(static_cast<Index>(clip), i, positions);
      require_law(!done || std::all_of(positions.begin(), positions.end(), [](const Vec3& p) { return is_finite(p); }),
                  "posed positions are finite");
    }
  }
  return 0;
}
