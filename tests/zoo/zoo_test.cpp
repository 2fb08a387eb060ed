// SPDX-License-Identifier: MIT
// Awkward exports through every command: each run ends with the exit code that is stated for it, says what is wrong in
// one line where it fails, and takes little processor time.
#include <sys/stat.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <cstdio>
#include <filesystem>

#include "support/run_program.hpp"
#include "support/scratch_folder.hpp"
#include "support/slow_build.hpp"
#include "zoo/zoo.hpp"

using namespace trimtack;
using test::Ran;
using test::run_program;
using test::detail::text_of;
namespace fs = std::filesystem;

namespace {

std::string words(const std::vector<std::string>& arguments) {
  std::string line = "trimtack";
  for (const std::string& argument : arguments) line += " " + argument;
  return line;
}

// A run is to take less than 2 s of processor time (the slowest is printed). It is ended
// at three times that, because processor time stretches on a loaded machine; with sanitizers it is only to end at all.
constexpr unsigned kMostSeconds = test::kSlowBuild ? 100 : 6;

/// The slowest run so far, printed at the end.
struct Slowest {
  double seconds = 0;
  std::string what;
  ~Slowest() { std::printf("slowest run: %s, %.2f s of processor time\n", what.c_str(), seconds); }
} slowest;

Ran timed_run(const test::ScratchFolder& scratch, const std::vector<std::string>& arguments) {
  const Ran ran = run_program(arguments, {.folder = scratch.path(), .cpu_seconds = kMostSeconds, .environment = {}});
  if (ran.cpu_seconds > slowest.seconds) {
    slowest.seconds = ran.cpu_seconds;
    slowest.what = words(arguments);
  }
  return ran;
}

/// Runs and checks what holds for every run: the exit code, a reason when it is not 0, nothing left beside the output.
Ran expect(const test::ScratchFolder& scratch, const std::vector<std::string>& arguments, int code) {
  const Ran ran = timed_run(scratch, arguments);
  INFO(words(arguments) << "\n" << ran.out << ran.err.substr(0, 2000));
  CHECK(ran.signal == 0);
  CHECK(ran.code == code);
  if (code > 1) CHECK(ran.err.find("trimtack " + arguments[0] + ": ") != std::string::npos);
  for (const auto& entry : fs::directory_iterator(scratch.path())) {
    CHECK(entry.path().filename().string().find("trimtack-work") == std::string::npos);
  }
  return ran;
}

void expect_bound_folder(const test::ScratchFolder& scratch) {
  expect(scratch, {"verify", "bound", "-q"}, 0);
  expect(scratch, {"follow", "bound", "coat.obj", "-o", "followed", "--bake", "obj", "--whole", "npy", "--seat", "-q"},
         0);
  const Ran checked = timed_run(scratch, {"check", "bound", "coat.obj", "--report", "r.html", "--csv", "r.csv", "-q"});
  INFO("check: " << checked.err.substr(0, 2000));
  CHECK((checked.code == 0 || checked.code == 1));
  expect(scratch, {"export",   "bound",    "-o",       "exported", "--format", "glb",        "--format",
                   "usda",     "--format", "json",     "--format", "csv",      "--format",   "ttb",
                   "--format", "ply",      "--format", "npy",      "--format", "placements", "-q"},
         0);
  expect(scratch, {"rebind", "bound", "bound/cloth.obj", "-o", "rebound", "-q"}, 0);
  expect(scratch, {"bind", "bound", "-o", "bound", "-q"}, 0);
  // What was exported is an export again.
  const Ran again = timed_run(scratch, {"inspect", "exported/coat.glb", "-q"});
  INFO("inspect of the scene: " << again.err.substr(0, 2000));
  CHECK(again.code == 0);
}

}  // namespace

TEST_CASE("every awkward export ends with its exit code and its words, through every command", "[zoo]") {
  const auto animals = zoo::all_animals();
  REQUIRE(animals.size() >= 40);
  for (const zoo::Animal& animal : animals) {
    SECTION(animal.name) {
      const test::ScratchFolder scratch;
      fs::permissions(scratch.path(), fs::perms::all);
      scratch.write("coat.obj", animal.obj);
      fs::create_directory(scratch.path() / "folder.mtl");
      REQUIRE(::mkfifo((scratch.path() / "pipe.mtl").c_str(), 0666) == 0);
      const Ran looked = expect(scratch, {"inspect", "coat.obj", "-q"}, animal.inspect);
      expect(scratch, {"split", "coat.obj", "-o", "parts", "--verify", "--prototypes", "--cut", "-q"}, animal.inspect);
      const Ran bound = expect(scratch, {"bind", "coat.obj", "-o", "bound", "--verify", "--pieces", "-q"}, animal.bind);
      INFO(bound.err);
      CHECK_THAT(looked.err + bound.err, Catch::Contains(animal.says));
      if (animal.bind == 0) {
        expect_bound_folder(scratch);
      } else {
        CHECK_FALSE(fs::exists(scratch.path() / "bound"));
      }
    }
  }
}

TEST_CASE("buttons that hang on the cloth by vertices and edges are cut off, and follow frames of the whole export",
          "[zoo]") {
  const auto animals = zoo::all_animals();
  const auto coat = std::find_if(animals.begin(), animals.end(),
                                 [](const zoo::Animal& a) { return a.name == "buttons_hang_on_the_cloth"; });
  REQUIRE(coat != animals.end());
  const test::ScratchFolder scratch;
  scratch.write("coat.obj", coat->obj);
  const Ran bound = expect(scratch, {"bind", "coat.obj", "-o", "bound", "--verify"}, 0);
  CHECK_THAT(bound.out, Catch::Contains("1 cloth component, 3 trims"));
  CHECK_THAT(bound.err, Catch::Contains("3 parts that look like trims hang on the rest"));
  const std::string parts = text_of(scratch.path() / "bound/parts.json");
  CHECK_THAT(parts, Catch::Contains("\"vertices\": 12323, \"doubled_vertices\": ["));
  // The export as a frame, the cloth alone as a frame, and the folder bound again: the same poses.
  const Ran whole = expect(scratch, {"follow", "bound", "coat.obj", "-o", "whole", "--whole", "obj"}, 0);
  CHECK_THAT(whole.err, !Catch::Contains("its faces are not those"));
  expect(scratch, {"follow", "bound", "bound/cloth.obj", "-o", "alone", "-q"}, 0);
  expect(scratch, {"bind", "bound", "-o", "again", "-q"}, 0);
  expect(scratch, {"follow", "again", "coat.obj", "-o", "after", "-q"}, 0);
  const std::string poses = text_of(scratch.path() / "whole/poses.csv");
  CHECK(poses.size() > 100);
  CHECK(text_of(scratch.path() / "alone/poses.csv") == poses);
  CHECK(text_of(scratch.path() / "after/poses.csv") == poses);
}
