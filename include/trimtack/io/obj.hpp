// SPDX-License-Identifier: MIT
/// Wavefront OBJ (appendix B1 of the Advanced Visualizer manual, version 3.0): reading and writing.
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "trimtack/mesh.hpp"
#include "trimtack/parallel.hpp"
#include "trimtack/report.hpp"
#include "trimtack/result.hpp"

namespace trimtack {

struct ObjReadOptions {
  bool keep_text = true;               ///< keep the bytes, so that a writer can splice untouched statements
  std::uint64_t max_memory_bytes = 0;  ///< 0: no limit
  Executor executor;
};

/// Reads a file in whole blocks. @error BadInput with file and line for anything that is not OBJ, an index out of
/// range, `call` or `csh` (never executed). Free-form elements are reported ("obj-free-form") and left out.
Result<SourceMesh> read_obj(const std::filesystem::path& path, const ObjReadOptions& options, Report& report);
/// The same from memory; `file` is used in messages.
Result<SourceMesh> parse_obj(std::string text, const std::string& file, const ObjReadOptions& options, Report& report);

struct ObjWriteOptions {
  std::string header;  ///< comment lines at the top, without '#'
  bool splice = true;  ///< copy v / vt / vn statements from SourceMesh::text where it is there
  Executor executor;
};
/// The file's bytes. Numbers are shortest round-trip decimals, or the source's own characters when spliced.
std::string write_obj(const SourceMesh& mesh, const ObjWriteOptions& options);

}  // namespace trimtack
