// SPDX-License-Identifier: MIT
/// glTF 2.0 (Khronos): writing scenes as GLB.
#pragma once

#include <string>

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
/// successive dot >= 0) sharing its shape's mesh. `extras.trim` is the trim's id in parts.json.
///
/// Memory: the rest scene, one frame, and up to 64 MiB of keys; it does not grow with the number of frames.
/// @error Usage for instancing with frames; BadInput for numbers that are not finite, a frame that cannot be read, or a
/// file beyond GLB's 4 GiB; CannotWrite.
Result<void> write_glb(FileSet& out, const std::string& name, const Scene& scene, const GlbWriteOptions& options,
                       Report& report);

}  // namespace trimtack
