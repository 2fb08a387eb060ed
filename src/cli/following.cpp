// SPDX-License-Identifier: MIT
#include "cli/following.hpp"

#include <algorithm>

#include "cli/limits.hpp"
#include "trimtack/footprint.hpp"

namespace trimtack::cli {
namespace {

constexpr std::size_t kMostDoubtful = 10'000;  ///< listed by --json, as many unseated ones; all are counted

}  // namespace

Result<Following> Following::open(Session& session, const std::string& path, FollowFor what) {
  Following following(session);
  Result<ReadFolder> folder =
      read_folder(session, path, what == FollowFor::Poses ? FolderUse::Poses : FolderUse::Bound);
  if (!folder) return folder.error();
  following.folder_ = std::make_unique<ReadFolder>(std::move(*folder));
  following.poses_.resize(following.table().bindings.size());
  following.quality_.resize(following.table().bindings.size());
  if (following.folder_->has_meshes) {
    if (auto gathered = following.gather(path); !gathered) return gathered.error();
  }
  return following;
}

Result<void> Following::gather(const std::string& path) {
  const Garment& garment = folder_->garment;
  TrimShapes all_trims;
  for_ranges(session_->executor(), 2, 1, [&](std::size_t task, std::size_t) {
    if (task == 0)
      cloth_ = std::make_unique<ClothMesh>(gather_cloth(garment.combined, garment.parts, garment.maps));
    else
      all_trims = gather_trims(garment.combined, garment.parts, garment.maps, session_->executor());
  });
  if (cloth_fingerprint(static_cast<Index>(cloth_->positions.size()), cloth_->face_offsets, cloth_->face_corners) !=
      table().fingerprint) {
    return Error{ErrorCode::BadInput,
                 "the table was made for another cloth than cloth.obj; bind the folder again: trimtack bind " + path +
                     " -o " + path,
                 path + "/bindings.ttb", 0};
  }
  std::vector<Index> ids;
  for (const Binding& binding : table().bindings) ids.push_back(binding.trim);
  Result<TrimShapes> trims = select_trims(all_trims, ids);
  if (!trims) {
    Error error = trims.error();
    error.message += "; bind the folder again: trimtack bind " + path + " -o " + path;
    error.subject = path + "/bindings.ttb";
    return error;
  }
  trims_ = std::make_unique<TrimShapes>(std::move(*trims));
  return {};
}

Result<void> Following::open_frames(const FrameOptions& options) {
  Result<FrameSource> source = FrameSource::open(options, folder_->garment);
  if (!source) return source.error();
  source_ = std::make_unique<FrameSource>(std::move(*source));
  return {};
}

void Following::prepare_fit_model(const FitLimits& limits) {
  session_->progress("finding footprints");
  index_ = std::make_unique<ClothIndex>(*cloth_, session_->executor());
  fit_options_.limits = limits;
  fit_options_.executor = session_->executor();
  const Footprints feet = find_footprints(*index_, *trims_, table(), session_->executor());
  model_ = std::make_unique<FitModel>(
      prepare_fit(*cloth_, *trims_, table(), feet, folder_->garment.parts.rows, fit_options_));
}

void Following::seat_poses(double tilt_deg) {
  seat_ = SeatOptions{};
  seat_->max_tilt_deg = tilt_deg;
  seat_->executor = session_->executor();
}

void Following::look_at(const FrameState& state, Frame& frame) {
  const std::string where = "frame " + std::to_string(frame.number);
  frame.mirrored = state.mirrored == Mirrored::Yes;
  if (frame.mirrored) {
    add(session_->report(),
        {Severity::Warning, "frame-mirrored",
         "the cloth is a mirror image of the rest cloth; trims are turned, never mirrored", where, 0, 1});
  }
  if (state.unusable_vertices != 0) {
    add(session_->report(), {Severity::Problem, "frame-not-finite",
                             plural(state.unusable_vertices, "vertex is", "vertices are") +
                                 " not a finite number; trims near them use their fallback",
                             where, 0, 1});
  }
  if (state.scale > 5 || state.scale < 0.2) {
    add(session_->report(),
        {Severity::Warning, "frame-unit",
         "the cloth is " + fixed(state.scale, 3) + " times as large as at rest; is it in another unit?", where, 0, 1});
  }
  const auto torn = std::count_if(frame.quality.begin(), frame.quality.end(),
                                  [](PoseQuality quality) { return quality != PoseQuality::Chosen; });
  if (2 * static_cast<std::size_t>(torn) > frame.quality.size() && state.scale > 0.2 && state.scale < 5) {
    add(session_->report(), {Severity::Warning, "frame-order",
                             "the cloth under most trims is torn or crushed; do its vertices come in the garment's "
                             "order?",
                             where, 0, 1});
  }
  for (Index i = 0; i < frame.quality.size(); ++i) {
    if (frame.quality[i] == PoseQuality::Chosen) continue;
    if (doubtful_.size() < kMostDoubtful) doubtful_.push_back({frame.number, i, frame.quality[i]});
    const bool lost = frame.quality[i] == PoseQuality::Lost;
    const char* const code =
        lost ? "pose-lost" : (frame.quality[i] == PoseQuality::Fallback ? "pose-fallback" : "pose-stretched");
    const char* const what = lost ? "no patch of its cloth gives a pose; look at the cloth under it"
                                  : (frame.quality[i] == PoseQuality::Fallback
                                         ? "the chosen patch is collapsed, torn or turned over; the larger one was used"
                                         : "the cloth under it is stretched or crushed beyond what cloth does");
    add(session_->report(),
        {lost ? Severity::Problem : Severity::Warning, code, what, table().bindings[i].name + ", " + where, 0, 1});
  }
}

void Following::look_at_seats(std::uint64_t frame) {
  for (Index i = 0; i < seating_.size(); ++i) {
    const float left = seating_[i].left;
    if (!(left > 0)) continue;
    if (unseated_.size() < kMostDoubtful) unseated_.push_back({frame, i, left});
    add(session_->report(),
        {Severity::Warning, "seat-limit",
         "to be seated it would have to move by " + fixed(seat_->max_shift_mm + left, 1) + " mm; it was moved by " +
             fixed(seat_->max_shift_mm, 0) + " mm, the most that seating does; look at the cloth under it",
         binding(i).name + ", frame " + std::to_string(frame), 0, 1});
  }
}

Result<Following::Frame> Following::frame(std::size_t i, bool look) {
  const FrameRef& ref = source_->frames()[i];
  session_->progress("frame", i + 1, source_->frames().size());
  if (i == 1) stop_large_pages();  // the first frame has taken all that is needed
  const Result<std::span<const Vec3>> cloth = source_->cloth(i, session_->executor(), session_->report());
  if (!cloth) return cloth.error();
  Result<void> followed;
  Result<FrameState> state = FrameState{};
  for_ranges(session_->executor(), look ? 2 : 1, 1, [&](std::size_t task, std::size_t) {
    if (task == 0) followed = follow(folder_->view, *cloth, poses_, quality_, session_->executor());
    if (task == 1) state = check_frame(folder_->view, *cloth, source_->all_usable());
  });
  if (!followed) {
    Error error = followed.error();
    error.subject = ref.path.string() + ", frame " + std::to_string(ref.number);
    return error;
  }
  Frame frame{ref.number, *cloth, poses_, quality_, source_->is_combined() ? source_->all() : std::span<const Vec3>{},
              false};
  if (!state) return state.error();
  if (look) look_at(*state, frame);
  if (seat_) {
    seating_.resize(poses_.size());
    seat(*model_, frame.cloth, *seat_, poses_, seating_);
    if (look) look_at_seats(frame.number);
  }
  return frame;
}

std::string Following::doubtful_json() const {
  std::vector<std::string> items;
  for (const DoubtfulPose& pose : doubtful_) {
    items.push_back(JsonObject()
                        .whole("frame", pose.frame)
                        .whole("trim", table().bindings[pose.binding].trim)
                        .text("name", table().bindings[pose.binding].name)
                        .text("quality", to_text(pose.quality))
                        .done());
  }
  return json_list(items);
}

std::string Following::unseated_json() const {
  std::vector<std::string> items;
  for (const Unseated& seat : unseated_) {
    items.push_back(JsonObject()
                        .whole("frame", seat.frame)
                        .whole("trim", binding(seat.binding).trim)
                        .text("name", binding(seat.binding).name)
                        .number("left_mm", seat.left_mm)
                        .done());
  }
  return json_list(items);
}

}  // namespace trimtack::cli
