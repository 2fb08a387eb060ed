// SPDX-License-Identifier: MIT
#include "cli/arguments.hpp"

#include <CLI/CLI.hpp>
#include <array>
#include <cmath>
#include <cstdio>
#include <functional>
#include <memory>
#include <tuple>

#include "cli/commands.hpp"
#include "cli/exit_codes.hpp"
#include "cli/limits.hpp"
#include "cli/manual.hpp"
#include "trimtack/version.h"

namespace trimtack::cli {
namespace {

/// What was parsed, and the command to run with it.
struct Parsed {
  InspectOptions inspect;
  SplitOptions split;
  BindCommandOptions bind;
  RebindCommandOptions rebind;
  FollowOptions follow;
  CheckOptions check;
  ExportOptions exporting;
  RigidOptions rigid;
  DemoCommandOptions demo;
  VerifyOptions verify;
  CommonOptions* common = nullptr;
  std::function<int()> run;
};

/// CLI11's own ranges take NaN for a number within them and spell out the largest number there is.
CLI::Validator number(const std::string& kind, const std::string& words, const std::function<bool(double)>& good) {
  return CLI::Validator(
      [=](const std::string& text) {
        double value = 0;
        const bool fits = CLI::detail::lexical_cast(text, value) && std::isfinite(value) && good(value);
        return fits ? std::string() : "must be a number " + words + ", not " + text;
      },
      kind);
}
CLI::Validator not_negative() {
  return number("NONNEGATIVE", "of 0 or more", [](double v) { return v >= 0; });
}
CLI::Validator positive() {
  return number("POSITIVE", "above 0", [](double v) { return v > 0; });
}
CLI::Validator between(double low, double high) {
  std::array<char, 64> text{};
  std::snprintf(text.data(), text.size(), "from %g to %g", low, high);
  return number(text.data(), text.data(), [=](double v) { return v >= low && v <= high; });
}

void add_common(CLI::App& command, CommonOptions& common) {
  const char* const group = "Common options";
  command.add_flag("--json", common.json, "Machine-readable answer on stdout")->group(group);
  command.add_flag("-q,--quiet", common.quiet, "No summary, no notes, no progress")->group(group);
  command.add_option("--threads", common.threads, "Threads to use, 0 for all of the machine's")
      ->check(CLI::Range(0, 1024))
      ->group(group);
  command.add_option("--unit", common.unit, "Unit of the files: mm, cm, m or in (default: deduced)")
      ->check(CLI::IsMember({"mm", "cm", "m", "in"}))
      ->group(group);
  command.add_option("--up", common.up, "Up axis of the files: y or z (default: deduced)")
      ->check(CLI::IsMember({"y", "z"}))
      ->group(group);
  command
      .add_option("--max-memory", common.max_memory,
                  "Most memory to use, for instance 8GB (default: most of the machine's)")
      ->transform(CLI::AsSizeValue(false))
      ->group(group);
}

/// "material:brass*" and its like; a bare number is a component, other text a name pattern.
Override selector(Role role, const std::string& text) {
  Override chosen;
  chosen.role = role;
  chosen.pattern = text;
  for (const auto& [prefix, kind] : {std::pair{"name:", SelectorKind::Name},
                                     {"material:", SelectorKind::Material},
                                     {"component:", SelectorKind::Component},
                                     {"face:", SelectorKind::Face}}) {
    if (text.starts_with(prefix)) {
      chosen.kind = kind;
      chosen.pattern = text.substr(std::string_view(prefix).size());
      return chosen;
    }
  }
  if (!text.empty() && text.find_first_not_of("0123456789") == std::string::npos) chosen.kind = SelectorKind::Component;
  return chosen;
}

void add_selectors(CLI::App& command, SelectorOptions& selectors) {
  const char* const group = "Settling roles (the last one that matches wins)";
  struct Kind {
    CLI::Option* option;
    Role role;
    std::vector<std::string> texts;
  };
  const auto kinds = std::make_shared<std::array<Kind, 3>>();
  constexpr std::array<std::tuple<const char*, Role, const char*>, 3> kNames = {{
      {"--cloth", Role::Cloth, "These are cloth"},
      {"--trim", Role::Trim, "These are trims"},
      {"--stitching-of", Role::Stitching, "These are stitching"},
  }};
  for (std::size_t i = 0; i < kNames.size(); ++i) {
    const auto& [name, role, what] = kNames[i];
    Kind& kind = (*kinds)[i];
    kind.role = role;
    kind.option =
        command
            .add_option(name, kind.texts,
                        std::string(what) + ": a name pattern (* and ?), material:PATTERN, component:ID or face:NUMBER")
            ->type_name("SELECTOR")
            ->allow_extra_args(false)
            ->group(group);
  }
  command
      .add_flag(
          "--cut", selectors.cut,
          "Cut trims whose whole border is welded to the cloth off along their creases or materials (what hangs by "
          "single vertices or branching edges is always cut off)")
      ->group(group);
  command.add_flag("--ignore-names", selectors.ignore_names, "Do not look at object, group and material names")
      ->group(group);
  command
      .add_option("--stitching", selectors.stitching,
                  "Stitches: bind each, keep with the cloth, or drop from the table")
      ->check(CLI::IsMember({"bind", "cloth", "drop"}))
      ->capture_default_str()
      ->group(group);
  CLI::App* const app = &command;
  command.parse_complete_callback([app, kinds, &selectors] {
    std::array<std::size_t, 3> used{};
    for (const CLI::Option* option : app->parse_order()) {
      for (std::size_t i = 0; i < kinds->size(); ++i) {
        const Kind& kind = (*kinds)[i];
        if (kind.option == option) selectors.overrides.push_back(selector(kind.role, kind.texts.at(used[i]++)));
      }
    }
  });
}

void add_picture(CLI::App& command, std::string& picture, const char* what) {
  command.add_option("--picture", picture, std::string("Draw the garment, front and back, ") + what)
      ->type_name("FILE.png|svg");
}

void add_example(CLI::App& command, const std::string& lines) { command.footer("Example:\n" + lines); }

CLI::App& add_command(CLI::App& app, Parsed& parsed, const char* name, const char* what, CommonOptions& common,
                      std::function<int()> run) {
  CLI::App& command = *app.add_subcommand(name, what);
  command.final_callback([&parsed, &common, run = std::move(run)] {
    parsed.common = &common;
    parsed.run = run;
  });
  return command;
}

void add_output(CLI::App& command, std::string& output) {
  command.add_option("-o,--output", output, "Folder to write; it then holds the old or the new files, never a mixture")
      ->type_name("DIR")
      ->required();
}

void add_inspect(CLI::App& app, Parsed& parsed) {
  InspectOptions& o = parsed.inspect;
  CLI::App& c = add_command(app, parsed, "inspect",
                            "Show what is in a combined export: parts, roles with reasons, unit, sizes, rows", o.common,
                            [&o] { return run(o); });
  c.add_option("COMBINED", o.input, "Combined export (OBJ, PLY or GLB)")->required();
  add_picture(c, o.picture, "every part in its colour");
  add_selectors(c, o.selectors);
  add_common(c, o.common);
  add_example(c, "  trimtack inspect coat.obj\n  trimtack inspect coat.obj --trim 'material:horn*'");
}

void add_split(CLI::App& app, Parsed& parsed) {
  SplitOptions& o = parsed.split;
  CLI::App& c = add_command(app, parsed, "split",
                            "Split a combined export into cloth.obj, trims.obj, stitching.obj and parts.json", o.common,
                            [&o] { return run(o); });
  c.add_option("COMBINED", o.input, "Combined export (OBJ, PLY or GLB)")->required();
  add_output(c, o.output);
  c.add_flag("--verify", o.verify, "Put the outputs together again and compare with the combined export");
  c.add_flag("--prototypes", o.prototypes, "Write one OBJ per prototype and placements.csv");
  add_selectors(c, o.selectors);
  add_common(c, o.common);
  add_example(c, "  trimtack split coat.obj -o coat_parts --verify");
}

void add_fps(CLI::App& command, FrameOptions& frames, const char* what) {
  command.add_option("--fps", frames.frames_per_second, what)->check(between(0.001, 10000))->capture_default_str();
}

void add_bind(CLI::App& app, Parsed& parsed) {
  BindCommandOptions& o = parsed.bind;
  CLI::App& c = add_command(app, parsed, "bind",
                            "Split, and bind every trim to the cloth beneath it: adds bindings.json, .csv and .ttb",
                            o.common, [&o] { return run(o); });
  c.add_option("INPUT", o.input,
               "Combined export (OBJ, PLY or GLB), or a folder made by split or bind with your edits in parts.json")
      ->type_name("COMBINED|DIR")
      ->required();
  add_output(c, o.output);
  c.add_option("--frame", o.frame, "What a trim follows: one triangle, a patch, or the better of both")
      ->check(CLI::IsMember({"triangle", "patch", "auto"}))
      ->capture_default_str();
  c.add_option("--bend", o.bend_mm, "Tightest bend to expect, as a radius in mm")
      ->check(positive())
      ->capture_default_str();
  c.add_option("--noise", o.noise_mm, "Vertex noise to expect in mm (standard deviation)")
      ->check(not_negative())
      ->capture_default_str();
  c.add_option("--bend-frames", o.bend_frames.frames,
               "Frames that show how the garment really bends, instead of --bend")
      ->type_name("FRAME");
  add_fps(c, o.bend_frames, "Frames per second at which a GLB among them is sampled");
  c.add_option_function<std::vector<std::string>>(
       "--layer",
       [&o](const std::vector<std::string>& pairs) {
         for (const std::string& pair : pairs) {
           unsigned long long trim = 0, component = 0;
           char rest = 0;
           if (std::sscanf(pair.c_str(), "%llu=%llu%c", &trim, &component, &rest) != 2 || trim >= kNone ||
               component >= kNone) {
             throw CLI::ValidationError("--layer", "must be TRIM=COMPONENT, two ids of parts.json, not " + pair);
           }
           o.layers[static_cast<Index>(trim)] = static_cast<Index>(component);
         }
       },
       "Trim id and the id of the cloth component that must carry it; may be repeated")
      ->type_name("TRIM=COMPONENT");
  c.add_flag("--pieces", o.pieces, "Bind the components of a long trim one by one");
  c.add_flag("--verify", o.verify, "Put the outputs together again and compare with the combined export");
  c.add_flag("--prototypes", o.prototypes, "Write one OBJ per prototype and placements.csv");
  add_picture(c, o.picture, "every part in its colour");
  add_selectors(c, o.selectors);
  add_common(c, o.common);
  add_example(c,
              "  trimtack bind coat.obj -o coat_bound\n  trimtack bind coat_bound -o coat_bound      (after editing "
              "coat_bound/parts.json)");
}

/// "101-200" or "101".
void add_frames(CLI::App& command, FrameOptions& frames, bool required,
                const char* fps = "Frames per second at which a GLB's animations are sampled") {
  CLI::Option* option =
      command
          .add_option("FRAME", frames.frames,
                      "Frames: OBJ or PLY files of the cloth or of the whole export, patterns as 'pose_*.obj' or "
                      "'pose_####.obj', one NPY array of shape (F, V, 3), or a GLB with animations")
          ->type_name("");
  if (required) option->required();
  command
      .add_option_function<std::string>(
          "--frames",
          [&frames](const std::string& text) {
            unsigned long long first = 0, last = 0;
            char rest = 0;
            const int read = std::sscanf(text.c_str(), "%llu-%llu%c", &first, &last, &rest);
            if (text.empty() || text[0] < '0' || text[0] > '9' || (read == 2 && first > last) ||
                (read != 2 && (read != 1 || text.find_first_not_of("0123456789") != std::string::npos))) {
              throw CLI::ValidationError("--frames", "must be A-B or one number, not " + text);
            }
            frames.first = first;
            frames.last = read == 2 ? last : first;
          },
          "Only the frames with these numbers")
      ->type_name("A-B");
  add_fps(command, frames, fps);
}

void add_folder(CLI::App& command, std::string& input) {
  command.add_option("DIR", input, "Folder made by trimtack bind")->required();
}

void add_follow(CLI::App& app, Parsed& parsed) {
  FollowOptions& o = parsed.follow;
  CLI::App& c =
      add_command(app, parsed, "follow", "Pose the trims on deformed cloth: poses.csv, poses.npy, baked meshes",
                  o.common, [&o] { return run(o); });
  add_folder(c, o.input);
  add_frames(c, o.frames, true);
  add_output(c, o.output);
  c.add_option("--poses", o.poses, "Write poses.csv, poses.npy, or both; the text is four times as large")
      ->check(CLI::IsMember({"both", "csv", "npy"}))
      ->capture_default_str();
  c.add_option("--bake", o.bake, "Write the posed trims: one OBJ or PLY per frame, or one NPY")
      ->check(CLI::IsMember({"obj", "ply", "npy", "none"}))
      ->capture_default_str();
  c.add_option("--whole", o.whole, "Write the whole garment in the combined export's vertex order")
      ->check(CLI::IsMember({"obj", "npy", "none"}))
      ->capture_default_str();
  c.add_flag("--seat", o.seat, "Move trims along their layer's normal so that none sinks deeper than at rest");
  c.add_option("--seat-tilt", o.seat_tilt_deg, "With --seat: tilt them too, by at most so many degrees")
      ->check(between(0, 45))
      ->capture_default_str();
  add_common(c, o.common);
  add_example(c,
              "  trimtack follow coat_bound 'frames/coat_*.obj' -o coat_posed --bake obj\n  trimtack follow coat_bound "
              "cloth.npy -o coat_posed --frames 101-200");
}

void add_rebind(CLI::App& app, Parsed& parsed) {
  RebindCommandOptions& o = parsed.rebind;
  CLI::App& c = add_command(app, parsed, "rebind", "Carry the bindings to a remeshed cloth or another size", o.common,
                            [&o] { return run(o); });
  add_folder(c, o.input);
  c.add_option("NEW_CLOTH", o.cloth, "The new cloth (OBJ or PLY), without trims, in the old one's unit")->required();
  add_output(c, o.output);
  c.add_option("--by", o.by, "How a place is found again: same vertices, nearest position, or texture coordinates")
      ->check(CLI::IsMember({"auto", "vertex", "position", "uv"}))
      ->capture_default_str();
  c.add_option("--reach", o.reach_mm, "By position: how far off the cloth may be, in mm")
      ->check(positive())
      ->capture_default_str();
  add_common(c, o.common);
  add_example(c, "  trimtack rebind coat_bound cloth_5mm.obj -o coat_5mm");
}

void add_check(CLI::App& app, Parsed& parsed) {
  CheckOptions& o = parsed.check;
  CLI::App& c = add_command(app, parsed, "check",
                            "Measure how every trim fits in every frame; exit code 1 when a limit is exceeded",
                            o.common, [&o] { return run(o); });
  add_folder(c, o.input);
  add_frames(c, o.frames, true);
  c.add_option("--report", o.report, "Write the report as one page that opens without a network")
      ->type_name("FILE.html");
  add_picture(c, o.picture, "trims coloured by verdict");
  c.add_option("--csv", o.csv, "Write one row per trim")->type_name("FILE.csv");
  c.add_flag("--seat", o.seat, "Measure the trims as follow --seat would pose them");
  for (const MeasureInfo& info : measure_infos()) {
    c.add_option(std::string("--max-") + info.name, o.limits[info.measure],
                 std::string("Limit: ") + info.meaning + (*info.unit != 0 ? std::string(", ") + info.unit : ""))
        ->check(not_negative())
        ->capture_default_str()
        ->group("Limits");
  }
  add_common(c, o.common);
  add_example(c, "  trimtack check coat_bound 'frames/coat_*.obj' --report report.html --max-tilt 5");
}

void add_export(CLI::App& app, Parsed& parsed) {
  ExportOptions& o = parsed.exporting;
  CLI::App& c = add_command(app, parsed, "export", "Write tables and scenes for other programs", o.common,
                            [&o] { return run(o); });
  add_folder(c, o.input);
  add_frames(c, o.frames, false, "Frames per second of a scene, and at which a GLB's animations are sampled");
  add_output(c, o.output);
  c.add_option("--format", o.formats,
               "json, csv, ttb: binding tables; glb, usda, usdz: scenes; ply: posed meshes; npy: arrays; placements: "
               "shapes and CSV; may be repeated")
      ->check(CLI::IsMember({"json", "csv", "ttb", "glb", "usda", "usdz", "ply", "npy", "placements"}))
      ->allow_extra_args(false)
      ->required();
  c.add_flag("--step", o.step, "glb: hold each frame instead of blending");
  c.add_flag("--instancing", o.instancing, "glb without frames: one node per shape (EXT_mesh_gpu_instancing)");
  add_common(c, o.common);
  add_example(c, "  trimtack export coat_bound 'frames/coat_*.obj' -o scenes --format glb --format usda");
}

void add_rigid(CLI::App& app, Parsed& parsed) {
  RigidOptions& o = parsed.rigid;
  CLI::App& c = add_command(app, parsed, "rigid", "Make the trims of a skinned, animated glTF garment rigid", o.common,
                            [&o] { return run(o); });
  c.add_option("GARMENT", o.input, "Garment with skin and animations (GLB or glTF)")->required();
  add_output(c, o.output);
  c.add_option("--as", o.as, "Trims as animated nodes, or in the skin with one set of weights each")
      ->check(CLI::IsMember({"nodes", "weights"}))
      ->capture_default_str();
  c.add_option("--fps", o.frames_per_second, "Keys per second of animated nodes")
      ->check(between(0.001, 10000))
      ->capture_default_str();
  add_selectors(c, o.selectors);
  add_common(c, o.common);
  add_example(c, "  trimtack rigid coat.glb -o coat_rigid --as weights");
}

void add_demo(CLI::App& app, Parsed& parsed) {
  DemoCommandOptions& o = parsed.demo;
  CLI::App& c = add_command(app, parsed, "demo", "Make the demo coat and its frames, and run all commands on it",
                            o.common, [&o] { return run(o); });
  c.add_option("DIR", o.output, "Folder to write")->required();
  c.add_option("--seed", o.seed, "Seed of the stitches and wrinkles")->capture_default_str();
  c.add_option("--frames", o.frames, "How many frames to make")->check(CLI::Range(0, 10000))->capture_default_str();
  c.add_flag("--faults", o.faults, "Plant four faults that check must find");
  add_common(c, o.common);
  add_example(c, "  trimtack demo coat_demo");
}

void add_verify(CLI::App& app, Parsed& parsed) {
  VerifyOptions& o = parsed.verify;
  CLI::App& c =
      add_command(app, parsed, "verify", "Say whether a folder is as trimtack wrote it, and which file was edited",
                  o.common, [&o] { return run(o); });
  c.add_option("DIR", o.input, "Folder that trimtack wrote")->required();
  add_common(c, o.common);
  add_example(c, "  trimtack verify coat_bound");
}

void describe(CLI::App& app, Parsed& parsed) {
  app.name("trimtack");
  app.set_version_flag("--version", "trimtack " TT_VERSION_TEXT);
  app.require_subcommand(1);
  app.get_formatter()->column_width(34);
  add_inspect(app, parsed);
  add_split(app, parsed);
  add_bind(app, parsed);
  add_rebind(app, parsed);
  add_follow(app, parsed);
  add_check(app, parsed);
  add_export(app, parsed);
  add_rigid(app, parsed);
  add_demo(app, parsed);
  add_verify(app, parsed);
  add_manual_commands(app, parsed.run);
  app.footer(
      "trimtack COMMAND --help tells more, with an example. Exit codes: 0 done, 1 done but a limit is exceeded,\n"
      "2 wrong usage, 3 bad input, 4 could not write, 5 a fault of the program.");
}

/// What to say where no command was named.
std::string without_command(const CLI::App& app, int argc, char** argv) {
  std::string names;
  for (const CLI::App* command : app.get_subcommands([](const CLI::App* c) { return !c->get_group().empty(); }))
    names += (names.empty() ? "" : ", ") + command->get_name();
  const bool other_word = argc > 1 && argv[1][0] != '-';
  return (other_word ? "'" + std::string(argv[1]) + "' is no command" : "a command is missing") +
         "; the commands are " + names;
}

}  // namespace

int run_program(int argc, char** argv) {
  CLI::App app("Finds the hard trims of a garment, splits them from the cloth and binds each one rigidly to it.");
  Parsed parsed;
  describe(app, parsed);
  try {
    app.parse(argc, argv);
  } catch (const CLI::Success& success) {
    return app.exit(success);
  } catch (const CLI::ParseError& error) {
    std::string command = "trimtack";
    for (const CLI::App* chosen : app.get_subcommands()) command += " " + chosen->get_name();
    const bool missing = app.get_subcommands().empty() && error.get_name() == "RequiredError";
    const std::string what = missing ? without_command(app, argc, argv) : error.what();
    std::fprintf(stderr, "%s: %s; see %s --help\n", command.c_str(), what.c_str(), command.c_str());
    return kUsage;
  }
  if (parsed.common != nullptr) limit_memory(*parsed.common);
  return parsed.run();
}

}  // namespace trimtack::cli
