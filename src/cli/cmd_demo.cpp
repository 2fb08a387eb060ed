// SPDX-License-Identifier: MIT
#include <filesystem>

#include "cli/baking.hpp"
#include "cli/folder.hpp"
#include "cli/summary.hpp"
#include "trimtack/demo.hpp"
#include "trimtack/io/npy.hpp"
#include "trimtack/io/obj.hpp"

namespace trimtack::cli {
namespace fs = std::filesystem;
namespace {

/// coat.obj, its frames as numbered OBJ files, and all of them as one array.
Result<void> write_garment(Session& session, const DemoCommandOptions& options) {
  DemoOptions demo_options;
  demo_options.seed = options.seed;
  demo_options.frames = options.frames;
  demo_options.faults = options.faults;
  Demo demo = make_demo(demo_options);
  Result<FileSet> files = FileSet::open(options.output);
  if (!files) return files.error();
  files->retire("frames/");
  ObjWriteOptions obj;
  obj.header = "A workshop chore coat made by trimtack demo; millimetres, Y up.";
  obj.executor = session.executor();
  const auto write = [&](const std::string& name) {
    return write_obj(demo.combined, obj, [&](std::string_view piece) { return files->append(name, piece); });
  };
  auto done = write("coat.obj");
  for (std::size_t f = 0; done && f < demo.frames.size(); ++f) {
    session.progress("writing frames", f, demo.frames.size());
    set_positions(demo.combined, demo.frames[f]);
    done = write("frames/coat_" + frame_digits(f + 1) + ".obj");
  }
  return done ? files->commit() : done;
}

/// Runs one command and shows how it would be typed. A limit exceeded is no failure of the demo.
template <class Options>
int step(const Session& session, const std::string& typed, const Options& options) {
  session.say("\n$ trimtack " + typed);
  std::fflush(stdout);
  return run(options);
}

}  // namespace

int run(const DemoCommandOptions& options) {
  Session session("demo", options.common);
  if (auto made = write_garment(session, options); !made) return session.fail(made.error());
  const std::string dir = options.output;
  const std::string coat = dir + "/coat.obj", bound = dir + "/bound", posed = dir + "/posed", scenes = dir + "/scenes";
  CommonOptions common = options.common;
  common.json = false;
  common.quiet = options.common.quiet || options.common.json;
  session.say("made " + coat + " and " + plural(static_cast<std::uint64_t>(options.frames), "frame", "frames") +
              " in " + dir + "/frames");

  InspectOptions inspect;
  inspect.common = common;
  inspect.input = coat;
  int code = step(session, "inspect " + coat, inspect);
  BindCommandOptions bind;
  bind.common = common;
  bind.input = coat;
  bind.output = bound;
  bind.verify = true;
  if (code == kDone) code = step(session, "bind " + coat + " -o " + bound + " --verify", bind);
  if (options.frames > 0 && code == kDone) {
    const std::string frames = dir + "/frames/coat_*.obj";
    FollowOptions follow;
    follow.common = common;
    follow.input = bound;
    follow.output = posed;
    follow.frames.frames = {frames};
    follow.bake = "obj";
    follow.whole = "npy";
    code = step(session, "follow " + bound + " '" + frames + "' -o " + posed + " --bake obj --whole npy", follow);
    CheckOptions check;
    check.common = common;
    check.input = bound;
    check.frames.frames = {frames};
    if (code == kDone) code = step(session, "check " + bound + " '" + frames + "'", check);
    ExportOptions scene;
    scene.common = common;
    scene.input = bound;
    scene.output = scenes;
    scene.frames.frames = {frames};
    scene.formats = {"glb", "usda"};
    if (code == kDone || code == kLimitExceeded) {
      const int exported =
          step(session, "export " + bound + " '" + frames + "' -o " + scenes + " --format glb --format usda", scene);
      if (exported != kDone) code = exported;
    }
  }
  if (code != kDone && code != kLimitExceeded) return code;
  session.say("\nwhat to look at");
  session.say("  " + dir + "/bound/cloth.obj, trims.obj, stitching.obj   the coat taken apart");
  session.say("  " + dir +
              "/bound/parts.json      what each part was taken for, and why; edit a role and bind the folder again");
  session.say("  " + dir + "/bound/bindings.json   where every trim is held");
  if (options.frames > 0) {
    session.say("  " + dir + "/posed/baked/          rigid trims posed for each frame, beside the bent ones in " + dir +
                "/frames");
    session.say("  " + dir + "/scenes/coat.glb       the whole coat moving, for any glTF viewer");
  }
  JsonObject answer;
  answer.text("folder", dir)
      .whole("frames", static_cast<std::uint64_t>(options.frames))
      .flag("limit_exceeded", code == kLimitExceeded);
  return session.finish(answer);
}

}  // namespace trimtack::cli
