// SPDX-License-Identifier: MIT
#pragma once

#include "trimtack/cloth.hpp"

namespace trimtack {

/// gather_cloth() before complete_cloth(): positions, faces, components and, on request, texture coordinates.
ClothMesh gather_cloth_faces(const SourceMesh& combined, const Parts& parts, const SplitMaps& maps, bool with_uv);

}  // namespace trimtack
