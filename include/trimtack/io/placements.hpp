// SPDX-License-Identifier: MIT
/// Shapes and placements as plain files, for hosts that instance by a script of their own.
#pragma once

#include <string>

#include "trimtack/io/file_set.hpp"
#include "trimtack/io/scene.hpp"
#include "trimtack/parallel.hpp"
#include "trimtack/report.hpp"
#include "trimtack/result.hpp"

namespace trimtack {

struct PlacementOptions {
  std::string shape_folder = "shapes";  ///< shapes/NAME.obj
  Executor executor;
};

/// Writes every shape as an OBJ of its own (in the shape's coordinates, file units) and `csv_name` with one row a frame
/// and trim (a scene without frames: its rest, as frame 0):
/// frame,trim,name,shape,mirrored,scale,tx,ty,tz,qx,qy,qz,qw - a shape's point p stands at q * (scale * p) + t.
/// `shape` is the OBJ's path within the set. Numbers are shortest round-trip doubles; quaternions are unit, successive
/// ones of a trim have dot >= 0.
/// @error BadInput when a frame cannot be read; CannotWrite. Memory: one frame.
Result<void> write_placements(FileSet& out, const std::string& csv_name, const Scene& scene,
                              const PlacementOptions& options);

/// Writes the deformed cloth of every frame as one float32 or float64 array of shape (F, V, 3), file units; the rest
/// cloth alone, shape (1, V, 3), for a scene without frames. Streams; memory: one frame.
Result<void> write_cloth_npy(FileSet& out, const std::string& name, const Scene& scene, bool float64);

/// Writes the placements of every trim and frame as a float64 array of shape (F, T, 3, 4): shape -> posed, the
/// uniform scale included; the rest alone, shape (1, T, 3, 4), for a scene without frames.
Result<void> write_placements_npy(FileSet& out, const std::string& name, const Scene& scene);

}  // namespace trimtack
