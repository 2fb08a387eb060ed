// SPDX-License-Identifier: MIT
/// A garment's folder: the files that split and bind write, and reading them back as one.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "cli/common.hpp"
#include "trimtack/io/file_set.hpp"
#include "trimtack/picture.hpp"
#include "trimtack/pipeline.hpp"
#include "trimtack/runtime.hpp"
#include "trimtack/table.hpp"

namespace trimtack::cli {

/// What is wanted of an export's normals.
enum class Normals : std::uint8_t {
  Numbers,  ///< all that there are
  Text      ///< they are written but not looked at: left to the text, where there is one
};

/// A combined export from a file (OBJ, PLY or GLB).
Result<SourceMesh> read_combined(Session& session, const std::string& path, Normals normals = Normals::Numbers);

/// What a folder is read for.
enum class FolderUse : std::uint8_t {
  Garment,  ///< its meshes; a table, even a damaged one, is not looked at
  Bound,    ///< its meshes and the table
  Poses     ///< the table and what parts.json says of it
};

/// A folder as read: the garment put together again, and its table when there is one.
struct ReadFolder {
  Garment garment;
  SourceMesh cloth, trims, stitching;
  /// False: poses were all that is wanted, and the table is sure to fit cloth.obj and parts.json; the meshes above and
  /// garment.combined are empty then.
  bool has_meshes = false;
  std::vector<std::byte> table_bytes;  ///< empty: not bound yet
  runtime::Table view;                 ///< of these bytes
  BindTable table;                     ///< decoded from them, but for a garment alone
};
/// @error BadInput when a file is missing, or they do not belong together.
Result<ReadFolder> read_folder(Session& session, const std::string& path, FolderUse use);

/// cloth.obj, trims.obj, stitching.obj (if any), MTL files and parts.json. A material library is taken from the mesh if
/// it is attached there, else from the first of `material_folders` (at least one) that holds it. Files of earlier runs
/// that no longer hold are retired. Meshes and parts.json are written beside each other.
/// @param report  what could not be copied along
Result<void> write_split(Session& session, FileSet& files, const Garment& garment,
                         const std::vector<std::filesystem::path>& material_folders, Report& report);
/// One OBJ per prototype, below prototypes/.
Result<void> write_prototypes(Session& session, FileSet& files, const Garment& garment);
/// bindings.json, bindings.csv and bindings.ttb.
Result<void> write_tables(Session& session, FileSet& files, const BindTable& table);
/// Draws the parts of a garment, every one in its colour. Nothing to do for an empty name.
Result<void> draw_parts(const std::string& path, const Garment& garment);
/// Draws a picture into a file of its own. Nothing to do for an empty name.
Result<void> write_picture(const PictureInput& picture, const std::string& path);
/// Puts the outputs together again and compares with the combined export. @error Internal on any difference.
Result<void> verify_split(Session& session, const Garment& garment);

}  // namespace trimtack::cli
