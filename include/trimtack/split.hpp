// SPDX-License-Identifier: MIT
/// Splits a combined export into cloth, trims and stitching with nothing lost, and puts it together again.
#pragma once

#include <array>
#include <string>
#include <vector>

#include "trimtack/mesh.hpp"
#include "trimtack/parts.hpp"
#include "trimtack/report.hpp"
#include "trimtack/result.hpp"

namespace trimtack {

/// Where each element of one output stood in the combined file (0-based, strictly ascending).
struct SubsetMap {
  std::vector<Index> positions, texcoords, normals, faces, loose;
};

/// One map per role. Every face and every position of the combined file is in exactly one of them (a position
/// no face uses goes with the cloth); a vt or vn used by two roles is in both; one used by none goes with the cloth.
struct SplitMaps {
  SubsetMap cloth, trims, stitching;
  const SubsetMap& of(Role role) const {
    return role == Role::Cloth ? cloth : (role == Role::Trim ? trims : stitching);
  }
};

/// Cost: O(#V + #C). Loose elements go with the component that owns all their vertices; those that span roles
/// or use free vertices go with the cloth when it owns every vertex, else they are reported and kept in
/// `SourceMesh::loose` of no output but listed in parts.json.
SplitMaps split(const SourceMesh& combined, const Parts& parts, Report& report);

/// The mesh of one output: vertex order kept, indices renumbered, states and names kept, text shared for splicing.
SourceMesh extract(const SourceMesh& combined, const SubsetMap& map);

/// Puts outputs back together by their maps. @error BadInput when the maps do not cover a combined mesh exactly.
Result<SourceMesh> join(const SourceMesh& cloth, const SourceMesh& trims, const SourceMesh& stitching,
                        const SplitMaps& maps);

}  // namespace trimtack
