// SPDX-License-Identifier: MIT
// Materials of a glTF garment as a material library. Meaning of the keys: glTF 2.0 (Khronos), section "Materials".
#include <algorithm>
#include <catch2/catch.hpp>
#include <fstream>
#include <string>
#include <vector>

#include "support/scratch_folder.hpp"
#include "trimtack/io/gltf.hpp"

using namespace trimtack;

namespace {

const std::string kPng("\x89PNG\r\n\x1a\n made up", 16), kJpeg("\xff\xd8\xff made up", 11);

/// A glTF with one triangle of one primitive a material. The buffer holds the corners, then a JPEG.
std::string gltf_with(const std::string& materials, std::size_t count) {
  std::string primitives;
  for (std::size_t i = 0; i < count; ++i) {
    primitives +=
        (i == 0 ? "" : ",") + std::string(R"({"attributes":{"POSITION":0},"material":)") + std::to_string(i) + "}";
  }
  // Corners 0 0 0, 1 0 0, 0 1 0 as floats, then the bytes of kJpeg.
  const std::string buffer = "AAAAAAAAAAAAAAAAAACAPwAAAAAAAAAAAAAAAAAAgD8AAAAA/9j/IG1hZGUgdXA=";
  return R"({"asset":{"version":"2.0"},"scene":0,"scenes":[{"nodes":[0]}],"nodes":[{"mesh":0}],)"
         R"("buffers":[{"byteLength":47,"uri":"data:application/octet-stream;base64,)" +
         buffer +
         R"("}],"bufferViews":[{"buffer":0,"byteLength":36},{"buffer":0,"byteOffset":36,"byteLength":11}],)"
         R"("accessors":[{"bufferView":0,"componentType":5126,"count":3,"type":"VEC3","min":[0,0,0],"max":[1,1,0]}],)"
         R"("images":[{"name":"denim weave","uri":"data:image/png;base64,iVBORw0KGgogbWFkZSB1cA=="},)"
         R"({"bufferView":1,"mimeType":"image/jpeg"},{"uri":"maps/horn%20button.png"},{"uri":"data:image/webp;base64,AAAA"},)"
         R"({"uri":"../outside.png"},{"name":"denim_weave","uri":"data:image/png;base64,iVBORw0KGgogbWFkZSB1cA=="}],)"
         R"("textures":[{"source":0},{"source":1},{"source":2},{"source":3},{"source":4},{"source":5},{}],)"
         R"("materials":[)" +
         materials + R"(],"meshes":[{"primitives":[)" + primitives + "]}]}";
}

std::size_t times_found(const Report& report, const std::string& code) {
  std::size_t count = 0;
  for (const Finding& finding : report.findings) count += finding.code == code ? finding.count : 0;
  return count;
}

std::vector<AttachedFile> files_of(const std::string& materials, std::size_t count, const std::filesystem::path& folder,
                                   Report& report, std::vector<std::string>* names = nullptr) {
  Result<GltfGarment> garment =
      GltfGarment::parse(gltf_with(materials, count), "shop/work coat.gltf", folder, {}, report);
  if (!garment) FAIL(garment.error().message);
  if (names != nullptr) *names = garment->mesh().materials;
  return garment->material_files(report);
}

}  // namespace

TEST_CASE("glTF factors become the library's, with glTF's defaults where nothing is said") {
  Report report;
  const auto files =
      files_of(R"({"name":"canvas"},{"name":"brass","pbrMetallicRoughness":{"baseColorFactor":[0.5,0.25,0.125,0.75],)"
               R"("metallicFactor":0.5,"roughnessFactor":0.25},"emissiveFactor":[0,0.5,1]},)"
               R"({"pbrMetallicRoughness":{"baseColorFactor":[1,1,1,0.5],"metallicFactor":0},"alphaMode":"BLEND"})",
               3, {}, report);
  REQUIRE(files.size() == 1);
  CHECK(files[0].name == "work_coat.mtl");
  CHECK(files[0].bytes ==
        "newmtl canvas\nKd 1 1 1\nPm 1\nPr 1\n"
        "newmtl brass\nKd 0.5 0.25 0.125\nPm 0.5\nPr 0.25\nKe 0 0.5 1\n"
        "newmtl material_2\nKd 1 1 1\nd 0.5\nPm 0\nPr 1\n");
  const auto read = read_materials(files[0].bytes);
  REQUIRE(read.size() == 3);
  CHECK(read[1].base_colour == std::array<double, 3>{0.5, 0.25, 0.125});
  CHECK(read[1].opacity == 1);  // alphaMode OPAQUE: alpha does not count
  CHECK(read[1].emissive == std::array<double, 3>{0, 0.5, 1});
  CHECK(read[2].opacity == 0.5);
  CHECK(report.findings.empty());
}

TEST_CASE("pictures in buffers, data URIs and files beside the glTF come along byte for byte, each once") {
  const test::ScratchFolder folder;
  std::filesystem::create_directory(folder.path() / "maps");
  std::ofstream(folder.path() / "maps/horn button.png", std::ios::binary) << kPng << "third";
  Report report;
  const auto files = files_of(
      R"({"name":"canvas","pbrMetallicRoughness":{"baseColorTexture":{"index":0}},"emissiveTexture":{"index":1}},)"
      R"({"name":"lace","alphaMode":"MASK","pbrMetallicRoughness":{"baseColorTexture":{"index":0}},)"
      R"("normalTexture":{"index":2}},{"name":"other weave","pbrMetallicRoughness":{"baseColorTexture":{"index":5},)"
      R"("metallicRoughnessTexture":{"index":2},"roughnessFactor":0.5}})",
      3, folder.path(), report);
  REQUIRE(files.size() == 5);
  CHECK(files[1].name == "textures/denim_weave.png");
  CHECK(files[1].bytes == kPng);
  CHECK(files[2].name == "textures/picture.jpg");
  CHECK(files[2].bytes == kJpeg);
  CHECK(files[3].name == "textures/horn_button.png");
  CHECK(files[3].bytes == kPng + "third");
  CHECK(files[4].name == "textures/denim_weave-5.png");
  const auto read = read_materials(files[0].bytes);
  REQUIRE(read.size() == 3);
  CHECK(read[0].map(PictureUse::BaseColour).file == files[1].name);
  CHECK(read[0].map(PictureUse::Emissive).file == files[2].name);
  CHECK(read[1].cut_out);
  CHECK(read[1].map(PictureUse::Normal).file == files[3].name);
  CHECK(read[2].map(PictureUse::BaseColour).file == files[4].name);
  CHECK(read[2].map(PictureUse::MetallicRoughness).file == files[3].name);
  CHECK(read[2].metallic_of_picture == 1);
  CHECK(read[2].roughness_of_picture == 0.5);
  CHECK(report.findings.empty());
}

TEST_CASE("what a library cannot say, and pictures that cannot be had, are reported; the factors stay") {
  Report report;
  const std::string texture = R"({"name":"%","pbrMetallicRoughness":{"roughnessFactor":0.5,"baseColorTexture":)";
  const auto of = [&](const std::string& name, const std::string& info) {
    return std::string(texture).replace(9, 1, name) + info + "}}";
  };
  const auto files =
      files_of(of("webp", R"({"index":3})") + "," + of("outside", R"({"index":4})") + "," +
                   of("no source", R"({"index":6})") + "," + of("no texture", R"({"index":60})") + "," +
                   of("second layout", R"({"index":0,"texCoord":1})") + "," + of("not a number", R"({"index":"0"})") +
                   R"(,{"name":"more","occlusionTexture":{"index":0},"pbrMetallicRoughness":)"
                   R"({"metallicRoughnessTexture":{"index":3},"roughnessFactor":"rough"}})",
               7, {}, report);
  REQUIRE(files.size() == 1);
  CHECK(times_found(report, "picture-missing") == 3);  // no source, no texture, no number: one picture, told once
  CHECK(times_found(report, "gltf-left-out") == 2);
  const auto read = read_materials(files[0].bytes);
  REQUIRE(read.size() == 7);
  for (const SceneMaterial& material : read) {
    CHECK(material.roughness == (material.name == "more" ? 1 : 0.5));
    CHECK(material.map(PictureUse::BaseColour).file.empty());
  }
}

TEST_CASE("materials of one name stay two materials") {
  Report report;
  std::vector<std::string> names;
  const auto files =
      files_of(R"({"name":"horn"},{"name":"horn","pbrMetallicRoughness":{"metallicFactor":0}})", 2, {}, report, &names);
  CHECK(names == std::vector<std::string>{"horn", "horn material_1"});
  const auto read = read_materials(files.at(0).bytes);
  REQUIRE(read.size() == 2);
  CHECK(read[0].name == names[0]);
  CHECK(read[1].name == names[1]);
  CHECK(read[1].metallic == 0);
}
