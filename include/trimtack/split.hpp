// SPDX-License-Identifier: MIT
/// Splits a combined export into cloth, trims and stitching with nothing lost, and puts it together again.
#pragma once

#include "trimtack/mesh.hpp"
#include "trimtack/parallel.hpp"
#include "trimtack/parts.hpp"
#include "trimtack/report.hpp"
#include "trimtack/result.hpp"
#include "trimtack/split_maps.hpp"

namespace trimtack {

/// Maps from the components' roles. Spanning loose elements are reported ("split-spanning-element").
/// @pre parts.component_of_face has one entry per face, each a component.
/// Cost: O(#V + #C) time and memory. Order: that of the combined file. Threads: list by list, the same for any
/// executor.
SplitMaps split(const SourceMesh& combined, const Parts& parts, Report& report, const Executor& executor = {});

/// The mesh of one output: order kept, indices renumbered, states and names kept, without text (write_obj writes an
/// output from the combined mesh).
/// @pre `map` is one of the maps that split() made for `combined`.
/// Cost: O(#V + #C of the combined mesh).
SourceMesh extract(const SourceMesh& combined, const SubsetMap& map);

/// Puts outputs back together by their maps: same_content with the combined mesh, `file` and `text` are left empty.
/// @error BadInput when the maps do not fit the meshes or do not cover a combined mesh exactly, or when an element
/// that two outputs share differs between them.
Result<SourceMesh> join(const SourceMesh& cloth, const SourceMesh& trims, const SourceMesh& stitching,
                        const SplitMaps& maps);

}  // namespace trimtack
