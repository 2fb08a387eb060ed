// SPDX-License-Identifier: MIT
#include "cli/frame_source.hpp"

#include <algorithm>

namespace trimtack::cli {

Result<FrameSource> FrameSource::open(const FrameOptions& options, const SplitMaps& maps,
                                      std::size_t combined_vertices) {
  Result<std::vector<FrameRef>> frames = list_frames(options.frames);
  if (!frames) return frames.error();
  FrameSource source;
  source.maps_ = &maps;
  source.combined_vertices_ = combined_vertices;
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

Result<std::span<const Vec3>> FrameSource::cloth(std::size_t i, const Executor& executor) {
  const FrameRef& frame = frames_[i];
  Result<std::span<const Vec3>> read = reader_.read(frame, nullptr, executor);
  if (!read) return read.error();
  all_ = *read;
  const std::vector<Index>& map = maps_->cloth.positions;
  if (all_.size() == map.size()) return all_;
  if (all_.size() != combined_vertices_) {
    return Error{ErrorCode::BadInput,
                 "frame " + std::to_string(frame.number) + " has " + std::to_string(all_.size()) +
                     " vertices; the cloth has " + std::to_string(map.size()) + " and the combined export " +
                     std::to_string(combined_vertices_) + "; export it with the same topology",
                 frame.path.string(), 0};
  }
  cloth_.resize(map.size());
  std::transform(map.begin(), map.end(), cloth_.begin(), [&](Index v) { return all_[v]; });
  return std::span<const Vec3>(cloth_);
}

}  // namespace trimtack::cli
