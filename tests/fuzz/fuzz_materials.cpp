// SPDX-License-Identifier: MIT
// Laws of material libraries, on any bytes taken as an export that names them and as a library: every place stays
// within the folder; numbers read are within 0..1; the names of libraries and materials survive writing and
// reading.
#include <cstdint>
#include <filesystem>
#include <set>
#include <string>
#include <string_view>

#include "fuzz/fuzz_check.hpp"
#include "trimtack/io/obj.hpp"
#include "trimtack/io/scene.hpp"

using namespace trimtack;

namespace {

/// Wherever a name leads, it leads to a place within the folder.
void check_place(const std::string& name, const std::string& folder) {
  const std::filesystem::path root = std::filesystem::weakly_canonical("export");
  const auto place = place_of_picture(root, root / folder, name);
  if (!place) {
    require_law(place.error().code == ErrorCode::BadInput && !place.error().message.empty(), "a refusal says why");
    return;
  }
  const std::string inside = place->lexically_normal().lexically_relative(root).generic_string();
  require_law(!inside.empty() && inside != ".." && !inside.starts_with("../"),
              "a place within the folder: " + place->string());
}

void check_library(std::string_view text) {
  for (const SceneMaterial& material : read_materials(text)) {
    require_law(material.name.find('\n') == std::string::npos, "a name is one line");
    for (const double x :
         {material.opacity, material.metallic, material.roughness, material.base_colour[0], material.base_colour[1],
          material.base_colour[2], material.emissive[0], material.emissive[1], material.emissive[2]}) {
      require_law(x >= 0 && x <= 1, "factors are within 0..1");
    }
  }
  std::set<std::string> once;
  for (const std::string& picture : pictures_named(text)) {
    require_law(!picture.empty() && picture.find('\\') == std::string::npos, "a picture has a name with '/'");
    require_law(once.insert(picture).second, "each picture once");
    check_place(picture, "");
    check_place(picture, "maps/one");
  }
}

/// The statements that matter here, with a triangle that makes it a mesh.
void check_export(std::string_view text) {
  Report report;
  const Result<SourceMesh> mesh =
      parse_obj("v 0 0 0\nv 1 0 0\nv 0 1 0\n" + std::string(text) + "\nf 1 2 3\n", "a.obj", {}, report);
  if (!mesh) return;
  for (const std::string& library : mesh->material_libraries) {
    require_law(!library.empty(), "a library has a name");
    check_place(library, "");
  }
  ObjWriteOptions options;
  options.splice = false;
  const Result<SourceMesh> again = parse_obj(write_obj(*mesh, options), "a.obj", {}, report);
  require_law(again.has_value(), "what is written can be read");
  require_law(again->material_libraries == mesh->material_libraries, "the libraries survive");
  std::string where;
  require_law(same_content(*mesh, *again, &where), "the materials survive: " + where);
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  check_library(text);
  check_export(text);
  return 0;
}
