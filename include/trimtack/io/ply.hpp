// SPDX-License-Identifier: MIT
/// PLY polygon files (Turk 1994, "The PLY Polygon File Format"): ASCII and binary, either byte order.
#pragma once

#include <cstdint>
#include <filesystem>
#include <span>
#include <string>
#include <string_view>

#include "trimtack/mesh.hpp"
#include "trimtack/report.hpp"
#include "trimtack/result.hpp"

namespace trimtack {

struct PlyReadOptions {
  bool faces = true;                   ///< false: positions alone (a frame of a sequence)
  std::uint64_t max_memory_bytes = 0;  ///< 0: no limit
};

/// Reads vertices (x y z, normals, u/v or s/t texture coordinates, 8-bit colours) and faces (vertex_indices or
/// vertex_index, n-gons). Elements and properties of other names are skipped and reported ("ply-skipped").
/// Claimed counts are checked against the file's length before memory is taken for them.
/// @error BadInput with the file (and line in the header and in ASCII data) for a malformed header, data that end
/// early, bytes left over, an index out of range or a face with fewer than three corners.
/// Cost: time and memory linear in the file.
Result<SourceMesh> read_ply(const std::filesystem::path& path, const PlyReadOptions& options, Report& report);
/// The same from memory; `file` is used in messages.
Result<SourceMesh> parse_ply(std::string_view bytes, const std::string& file, const PlyReadOptions& options,
                             Report& report);

struct PlyWriteOptions {
  bool binary = true;    ///< little-endian; otherwise ASCII with shortest round-trip decimals
  bool float64 = false;  ///< double numbers; float32 otherwise
  /// Texture coordinates and normals too: a position gets one PLY vertex for each distinct (texcoord, normal) among its
  /// corners, in the order of position numbers, then of first corners. false: positions and faces, vertex for vertex.
  bool corner_data = true;
  std::string comment;  ///< one line, may be empty
};
/// The file's bytes, polygons as they are; vertex colours travel along as 8-bit numbers.
/// @param positions  #V, a deformed frame of the mesh, which leaves corner normals out; empty: the mesh's own
/// @error BadInput when a coordinate is not finite in the chosen format.
/// Cost: time and memory linear in the mesh.
Result<std::string> write_ply(const SourceMesh& mesh, const PlyWriteOptions& options,
                              std::span<const Vec3> positions = {});

}  // namespace trimtack
