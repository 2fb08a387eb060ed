// SPDX-License-Identifier: MIT
/// Made-up garments with their truth: what every face is, which trim it belongs to, which trims are copies.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "trimtack/mesh.hpp"
#include "trimtack/parts.hpp"

namespace trimtack::testing {

/// One author's piece (a component, unless its vertices coincide with another piece's).
struct TruePiece {
  Role role = Role::Cloth;
  Index trim = kNone;
  std::string kind;
};
struct TrueTrim {
  Role role = Role::Trim;
  Index shape = kNone;  ///< trims of one shape are copies; kNone: bent onto the cloth, no copy of anything
  bool mirrored = false;
  double scale = 1;
};
struct Garment {
  std::uint64_t seed = 0;
  std::string story;  ///< how it was varied, in one line
  SourceMesh mesh;
  double mm_per_unit = 1;
  std::vector<Index> piece_of_face;
  std::vector<TruePiece> pieces;
  std::vector<TrueTrim> trims;
};

struct GarmentOptions {
  bool trims = true;
  bool large = false;  ///< thousands of stitches rather than hundreds
};
Garment make_garment(std::uint64_t seed, const GarmentOptions& options = {});

/// The same garment, moved, scaled by the unit, renumbered, without names; truth follows the faces.
struct Disguise {
  bool move = true, unit = true, shuffle = true, no_names = true;
};
Garment disguised(const Garment& garment, std::uint64_t seed, const Disguise& what = {});

}  // namespace trimtack::testing
