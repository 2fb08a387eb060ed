// SPDX-License-Identifier: MIT
/// A rigid-trim scene as exporters see it: cloth, prototypes, placements, poses over frames.
#pragma once

#include <functional>
#include <span>
#include <string>
#include <vector>

#include "trimtack/mesh.hpp"
#include "trimtack/parts.hpp"
#include "trimtack/result.hpp"
#include "trimtack/types.hpp"

namespace trimtack {

/// What an exporter needs. Frames are pulled one at a time through `frame`.
struct Scene {
  const SourceMesh* cloth = nullptr;   ///< cloth.obj
  std::vector<SourceMesh> prototypes;  ///< one mesh per prototype, in prototype coordinates
  std::vector<std::string> prototype_names;
  struct Placed {
    std::string name;
    Index trim = kNone;
    Index prototype = kNone;
    bool mirrored = false;
    double scale = 1.0;
    Pose placement;  ///< prototype -> combined export at rest
  };
  std::vector<Placed> trims;
  Unit unit;
  UpAxis up = UpAxis::Y;
  double frames_per_second = 24;
  std::vector<std::uint64_t> frame_numbers;  ///< empty: the rest scene alone
  /// Fills the cloth (#V) and one pose per trim (rest -> posed) of frame i.
  std::function<Result<void>(std::size_t i, std::span<Vec3> cloth, std::span<Pose> poses)> frame;
};

}  // namespace trimtack
