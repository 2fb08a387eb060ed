// SPDX-License-Identifier: MIT
#include "cli/arguments.hpp"

#include <CLI/CLI.hpp>
#include <array>
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
  VerifyOptions verify;
  CommonOptions* common = nullptr;
  std::function<int()> run;
};

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
  c.add_option("COMBINED", o.input, "Combined export (OBJ or PLY)")->required();
  add_selectors(c, o.selectors);
  add_common(c, o.common);
  add_example(c, "  trimtack inspect coat.obj\n  trimtack inspect coat.obj --trim 'material:horn*'");
}

void add_split(CLI::App& app, Parsed& parsed) {
  SplitOptions& o = parsed.split;
  CLI::App& c = add_command(app, parsed, "split",
                            "Split a combined export into cloth.obj, trims.obj, stitching.obj and parts.json", o.common,
                            [&o] { return run(o); });
  c.add_option("COMBINED", o.input, "Combined export (OBJ or PLY)")->required();
  add_output(c, o.output);
  c.add_flag("--verify", o.verify, "Put the outputs together again and compare with the combined export");
  c.add_flag("--prototypes", o.prototypes, "Write one OBJ per prototype and placements.csv");
  add_selectors(c, o.selectors);
  add_common(c, o.common);
  add_example(c, "  trimtack split coat.obj -o coat_parts --verify");
}

void add_bind(CLI::App& app, Parsed& parsed) {
  BindCommandOptions& o = parsed.bind;
  CLI::App& c = add_command(app, parsed, "bind",
                            "Split, and bind every trim to the cloth beneath it: adds bindings.json, .csv and .ttb",
                            o.common, [&o] { return run(o); });
  c.add_option("INPUT", o.input,
               "Combined export (OBJ or PLY), or a folder made by split or bind with your edits in parts.json")
      ->type_name("COMBINED|DIR")
      ->required();
  add_output(c, o.output);
  c.add_option("--frame", o.frame, "What a trim follows: one triangle, a patch, or the better of both")
      ->check(CLI::IsMember({"triangle", "patch", "auto"}))
      ->capture_default_str();
  c.add_option("--bend", o.bend_mm, "Tightest bend to expect, as a radius in mm")
      ->check(CLI::PositiveNumber)
      ->capture_default_str();
  c.add_option("--noise", o.noise_mm, "Vertex noise to expect in mm (standard deviation)")
      ->check(CLI::NonNegativeNumber)
      ->capture_default_str();
  c.add_option("--frames", o.frames, "Frames that show what the garment really does, instead of --bend")
      ->type_name("FRAME...");
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
  add_selectors(c, o.selectors);
  add_common(c, o.common);
  add_example(c,
              "  trimtack bind coat.obj -o coat_bound\n  trimtack bind coat_bound -o coat_bound      (after editing "
              "coat_bound/parts.json)");
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
  add_verify(app, parsed);
  add_manual_commands(app, parsed.run);
  app.footer(
      "trimtack COMMAND --help tells more, with an example. Exit codes: 0 done, 1 done but a limit is exceeded,\n"
      "2 wrong usage, 3 bad input, 4 could not write, 5 a fault of the program.");
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
    std::fprintf(stderr, "%s: %s; see %s --help\n", command.c_str(), error.what(), command.c_str());
    return kUsage;
  }
  if (parsed.common != nullptr) limit_memory(*parsed.common);
  return parsed.run();
}

}  // namespace trimtack::cli
