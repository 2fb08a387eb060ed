// SPDX-License-Identifier: MIT
/// Wavefront OBJ (appendix B1 of the Advanced Visualizer manual, version 3.0): reading and writing.
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "trimtack/io/text_sink.hpp"
#include "trimtack/mesh.hpp"
#include "trimtack/parallel.hpp"
#include "trimtack/report.hpp"
#include "trimtack/result.hpp"
#include "trimtack/split_maps.hpp"

namespace trimtack {

struct ObjReadOptions {
  /// Remember the text, so that a writer can splice untouched statements. A file stays where it is and is read again
  /// then: it must not change until the mesh has been written, which is checked.
  bool keep_text = true;
  /// Pass over everything but v unread, also where it is damaged: for frames of a mesh that is known. Not together
  /// with keep_text, whose writer needs all statements.
  bool positions_only = false;
  /// Leave the numbers of normals to the text: they are looked at, but SourceMesh::normals stays empty. For who splices
  /// them and looks at none; only together with keep_text.
  bool leave_normals = false;
  std::uint64_t max_memory_bytes = 0;  ///< 0: no limit
  /// Text parsed at a time, in bytes: the unit of work for the executor. Never changes the result.
  std::size_t block_bytes = std::size_t{1} << 18;
  Executor executor;
};

/// Reads a file in whole blocks. Understood: v (3 numbers, or 4 with a weight, 6 with a colour, 7 with colour and
/// alpha), vt (1 to 3), vn, f and fo with any number of corners in all four forms, l, p, o, g, s, usemtl, mtllib;
/// indices from 1 or from the end; continued lines, comments, any line end, a byte order mark.
/// Several names on `mtllib` are told apart by their ending .mtl (a name may hold blanks); without one the rest of the
/// line is one name. Left out and reported with their count and first line: free-form statements ("obj-free-form"),
/// display attributes ("obj-display"), unknown statements ("obj-unknown").
/// @error BadInput with file and line: a number or a corner that is none, nan or infinity, an index 0 or out of range,
/// a face with fewer than 3 corners, `call` or `csh` (never executed), text of which no statement is known, more than
/// max_memory_bytes. The first such place in the file is the one reported.
/// Cost: linear in the bytes; memory that of the mesh and some blocks. Same result for any executor.
Result<SourceMesh> read_obj(const std::filesystem::path& path, const ObjReadOptions& options, Report& report);
/// The same from memory; `file` is used in messages.
Result<SourceMesh> parse_obj(std::string text, const std::string& file, const ObjReadOptions& options, Report& report);

struct ObjWriteOptions {
  std::string header;  ///< comment lines at the top, without '#'
  bool splice = true;  ///< copy v / vt / vn statements from SourceMesh::text where it is there
  Executor executor;
  const SubsetMap* part = nullptr;  ///< of a split of the mesh: write this output alone, as extract() has it
};

/// Writes material libraries, v, vt, vn, then faces and loose elements in order with the state changes between them.
/// Numbers are shortest round-trip decimals, or the source's own characters when spliced; either way parse_obj gives
/// the same content back. Line breaks in names become blanks. The pieces joined are the same bytes for any executor.
/// @param sink  called with pieces of some hundred KB, in order, one at a time, from any thread of the executor.
/// @error the first error of the sink; BadInput when the file that the text stands in has changed.
/// Cost: linear; memory a few MiB whatever the mesh (but for single faces with millions of corners).
Result<void> write_obj(const SourceMesh& mesh, const ObjWriteOptions& options, const TextSink& sink);
/// The whole file as one string; formatted, not spliced, when the file that the text stands in has changed. For large
/// meshes the sink is faster and smaller.
std::string write_obj(const SourceMesh& mesh, const ObjWriteOptions& options);

}  // namespace trimtack
