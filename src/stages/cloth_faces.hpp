// SPDX-License-Identifier: MIT
#pragma once

#include "trimtack/cloth.hpp"

namespace trimtack {

/// gather_cloth() before complete_cloth(): positions, faces, texture coordinates and components.
ClothMesh gather_cloth_faces(const SourceMesh& combined, const Parts& parts, const SplitMaps& maps);

}  // namespace trimtack
