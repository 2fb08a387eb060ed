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
  int frames = 24;      ///< 0 or more
  bool faults = false;  ///< plants the four faults that `check` must find
};

/// Where the planted faults are; kNone / 0 when there are none. Trims are numbers into DemoTruth::trim_names.
struct DemoFaults {
  /// A front button sunk through the over front until its back lies on the under one, which slips away from
  /// the over front in the frames.
  Index wrong_layer = kNone;
  Index too_long = kNone;   ///< a stiff bar across the bending elbow
  Index sliver = kNone;     ///< a rivet whose cloth, on both layers, has needle triangles 0.2 mm wide under its centre
  Index collapsed = kNone;  ///< a snap under which a cloth triangle shrinks to a line, in one frame only
  int collapsed_frame = 0;  ///< that frame's number, from 1
};

/// What is really in the demo coat, for tests.
struct DemoTruth {
  std::vector<int> role_of_component_face;  ///< per face: 0 cloth, 1 trim, 2 stitching
  std::vector<int> trim_of_face;            ///< -1 for cloth
  std::vector<std::string> trim_names;
  std::vector<std::string> panel_names;
  std::vector<int> panel_of_face;     ///< -1 for trims
  std::vector<Index> cloth_vertices;  ///< ascending: a cloth-only frame is frame[cloth_vertices]
  DemoFaults faults;
};

struct Demo {
  SourceMesh combined;                    ///< millimetres, Y up, the wearer looks along +Z
  std::vector<std::vector<Vec3>> frames;  ///< the whole export, trims bent as a careless host would bend them
  DemoTruth truth;
};

/// A chore coat in a standing pose, arms lowered: two fronts that overlap a millimetre apart, back, sleeves, cuffs,
/// collar, chest pockets with flaps, hip pockets, loops, label, inside pocket; six 24L four-hole buttons and two 20L
/// ones with their threads, two snaps, four rivets, a zipper with slider and stops, several hundred stitches. Pieces
/// are meshed at 10 and 20 mm, in triangles and quads, and sewn by coinciding vertices; UVs are the flattened pieces at
/// one scale (2000 mm a unit). In the frames, numbered from 1, the left elbow bends, the chest twists, the size grows
/// and the cloth wrinkles; frame 1 is close to rest. Coordinates are rounded to 0.00001 mm, as a file would hold them.
/// Deterministic: the same options give the same bytes everywhere the C++ library's sine does. Cost: about 0.5 s.
Demo make_demo(const DemoOptions& options);

}  // namespace trimtack
