// SPDX-License-Identifier: MIT
#include "trimtack/io/scene.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include "support/png.hpp"
#include "support/scratch_folder.hpp"

using namespace trimtack;
using Catch::Matchers::Contains;

namespace {

// A garment of one cloth triangle and copies of a tetrahedral trim with texture coordinates, split already.
struct Garment {
  SourceMesh cloth, trims, stitching;
  Parts parts;
  SplitMaps maps;

  Garment() {
    cloth.positions = {{0, 0, 0}, {500, 0, 0}, {0, 800, 0}};
    cloth.corner_position = {0, 1, 2};
    cloth.face_offsets = {0, 3};
    maps.cloth.faces = {0};
    trims.materials = {"horn", "brass"};
    Component component;
    component.faces = {{0, 1}};
    parts.components.push_back(component);
  }

  Index add_trim(const Pose& placement, bool mirrored = false, double scale = 1, Index material = 0, double u = 0,
                 double error = 0) {
    const auto first = static_cast<Index>(trims.positions.size());
    for (const Vec3& p : {Vec3{0, 0, 0}, Vec3{9, 1, 0}, Vec3{2, 5, 0}, Vec3{1, 2, 4 + error}}) {
      const Vec3 own{mirrored ? -p.x : p.x, p.y, p.z};
      trims.positions.push_back(apply(placement, scale * own));
      trims.texcoords.push_back({u + p.x / 10, p.y / 10});
    }
    const Index face = trims.face_count();
    trims.states.push_back({face, {kNone, kNone, kNone, material}});
    for (Tri t : {Tri{0, 2, 1}, Tri{0, 1, 3}, Tri{1, 2, 3}, Tri{2, 0, 3}}) {
      if (mirrored) std::swap(t[0], t[2]);
      for (const Index v : t) {
        trims.corner_position.push_back(first + v);
        trims.corner_texcoord.push_back(first + v);
      }
      trims.face_offsets.push_back(static_cast<Index>(trims.corner_position.size()));
    }
    for (Index f = face; f < trims.face_count(); ++f) maps.trims.faces.push_back(1 + f);
    Component component;
    component.role = Role::Trim;
    component.faces = {{1 + face, 1 + trims.face_count()}};
    parts.components.push_back(component);
    Trim trim;
    trim.name = "hook " + std::to_string(parts.trims.size());
    trim.components = {static_cast<Index>(parts.components.size() - 1)};
    trim.prototype = 0;
    trim.mirrored = mirrored;
    trim.scale = scale;
    trim.placement = placement;
    parts.trims.push_back(trim);
    if (parts.prototypes.empty()) parts.prototypes.push_back({"hook", 0, 1, {}, "", 0, 0});
    return static_cast<Index>(parts.trims.size() - 1);
  }
};

Pose place(double x, double angle) {
  Pose pose;
  const double s = std::sin(angle / 2) / 3;
  pose.rotation = to_matrix({s, 2 * s, 2 * s, std::cos(angle / 2)});
  pose.translation = {x, 10, -5};
  return pose;
}

Scene built(const Garment& garment, const std::vector<Index>& order = {}) {
  Report report;
  Result<Scene> scene =
      build_scene(garment.cloth, garment.trims, garment.stitching, garment.parts, garment.maps, order, report);
  REQUIRE(scene);
  return std::move(*scene);
}

// The trim's own vertices must be the placed shape's.
void check_places(const Garment& garment, const Scene& scene) {
  for (const Scene::Placed& placed : scene.trims) {
    const SourceMesh& shape = scene.shapes[placed.shape];
    const Index first_face =
        garment.parts.components[garment.parts.trims[placed.trim].components[0]].faces[0].first - 1;
    REQUIRE(shape.face_count() == 4);
    for (Index c = 0; c < 12; ++c) {
      const Vec3 want = garment.trims.positions[garment.trims.corner_position[3 * first_face + c]];
      const Vec3 got = apply(placed.placement, placed.scale * shape.positions[shape.corner_position[c]]);
      CHECK(length(got - want) < 2e-4);
      CHECK(shape.texcoords[shape.corner_texcoord[c]] ==
            garment.trims.texcoords[garment.trims.corner_texcoord[3 * first_face + c]]);
    }
    CHECK(shape.materials ==
          std::vector<std::string>{garment.trims.materials[state_of(garment.trims, first_face).material]});
  }
}

}  // namespace

TEST_CASE("congruent trims share one shape, whatever their scale; mirrored ones have their own") {
  Garment garment;
  garment.add_trim(place(0, 0));
  garment.add_trim(place(100, 1));
  garment.add_trim(place(200, 2), false, 1.5);
  garment.add_trim(place(300, 2.5), true);
  garment.add_trim(place(400, -1), true);
  const Scene scene = built(garment);
  CHECK(scene.shapes.size() == 2);
  CHECK(scene.shape_names == std::vector<std::string>{"hook", "hook_mirrored"});
  CHECK(scene.trims[2].shape == scene.trims[0].shape);
  CHECK(scene.trims[2].scale == 1.5);
  CHECK(scene.trims[4].shape == scene.trims[3].shape);
  CHECK(scene.trims[3].mirrored);
  check_places(garment, scene);
}

TEST_CASE("trims that differ in material, texture coordinates or by more than rounding get shapes of their own") {
  Garment garment;
  garment.add_trim(place(0, 0));
  garment.add_trim(place(100, 1), false, 1, 1);
  garment.add_trim(place(200, 2), false, 1, 0, 0.5);
  garment.add_trim(place(300, 2), false, 1, 0, 0, 0.01);
  garment.add_trim(place(400, 2), false, 1, 0, 0, 1e-5);  // within 2e-7 of 943
  const Scene scene = built(garment);
  CHECK(scene.shapes.size() == 4);
  CHECK(scene.trims[4].shape == scene.trims[0].shape);
  CHECK(scene.shape_names == std::vector<std::string>{"hook", "hook_2", "hook_3", "hook_4"});
  check_places(garment, scene);
}

TEST_CASE("trims come in the order asked for, and those far from their own origin are brought near it") {
  Garment garment;
  garment.add_trim(place(0, 0));
  garment.add_trim(place(1e6, 1));
  garment.parts.trims[1].prototype = kNone;
  garment.parts.trims[1].placement = {};
  const Scene scene = built(garment, {1, 0});
  REQUIRE(scene.trims.size() == 2);
  CHECK(scene.trims[0].trim == 1);
  CHECK(scene.trims[1].trim == 0);
  const Box box = bounds(scene.shapes[scene.trims[0].shape].positions);
  CHECK(length(box.max) < 10);
  CHECK(length(box.min) < 10);
  check_places(garment, scene);
}

TEST_CASE("parts that do not belong to the meshes are refused") {
  Garment garment;
  garment.add_trim(place(0, 0));
  Report report;
  const auto fails = [&](const Garment& g, const std::vector<Index>& order = {}) {
    const Result<Scene> scene = build_scene(g.cloth, g.trims, g.stitching, g.parts, g.maps, order, report);
    return !scene && scene.error().code == ErrorCode::BadInput;
  };
  CHECK_FALSE(fails(garment));
  CHECK(fails(garment, {1}));
  Garment missing = garment;
  missing.maps.trims.faces.pop_back();
  CHECK(fails(missing));
  Garment wrong = garment;
  wrong.parts.trims[0].components = {9};
  CHECK(fails(wrong));
  Garment cloth = garment;
  cloth.parts.trims[0].role = Role::Cloth;
  CHECK(fails(cloth));
}

TEST_CASE("material factors are read from an MTL text, and nonsense is left out") {
  const std::vector<SceneMaterial> materials = read_materials(
      "# workshop\nKd 1 1 1\nnewmtl denim blue \r\nKd 0.1 0.2 0.3\nNs 98\nd 0.5\nmap_Kd twill.png\n"
      "newmtl brass\nKd 2\nPm 1\nPr 0.25\nNs 1000\nTr 0.25\nKe 0 0 -1\n\tnewmtl none\nKd x y z\nKd 0.1 0.2\nPr nan\n");
  REQUIRE(materials.size() == 3);
  CHECK(materials[0].name == "denim blue");
  CHECK(materials[0].base_colour == std::array<double, 3>{0.1, 0.2, 0.3});
  CHECK(materials[0].roughness == Approx(std::sqrt(0.02)));
  CHECK(materials[0].opacity == 0.5);
  CHECK(materials[1].base_colour == std::array<double, 3>{1, 1, 1});
  CHECK(materials[1].metallic == 1);
  CHECK(materials[1].roughness == 0.25);
  CHECK(materials[1].opacity == 0.75);
  CHECK(materials[1].emissive == std::array<double, 3>{0, 0, 0});
  CHECK(materials[2].base_colour == SceneMaterial{}.base_colour);
  CHECK(materials[2].roughness == 1);
}

TEST_CASE("pictures are read from an MTL text with their options, and what a scene cannot carry is named") {
  const std::vector<SceneMaterial> materials = read_materials(
      "newmtl lace\nmap_Kd -clamp on -mm 0 1 maps\\old lace 2.png\nmap_d maps/old lace 2.png\nmap_Ks gloss.png\n"
      "newmtl twill\nmap_d alpha.png\nmap_Ke -s 2 2 1 -o 0.5 7.png\nnorm -bm 1 bumps.png\nmap_Kd\nbump -bm 0.5 "
      "h.png\n");
  REQUIRE(materials.size() == 2);
  CHECK(materials[0].map(PictureUse::BaseColour).file == "maps/old lace 2.png");
  CHECK(materials[0].cut_out);
  CHECK(materials[0].left_out == std::vector<std::string>{"map_Ks"});
  CHECK_FALSE(materials[1].cut_out);
  CHECK(materials[1].map(PictureUse::BaseColour).file.empty());
  CHECK(materials[1].map(PictureUse::Emissive).file == "7.png");
  CHECK(materials[1].map(PictureUse::Normal).file == "bumps.png");
  CHECK(materials[1].left_out == std::vector<std::string>{"map_d alpha.png", "placement of map_Ke", "bump"});
  CHECK(pictures_named("newmtl a\nmap_Kd x.png\nmap_d x.png\nmap_Bump -bm 2 b c.tga\nKd 1 1 1\n") ==
        std::vector<std::string>{"x.png", "b c.tga"});
}

TEST_CASE("a picture of roughness and metalness is one where both are named, and multiplied by what is said") {
  const std::vector<SceneMaterial> materials = read_materials(
      "newmtl brass\nmap_Pm scratched brass.png\nNs 98\nmap_Pr scratched brass.png\n"
      "newmtl horn\nPm 0\nPr 0.5\nmap_Pr g.png\nmap_Pm g.png\nnewmtl apart\nmap_Pr a.png\nmap_Pm b.png\n"
      "newmtl half\nmap_Pr a.png\n");
  REQUIRE(materials.size() == 4);
  const auto file = [&](std::size_t i) { return materials[i].map(PictureUse::MetallicRoughness).file; };
  CHECK(file(0) == "scratched brass.png");
  CHECK(materials[0].metallic_of_picture == 1);
  CHECK(materials[0].roughness_of_picture == 1);
  CHECK(materials[0].metallic == 0);  // of the factors, should the picture be missing
  CHECK(file(1) == "g.png");
  CHECK(materials[1].metallic_of_picture == 0);
  CHECK(materials[1].roughness_of_picture == 0.5);
  CHECK(file(2).empty());
  CHECK(materials[2].left_out == std::vector<std::string>{"map_Pr a.png", "map_Pm b.png"});
  CHECK(file(3).empty());
  CHECK(materials[3].left_out == std::vector<std::string>{"map_Pr a.png"});
  for (const std::size_t i : {0, 1}) CHECK(materials[i].left_out.empty());
}

TEST_CASE("pictures outside of the garment's folder are refused, by whatever way they are named") {
  const test::ScratchFolder folder;
  const std::filesystem::path root = folder.path() / "coat";
  std::filesystem::create_directories(root / "maps");
  std::ofstream(folder.path() / "secret.png") << test::checkered_png(4, 1);
  std::ofstream(root / "a.png") << test::checkered_png(4, 2);
  std::filesystem::create_symlink(folder.path() / "secret.png", root / "link.png");
  std::filesystem::create_directory_symlink(folder.path(), root / "up");
  for (const char* file :
       {"../secret.png", "maps/../../secret.png", "link.png", "up/secret.png", "/etc/hostname", "C:/secret.png", ""}) {
    INFO(file);
    CHECK_FALSE(place_of_picture(root, root, file));
  }
  CHECK(place_of_picture(root, root / "maps", "../a.png"));
  CHECK(place_of_picture(root, root, "maps/not there.png"));
}

TEST_CASE("pictures come byte for byte, each once; those that cannot be had are left out with a reason") {
  const test::ScratchFolder folder;
  const std::filesystem::path root = folder.path();
  const std::string png = test::checkered_png(4, 3), jpeg = "\xff\xd8\xff\xe0 and so on";
  std::filesystem::create_directories(root / "b");
  std::ofstream(root / "twill.png", std::ios::binary) << png;
  std::ofstream(root / "b/TWILL.jpeg", std::ios::binary) << jpeg;
  std::ofstream(root / "twill.tif", std::ios::binary) << "II*";
  std::ofstream(root / "huge.png", std::ios::binary) << png;
  std::filesystem::resize_file(root / "huge.png", 65'000'000);
  SourceMesh cloth;
  cloth.materials = {"front", "back", "label", "tape", "belt"};
  Scene scene;
  scene.cloth = &cloth;
  Report report;
  add_materials(scene,
                read_materials("newmtl front\nmap_Kd twill.png\nnewmtl back\nmap_Kd twill.png\nmap_Ke b/TWILL.jpeg\n"
                               "newmtl label\nmap_Kd none.png\nnewmtl tape\nmap_Kd twill.tif\nnewmtl belt\nmap_Kd "
                               "huge.png\nnorm ../x.png\nnewmtl unused\nmap_Kd also none.png\n"),
                root, root, report);
  REQUIRE(scene.pictures.size() == 2);
  CHECK(scene.pictures[0].bytes == png);
  CHECK(scene.pictures[0].name == "twill.png");
  CHECK(scene.pictures[1].bytes == jpeg);
  CHECK(scene.pictures[1].name == "TWILL.jpg");
  REQUIRE(scene.materials.size() == 6);
  CHECK(scene.materials[0].map(PictureUse::BaseColour).picture == 0);
  CHECK(scene.materials[1].map(PictureUse::BaseColour).picture == 0);
  CHECK(scene.materials[1].map(PictureUse::Emissive).picture == 1);
  for (std::size_t i = 2; i < 6; ++i) CHECK(scene.materials[i].map(PictureUse::BaseColour).picture == kNone);
  std::vector<std::string> codes;
  for (const Finding& finding : report.findings) codes.push_back(finding.code);
  CHECK(codes == std::vector<std::string>{"picture-missing", "picture-format", "picture-too-large", "picture-outside"});
}
