// SPDX-License-Identifier: MIT
/// Frames of a garment: cloth-only or combined meshes, whichever the files hold.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "cli/commands.hpp"
#include "trimtack/io/frames.hpp"
#include "trimtack/pipeline.hpp"

namespace trimtack::cli {

class FrameSource {
 public:
  /// Lists the frames and keeps those whose numbers are wanted. `garment` must outlive the source, and hold its
  /// combined mesh unless no frame may have faces.
  /// @error BadInput as list_frames; Usage when no frame has a wanted number.
  static Result<FrameSource> open(const FrameOptions& options, const Garment& garment);
  const std::vector<FrameRef>& frames() const { return frames_; }
  /// The cloth of frame i in cloth.obj's order; valid until the next call.
  /// The first frame with faces is compared with the garment's ("frame-faces" when they differ). A glTF's frames are
  /// brought from metres to the garment's unit where their size says that this is what parts them ("frame-metres").
  /// @error BadInput when the frame has neither the cloth's nor the combined export's number of vertices.
  Result<std::span<const Vec3>> cloth(std::size_t i, const Executor& executor, Report& report);
  /// After cloth(i): all positions of the frame's file; of a combined one, doubled vertices as well.
  std::span<const Vec3> all() const { return all_; }
  /// Length of the edges of a cloth over that at rest; far from 1 in another unit or another order of vertices.
  double size_of(std::span<const Vec3> cloth) const;
  bool all_usable() const { return reader_.all_usable(); }  ///< of frame i, as FrameReader says
  bool is_combined() const { return all_.size() == garment_->parts.source_vertices; }

 private:
  void double_vertices();
  void compare_faces(const SourceMesh& faces, const FrameRef& frame, Report& report) const;
  bool same_faces(const SourceMesh& faces) const;
  bool cloth_triangles_fit(const SourceMesh& faces) const;
  std::span<const Vec3> pick_cloth(const Executor& executor);
  void settle_scale(const FrameRef& frame, std::span<const Vec3> cloth, Report& report);
  void scale_frame(const Executor& executor);

  std::vector<FrameRef> frames_;
  FrameReader reader_;
  const Garment* garment_ = nullptr;
  bool compared_ = false;
  bool cloth_in_one_ = false;  ///< the cloth's vertices follow each other in the combined export
  std::string scaled_file_;    ///< whose `scale_` was settled
  double scale_ = 1;           ///< from the frame's unit to the garment's
  std::span<const Vec3> all_;
  std::vector<Vec3> scaled_, cloth_, doubled_;
};

}  // namespace trimtack::cli
