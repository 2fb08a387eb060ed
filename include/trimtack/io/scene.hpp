// SPDX-License-Identifier: MIT
/// A rigid-trim scene as exporters see it: cloth, shapes, placements, poses over frames.
#pragma once

#include <array>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "trimtack/mesh.hpp"
#include "trimtack/parts.hpp"
#include "trimtack/report.hpp"
#include "trimtack/result.hpp"
#include "trimtack/split_maps.hpp"
#include "trimtack/types.hpp"

namespace trimtack {

/// What a picture of a material says; MetallicRoughness: roughness in green, metalness in blue (glTF 2.0, section
/// "Metallic-Roughness Material"). Others (gloss, bumps, displacement) have no counterpart in a scene.
enum class PictureUse : std::uint8_t { BaseColour, Emissive, Normal, MetallicRoughness };
inline constexpr std::size_t kPictureUses = 4;

/// A picture as the library names it, and where the scene holds it.
struct SceneMap {
  std::string file;       ///< relative to the library's folder; empty: none
  Index picture = kNone;  ///< into Scene::pictures, once load_pictures() has found it
};

/// The simple physically based factors that a material library gives (linear, 0..1), and its pictures.
struct SceneMaterial {
  std::string name;
  std::array<double, 3> base_colour{0.8, 0.8, 0.8};
  double opacity = 1, metallic = 0, roughness = 1;
  std::array<double, 3> emissive{0, 0, 0};
  double metallic_of_picture = 1, roughness_of_picture = 1;  ///< what multiplies the picture: 1 where nothing is said
  std::array<SceneMap, kPictureUses> maps{};                 ///< by PictureUse
  bool cut_out = false;                 ///< the alpha of the base colour's picture cuts the material out
  std::vector<std::string> left_out{};  ///< statements whose pictures or placements a scene does not carry
  const SceneMap& map(PictureUse use) const { return maps[static_cast<std::size_t>(use)]; }
};

/// The materials of an MTL text (Wavefront appendix; Pr, Pm and norm as common practice): newmtl, Kd, d or Tr, Ke, Pr,
/// Pm, and Ns where there is no Pr (roughness = sqrt(2 / (Ns + 2))); map_Kd, map_Ke and norm as pictures, map_d when it
/// names the picture of map_Kd, map_Pr and map_Pm when both name one picture. Colours are taken as linear. Numbers are
/// clamped to 0..1. Never fails.
std::vector<SceneMaterial> read_materials(std::string_view mtl_text);

/// Every picture that an MTL text names, by whatever statement, in order, each once; '\\' stands for '/'.
std::vector<std::string> pictures_named(std::string_view mtl_text);

/// The place of a file that a library names, within the folder that its garment came in.
/// @param folder  the library's own folder, `root` or below      @error BadInput: absolute, or outside of `root`.
Result<std::filesystem::path> place_of_picture(const std::filesystem::path& root, const std::filesystem::path& folder,
                                               const std::string& file);

/// A PNG or JPEG picture, byte for byte.
struct ScenePicture {
  std::string name;  ///< a plain file name with the right extension, distinct within the scene
  std::string bytes;
  bool jpeg = false;
};

/// What an exporter needs. Frames are pulled one at a time through `frame`.
struct Scene {
  std::string name = "garment";
  const SourceMesh* cloth = nullptr;  ///< cloth.obj
  /// The distinct rigid meshes, in coordinates of their own; mirrored trims have a mirrored mesh with its own winding,
  /// so that no placement ever reflects.
  std::vector<SourceMesh> shapes;
  std::vector<std::string> shape_names;  ///< distinct
  struct Placed {
    std::string name;
    Index trim = kNone;  ///< id in parts.json
    Role role = Role::Trim;
    Index shape = kNone;
    Index prototype = kNone;  ///< id in parts.json
    bool mirrored = false;    ///< relative to the prototype; for information
    double scale = 1.0;
    Pose placement;  ///< shape -> combined export at rest: x -> rotation * (scale * x) + translation
  };
  std::vector<Placed> trims;
  std::vector<SceneMaterial> materials;  ///< those that are known, found by name
  std::vector<ScenePicture> pictures;    ///< of the materials
  Unit unit;
  UpAxis up = UpAxis::Y;
  double frames_per_second = 24;
  std::vector<std::uint64_t> frame_numbers;  ///< empty: the rest scene alone
  /// Fills the cloth (#V of cloth.obj) and one pose per trim of `trims` (rest -> posed) of frame i. Exporters may ask
  /// for a frame more than once, in ascending order within a pass.
  std::function<Result<void>(std::size_t i, std::span<Vec3> cloth, std::span<Pose> poses)> frame;
};

/// Adds materials whose library stands in `folder`, with the pictures of those that the scene's meshes use. A picture
/// that is missing, outside of `root`, beyond 64 MB (all together: 512 MB) or neither PNG nor JPEG is left out and
/// reported ("picture-...").
void add_materials(Scene& scene, std::vector<SceneMaterial> materials, const std::filesystem::path& root,
                   const std::filesystem::path& folder, Report& report);

/// Cloth and trims of a split garment as a scene at rest (the caller adds frames and materials).
/// Trims share a shape when they share the prototype, the faces' corner order, materials and texture coordinates, and
/// the placed shape meets their own vertices within `tolerance` of the garment's diagonal; others get their own.
/// @param cloth  must outlive the scene
/// @param order  trim ids in the wanted order (the table's); empty: all of `parts`
/// @error BadInput when `parts` and `maps` do not belong to these meshes. Lines and points of trims are reported
/// ("scene-loose").
/// Cost: linear in the trims' faces, times the logarithm of their number.
Result<Scene> build_scene(const SourceMesh& cloth, const SourceMesh& trims, const SourceMesh& stitching,
                          const Parts& parts, const SplitMaps& maps, std::span<const Index> order, Report& report,
                          double tolerance = 2e-7);

}  // namespace trimtack
