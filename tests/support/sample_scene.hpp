// SPDX-License-Identifier: MIT
/// A small scene of our own with known frames, for the tests of exporters.
#pragma once

#include <cstdint>
#include <functional>
#include <span>
#include <string>
#include <vector>

#include "trimtack/io/scene.hpp"
#include "trimtack/mesh.hpp"
#include "trimtack/types.hpp"

namespace trimtack::test {

struct SampleOptions {
  double mm_per_unit = 1;
  UpAxis up = UpAxis::Y;
  Vec3 offset;      ///< file units: where the garment stands
  int frames = 5;   ///< 0: at rest
  int columns = 6;  ///< cloth quads per side
  bool mirrored = true, scaled = true, normals = true;
  bool pictures = false;  ///< on twill (colour, normals) and horn (colour)
};

/// A strip of a coat front: quads, one hexagon, two materials, texture coordinates on two tiles; buttons that share one
/// shape, one of them half as large, and a left and a right hook. Poses turn once around over the frames.
struct SampleScene {
  SampleOptions options;
  SourceMesh cloth;
  Scene scene;  ///< refers to `cloth`
  std::vector<Vec3> cloth_at(std::size_t frame) const;
  std::vector<Pose> poses_at(std::size_t frame) const;

  explicit SampleScene(const SampleOptions& options);
  SampleScene(const SampleScene&) = delete;
  SampleScene& operator=(const SampleScene&) = delete;
};

}  // namespace trimtack::test
