// SPDX-License-Identifier: MIT
#include <algorithm>
#include <filesystem>

#include "cli/baking.hpp"
#include "cli/following.hpp"
#include "cli/summary.hpp"
#include "trimtack/io/gltf.hpp"
#include "trimtack/io/placements.hpp"
#include "trimtack/io/ply.hpp"
#include "trimtack/io/scene.hpp"
#include "trimtack/io/table_json.hpp"
#include "trimtack/io/usd.hpp"
#include "trimtack/version.h"

namespace trimtack::cli {
namespace {

/// Scene of a followed folder; `following` must outlive it.
Result<Scene> make_scene(Session& session, Following& following, const ExportOptions& options) {
  const ReadFolder& folder = following.folder();
  std::vector<Index> order;
  for (const Binding& binding : following.table().bindings) order.push_back(binding.trim);
  Result<Scene> scene = build_scene(folder.cloth, folder.trims, folder.stitching, folder.garment.parts,
                                    folder.garment.maps, order, session.report());
  if (!scene) return scene;
  scene->name = std::filesystem::path(folder.garment.parts.source_file).stem().string();
  if (scene->name.empty()) scene->name = "garment";
  scene->frames_per_second = options.frames.frames_per_second;
  const std::filesystem::path root = options.input;
  for (const std::string& library : folder.garment.combined.material_libraries) {
    const Result<std::filesystem::path> place = place_of_picture(root, root, library);
    std::error_code ignored;
    if (!place || !std::filesystem::is_regular_file(*place, ignored)) continue;  // bind has told so
    const Result<std::string> text = read_file(*place, 64ULL << 20U);
    if (!text) continue;  // this too
    add_materials(*scene, read_materials(*text), root, place->parent_path(), session.report());
  }
  if (options.frames.frames.empty()) return scene;
  for (const FrameRef& frame : following.frames()) scene->frame_numbers.push_back(frame.number);
  scene->frame = [&following](std::size_t i, std::span<Vec3> cloth, std::span<Pose> poses) -> Result<void> {
    const Result<Following::Frame> frame = following.frame(i, false);
    if (!frame) return frame.error();
    std::copy(frame->cloth.begin(), frame->cloth.end(), cloth.begin());
    std::copy(frame->poses.begin(), frame->poses.end(), poses.begin());
    return {};
  };
  return scene;
}

/// The parts at rest, and with frames all of them posed.
Result<void> write_ply_files(Session& session, FileSet& files, Following& following, const ExportOptions& options) {
  const ReadFolder& folder = following.folder();
  for (const auto& [name, mesh] :
       {std::pair{"cloth.ply", &folder.cloth}, {"trims.ply", &folder.trims}, {"stitching.ply", &folder.stitching}}) {
    if (mesh->face_count() == 0) continue;
    const Result<std::string> bytes = write_ply(*mesh, ply_options(*mesh), {});
    if (!bytes) return bytes.error();
    if (auto done = files.write(name, *bytes); !done) return done;
  }
  if (options.frames.frames.empty()) return {};
  BakeRequest request;
  request.cloth = request.trims = BakeForm::Ply;
  request.folder = "frames/";
  Baking baking(session, following, files, request);
  for (std::size_t i = 0; i < following.frames().size(); ++i) {
    const Result<Following::Frame> frame = following.frame(i, false);
    if (!frame) return frame.error();
    if (auto done = baking.add(*frame); !done) return done;
  }
  return {};
}

Result<void> write_format(Session& session, FileSet& files, Following& following, const Scene& scene,
                          const ExportOptions& options, const std::string& format) {
  session.progress("writing " + format);
  // Files that an earlier run wrote for this format and this one may not.
  for (const auto& [of, stale] : {std::pair{"ply", "frames/"}, {"usda", "textures/"}, {"placements", "shapes/"}}) {
    if (format == of) files.retire(stale);
  }
  if (format == "json")
    return write_table_json(following.table(), sink_into(files, "bindings.json"), session.executor());
  if (format == "csv") return write_table_csv(following.table(), sink_into(files, "bindings.csv"), session.executor());
  if (format == "ttb") return files.write("bindings.ttb", std::span<const std::byte>(following.folder().table_bytes));
  if (format == "ply") return write_ply_files(session, files, following, options);
  if (format == "usda") return write_usda(files, scene.name + ".usda", scene, {session.executor()}, session.report());
  if (format == "usdz") return write_usdz(files, scene.name + ".usdz", scene, {session.executor()}, session.report());
  if (format == "placements") return write_placements(files, "placements.csv", scene, {"shapes", session.executor()});
  if (format == "npy") {
    auto done = write_cloth_npy(files, "cloth.npy", scene, true);
    return done ? write_placements_npy(files, "placements.npy", scene) : done;
  }
  GlbWriteOptions glb;
  glb.step = options.step;
  glb.instancing = options.instancing;
  glb.executor = session.executor();
  return write_glb(files, scene.name + ".glb", scene, glb, session.report());
}

}  // namespace

int run(const ExportOptions& options) {
  Session session("export", options.common);
  Result<FileSet> files = FileSet::open(options.output);
  if (!files) return session.fail(files.error());
  Result<Following> following = Following::open(session, options.input);
  if (!following) return session.fail(following.error());
  if (!options.frames.frames.empty()) {
    if (auto opened = following->open_frames(options.frames); !opened) return session.fail(opened.error());
  }
  const Result<Scene> scene = make_scene(session, *following, options);
  if (!scene) return session.fail(scene.error());
  std::vector<std::string> done;
  for (const std::string& format : options.formats) {
    if (std::find(done.begin(), done.end(), format) != done.end()) continue;
    done.push_back(format);
    const auto written = write_format(session, *files, *following, *scene, options, format);
    if (!written) return session.fail(written.error());
  }
  if (auto committed = files->commit(); !committed) return session.fail(committed.error());
  say_files(session, options.output, *files);
  JsonObject answer;
  answer.text("folder", options.input)
      .text("output", options.output)
      .raw("formats", json_strings(done))
      .whole("trims", following->table().bindings.size())
      .whole("frames", scene->frame_numbers.size())
      .raw("files", files_json(*files));
  return session.finish(answer);
}

}  // namespace trimtack::cli
