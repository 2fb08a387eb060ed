// SPDX-License-Identifier: MIT
#include "cli/frame_source.hpp"

#include <algorithm>

namespace trimtack::cli {

Result<FrameSource> FrameSource::open(const FrameOptions& options, const Garment& garment) {
  Result<std::vector<FrameRef>> frames = list_frames(options.frames, options.frames_per_second);
  if (!frames) return frames.error();
  FrameSource source;
  source.garment_ = &garment;
  const std::vector<Index>& map = garment.maps.cloth.positions;
  source.cloth_in_one_ =
      std::adjacent_find(map.begin(), map.end(), [](Index a, Index b) { return b != a + 1; }) == map.end();
  const std::uint64_t first = options.first.value_or(0), last = options.last.value_or(UINT64_MAX);
  for (FrameRef& frame : *frames) {
    if (frame.number >= first && frame.number <= last) source.frames_.push_back(std::move(frame));
  }
  if (source.frames_.empty()) {
    return Error{ErrorCode::Usage,
                 "no frame has a number from " + std::to_string(first) + " to " + std::to_string(last) +
                     "; the first is " + std::to_string(frames->front().number) + ", the last " +
                     std::to_string(frames->back().number),
                 "--frames", 0};
  }
  return source;
}

/// A combined frame has the vertices of its file: those that were doubled where trims were cut off are added.
void FrameSource::double_vertices() {
  const std::vector<Index>& doubled = garment_->parts.doubled_vertices;
  if (doubled.empty() || all_.size() + doubled.size() != garment_->parts.source_vertices) return;
  if (all_.size() == garment_->maps.cloth.positions.size()) return;
  doubled_.assign(all_.begin(), all_.end());
  for (const Index v : doubled) doubled_.push_back(all_[v]);
  all_ = doubled_;
}

/// Other faces usually mean another order of vertices, which no count can tell.
void FrameSource::compare_faces(const SourceMesh& faces, const FrameRef& frame, Report& report) const {
  const SourceMesh& combined = garment_->combined;
  const SubsetMap& map = garment_->maps.cloth;
  if (faces.face_count() == 0) return;
  bool same = true;
  if (is_combined()) {
    // Where trims were cut off, their corners are doubles of those of the file.
    const std::vector<Index>& doubled = garment_->parts.doubled_vertices;
    const std::size_t own = combined.positions.size() - doubled.size();
    const auto same_corner = [&](Index a, Index b) { return a == b || (b >= own && a == doubled[b - own]); };
    same = faces.face_offsets == combined.face_offsets &&
           std::equal(faces.corner_position.begin(), faces.corner_position.end(), combined.corner_position.begin(),
                      combined.corner_position.end(), same_corner);
  } else {
    same = faces.face_count() == map.faces.size();
    for (Index f = 0; same && f < faces.face_count(); ++f) {
      const std::span<const Index> face = faces.face(f), rest = combined.face(map.faces[f]);
      same = std::equal(face.begin(), face.end(), rest.begin(), rest.end(),
                        [&](Index a, Index b) { return a < map.positions.size() && map.positions[a] == b; });
    }
  }
  if (same) return;
  add(report, {Severity::Warning, "frame-faces",
               "its faces are not those of the garment at rest; if its vertices come in another order, the results are "
               "wrong: export frames with the same topology and order",
               frame.path.string(), 0, 1});
}

Result<std::span<const Vec3>> FrameSource::cloth(std::size_t i, const Executor& executor, Report& report) {
  const FrameRef& frame = frames_[i];
  const bool compare = !compared_ && !frame.in_array;
  SourceMesh faces;
  Result<std::span<const Vec3>> read = reader_.read(frame, compare ? &faces : nullptr, executor);
  if (!read) return read.error();
  all_ = *read;
  double_vertices();
  const std::vector<Index>& map = garment_->maps.cloth.positions;
  if (all_.size() != map.size() && !is_combined()) {
    return Error{ErrorCode::BadInput,
                 "frame " + std::to_string(frame.number) + " has " + std::to_string(all_.size()) +
                     " vertices; the cloth has " + std::to_string(map.size()) + " and the combined export " +
                     std::to_string(garment_->parts.source_vertices - garment_->parts.doubled_vertices.size()) +
                     "; export it with the same topology",
                 frame.path.string(), 0};
  }
  if (compare) compare_faces(faces, frame, report);
  compared_ = compared_ || compare;
  if (all_.size() == map.size()) return all_;
  if (cloth_in_one_) return map.empty() ? std::span<const Vec3>{} : all_.subspan(map.front(), map.size());
  cloth_.resize(map.size());
  constexpr std::size_t kPerRange = 16384;
  for_ranges(executor, map.size(), kPerRange, [&](std::size_t begin, std::size_t end) {
    for (std::size_t k = begin; k < end; ++k) cloth_[k] = all_[map[k]];
  });
  return std::span<const Vec3>(cloth_);
}

}  // namespace trimtack::cli
