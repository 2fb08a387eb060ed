// SPDX-License-Identifier: MIT
/// glTF 2.0 (Khronos): writing scenes as GLB; reading garments with skins and animations, and making their trims rigid.
#pragma once

#include <array>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "trimtack/io/file_set.hpp"
#include "trimtack/io/scene.hpp"
#include "trimtack/parallel.hpp"
#include "trimtack/report.hpp"
#include "trimtack/result.hpp"

namespace trimtack {

struct GlbWriteOptions {
  bool step = false;        ///< hold each frame (STEP) instead of blending between frames (LINEAR)
  bool normals = true;      ///< a cloth with normals gets deformed ones per frame too (morph targets twice as large)
  bool instancing = false;  ///< EXT_mesh_gpu_instancing: one node a shape. Scenes without frames only
  Executor executor;
};

/// Writes a scene as one GLB file of the set.
///
/// Metres and +Y up are in the data themselves, so that the only transform above cloth and trims is the root node's; it
/// is the identity unless the garment stands further from the origin than twice its own diagonal: then the root's
/// translation (whole metres) carries that distance and the data are relative to it, for float32 has 7 digits only.
/// Texture coordinates are flipped (v = 1 - v). Polygons are cut as triangulate() does. Cloth keeps its vertex order (a
/// vertex with several texture coordinates or normals is repeated in place). With frames, cloth has one morph target a
/// frame and an animation of one-hot weights; each trim is a node with translation and rotation keys (unit quaternions,
/// successive dot >= 0) sharing its shape's mesh. `extras.trim` is the trim's id in parts.json. Pictures of materials
/// are in the file, byte for byte; meshes without texture coordinates get their material without them.
///
/// Memory: the rest scene, one frame, and up to 64 MiB of keys; it does not grow with the number of frames.
/// @error Usage for instancing with frames; BadInput for numbers that are not finite, a frame that cannot be read, or a
/// file beyond GLB's 4 GiB; CannotWrite.
Result<void> write_glb(FileSet& out, const std::string& name, const Scene& scene, const GlbWriteOptions& options,
                       Report& report);

struct GltfReadOptions {
  double frames_per_second = 24;       ///< at which animations are sampled; their last key is always a frame
  std::uint64_t max_memory_bytes = 0;  ///< for buffers and numbers; 0: 8 GiB
  Executor executor;
};

/// A garment in a glTF file: its mesh at rest, and its vertices at any frame of any animation. Metres, +Y up.
///
/// The mesh has one position per glTF vertex of every node of the scene that shows a mesh, in the order of nodes and
/// primitives; triangles (strips and fans are taken apart), material names, node names as objects, TEXCOORD_0 (v
/// flipped back) and NORMAL. At rest a skinned mesh stands as it was modelled: its positions moved as a whole by the
/// transform that its uppermost joint gives them, so that nothing is bent; other meshes stand at their node.
class GltfGarment {
 public:
  /// GLB, or glTF JSON with its buffers beside it or within. @error BadInput with the reason (not glTF 2, a required
  /// extension that is not known, an accessor outside of its buffer, nodes in a ring, too many frames or too much
  /// memory, ...). Points, lines and other things left out are reported ("gltf-left-out").
  static Result<GltfGarment> open(const std::filesystem::path& path, const GltfReadOptions& options, Report& report);
  /// The same from memory; buffer files are looked for in `folder` (empty: not at all).
  static Result<GltfGarment> parse(std::string_view bytes, const std::string& file, const std::filesystem::path& folder,
                                   const GltfReadOptions& options, Report& report);
  GltfGarment(GltfGarment&&) noexcept;
  GltfGarment& operator=(GltfGarment&&) noexcept;
  ~GltfGarment();

  const SourceMesh& mesh() const;

  /// The materials of mesh() as a material library NAME.mtl (first; NAME after the file) and the pictures that it
  /// names, in textures/: base colour, metalness, roughness, glow, opacity (alpha of a picture that is blended or
  /// masked cuts out), normal map. What MTL cannot say is reported ("gltf-left-out"), pictures that cannot be had as
  /// well
  /// ("picture-missing"). Empty when no face has a material. Cost: linear in the pictures' bytes.
  std::vector<AttachedFile> material_files(Report& report) const;

  struct Clip {
    std::string name;
    std::vector<double> seconds;  ///< of each frame
  };
  /// One per animation.
  const std::vector<Clip>& clips() const;

  /// All vertices of mesh() at frame i of a clip; clip kNone: as the nodes stand without animation.
  /// @pre positions holds one entry per vertex. @error BadInput when a position is not finite.
  /// Cost: linear in vertices times influences; allocates little. Threads: one call at a time.
  Result<void> pose(Index clip, std::size_t i, std::span<Vec3> positions, const Executor& executor = {}) const;

  struct Impl;

 private:
  explicit GltfGarment(std::unique_ptr<Impl> impl);
  friend Result<void> write_rigid_glb(FileSet&, const std::string&, const GltfGarment&, const struct RigidGlbRequest&,
                                      Report&);
  std::unique_ptr<Impl> impl_;
};

enum class RigidAs : std::uint8_t {
  Nodes,   ///< each trim becomes a node with translation and rotation keys, sampled from the clips
  Weights  ///< each trim keeps its place in the skin, with one set of joints and weights for all of its vertices
};

/// A trim of a garment that was read: the faces of GltfGarment::mesh() that are it.
struct RigidGlbTrim {
  Index trim = kNone;  ///< id, kept in `extras`
  std::string name;
  std::vector<Index> faces;
  Tri anchor{kNone, kNone, kNone};         ///< vertices of GltfGarment::mesh()
  std::array<double, 3> weights{1, 0, 0};  ///< barycentric
};

struct RigidGlbRequest {
  RigidAs as = RigidAs::Nodes;
  std::vector<RigidGlbTrim> trims;
  /// For nodes: one pose per trim (rest -> posed, world space) at frame i of a clip, or without animation (kNone).
  std::function<Result<void>(Index clip, std::size_t i, std::span<Pose> poses)> poses;
};

/// Writes the garment's own file again as GLB, with rigid trims; everything else (cloth, skin, materials, images, other
/// nodes) stays as it was. With Nodes, a trim's triangles move from their mesh to one of the trim's own and every
/// animation gets the trims' keys. With Weights, joints and weights of a trim's vertices become the anchor's: up to
/// four joints, weights summing to 1; that is one affine map for the whole trim, rigid where the joints turn alike.
/// @error BadInput where a trim cannot be written in the way asked for (Weights: the anchor has no skin, or not the
/// trim's); Usage for Nodes without `poses`; CannotWrite.
Result<void> write_rigid_glb(FileSet& out, const std::string& name, const GltfGarment& garment,
                             const RigidGlbRequest& request, Report& report);

}  // namespace trimtack
