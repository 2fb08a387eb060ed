// SPDX-License-Identifier: MIT
/// The part of finding components that needs no weld, to be done beside it.
#pragma once

#include <vector>

#include "trimtack/components.hpp"

namespace trimtack {

/// For each vertex one that leads to the smallest of those that faces join it with; that one leads to itself.
std::vector<Index> join_by_faces(const FaceView& faces);

/// @param joined  by join_by_faces
ComponentMap find_components(const FaceView& faces, const WeldMap& welded, std::vector<Index> joined);

}  // namespace trimtack
