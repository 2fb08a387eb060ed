// SPDX-License-Identifier: MIT
/// USD: writing scenes as text layers (.usda), alone or packed with their pictures (.usdz).
#pragma once

#include <string>

#include "trimtack/io/file_set.hpp"
#include "trimtack/io/scene.hpp"
#include "trimtack/parallel.hpp"
#include "trimtack/report.hpp"
#include "trimtack/result.hpp"

namespace trimtack {

struct UsdWriteOptions {
  Executor executor;
};

/// Writes a scene as one usda file of the set, and the materials' pictures as textures/NAME beside it: /garment with
/// the cloth as a Mesh (polygons as they are, points time samples, UVs as primvars:st, materials as subsets), the trims
/// as a PointInstancer (ids = trim ids, positions and orientationsf, prototypes under an `over`), and the materials.
///
/// Coordinates stay those of the file; metersPerUnit, upAxis and timeCodesPerSecond are authored. Where the garment
/// stands further from the origin than twice its own diagonal, points and positions are relative to a translation of
/// /garment (double). Time codes are the frame numbers (0, 1, ... where these do not ascend). Orientations are unit
/// quaternions in the order w x y z; successive samples have dot >= 0. Normals are written for scenes without frames.
/// Names that are no identifiers are made ones, and kept as displayName.
///
/// Memory: the rest scene and one frame. Frames are asked for three times (points, positions, orientations).
/// @error BadInput for numbers that are not finite or a frame that cannot be read; CannotWrite.
Result<void> write_usda(FileSet& out, const std::string& name, const Scene& scene, const UsdWriteOptions& options,
                        Report& report);

/// The same layer and its pictures as one usdz file: a zip archive without compression whose first file is the layer
/// and whose files start at multiples of 64 bytes. @error as write_usda; BadInput beyond a zip's 4 GiB.
Result<void> write_usdz(FileSet& out, const std::string& name, const Scene& scene, const UsdWriteOptions& options,
                        Report& report);

}  // namespace trimtack
