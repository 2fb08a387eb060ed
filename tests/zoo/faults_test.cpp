// SPDX-License-Identifier: MIT
// Faults around a run of the program: killed and interrupted at random moments, two runs at once, an input that changes
// while it is read, no permission, a full disk. The output folder holds the old or the new set, whole.
#include <sys/mount.h>
#include <sys/stat.h>

#include <catch2/catch.hpp>
#include <chrono>
#include <cmath>
#include <cstdint>
#include <filesystem>
#include <map>
#include <random>
#include <thread>

#include "support/run_program.hpp"
#include "support/scratch_folder.hpp"
#include "trimtack/io/file_set.hpp"

using namespace trimtack;
using test::Ran;
using test::Running;
namespace fs = std::filesystem;

namespace {

using Files = std::map<std::string, std::string>;

Files files_in(const fs::path& folder) {
  Files files;
  if (!fs::exists(folder)) return files;
  for (const auto& entry : fs::recursive_directory_iterator(folder)) {
    if (entry.is_regular_file()) files[fs::relative(entry.path(), folder)] = test::detail::text_of(entry.path());
  }
  return files;
}

test::RunOptions in(const test::ScratchFolder& scratch) {
  return {.folder = scratch.path(), .cpu_seconds = 120, .environment = {}};
}

Ran run(const test::ScratchFolder& scratch, const std::vector<std::string>& arguments) {
  return test::run_program(arguments, in(scratch));
}

/// A sheet of 40 x 40 cells with twelve discs on it: binding takes some hundredths of a second.
std::string garment(double height) {
  std::string obj;
  const auto v = [&](double x, double y, double z) {
    obj += "v " + std::to_string(x) + " " + std::to_string(y) + " " + std::to_string(z) + "\n";
  };
  constexpr int kCells = 40;
  for (int j = 0; j <= kCells; ++j)
    for (int i = 0; i <= kCells; ++i) v(10 * i, 10 * j, height * std::sin(0.2 * i));
  for (int j = 0; j < kCells; ++j)
    for (int i = 0; i < kCells; ++i) {
      const int a = (kCells + 1) * j + i + 1;
      obj += "f " + std::to_string(a) + " " + std::to_string(a + 1) + " " + std::to_string(a + kCells + 2) + " " +
             std::to_string(a + kCells + 1) + "\n";
    }
  int next = (kCells + 1) * (kCells + 1) + 1;
  for (int t = 0; t < 12; ++t) {
    constexpr int kSides = 12;
    for (const double z : {0.2, 3.0})
      for (int i = 0; i < kSides; ++i)
        v(60 + 8 * std::cos(6.2831853 * i / kSides), 20 + 30 * t + 8 * std::sin(6.2831853 * i / kSides),
          height * std::sin(1.2) + z);
    std::string low = "f", high = "f";
    for (int i = 0; i < kSides; ++i) {
      const int a = next + i, b = next + (i + 1) % kSides;
      obj += "f " + std::to_string(a) + " " + std::to_string(b) + " " + std::to_string(b + kSides) + " " +
             std::to_string(a + kSides) + "\n";
      low += " " + std::to_string(next + kSides - 1 - i);
      high += " " + std::to_string(a + kSides);
    }
    obj += low + "\n" + high + "\n";
    next += 2 * kSides;
  }
  return obj;
}

/// Names that are there in one only, or have other bytes.
std::string difference(const Files& a, const Files& b) {
  std::string text;
  for (const auto& [name, bytes] : a) {
    const auto found = b.find(name);
    if (found == b.end()) text += " +" + name;
    if (found != b.end() && found->second != bytes) text += " ~" + name;
  }
  for (const auto& [name, bytes] : b) {
    if (!a.contains(name)) text += " -" + name;
  }
  return text;
}

bool has_staging(const fs::path& folder) {
  for (const auto& entry : fs::directory_iterator(folder)) {
    if (entry.path().filename().string().find("trimtack-work") != std::string::npos) return true;
  }
  return false;
}

/// What a reading command sees: unfinished moves are completed first.
Files settled(const fs::path& folder) {
  if (fs::exists(folder)) {
    const Result<ReadLock> lock = ReadLock::open(folder);
    if (!lock) FAIL(to_text(lock.error()));
  }
  return files_in(folder);
}

/// Runs `first` and `second` in turn on one folder and ends each with `signal` at a random moment of its life.
void end_at_random_moments(const test::ScratchFolder& scratch, const std::string& folder,
                           const std::vector<std::string>& first, const std::vector<std::string>& second, int signal,
                           unsigned seed) {
  INFO("seed " << seed);
  std::mt19937 random(seed);
  REQUIRE(run(scratch, second).code == 0);
  const Files two = files_in(scratch.path() / folder);
  const auto begin = std::chrono::steady_clock::now();
  REQUIRE(run(scratch, first).code == 0);
  const auto life = std::chrono::duration_cast<std::chrono::microseconds>(std::chrono::steady_clock::now() - begin);
  const Files one = files_in(scratch.path() / folder);
  REQUIRE(one != two);
  REQUIRE(one.size() > 2);
  int ended = 0;
  for (int kill = 0; kill < 50; ++kill) {
    INFO("number " << kill);
    Running program(kill % 2 == 0 ? second : first, in(scratch));
    std::this_thread::sleep_for(std::chrono::microseconds(
        std::uniform_int_distribution<std::int64_t>(0, life.count() + life.count() / 10)(random)));
    ::kill(program.pid(), signal);
    const Ran ran = program.wait();
    INFO("code " << ran.code << ", signal " << ran.signal << ": " << ran.err.substr(0, 4000));
    REQUIRE((ran.code == 0 || ran.signal == signal));
    ended += ran.signal == signal ? 1 : 0;
    const Files now = settled(scratch.path() / folder);
    INFO("against the first set: " << difference(now, one) << "\nagainst the second: " << difference(now, two));
    REQUIRE((now == one || now == two));
    if (signal != SIGKILL) REQUIRE_FALSE(has_staging(scratch.path()));
  }
  CHECK(ended > 5);
  REQUIRE(run(scratch, first).code == 0);
  CHECK(files_in(scratch.path() / folder) == one);
  CHECK_FALSE(has_staging(scratch.path()));
}

}  // namespace

TEST_CASE("bind killed at 50 random moments leaves the old or the new set", "[faults]") {
  const test::ScratchFolder scratch;
  scratch.write("coat.obj", garment(5));
  end_at_random_moments(scratch, "out", {"bind", "coat.obj", "-o", "out", "-q"},
                        {"bind", "coat.obj", "-o", "out", "-q", "--frame", "triangle", "--prototypes"}, SIGKILL, 71);
}

TEST_CASE("follow killed at 50 random moments leaves the old or the new set", "[faults]") {
  const test::ScratchFolder scratch;
  scratch.write("coat.obj", garment(5));
  for (int i = 1; i <= 6; ++i) scratch.write("frame_" + std::to_string(i) + ".obj", garment(5 + i));
  REQUIRE(run(scratch, {"bind", "coat.obj", "-o", "bound", "-q"}).code == 0);
  end_at_random_moments(scratch, "out", {"follow", "bound", "frame_*.obj", "-o", "out", "-q", "--bake", "obj"},
                        {"follow", "bound", "frame_*.obj", "-o", "out", "-q", "--whole", "npy"}, SIGKILL, 72);
}

TEST_CASE("interrupted at 50 random moments, a run removes what it has staged and ends by the signal", "[faults]") {
  const int signal = GENERATE(SIGINT, SIGTERM);
  const test::ScratchFolder scratch;
  scratch.write("coat.obj", garment(5));
  // The very first moments of a process belong to the system: the handler is not there yet, nor is anything staged.
  end_at_random_moments(scratch, "out", {"bind", "coat.obj", "-o", "out", "-q"},
                        {"bind", "coat.obj", "-o", "out", "-q", "--frame", "triangle"}, signal, 73);
}

TEST_CASE("two runs at once on one folder: one whole set, and the one that was refused says so", "[faults]") {
  const test::ScratchFolder scratch;
  scratch.write("coat.obj", garment(5));
  const std::vector<std::string> one{"bind", "coat.obj", "-o", "out", "-q"};
  const std::vector<std::string> two{"bind", "coat.obj", "-o", "out", "-q", "--frame", "triangle"};
  REQUIRE(run(scratch, one).code == 0);
  const Files first = files_in(scratch.path() / "out");
  REQUIRE(run(scratch, two).code == 0);
  const Files second = files_in(scratch.path() / "out");
  for (int round = 0; round < 10; ++round) {
    Running a(one, in(scratch)), b(two, in(scratch));
    const Ran ran_a = a.wait(), ran_b = b.wait();
    for (const Ran* ran : {&ran_a, &ran_b}) {
      INFO(ran->err);
      CHECK((ran->code == 0 || ran->code == 4));
      if (ran->code == 4) CHECK_THAT(ran->err, Catch::Contains("another trimtack run"));
    }
    CHECK((ran_a.code == 0 || ran_b.code == 0));
    const Files now = files_in(scratch.path() / "out");
    CHECK((now == first || now == second));
  }
  CHECK_FALSE(has_staging(scratch.path()));
}

TEST_CASE("an input that changes while it is read gives a result or an error, never a crash", "[faults]") {
  const test::ScratchFolder scratch;
  const std::string whole = garment(5);
  const std::string path = scratch.write("coat.obj", whole);
  std::mt19937 random(74);
  int done = 0, refused = 0;
  for (int round = 0; round < 30; ++round) {
    Running program({"inspect", "coat.obj", "-q"}, in(scratch));
    for (int change = 0; change < 20; ++change) {
      std::this_thread::sleep_for(std::chrono::microseconds(random() % 3000));
      switch (random() % 4) {
        case 0:
          if (::truncate(path.c_str(), static_cast<off_t>(random() % whole.size())) != 0) continue;  // it was removed
          break;
        case 1:
          scratch.write("coat.obj", whole);
          break;
        case 2:
          scratch.write("coat.obj", std::string(random() % 100'000, '1'));
          break;
        default:
          fs::remove(path);
      }
    }
    const Ran ran = program.wait();
    INFO(ran.err);
    REQUIRE(ran.signal == 0);
    REQUIRE((ran.code == 0 || ran.code == 3));
    ++(ran.code == 0 ? done : refused);
    scratch.write("coat.obj", whole);
  }
  CHECK(done + refused == 30);
}

TEST_CASE("places without permission are told by name, and nothing is written", "[faults]") {
  const test::ScratchFolder scratch;
  fs::permissions(scratch.path(), fs::perms::all);
  scratch.write("coat.obj", garment(5));
  REQUIRE(run(scratch, {"bind", "coat.obj", "-o", "bound", "-q"}).code == 0);
  scratch.write("secret.obj", garment(5));
  fs::permissions(scratch.path() / "secret.obj", fs::perms::none);
  fs::create_directory(scratch.path() / "closed");
  fs::permissions(scratch.path() / "closed",
                  fs::perms::owner_read | fs::perms::owner_exec | fs::perms::others_read | fs::perms::others_exec);
  test::RunOptions options = in(scratch);
  options.as_nobody = true;
  const Ran version = test::run_program({"--version"}, options);
  if (version.code != 0) {
    WARN("the program cannot be run by another user from here: permissions are not tested");
    return;
  }
  const auto expect = [&](const std::vector<std::string>& arguments, int code, const std::string& name) {
    const Ran ran = test::run_program(arguments, options);
    INFO(ran.err);
    CHECK(ran.code == code);
    CHECK_THAT(ran.err, Catch::Contains("permission") && Catch::Contains(name));
  };
  expect({"inspect", "secret.obj", "-q"}, 3, "secret.obj");
  expect({"bind", "coat.obj", "-o", "closed", "-q"}, 4, "closed");
  expect({"bind", "coat.obj", "-o", "closed/out", "-q"}, 4, "closed/out");
  expect({"check", "bound", "coat.obj", "--report", "closed/r.html", "-q"}, 4, "closed/r.html");
  CHECK(fs::is_empty(scratch.path() / "closed"));
}

TEST_CASE("a file larger than the system allows is an error that keeps the old set", "[faults]") {
  const test::ScratchFolder scratch;
  scratch.write("coat.obj", garment(5));
  REQUIRE(run(scratch, {"split", "coat.obj", "-o", "out", "-q"}).code == 0);
  const Files before = files_in(scratch.path() / "out");
  test::RunOptions options = in(scratch);
  for (const std::uint64_t largest : {1000U, 20'000U, 60'000U}) {
    options.largest_file = largest;
    const Ran ran = test::run_program({"bind", "coat.obj", "-o", "out", "-q"}, options);
    INFO(ran.err);
    CHECK(ran.code == 4);
    CHECK_THAT(ran.err, Catch::Contains("cannot write"));
    CHECK(files_in(scratch.path() / "out") == before);
  }
  CHECK_FALSE(has_staging(scratch.path()));
}

TEST_CASE("a full disk is an error that says so and keeps the old set", "[faults]") {
  const test::ScratchFolder scratch;
  const fs::path disk = scratch.path() / "disk";
  fs::create_directory(disk);
  scratch.write("coat.obj", garment(5));
  if (::mount("none", disk.c_str(), "tmpfs", 0, "size=280k") != 0) {
    WARN("no small disk can be made here (needs the rights of root): the file size limit stands for it");
    return;
  }
  struct Unmount {
    const fs::path& disk;
    ~Unmount() { ::umount(disk.c_str()); }
  } unmount{disk};
  const Ran first = run(scratch, {"split", "coat.obj", "-o", "disk/out", "-q"});
  INFO(first.err);
  REQUIRE(first.code == 0);
  const Files before = files_in(disk / "out");
  const Ran ran = run(scratch, {"bind", "coat.obj", "-o", "disk/out", "-q", "--prototypes"});
  INFO(ran.err);
  CHECK(ran.code == 4);
  CHECK_THAT(ran.err, Catch::Contains("the disk is full"));
  CHECK(files_in(disk / "out") == before);
  CHECK_FALSE(has_staging(disk));
}
