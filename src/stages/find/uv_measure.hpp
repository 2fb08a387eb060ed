// SPDX-License-Identifier: MIT
/// How a component's texture coordinates are laid out.
#pragma once

#include "trimtack/features.hpp"

namespace trimtack {

/// Sets what a Detail tells about UVs, from up to some thousand of the faces.
void measure_uv(const SourceMesh& mesh, const IndexList& faces, Detail& detail);

}  // namespace trimtack
