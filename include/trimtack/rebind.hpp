// SPDX-License-Identifier: MIT
/// Carries the bindings of a garment to a changed cloth: remeshed, or cut in another size.
#pragma once

#include <string>
#include <vector>

#include "trimtack/bind.hpp"
#include "trimtack/cloth.hpp"
#include "trimtack/cloth_index.hpp"
#include "trimtack/table.hpp"

namespace trimtack {

/// How a trim's place was found on the new cloth.
enum class RebindBy : std::uint8_t {
  Auto,      ///< Vertex when the faces are the same, else Position when the shape is, else Uv
  Vertex,    ///< same faces and vertices in the same order: the old table is evaluated on the new cloth
  Position,  ///< same shape, other mesh: the place nearest to the old one that faces the same way
  Uv         ///< same pattern pieces: the place with the same texture coordinates
};
const char* to_text(RebindBy by);  ///< "auto", "vertex", "position", "uv"

struct RebindOptions {
  RebindBy by = RebindBy::Auto;
  double reach_mm = 5;     ///< by position: farther off than this the cloth is not the same there
  double disagree_mm = 5;  ///< position and UV that differ by more are reported as a mistake
  BindOptions bind;        ///< `face` is filled in for every carried trim
};

/// What became of one trim, in the table's order.
struct CarriedTrim {
  bool carried = false;  ///< false: bound where it was, on the nearest cloth, and reported
  Pose motion;           ///< old rest coordinates -> new rest coordinates of the trim (rigid: a trim keeps its size)
  double moved_mm = 0;   ///< of its anchor
  double turned_deg = 0;
  bool turned_over = false;    ///< the new cloth faces the other way under it, so that it lies on its back
  double disagreement_mm = 0;  ///< between the places found by position and by UV; 0 where only one could be asked
  std::string why;             ///< why it was not carried, or what to look at; empty: nothing to say
};

struct Rebound {
  RebindBy by = RebindBy::Auto;  ///< what Auto came to
  BindTable table;               ///< for the new cloth; layers keep the component ids of the old table
  TrimShapes trims;              ///< at their new rest places
  std::vector<CarriedTrim> carried;
};

/// @param old_cloth  the cloth that `old_table` was made for, with UVs if it had any
/// @param trims      the trims of old_table, in its order
/// @param new_cloth  same unit and coordinate system; UVs are needed for Uv only
/// @error BadInput when trims or old_cloth do not belong to the table, or the new cloth has no usable face; Usage when
/// the way asked for is impossible (no UVs, other faces).
/// Reported: rebind-no-uv (trims are lost for want of UVs); per trim rebind-lost (could not be carried),
/// rebind-disagrees (position and UV name different places, or UV another part of the garment), rebind-turned-over (the
/// new cloth faces the other way under it), rebind-collision (runs into another trim on the new cloth by more than the
/// limit of a fit, beyond what they shared before). UV charts that were laid out, turned or graded anew are matched by
/// where they sit on the garment, and mapped box to box. By vertex onto a mirror image, trims keep to the faces, which
/// then look inwards: check_frame() tells. Cost: that of binding, plus O(#C log #C) for the UVs. Threads: as bind. Same
/// bytes for any executor.
Result<Rebound> rebind(const ClothMesh& old_cloth, const BindTable& old_table, const TrimShapes& trims,
                       const ClothIndex& new_cloth, const RebindOptions& options, Report& report);

}  // namespace trimtack
