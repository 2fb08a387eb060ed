// SPDX-License-Identifier: MIT
/// Combined exports of any size in the style of the demo coat, for benchmarks and limits.
#pragma once

#include <cstdint>
#include <vector>

#include "trimtack/mesh.hpp"

namespace bench {

struct StressOptions {
  std::uint64_t faces = 994'000;  ///< wished for; met exactly or within 2 where trims and stitches leave room for cloth
  std::uint64_t trims = 20'000;   ///< beads, sequins, two-part studs and a few buttons
  std::uint64_t stitches = 0;
  std::uint64_t seed = 1;
  bool full = false;  ///< normals and texture coordinates at every corner, trims too, as most programs export
};

struct StressExport {
  trimtack::SourceMesh mesh;  ///< millimetres
  std::uint64_t cloth_faces = 0, cloth_vertices = 0, trims = 0, stitches = 0, components = 0;
};

/// The coat's body pieces, refined until the faces are used up, with trims in rows all over them. Deterministic.
/// Memory: about 100 bytes a face.
StressExport make_stress(const StressOptions& options);

/// One vertex of frame `number` of `count`: the demo coat's motion.
trimtack::Vec3 stress_frame_vertex(const trimtack::Vec3& rest, int number, int count);

}  // namespace bench
