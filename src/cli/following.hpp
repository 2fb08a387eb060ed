// SPDX-License-Identifier: MIT
/// A bound folder followed frame by frame: what follow, check and export share.
#pragma once

#include <memory>
#include <span>
#include <vector>

#include "cli/folder.hpp"
#include "cli/frame_source.hpp"
#include "trimtack/fit.hpp"
#include "trimtack/follow.hpp"
#include "trimtack/seat.hpp"
#include "trimtack/table.hpp"

namespace trimtack::cli {

/// A pose that is not the chosen patch's own, to be looked at.
struct DoubtfulPose {
  std::uint64_t frame = 0;
  Index binding = 0;
  PoseQuality quality = PoseQuality::Chosen;
};

/// A trim that seating would have had to move further than it moves any.
struct Unseated {
  std::uint64_t frame = 0;
  Index binding = 0;
  float left_mm = 0;  ///< what is missing
};

/// What a folder is followed for.
enum class FollowFor : std::uint8_t {
  Meshes,
  Poses  ///< of frames without faces; the folder's meshes, trims(), cloth() and the fit model are not there
};

class Following {
 public:
  /// Reads the folder and its table. @error BadInput when they do not belong together.
  static Result<Following> open(Session& session, const std::string& path, FollowFor what = FollowFor::Meshes);
  /// Lists the frames. Without this, only rest() works.
  Result<void> open_frames(const FrameOptions& options);
  /// Prepares measures of fit (and seating).
  void prepare_fit_model(const FitLimits& limits);
  void seat_poses(double tilt_deg);

  /// Cloth and poses of frame i; the spans are valid until the next call. `look` notes doubtful poses, trims that could
  /// not be seated and odd frames.
  struct Frame {
    std::uint64_t number = 0;
    std::span<const Vec3> cloth;
    std::span<const Pose> poses;
    std::span<const PoseQuality> quality;
    std::span<const Vec3> all;  ///< the frame's own positions when it is a combined mesh, else empty
    bool mirrored = false;      ///< looked at, and a mirror image of the rest cloth
  };
  Result<Frame> frame(std::size_t i, bool look = true);

  const ReadFolder& folder() const { return *folder_; }
  const BindTable& table() const { return folder_->table; }
  const TrimShapes& trims() const { return *trims_; }
  const ClothMesh& cloth() const { return *cloth_; }
  const std::vector<FrameRef>& frames() const { return source_->frames(); }
  const FitModel& model() const { return *model_; }
  const FitOptions& fit_options() const { return fit_options_; }
  const std::vector<DoubtfulPose>& doubtful() const { return doubtful_; }
  std::string doubtful_json() const;
  std::string unseated_json() const;
  const Binding& binding(Index i) const { return table().bindings[i]; }

 private:
  explicit Following(Session& session) : session_(&session) {}
  Result<void> gather(const std::string& path);
  void look_at(const FrameState& state, Frame& frame);
  void look_at_seats(std::uint64_t frame);

  Session* session_;
  std::unique_ptr<ReadFolder> folder_;
  std::unique_ptr<TrimShapes> trims_;
  std::unique_ptr<ClothMesh> cloth_;
  std::unique_ptr<ClothIndex> index_;
  std::unique_ptr<FrameSource> source_;
  std::unique_ptr<FitModel> model_;
  FitOptions fit_options_;
  std::optional<SeatOptions> seat_;
  std::vector<Pose> poses_;
  std::vector<PoseQuality> quality_;
  std::vector<DoubtfulPose> doubtful_;
  std::vector<Seating> seating_;
  std::vector<Unseated> unseated_;
};

}  // namespace trimtack::cli
