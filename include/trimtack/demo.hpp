// SPDX-License-Identifier: MIT
/// The demo garment: a workshop chore coat, made by code, with its frames.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "trimtack/mesh.hpp"

namespace trimtack {

struct DemoOptions {
  std::uint64_t seed = 1;
  int frames = 24;
  bool faults = false;  ///< plants the four faults that `check` must find
};
/// What is really in the demo coat, for tests.
struct DemoTruth {
  std::vector<int> role_of_component_face;  ///< per face: 0 cloth, 1 trim, 2 stitching
  std::vector<int> trim_of_face;            ///< -1 for cloth
  std::vector<std::string> trim_names;
};
struct Demo {
  SourceMesh combined;
  std::vector<std::vector<Vec3>> frames;  ///< the whole export, trims bent as a careless host would bend them
  DemoTruth truth;
};
Demo make_demo(const DemoOptions& options);

}  // namespace trimtack
