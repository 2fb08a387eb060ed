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

/// The coat's materials: plain colours, no pictures.
std::string materials_text() {
  struct Material {
    const char* name;
    double red, green, blue, metallic, roughness;
  };
  static constexpr Material kMaterials[] = {
      {"canvas_indigo", 0.13, 0.17, 0.29, 0, 0.9}, {"canvas_indigo_light", 0.2, 0.25, 0.38, 0, 0.9},
      {"lining_ticking", 0.62, 0.6, 0.55, 0, 0.9}, {"twill_tape", 0.7, 0.66, 0.55, 0, 0.9},
      {"zip_tape", 0.08, 0.08, 0.1, 0, 0.8},       {"thread_ecru", 0.78, 0.72, 0.58, 0, 0.7},
      {"horn_brown", 0.2, 0.12, 0.07, 0, 0.35},    {"copper", 0.72, 0.43, 0.28, 1, 0.35},
      {"brass_aged", 0.5, 0.4, 0.2, 1, 0.5},       {"brass_bright", 0.78, 0.62, 0.3, 1, 0.25}};
  std::string text = "# Materials of the workshop chore coat\n";
  for (const Material& m : kMaterials) {
    text += std::string("newmtl ") + m.name + "\nKd " + fixed(m.red, 3) + " " + fixed(m.green, 3) + " " +
            fixed(m.blue, 3) + "\nPm " + fixed(m.metallic, 2) + "\nPr " + fixed(m.roughness, 2) + "\n";
  }
  return text;
}

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
  auto done = files->write("chore_coat.mtl", materials_text());
  if (done) done = write("coat.obj");
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
  inspect.picture = dir + "/parts.svg";
  int code = step(session, "inspect " + coat + " --picture " + inspect.picture, inspect);
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
    check.report = dir + "/report.html";
    if (code == kDone) code = step(session, "check " + bound + " '" + frames + "' --report " + check.report, check);
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
  session.say("  " + dir + "/parts.svg             the coat from front and back, every part in its colour");
  session.say("  " + dir + "/bound/bindings.json   where every trim is held");
  if (options.frames > 0) {
    session.say("  " + dir + "/report.html           open it in a browser: how every trim fits in every frame");
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
