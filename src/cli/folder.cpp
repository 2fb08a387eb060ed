// SPDX-License-Identifier: MIT
#include "cli/folder.hpp"

#include <algorithm>
#include <array>
#include <functional>
#include <utility>

#include "cli/limits.hpp"
#include "io/face_scan.hpp"
#include "io/manifest.hpp"
#include "trimtack/io/gltf.hpp"
#include "trimtack/io/obj.hpp"
#include "trimtack/io/parts_json.hpp"
#include "trimtack/io/picture.hpp"
#include "trimtack/io/placements.hpp"
#include "trimtack/io/ply.hpp"
#include "trimtack/io/scene.hpp"
#include "trimtack/io/table_file.hpp"
#include "trimtack/io/table_json.hpp"
#include "trimtack/runtime.hpp"
#include "trimtack/version.h"

namespace trimtack::cli {
namespace fs = std::filesystem;
namespace {

constexpr std::uint64_t kLargestMaterials = 64ULL << 20U, kLargestPicture = 512ULL << 20U;

ObjReadOptions obj_options(Session& session) {
  ObjReadOptions options;
  options.executor = session.executor();
  options.max_memory_bytes = memory_limit(session.options());
  return options;
}

bool has_extension(const std::string& path, const char* extension) {
  std::string own = fs::path(path).extension().string();
  std::transform(own.begin(), own.end(), own.begin(),
                 [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c; });
  return own == extension;
}

/// Copies material libraries and the pictures that they name along, untouched.
class MaterialCopier {
 public:
  MaterialCopier(FileSet& files, const SourceMesh& mesh, Report& report)
      : files_(files), mesh_(mesh), report_(report) {}

  bool has(const std::string& library, const fs::path& folder) const {
    std::error_code ignored;
    return attached(library) != nullptr || fs::is_regular_file(folder / library, ignored);
  }

  Result<void> copy(const std::string& library, const fs::path& from) {
    from_ = from;
    Result<std::string> text = read(library, from_, "material-outside", "material library " + library, false);
    if (!text) return text.error();
    if (text->empty()) return {};
    const fs::path folder = (from_ / library).parent_path();
    for (const std::string& picture : pictures_named(*text)) {
      const std::string what = "picture " + picture + " of " + library;
      if (auto done = read(picture, folder, "picture-outside", what, true); !done) return done.error();
    }
    return {};
  }

 private:
  void note(const char* code, const std::string& message) {
    add_separate(report_, {Severity::Warning, code, message, mesh_.file, 0, 1});
  }

  /// Reads a file and puts it into the set under the name that it has below the export's folder; empty where it cannot
  /// be had, which is reported. @error only when the set cannot be written.
  Result<std::string> read(const std::string& name, const fs::path& folder, const char* outside,
                           const std::string& what, bool picture) {
    const Result<fs::path> place = place_of_picture(from_, folder, name);
    const std::string clean = fs::path(folder / name).lexically_relative(from_).lexically_normal().generic_string();
    if (!place || !is_safe_name(clean) || clean.find('\\') != std::string::npos ||
        clean.find(".trimtack-work") != std::string::npos) {
      note(outside, what + " is outside the export's folder and was not copied; copy it by hand");
      return std::string();
    }
    for (const char* own : {".obj", ".json", ".csv", ".ttb", ".npy"}) {
      if (!has_extension(clean, own)) continue;
      note(outside, what + " has the name of an output and was not copied; name it otherwise");
      return std::string();
    }
    Result<std::string> bytes = bytes_of(clean, *place, picture ? kLargestPicture : kLargestMaterials);
    if (!bytes) {
      note(picture ? "picture-missing" : "material-missing",
           what + (picture ? " was not copied: " + bytes.error().message + "; put it beside its library"
                           : " was not found; put it beside the export"));
      return std::string();
    }
    if (std::find(written_.begin(), written_.end(), clean) != written_.end()) return bytes;
    written_.push_back(clean);
    if (auto done = files_.write(clean, *bytes); !done) return done.error();
    return bytes;
  }

  const AttachedFile* attached(const std::string& name) const {
    for (const AttachedFile& file : mesh_.attached) {
      if (file.name == name) return &file;
    }
    return nullptr;
  }

  /// From within the export, or else from beside it.
  Result<std::string> bytes_of(const std::string& name, const fs::path& place, std::uint64_t most) const {
    if (const AttachedFile* const file = attached(name)) return file->bytes;
    std::error_code ignored;
    // A pipe or a device would never end.
    if (!fs::is_regular_file(place, ignored)) return Error{ErrorCode::BadInput, "is no file", place.string(), 0};
    return read_file(place, most);
  }

  FileSet& files_;
  const SourceMesh& mesh_;
  Report& report_;
  fs::path from_;  ///< the folder of the library being copied
  std::vector<std::string> written_;
};

Result<void> write_materials(FileSet& files, const SourceMesh& mesh, const std::vector<fs::path>& folders,
                             Report& report) {
  MaterialCopier copier(files, mesh, report);
  for (const std::string& name : mesh.material_libraries) {
    const auto found =
        std::find_if(folders.begin(), folders.end(), [&](const fs::path& f) { return copier.has(name, f); });
    const fs::path& from = found != folders.end() ? *found : folders.front();
    if (auto done = copier.copy(name, from.empty() ? fs::path(".") : from); !done) return done;
  }
  return {};
}

Result<SourceMesh> read_part(Session& session, const fs::path& folder, const char* name, const SubsetMap& map) {
  SourceMesh mesh;
  if (!map.faces.empty() || !map.positions.empty()) {
    session.progress(std::string("reading ") + name);
    Result<SourceMesh> read = read_obj(folder / name, obj_options(session), session.report());
    if (!read) return read.error();
    mesh = std::move(*read);
  }
  mesh.file = (folder / name).string();
  return mesh;
}

/// Every statement of an OBJ file takes more than this many bytes, so files bound what parts.json may claim.
constexpr std::uint64_t kLeastBytes = 6;

}  // namespace

Result<SourceMesh> read_combined(Session& session, const std::string& path, Normals normals) {
  session.progress("reading " + path);
  std::error_code ignored;
  if (fs::is_directory(path, ignored)) {
    return Error{ErrorCode::BadInput, "is a folder; name the combined export itself, an OBJ, PLY or GLB file", path, 0};
  }
  if (has_extension(path, ".ply")) {
    PlyReadOptions options;
    options.max_memory_bytes = memory_limit(session.options());
    return read_ply(path, options, session.report());
  }
  if (has_extension(path, ".glb") || has_extension(path, ".gltf")) {
    GltfReadOptions options;
    options.max_memory_bytes = memory_limit(session.options());
    const Result<GltfGarment> garment = GltfGarment::open(path, options, session.report());
    if (!garment) return garment.error();
    SourceMesh mesh = garment->mesh();
    mesh.attached = garment->material_files(session.report());
    if (!mesh.attached.empty()) mesh.material_libraries = {mesh.attached.front().name};
    return mesh;
  }
  ObjReadOptions options = obj_options(session);
  options.leave_normals = normals == Normals::Text;
  Result<SourceMesh> mesh = read_obj(path, options, session.report());
  give_back_freed_memory();  // of the blocks that were parsed
  return mesh;
}

namespace {

Result<PartsFile> read_parts(Session& session, const fs::path& folder) {
  const std::string path = (folder / "parts.json").string();
  const Result<std::string> text = read_file(path, memory_limit(session.options()));
  if (!text) return text.error();
  std::uint64_t bytes = 0;
  for (const char* name : {"cloth.obj", "trims.obj", "stitching.obj"}) {
    std::error_code missing;
    const std::uint64_t size = fs::file_size(folder / name, missing);
    if (!missing) bytes += size;
  }
  return read_parts_json(*text, path, bytes / kLeastBytes + 1);
}

Result<TableFile> read_table(const fs::path& folder) {
  const fs::path table = folder / "bindings.ttb";
  std::error_code ignored;
  if (fs::exists(table, ignored)) return open_table_file(table);
  return Error{ErrorCode::BadInput,
               "holds no bindings.ttb; bind it first with: trimtack bind " + folder.string() + " -o " + folder.string(),
               folder.string(), 0};
}

/// The three meshes, and their join by the maps of `parts`.
Result<void> read_meshes(Session& session, const std::string& path, PartsFile& parts, ReadFolder& read) {
  for (const auto& [name, map, mesh] : {std::tuple{"cloth.obj", &parts.maps.cloth, &read.cloth},
                                        std::tuple{"trims.obj", &parts.maps.trims, &read.trims},
                                        std::tuple{"stitching.obj", &parts.maps.stitching, &read.stitching}}) {
    Result<SourceMesh> part = read_part(session, path, name, *map);
    if (!part) return part.error();
    *mesh = std::move(*part);
  }
  session.progress("joining the outputs");
  Result<SourceMesh> combined = join(read.cloth, read.trims, read.stitching, parts.maps);
  if (!combined) {
    Error error = combined.error();
    error.message += "; the meshes in this folder do not belong to its parts.json (trimtack verify " + path +
                     " tells which file was edited)";
    error.subject = path;
    return error;
  }
  combined->file = parts.parts.source_file;
  read.garment.combined = std::move(*combined);
  return {};
}

/// Whether the table was made for the faces in cloth.obj; false also for a file that only read_obj can tell of.
bool is_for_cloth(const runtime::Table& table, const fs::path& cloth, const Executor& executor) {
  const std::optional<ScannedFaces> faces = scan_faces(cloth, executor);
  return faces && faces->fingerprint == table.info().fingerprint;
}

/// Whether a table that is_for_cloth() fits parts.json, and the meshes that it names are there.
bool fits_parts(const runtime::Table& table, const fs::path& folder, const PartsFile& parts) {
  const SplitMaps& maps = parts.maps;
  const tt_info info = table.info();
  if (maps.cloth.positions.size() != info.cloth_vertices || maps.cloth.faces.size() != info.cloth_faces) return false;
  for (const auto& [name, map] : {std::pair{"trims.obj", &maps.trims}, {"stitching.obj", &maps.stitching}}) {
    std::error_code ignored;
    if (!map->positions.empty() && !fs::is_regular_file(folder / name, ignored)) return false;
  }
  for (std::size_t i = 0; i < info.binding_count; ++i) {
    tt_binding binding;
    table.binding(i, binding);
    if (binding.trim >= parts.parts.trims.size()) return false;
  }
  return true;
}

}  // namespace

Result<ReadFolder> read_folder(Session& session, const std::string& path, FolderUse use) {
  const Result<ReadLock> lock = ReadLock::open(path);
  if (!lock) return lock.error();
  const fs::path folder = path;
  std::error_code ignored;
  if (!fs::exists(folder / "parts.json", ignored)) {
    return Error{ErrorCode::BadInput, "holds no parts.json; make the folder with: trimtack bind COMBINED -o " + path,
                 path, 0};
  }
  session.progress("reading parts.json");
  Result<PartsFile> parts = PartsFile{};
  Result<TableFile> table = TableFile{};
  Result<BindTable> decoded = BindTable{};
  bool without_meshes = false;
  for_ranges(session.executor(), 2, 1, [&](std::size_t task, std::size_t) {
    if (task == 0) {
      parts = read_parts(session, folder);
      return;
    }
    if (use == FolderUse::Garment) return;  // to be bound anew, whatever became of its table
    table = read_table(folder);
    if (!table) return;
    for_ranges(session.executor(), 2, 1, [&](std::size_t part, std::size_t) {
      if (part == 0)
        decoded = decode(table->bytes);
      else
        without_meshes = use == FolderUse::Poses && is_for_cloth(table->view, folder / "cloth.obj", session.executor());
    });
  });
  if (!parts) return parts.error();
  ReadFolder read;
  if (!without_meshes || !fits_parts(table->view, folder, *parts)) {
    if (auto done = read_meshes(session, path, *parts, read); !done) return done.error();
    read.has_meshes = true;
  }
  if (!table) return table.error();
  if (!decoded) return decoded.error();
  read.garment.parts = std::move(parts->parts);
  read.garment.maps = std::move(parts->maps);
  read.table_bytes = std::move(table->bytes);
  read.view = table->view;
  read.table = std::move(*decoded);
  return read;
}

namespace {

/// Files that can be written beside each other, each step on its own.
using WriteStep = std::function<Result<void>()>;

/// Runs the steps on the session's threads. @return the error of the first that failed, in their order
Result<void> run_steps(const Session& session, std::span<const WriteStep> steps) {
  std::vector<Result<void>> done(steps.size());
  for_ranges(session.executor(), steps.size(), 1, [&](std::size_t begin, std::size_t end) {
    for (std::size_t i = begin; i < end; ++i) done[i] = steps[i]();
  });
  for (Result<void>& one : done)
    if (!one) return one;
  return {};
}

Result<void> write_part(const Session& session, FileSet& files, const Garment& garment, const std::string& name,
                        const SubsetMap& map) {
  ObjWriteOptions options;
  options.executor = session.executor();
  options.header = map.faces.empty() && map.positions.empty() ? "nothing of this role in the combined export" : "";
  options.part = &map;
  return write_obj(garment.combined, options, sink_into(files, name));
}

Result<void> write_table_bytes(FileSet& files, const BindTable& table) {
  const Result<std::vector<std::byte>> bytes = encode(table, TT_TABLE_FORMAT_LATEST);
  if (!bytes) return bytes.error();
  return files.append("bindings.ttb", std::string_view(reinterpret_cast<const char*>(bytes->data()), bytes->size()));
}

constexpr std::array<const char*, 3> kTables{"bindings.json", "bindings.csv", "bindings.ttb"};

}  // namespace

Result<void> write_split(Session& session, FileSet& files, const Garment& garment,
                         const std::vector<fs::path>& material_folders, Report& report) {
  for (const char* stale : {"bindings.json", "bindings.csv", "bindings.ttb", "poses.csv", "poses.npy", "stitching.obj",
                            "placements.csv", "prototypes/", "baked/", "whole/", "baked.npy", "whole.npy"}) {
    files.retire(stale);
  }
  session.progress("writing the files");
  std::vector<std::pair<const char*, const SubsetMap*>> parts{{"cloth.obj", &garment.maps.cloth},
                                                              {"trims.obj", &garment.maps.trims}};
  if (const SubsetMap& map = garment.maps.stitching; !map.faces.empty() || !map.loose.empty())
    parts.emplace_back("stitching.obj", &map);
  for (const auto& part : parts)
    if (auto done = files.start(part.first); !done) return done;
  if (auto done = write_materials(files, garment.combined, material_folders, report); !done) return done;
  if (auto done = files.start("parts.json"); !done) return done;
  const auto write_meshes = [&]() -> Result<void> {
    for (const auto& [name, map] : parts)
      if (auto done = write_part(session, files, garment, name, *map); !done) return done;
    return {};
  };
  const auto write_parts = [&] {
    return write_parts_json(garment.parts, garment.maps, sink_into(files, "parts.json"));
  };
  const std::array<WriteStep, 2> steps{write_meshes, write_parts};
  return run_steps(session, steps);
}

Result<void> write_prototypes(Session& session, FileSet& files, const Garment& garment) {
  const SourceMesh cloth = extract(garment.combined, garment.maps.cloth);
  const Result<Scene> scene =
      build_scene(cloth, extract(garment.combined, garment.maps.trims),
                  extract(garment.combined, garment.maps.stitching), garment.parts, garment.maps, {}, session.report());
  if (!scene) return scene.error();
  PlacementOptions options;
  options.shape_folder = "prototypes";
  options.executor = session.executor();
  return write_placements(files, "placements.csv", *scene, options);
}

Result<void> write_tables(Session& session, FileSet& files, const BindTable& table) {
  session.progress("writing the tables");
  for (const char* name : kTables)
    if (auto done = files.start(name); !done) return done;
  const std::array<WriteStep, 3> steps{
      [&] { return write_table_json(table, sink_into(files, "bindings.json"), session.executor()); },
      [&] { return write_table_bytes(files, table); },
      [&] { return write_table_csv(table, sink_into(files, "bindings.csv"), session.executor()); }};
  return run_steps(session, steps);
}

Result<void> write_picture(const PictureInput& picture, const std::string& path) {
  if (path.empty()) return {};
  const Result<PictureFormat> format = picture_format(path);
  if (!format) return format.error();
  const Result<std::string> bytes = draw_picture(picture, *format);
  return bytes ? write_file(path, *bytes) : bytes.error();
}

Result<void> draw_parts(const std::string& path, const Garment& garment) {
  if (path.empty()) return {};
  return write_picture(picture_of(garment.combined, garment.parts), path);
}

Result<void> verify_split(Session& session, const Garment& garment) {
  session.progress("verifying");
  std::array<SourceMesh, 3> parts;
  const SubsetMap* const maps[] = {&garment.maps.cloth, &garment.maps.trims, &garment.maps.stitching};
  for (std::size_t i = 0; i < 3; ++i) {
    if (maps[i]->positions.empty() && maps[i]->faces.empty()) continue;
    ObjWriteOptions options;
    options.executor = session.executor();
    options.part = maps[i];
    Report ignored;
    Result<SourceMesh> read = parse_obj(write_obj(garment.combined, options), "output", obj_options(session), ignored);
    if (!read) return read.error();
    parts[i] = std::move(*read);
  }
  const Result<SourceMesh> joined = join(parts[0], parts[1], parts[2], garment.maps);
  if (!joined) return joined.error();
  std::string where;
  if (!same_content(*joined, garment.combined, &where)) {
    return Error{ErrorCode::Internal,
                 "the outputs do not give the combined export back: " + where + "; please report this",
                 garment.combined.file, 0};
  }
  return {};
}

}  // namespace trimtack::cli
