// SPDX-License-Identifier: MIT
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

/// poses.csv and poses.npy, frame by frame. Each frame stands for itself (quaternions have w >= 0), so that any range
/// of frames gives the same rows as the whole run.
class PoseFiles {
 public:
  PoseFiles(FileSet& files, const Following& following) : files_(files), following_(following) {}

  Result<void> begin() {
    const std::uint64_t shape[] = {following_.frames().size(), following_.table().bindings.size(), 3, 4};
    auto done = files_.append("poses.csv", poses_csv_header());
    if (done) done = files_.append("poses.npy", npy_header(shape, true));
    return done;
  }

  Result<void> add(const Following::Frame& frame) {
    text_.clear();
    words_.clear();
    for (const PoseQuality quality : frame.quality) {
      words_.push_back(quality == PoseQuality::Chosen && frame.mirrored ? "mirrored" : to_text(quality));
    }
    append_poses_csv(text_, frame.number, following_.table(), frame.poses, words_);
    matrices_.clear();
    append_poses_npy(matrices_, frame.poses);
    auto done = files_.append("poses.csv", text_);
    if (done) done = files_.append("poses.npy", matrices_);
    return done;
  }

 private:
  FileSet& files_;
  const Following& following_;
  std::string text_, matrices_;
  std::vector<const char*> words_;
};

}  // namespace

int run(const FollowOptions& options) {
  Session session("follow", options.common);
  Result<FileSet> files = FileSet::open(options.output);
  if (!files) return session.fail(files.error());
  Result<Following> following = Following::open(session, options.input);
  if (!following) return session.fail(following.error());
  if (auto opened = following->open_frames(options.frames); !opened) return session.fail(opened.error());
  if (options.seat) {
    following->prepare_fit_model(FitLimits());
    following->seat_poses(options.seat_tilt_deg);
  }
  for (const char* stale : {"poses.csv", "poses.npy", "baked/", "whole/"}) files->retire(stale);
  PoseFiles poses(*files, *following);
  BakeRequest request;
  request.trims = bake_form(options.bake);
  request.whole = bake_form(options.whole);
  Baking baking(session, *following, *files, request);
  auto written = poses.begin();
  for (std::size_t i = 0; written && i < following->frames().size(); ++i) {
    const Result<Following::Frame> frame = following->frame(i);
    if (!frame) return session.fail(frame.error());
    written = poses.add(*frame);
    if (written) written = baking.add(*frame);
  }
  if (written) written = files->commit();
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
      .raw("files", files_json(*files));
  return session.finish(answer);
}

}  // namespace trimtack::cli
