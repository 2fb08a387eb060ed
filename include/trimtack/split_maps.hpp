// SPDX-License-Identifier: MIT
/// Which element of the combined export went into which output.
#pragma once

#include <string>
#include <vector>

#include "trimtack/mesh.hpp"
#include "trimtack/parts.hpp"

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

}  // namespace trimtack
