// SPDX-License-Identifier: MIT
/// The clues that go into a role, one function per kind of evidence. Private to the search for roles.
#pragma once

#include <array>
#include <span>
#include <string>
#include <vector>

#include "trimtack/roles.hpp"

namespace trimtack {

inline float& clue_of(Clues& clues, Clue c) { return clues[static_cast<std::size_t>(c)]; }
inline float clue_of(const Clues& clues, Clue c) { return clues[static_cast<std::size_t>(c)]; }

/// What kind of body a component is.
enum class Form : std::uint8_t {
  OpenFlat,  ///< one open sheet, flat or bent like paper
  OpenCap,   ///< one open sheet that closes over, like a dome
  Slab,      ///< two sheets at a constant distance, closed or not
  Wire,      ///< a tube of constant width, bent or straight
  Solid,     ///< anything else without a border
  OpenOther
};
struct Look {
  Form form = Form::Solid;
  double length = 0, width = 0, depth = 0;  ///< extents, file units
  double wire_length = 0;                   ///< along a wire, from its bend
  double slender = 1;                       ///< length along the wire over its thickness
  double coil = 1;                          ///< wire length over extent: 1 straight, 2 a hook
  bool round = false;                       ///< outline close to a circle
};
Look look_at(const Shape& shape, const Detail& detail);

/// Whether it is as thick as one of the panels' thicknesses, within the relative tolerance.
bool thickness_agrees(const Detail& detail, const GarmentScale& scale, double tolerance);

/// Whether it is a wire bent no more than thread is from hole to hole: its outline does not tell how thick it is.
bool is_arch(const Look& look, const Detail& detail);

/// The smallest mm in a file unit that may well be, as clothes of the usual size have them.
double least_mm(const GarmentScale& scale);
/// The largest such.
double most_mm(const GarmentScale& scale);

/// Whether a wire has no place to bend at along most of its length, where cloth would have several.
bool is_rod(const Look& look, const Detail& detail, const GarmentScale& scale);

/// How much larger a doll's parts would be on an adult; 1 when the garment spans more than a doll's.
double doll_factor(const GarmentScale& scale, double mm_per_unit, double largest_doll_mm);

/// Clues from the component alone and from the garment's scale.
Clues shape_clues(const Shape& shape, const Detail& detail, Index copies, const GarmentScale& scale);

/// Log odds from object, group and material names; each name is looked at once.
class NameWeights {
 public:
  explicit NameWeights(const SourceMesh& mesh);
  double of(Index face) const;  ///< within +-0.8

 private:
  const SourceMesh& mesh_;
  std::vector<double> objects_, groups_, materials_;
};

/// Which components are pieces of thread, as log odds per component (0: not looked at), against "trim".
/// @param verdicts  from the other clues so far: hard parts may hold thread
std::vector<float> stitching_odds(const RoleInput& input, std::span<const RoleVerdict> verdicts);

}  // namespace trimtack
