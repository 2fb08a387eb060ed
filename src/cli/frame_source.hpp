// SPDX-License-Identifier: MIT
/// Frames of a garment: cloth-only or combined meshes, whichever the files hold.
#pragma once

#include <span>
#include <vector>

#include "cli/commands.hpp"
#include "trimtack/io/frames.hpp"
#include "trimtack/split_maps.hpp"

namespace trimtack::cli {

class FrameSource {
 public:
  /// Lists the frames and keeps those whose numbers are wanted. `maps` must outlive the source.
  /// @error BadInput as list_frames; Usage when no frame has a wanted number.
  static Result<FrameSource> open(const FrameOptions& options, const SplitMaps& maps, std::size_t combined_vertices);
  const std::vector<FrameRef>& frames() const { return frames_; }
  /// The cloth of frame i in cloth.obj's order; valid until the next call.
  /// @error BadInput when the frame has neither the cloth's nor the combined export's number of vertices.
  Result<std::span<const Vec3>> cloth(std::size_t i, const Executor& executor);
  /// After cloth(i): all positions as the frame's file holds them.
  std::span<const Vec3> all() const { return all_; }
  bool is_combined() const { return all_.size() == combined_vertices_; }

 private:
  std::vector<FrameRef> frames_;
  FrameReader reader_;
  const SplitMaps* maps_ = nullptr;
  std::size_t combined_vertices_ = 0;
  std::span<const Vec3> all_;
  std::vector<Vec3> cloth_;
};

}  // namespace trimtack::cli
