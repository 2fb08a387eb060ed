// SPDX-License-Identifier: MIT
/// The faces of a plain OBJ file alone: for who asks whether they are the known ones, and needs nothing else of it.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>

#include "trimtack/parallel.hpp"
#include "trimtack/types.hpp"

namespace trimtack {

struct ScannedFaces {
  Index vertices = 0, faces = 0;  ///< v and f statements
  std::uint64_t fingerprint = 0;  ///< as cloth_fingerprint() of the positions at their corners
};

/// Faces as read_obj gives them, of a file with nothing out of the ordinary: lines end at LF, none is continued or
/// longer than 32 KiB, indices count from 1, and only v, vt, vn, f, g, o, s, usemtl and mtllib statements and comments
/// stand there. Of these only f statements are looked at. Nothing for any other file, or one that cannot be read.
/// Cost: linear in the bytes; memory that of the faces. Same result for any executor.
std::optional<ScannedFaces> scan_faces(const std::filesystem::path& path, const Executor& executor);

}  // namespace trimtack
