// SPDX-License-Identifier: MIT
/// A rigid-trim scene as exporters see it: cloth, shapes, placements, poses over frames.
#pragma once

#include <array>
#include <cstdint>
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

/// The simple physically based factors that a material library gives (linear, 0..1).
struct SceneMaterial {
  std::string name;
  std::array<double, 3> base_colour{0.8, 0.8, 0.8};
  double opacity = 1, metallic = 0, roughness = 1;
  std::array<double, 3> emissive{0, 0, 0};
};

/// The materials of an MTL text (Wavefront appendix; Pr and Pm as common practice): newmtl, Kd, d or Tr, Ke, Pr, Pm,
/// and Ns where there is no Pr (roughness = sqrt(2 / (Ns + 2))). Colours are taken as linear. Numbers are clamped to
/// 0..1; other statements are left to whoever reads the library itself. Never fails.
std::vector<SceneMaterial> read_materials(std::string_view mtl_text);

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
  Unit unit;
  UpAxis up = UpAxis::Y;
  double frames_per_second = 24;
  std::vector<std::uint64_t> frame_numbers;  ///< empty: the rest scene alone
  /// Fills the cloth (#V of cloth.obj) and one pose per trim of `trims` (rest -> posed) of frame i. Exporters may ask
  /// for a frame more than once, in ascending order within a pass.
  std::function<Result<void>(std::size_t i, std::span<Vec3> cloth, std::span<Pose> poses)> frame;
};

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
