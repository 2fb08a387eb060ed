// SPDX-License-Identifier: MIT
/// Trims that are welded to the cloth: found by the crease and the material border around them, cut off on request.
#pragma once

#include <span>
#include <vector>

#include "trimtack/identify_options.hpp"
#include "trimtack/mesh.hpp"
#include "trimtack/report.hpp"
#include "trimtack/result.hpp"
#include "trimtack/roles.hpp"

namespace trimtack {

/// A part of a cloth component that looks like a trim.
struct WeldedTrim {
  Index component = kNone;
  std::vector<Index> faces;  ///< of the combined file, ascending
  Vec3 place;                ///< middle of its box
  double length = 0;         ///< longest side of its box, file units
};

/// Small parts of cloth components that a closed border of sharp creases, branching edges or a change of material sets
/// off from the rest, and whose edges are finer than the cloth's or whose material is another. At most 1000.
/// Cost: O(corners) of the cloth components that have any crease or more than one material.
std::vector<WeldedTrim> find_welded_trims(const RoleInput& input, std::span<const RoleVerdict> verdicts);

/// A mesh with its welded trims cut off. Vertices along a cut are doubled; the doubles come last.
struct CutMesh {
  SourceMesh mesh;                 ///< a writer formats its positions, for they are no longer the file's
  Index original_vertices = 0;     ///< doubles are the vertices from here on
  std::vector<Index> double_of;    ///< per double, the vertex it came from
  std::vector<Index> weld_groups;  ///< for IdentifyOptions: keeps the sides of a cut apart
  std::vector<WeldedTrim> trims;   ///< what was cut off
};

/// Cuts off what find_welded_trims finds, and before that what hangs on cloth by single vertices or by edges of more
/// than two faces and is a trim when it stands alone (what is rigid and shares edges stays together). @error as
/// identify.
Result<CutMesh> cut_welded_trims(const SourceMesh& mesh, const IdentifyOptions& options, Report& report);

/// The exact inverse: the mesh before the cut (a writer formats its positions). @pre `cut` is as cut_welded_trims made
/// it.
SourceMesh undo_cut(const CutMesh& cut);

}  // namespace trimtack
