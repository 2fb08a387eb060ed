// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <filesystem>

#include "cli/folder.hpp"
#include "cli/frame_source.hpp"
#include "cli/limits.hpp"
#include "cli/named_files.hpp"
#include "cli/precision_warning.hpp"
#include "cli/summary.hpp"

namespace trimtack::cli {
namespace fs = std::filesystem;
namespace {

/// The combined export of a file, or of a folder with its author's edits.
struct Input {
  SourceMesh combined;
  std::optional<Parts> edited;
  fs::path materials;
};

Result<Input> read_input(Session& session, const std::string& path, Normals normals) {
  Input input;
  std::error_code ignored;
  if (fs::is_directory(path, ignored)) {
    Result<ReadFolder> folder = read_folder(session, path, FolderUse::Garment);
    if (!folder) return folder.error();
    input.combined = std::move(folder->garment.combined);
    input.edited = std::move(folder->garment.parts);
    input.materials = path;
    return input;
  }
  Result<SourceMesh> combined = read_combined(session, path, normals);
  if (!combined) return combined.error();
  input.combined = std::move(*combined);
  input.materials = fs::path(path).parent_path();
  return input;
}

/// Frames that show what the garment does: as many as memory holds well, evenly chosen.
Result<std::vector<std::vector<Vec3>>> sample_frames(Session& session, const FrameOptions& frames,
                                                     const Garment& garment) {
  constexpr std::size_t kMost = 24;
  Result<FrameSource> source = FrameSource::open(frames, garment);
  if (!source) return source.error();
  std::vector<std::vector<Vec3>> samples;
  const std::size_t count = source->frames().size(), wanted = std::min(count, kMost);
  for (std::size_t k = 0; k < wanted; ++k) {
    session.progress("reading frames", k, wanted);
    const Result<std::span<const Vec3>> cloth = source->cloth(k * count / wanted, session.executor(), session.report());
    if (!cloth) return cloth.error();
    const double size = source->size_of(*cloth);
    if (size < 5 && size > 0.2) {
      samples.emplace_back(cloth->begin(), cloth->end());
      continue;
    }
    add(session.report(),
        {Severity::Warning, "frame-unit",
         "it shows no bend and is left out: the edges of its cloth are " + fixed(size, 3) +
             " times as long as at rest; is it in another unit, or do its vertices come in another order?",
         "frame " + std::to_string(source->frames()[k * count / wanted].number), 0, 1});
  }
  return samples;
}

/// What is asked for, by options and by the author's edits.
PipelineOptions binding_options(const Session& session, const BindCommandOptions& options, const Input& input) {
  PipelineOptions pipeline = pipeline_options(options.common, options.selectors, session.executor());
  if (input.edited) {
    pipeline.identify.edited = &*input.edited;
    // The same components again, also where trims were cut off the cloth.
    pipeline.identify.weld_groups = input.edited->component_of_vertex;
    if (!pipeline.identify.unit) pipeline.identify.unit = input.edited->unit;
    if (!pipeline.identify.up) pipeline.identify.up = input.edited->up;
  }
  pipeline.pieces = options.pieces;
  pipeline.bind.frame = options.frame == "triangle"
                            ? FrameChoice::Triangle
                            : (options.frame == "patch" ? FrameChoice::Patch : FrameChoice::Auto);
  pipeline.bind.bend_radius_mm = options.bend_mm;
  pipeline.bind.noise_mm = options.noise_mm;
  pipeline.bind.layer = options.layers;
  return pipeline;
}

void say_bindings(const Session& session, const BindTable& table) {
  std::array<std::uint64_t, 3> orders{};
  double worst = 0;
  for (const Binding& binding : table.bindings) {
    ++orders[static_cast<std::size_t>(std::clamp(binding.order, 0, 2))];
    worst = std::max(worst, binding.error_deg);
  }
  session.say(plural(table.bindings.size(), "binding", "bindings") + ": " + std::to_string(orders[2]) +
              " on quadratic patches, " + std::to_string(orders[1]) + " on affine patches, " +
              std::to_string(orders[0]) + " on a single triangle; largest predicted tilt error " + fixed(worst, 2) +
              " degrees");
}

template <class... Lists>
void free_lists(Lists&... lists) {
  (Lists().swap(lists), ...);
}

/// Binds. With `last_use` the garment's mesh, maps and lists are given back step by step, so that the solver has the
/// room: only what the summary says is left of them.
Result<BindTable> bind_table(Session& session, Garment& garment, bool last_use, const PipelineOptions& options) {
  SourceMesh& mesh = garment.combined;
  if (last_use) {
    free_lists(mesh.normals, mesh.corner_normal, mesh.texcoords, mesh.corner_texcoord);
    free_lists(garment.parts.component_of_vertex);
    for (SubsetMap* map : {&garment.maps.cloth, &garment.maps.trims, &garment.maps.stitching})
      free_lists(map->texcoords, map->normals);
    for (Component& component : garment.parts.components)
      free_lists(component.reasons, component.faces, component.vertices);
  }
  Result<BoundGarment> bound = begin_binding(garment, options, TrimLists::OfSolver);
  if (!bound) return bound.error();
  if (last_use) give_back_freed_memory();
  if (auto done = gather_for_binding(*bound, garment, options, TrimLists::OfSolver); !done) return done.error();
  if (last_use) {
    SourceMesh rest;
    rest.file = std::move(mesh.file);
    mesh = std::move(rest);
    garment.maps = {};
    free_lists(garment.parts.component_of_face);
    give_back_freed_memory();
  }
  if (auto done = bind_gathered(*bound, garment.parts, options, session.report()); !done) return done.error();
  return std::move(bound->table);
}

}  // namespace

int run(const BindCommandOptions& options) {
  Session session("bind", options.common);
  const std::array<NamedFile, 1> named{{{"--picture", options.picture}}};
  if (auto usable = check_named_files(named); !usable) return session.fail(usable.error());
  Result<FileSet> files = FileSet::open(options.output);
  if (!files) return session.fail(files.error());
  const bool numbers = options.verify || options.prototypes || options.selectors.cut;
  Result<Input> input = read_input(session, options.input, numbers ? Normals::Numbers : Normals::Text);
  if (!input) return session.fail(input.error());
  PipelineOptions pipeline = binding_options(session, options, *input);
  session.progress("finding the parts");
  Result<Garment> garment = take_apart(std::move(input->combined), pipeline, session.report());
  if (!garment) return session.fail(garment.error());
  give_back_freed_memory();
  if (options.verify) {
    if (auto verified = verify_split(session, *garment); !verified) return session.fail(verified.error());
  }
  std::vector<std::vector<Vec3>> samples;
  if (!options.bend_frames.frames.empty()) {
    Result<std::vector<std::vector<Vec3>>> read = sample_frames(session, options.bend_frames, *garment);
    if (!read) return session.fail(read.error());
    samples = std::move(*read);
    pipeline.bind.frames.assign(samples.begin(), samples.end());
  }
  Report of_files;  // told after the findings of the binding
  auto written = write_split(session, *files, *garment, {input->materials}, of_files);
  if (!written) return session.fail(written.error());
  files->flush_meanwhile();
  const Precision precision = position_precision(garment->combined);
  session.progress("binding");
  const bool mesh_is_needed = options.prototypes || !options.picture.empty();
  const Result<BindTable> table = bind_table(session, *garment, !mesh_is_needed, pipeline);
  if (!table) return session.fail(table.error());
  give_back_freed_memory();
  warn_of_precision(session, precision, *garment, &*table);
  if (table->bindings.empty()) {
    add(session.report(), {Severity::Warning, "nothing-bound",
                           "no trim was found, so nothing is bound; name trims with --trim, or change roles in "
                           "parts.json and bind the folder",
                           options.input, 0, 1});
  }
  for (Finding& finding : of_files.findings) add_separate(session.report(), std::move(finding));

  if (options.prototypes) written = write_prototypes(session, *files, *garment);
  if (written) written = write_tables(session, *files, *table);
  if (written) written = files->commit(session.executor());
  if (written) written = draw_parts(options.picture, *garment);
  if (!written) return session.fail(written.error());

  say_parts(session, garment->parts);
  say_bindings(session, *table);
  say_files(session, options.output, *files);
  if (!options.picture.empty()) session.say("wrote " + options.picture);
  JsonObject answer = parts_summary(garment->parts);
  answer.whole("bindings", table->bindings.size())
      .text("output", options.output)
      .flag("verified", options.verify)
      .raw("files", files_json(*files));
  return session.finish(answer);
}

}  // namespace trimtack::cli
