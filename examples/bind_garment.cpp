// SPDX-License-Identifier: MIT
// The whole offline path through the library, in memory: make a garment, take it apart, bind it, follow one frame.
//   bind_garment        prints what was found and how far the trims moved in the last frame of the demo coat
#include <algorithm>
#include <cstdio>
#include <vector>

#include "trimtack/demo.hpp"
#include "trimtack/follow.hpp"
#include "trimtack/pipeline.hpp"
#include "trimtack/version.h"

int main() {
  using namespace trimtack;
  DemoOptions demo_options;
  demo_options.frames = 4;
  const Demo demo = make_demo(demo_options);

  Report report;
  const Result<Garment> garment = take_apart(demo.combined, PipelineOptions{}, report);
  if (!garment) {
    std::fprintf(stderr, "%s\n", to_text(garment.error()).c_str());
    return 3;
  }
  const Result<BoundGarment> bound = bind_garment(*garment, PipelineOptions{}, report);
  if (!bound) {
    std::fprintf(stderr, "%s\n", to_text(bound.error()).c_str());
    return 3;
  }

  const auto bytes = encode(bound->table, TT_TABLE_FORMAT_LATEST);
  if (!bytes) return 5;
  std::vector<Vec3> cloth;  // a frame holds the whole export: pick the cloth's vertices
  for (const Index v : garment->maps.cloth.positions) cloth.push_back(demo.frames.back()[v]);
  std::vector<Pose> poses(bound->table.bindings.size());
  if (const auto followed = follow(*bytes, cloth, poses, {}); !followed) {
    std::fprintf(stderr, "%s\n", to_text(followed.error()).c_str());
    return 3;
  }
  double most = 0;
  for (std::size_t t = 0; t < poses.size(); ++t) {
    const Vec3& rest = bound->trims.vertices[bound->trims.vertex_offsets[t]];
    most = std::max(most, length(apply(poses[t], rest) - rest));
  }
  std::printf("%zu components, %zu bindings, trims move by up to %.1f mm\n", garment->parts.components.size(),
              bound->table.bindings.size(), most);
  for (const Finding& finding : report.findings) std::printf("%s\n", to_text(finding).c_str());
  return 0;
}
