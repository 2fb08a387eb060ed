// SPDX-License-Identifier: MIT
#include <algorithm>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "cli/baking.hpp"
#include "cli/following.hpp"
#include "cli/summary.hpp"
#include "trimtack/io/npy.hpp"
#include "trimtack/io/poses.hpp"

namespace trimtack::cli {
namespace {

BakeForm bake_form(const std::string& text) {
  if (text == "obj") return BakeForm::Obj;
  if (text == "ply") return BakeForm::Ply;
  return text == "npy" ? BakeForm::Npy : BakeForm::None;
}

/// Meshes are there to be posed or seated, or to compare the faces of frames with.
FollowFor what_for(const FollowOptions& options) {
  const bool arrays = std::none_of(options.frames.frames.begin(), options.frames.frames.end(), may_have_faces);
  const bool baked = bake_form(options.bake) != BakeForm::None || bake_form(options.whole) != BakeForm::None;
  return options.seat || baked || !arrays ? FollowFor::Meshes : FollowFor::Poses;
}

/// poses.csv and poses.npy, frame by frame. Each frame stands for itself (quaternions have w >= 0), so that any range
/// of frames gives the same rows as the whole run.
class PoseFiles {
 public:
  PoseFiles(FileSet& files, const Following& following, const FollowOptions& options, const Executor& executor)
      : files_(files),
        following_(following),
        executor_(executor),
        csv_(options.poses != "npy"),
        npy_(options.poses != "csv") {}

  Result<void> begin() {
    const std::uint64_t shape[] = {following_.frames().size(), following_.table().bindings.size(), 3, 4};
    Result<void> done;
    if (csv_) done = files_.append("poses.csv", poses_csv_header());
    if (npy_ && done) done = files_.append("poses.npy", npy_header(shape, true));
    return done;
  }

  /// Puts this frame into text, in pieces, while the frame before is written.
  Result<void> add(const Following::Frame& frame) {
    words_.clear();
    for (const PoseQuality quality : frame.quality) {
      words_.push_back(quality == PoseQuality::Chosen && frame.mirrored ? "mirrored" : to_text(quality));
    }
    const std::size_t trims = frame.poses.size();
    next_.resize((trims + kTrimsPerPiece - 1) / kTrimsPerPiece);
    Result<void> written;
    for_ranges(executor_, next_.size() + 1, 1, [&](std::size_t task, std::size_t) {
      if (task == 0) {
        written = write_ready();
        return;
      }
      const std::size_t first = (task - 1) * kTrimsPerPiece, count = std::min(kTrimsPerPiece, trims - first);
      Piece& piece = next_[task - 1];
      piece.rows.clear();
      if (csv_) {
        append_poses_csv(piece.rows, frame.number, std::span(following_.table().bindings).subspan(first, count),
                         frame.poses.subspan(first, count), std::span(words_).subspan(first, count));
      }
      piece.matrices.clear();
      if (npy_) append_poses_npy(piece.matrices, frame.poses.subspan(first, count));
    });
    std::swap(ready_, next_);
    waiting_ = true;
    return written;
  }

  /// Writes the last frame.
  Result<void> finish() { return write_ready(); }

 private:
  static constexpr std::size_t kTrimsPerPiece = 256;
  struct Piece {
    std::string rows, matrices;
  };

  Result<void> write_ready() {
    Result<void> done;
    if (!waiting_) return done;
    for (const Piece& piece : ready_) {
      if (csv_ && done) done = files_.append("poses.csv", piece.rows);
      if (npy_ && done) done = files_.append("poses.npy", piece.matrices);
    }
    waiting_ = false;
    return done;
  }

  FileSet& files_;
  const Following& following_;
  Executor executor_;
  bool csv_, npy_;
  std::vector<Piece> next_, ready_;
  bool waiting_ = false;  ///< ready_ is not written yet
  std::vector<const char*> words_;
};

}  // namespace

int run(const FollowOptions& options) {
  Session session("follow", options.common);
  Result<FileSet> files = FileSet::open(options.output);
  if (!files) return session.fail(files.error());
  Result<Following> following = Following::open(session, options.input, what_for(options));
  if (!following) return session.fail(following.error());
  if (auto opened = following->open_frames(options.frames); !opened) return session.fail(opened.error());
  if (options.seat) {
    following->prepare_fit_model(FitLimits());
    following->seat_poses(options.seat_tilt_deg);
  }
  for (const char* stale : {"poses.csv", "poses.npy", "baked/", "whole/"}) files->retire(stale);
  PoseFiles poses(*files, *following, options, session.executor());
  std::optional<Baking> baking;
  BakeRequest request;
  request.trims = bake_form(options.bake);
  request.whole = bake_form(options.whole);
  if (request.trims != BakeForm::None || request.whole != BakeForm::None)
    baking.emplace(session, *following, *files, request);
  auto written = poses.begin();
  for (std::size_t i = 0; written && i < following->frames().size(); ++i) {
    const Result<Following::Frame> frame = following->frame(i);
    if (!frame) return session.fail(frame.error());
    written = poses.add(*frame);
    if (written && baking) written = baking->add(*frame);
  }
  if (written) written = poses.finish();
  if (written) written = files->commit(session.executor());
  if (!written) return session.fail(written.error());

  const std::size_t trims = following->table().bindings.size(), frames = following->frames().size();
  session.say(plural(trims, "trim", "trims") + " followed over " + plural(frames, "frame", "frames"));
  say_files(session, options.output, *files);
  JsonObject answer;
  answer.text("folder", options.input)
      .text("output", options.output)
      .whole("trims", trims)
      .whole("frames", frames)
      .raw("doubtful_poses", following->doubtful_json())
      .raw("unseated", following->unseated_json())
      .raw("files", files_json(*files));
  return session.finish(answer);
}

}  // namespace trimtack::cli
