// SPDX-License-Identifier: MIT
/// Frames of a garment: cloth-only or combined meshes, whichever the files hold.
#pragma once

#include <span>
#include <vector>

#include "cli/commands.hpp"
#include "trimtack/io/frames.hpp"
#include "trimtack/pipeline.hpp"

namespace trimtack::cli {

class FrameSource {
 public:
  /// Lists the frames and keeps those whose numbers are wanted. `garment` must outlive the source, and hold its
  /// combined mesh unless all frames lie in arrays.
  /// @error BadInput as list_frames; Usage when no frame has a wanted number.
  static Result<FrameSource> open(const FrameOptions& options, const Garment& garment);
  const std::vector<FrameRef>& frames() const { return frames_; }
  /// The cloth of frame i in cloth.obj's order; valid until the next call.
  /// The first frame with faces is compared with the garment's ("frame-faces" when they differ).
  /// @error BadInput when the frame has neither the cloth's nor the combined export's number of vertices.
  Result<std::span<const Vec3>> cloth(std::size_t i, const Executor& executor, Report& report);
  /// After cloth(i): all positions as the frame's file holds them; of a combined one, doubled vertices as well.
  std::span<const Vec3> all() const { return all_; }
  bool all_usable() const { return reader_.all_usable(); }  ///< of frame i, as FrameReader says
  bool is_combined() const { return all_.size() == garment_->parts.source_vertices; }

 private:
  void double_vertices();
  void compare_faces(const SourceMesh& faces, const FrameRef& frame, Report& report) const;

  std::vector<FrameRef> frames_;
  FrameReader reader_;
  const Garment* garment_ = nullptr;
  bool compared_ = false;
  bool cloth_in_one_ = false;  ///< the cloth's vertices follow each other in the combined export
  std::span<const Vec3> all_;
  std::vector<Vec3> cloth_, doubled_;
};

}  // namespace trimtack::cli
