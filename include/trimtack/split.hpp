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
  std::vector<Index> loose_before_face;  ///< one per entry of `loose`: faces of the combined file before it
};

/// A loose element whose vertices belong to several outputs, so that none can hold it: kept whole, in the combined
/// file's numbering, with the names of its state (empty: none).
struct SpanningElement {
  Index loose = kNone;  ///< its place among the combined file's loose elements
  ElementKind kind = ElementKind::Line;
  std::vector<Index> vertices, texcoords;  ///< as in LooseElement
  Index before_face = 0;
  std::string object, group, smoothing, material;
};

/// One map per role. Every face and every position of the combined file is in exactly one of them (a position
/// no face uses goes with the cloth); a vt or vn used by two roles is in both; one used by none goes with the cloth.
/// A loose element is in the map of the role that owns all its vertices, else in `spanning` (ascending by `loose`).
struct SplitMaps {
  SubsetMap cloth, trims, stitching;
  std::vector<SpanningElement> spanning;
  const SubsetMap& of(Role role) const {
    return role == Role::Cloth ? cloth : (role == Role::Trim ? trims : stitching);
  }
};

/// Maps from the components' roles. Spanning loose elements are reported ("split-spanning-element").
/// @pre parts.component_of_face has one entry per face, each a component.
/// Cost: O(#V + #C) time and memory. Order: that of the combined file.
SplitMaps split(const SourceMesh& combined, const Parts& parts, Report& report);

/// The mesh of one output: order kept, indices renumbered, states and names kept, text shared for splicing.
/// @pre `map` is one of the maps that split() made for `combined`.
/// Cost: O(#V + #C of the combined mesh).
SourceMesh extract(const SourceMesh& combined, const SubsetMap& map);

/// Puts outputs back together by their maps: same_content with the combined mesh, `file` and `text` are left empty.
/// @error BadInput when the maps do not fit the meshes or do not cover a combined mesh exactly, or when an element
/// that two outputs share differs between them.
Result<SourceMesh> join(const SourceMesh& cloth, const SourceMesh& trims, const SourceMesh& stitching,
                        const SplitMaps& maps);

}  // namespace trimtack
