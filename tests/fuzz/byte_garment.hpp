// SPDX-License-Identifier: MIT
/// A small combined export built from a fuzz input: sheets, discs, boxes, tubes and single faces, then damage.
#pragma once

#include "fuzz/byte_source.hpp"
#include "trimtack/mesh.hpp"

namespace trimtack::fuzz {

/// At most some 600 faces. Indices are in range and positions finite, as every reader promises; all else may be wrong:
/// no area, faces that repeat or fold, parts far off, of any size, welded to each other.
SourceMesh make_byte_garment(ByteSource& in);

}  // namespace trimtack::fuzz
