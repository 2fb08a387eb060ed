// SPDX-License-Identifier: MIT
#include <algorithm>
#include <filesystem>
#include <utility>

#include "cli/summary.hpp"
#include "trimtack/follow.hpp"
#include "trimtack/io/gltf.hpp"
#include "trimtack/version.h"

namespace trimtack::cli {
namespace {

/// Poses of a bound garment's trims at any frame of the file it came from.
class ClipFollower {
 public:
  ClipFollower(Session& session, const GltfGarment& source, const Garment& garment, std::vector<std::byte> table)
      : session_(session), source_(source), garment_(garment), table_(std::move(table)) {}

  Result<std::span<const Vec3>> cloth(Index clip, std::size_t i) {
    all_.resize(source_.mesh().positions.size());
    if (auto done = source_.pose(clip, i, all_, session_.executor()); !done) return done.error();
    const std::vector<Index>& positions = garment_.maps.cloth.positions;
    cloth_.resize(positions.size());
    for (std::size_t v = 0; v < positions.size(); ++v) cloth_[v] = all_[positions[v]];
    return std::span<const Vec3>(cloth_);
  }

  Result<void> poses(Index clip, std::size_t i, std::span<Pose> out) {
    if (clip != kNone)
      session_.progress("following " + source_.clips()[clip].name, i, source_.clips()[clip].seconds.size());
    const Result<std::span<const Vec3>> moved = cloth(clip, i);
    if (!moved) return moved.error();
    quality_.resize(out.size());
    if (auto done = follow(table_, *moved, out, quality_, session_.executor()); !done) return done;
    const auto doubtful = std::count_if(quality_.begin(), quality_.end(),
                                        [](PoseQuality quality) { return quality != PoseQuality::Chosen; });
    if (doubtful != 0) {
      add(session_.report(), {Severity::Warning, "follow-doubtful",
                              "cloth collapses under trims in some frames; their poses come from a fallback",
                              source_.mesh().file, 0, static_cast<std::uint64_t>(doubtful)});
    }
    return {};
  }

 private:
  Session& session_;
  const GltfGarment& source_;
  const Garment& garment_;
  std::vector<std::byte> table_;
  std::vector<Vec3> all_, cloth_;
  std::vector<PoseQuality> quality_;
};

/// Frames that show the solver what the garment does, evenly chosen from all clips.
Result<std::vector<std::vector<Vec3>>> sample_clips(const GltfGarment& source, ClipFollower& follower) {
  constexpr std::size_t kMost = 24;
  std::vector<std::pair<Index, std::size_t>> frames;
  for (std::size_t clip = 0; clip < source.clips().size(); ++clip) {
    for (std::size_t i = 0; i < source.clips()[clip].seconds.size(); ++i)
      frames.emplace_back(static_cast<Index>(clip), i);
  }
  std::vector<std::vector<Vec3>> samples;
  const std::size_t wanted = std::min(frames.size(), kMost);
  for (std::size_t k = 0; k < wanted; ++k) {
    const auto [clip, i] = frames[k * frames.size() / wanted];
    const Result<std::span<const Vec3>> cloth = follower.cloth(clip, i);
    if (!cloth) return cloth.error();
    samples.emplace_back(cloth->begin(), cloth->end());
  }
  return samples;
}

RigidGlbTrim describe(const Garment& garment, const Binding& binding) {
  RigidGlbTrim trim;
  trim.trim = binding.trim;
  trim.name = binding.name;
  for (const Index component : garment.parts.trims[binding.trim].components) {
    for (const IndexRange& range : garment.parts.components[component].faces) {
      for (Index face = range.first; face < range.end; ++face) trim.faces.push_back(face);
    }
  }
  for (std::size_t a = 0; a < 3; ++a) trim.anchor[a] = garment.maps.cloth.positions[binding.anchor_triangle[a]];
  trim.weights = binding.anchor_weights;
  return trim;
}

}  // namespace

int run(const RigidOptions& options) {
  Session session("rigid", options.common);
  Result<FileSet> files = FileSet::open(options.output);
  if (!files) return session.fail(files.error());
  session.progress("reading " + options.input);
  GltfReadOptions reading;
  reading.frames_per_second = options.frames_per_second;
  reading.max_memory_bytes = memory_limit(options.common);
  const Result<GltfGarment> source = GltfGarment::open(options.input, reading, session.report());
  if (!source) return session.fail(source.error());
  PipelineOptions pipeline = pipeline_options(options.common, options.selectors, session.executor());
  if (!pipeline.identify.unit) pipeline.identify.unit = Unit{1000, "m", 1, {"glTF files are in metres"}};
  if (!pipeline.identify.up) pipeline.identify.up = UpAxis::Y;

  session.progress("finding the parts");
  const Result<Garment> garment = take_apart(source->mesh(), pipeline, session.report());
  if (!garment) return session.fail(garment.error());
  ClipFollower sampler(session, *source, *garment, {});
  const Result<std::vector<std::vector<Vec3>>> samples = sample_clips(*source, sampler);
  if (!samples) return session.fail(samples.error());
  pipeline.bind.frames.assign(samples->begin(), samples->end());
  session.progress("binding");
  const Result<BoundGarment> bound = bind_garment(*garment, pipeline, session.report());
  if (!bound) return session.fail(bound.error());
  Result<std::vector<std::byte>> table = encode(bound->table, TT_TABLE_FORMAT_LATEST);
  if (!table) return session.fail(table.error());

  ClipFollower follower(session, *source, *garment, std::move(*table));
  RigidGlbRequest request;
  request.as = options.as == "weights" ? RigidAs::Weights : RigidAs::Nodes;
  for (const Binding& binding : bound->table.bindings) request.trims.push_back(describe(*garment, binding));
  request.poses = [&](Index clip, std::size_t i, std::span<Pose> poses) { return follower.poses(clip, i, poses); };
  const std::string name = std::filesystem::path(options.input).stem().string() + ".glb";
  auto written = write_rigid_glb(*files, name, *source, request, session.report());
  if (written) written = files->commit(session.executor());
  if (!written) return session.fail(written.error());

  say_parts(session, garment->parts);
  say_files(session, options.output, *files);
  std::size_t frames = 0;
  for (const GltfGarment::Clip& clip : source->clips()) frames += clip.seconds.size();
  JsonObject answer = parts_summary(garment->parts);
  answer.text("as", options.as)
      .whole("clips", source->clips().size())
      .whole("frames", frames)
      .whole("bindings", bound->table.bindings.size())
      .text("output", options.output)
      .raw("files", files_json(*files));
  return session.finish(answer);
}

}  // namespace trimtack::cli
