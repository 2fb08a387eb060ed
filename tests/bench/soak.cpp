// SPDX-License-Identifier: MIT
// Long runs of the program on one garment: does memory stay flat, are all handles given back?
//     soak MAKE_EXPORT TRIMTACK FOLDER [FRAMES]
// Makes an export with a cloth of some 100,000 vertices and 2,000 trims and 25 frames of it, binds it, then follows and
// checks FRAMES frames (default 2,000; the 25 over and over, each time under another name), looking at the process
// every 20 ms: the first 50 frames are over when the first two files are closed for good. Fails above 1 MB of growth
// after that, or when the number of open handles grows.
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>
#include <thread>
#include <vector>

namespace {

namespace fs = std::filesystem;

struct Sample {
  double seconds = 0;
  std::size_t memory_kb = 0, handles = 0;
  bool early = false;  ///< one of the first two files of frames is open
};

std::string name_of_file(int i) { return "soak_" + std::to_string(i) + ".npy"; }

pid_t start(const std::vector<std::string>& arguments) {
  const pid_t pid = ::fork();
  if (pid != 0) return pid;
  std::vector<char*> argv;
  for (const std::string& argument : arguments) argv.push_back(const_cast<char*>(argument.c_str()));
  argv.push_back(nullptr);
  ::execv(argv[0], argv.data());
  ::_exit(127);
}

/// Resident memory that is the process's own (files that it maps or reads do not count), and its open handles.
bool look(pid_t pid, Sample& sample) {
  const std::string proc = "/proc/" + std::to_string(pid);
  std::ifstream status(proc + "/status");
  std::string line;
  sample.memory_kb = 0;
  while (std::getline(status, line)) {
    if (line.rfind("RssAnon:", 0) == 0) sample.memory_kb = std::strtoull(line.c_str() + 8, nullptr, 10);
  }
  sample.handles = 0;
  std::error_code error;
  for (const auto& entry : fs::directory_iterator(proc + "/fd", error)) {
    ++sample.handles;
    std::error_code gone;
    const std::string name = fs::read_symlink(entry.path(), gone).filename();
    sample.early = sample.early || name == name_of_file(0) || name == name_of_file(1);
  }
  return sample.memory_kb != 0;
}

/// Samples of a run from its start to its end; stops the program when the run fails.
std::vector<Sample> watch(const std::vector<std::string>& arguments) {
  const auto begin = std::chrono::steady_clock::now();
  const pid_t pid = start(arguments);
  std::vector<Sample> samples;
  int status = 0;
  while (::waitpid(pid, &status, WNOHANG) == 0) {
    Sample sample;
    sample.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
    if (look(pid, sample)) samples.push_back(sample);
    std::this_thread::sleep_for(std::chrono::milliseconds(20));
  }
  if (!WIFEXITED(status) || WEXITSTATUS(status) > 1) {
    std::fprintf(stderr, "%s failed with status %d\n", arguments[1].c_str(), status);
    std::exit(2);
  }
  return samples;
}

void run(const std::vector<std::string>& arguments) { (void)watch(arguments); }

/// Growth after the first 50 frames.
bool report(const std::string& name, const std::vector<Sample>& samples, int frames) {
  std::size_t first = samples.size();
  while (first > 0 && !samples[first - 1].early) --first;
  Sample before, after;
  for (std::size_t i = 0; i < samples.size(); ++i) {
    const Sample& sample = samples[i];
    Sample& side = i < first ? before : after;
    side.memory_kb = std::max(side.memory_kb, sample.memory_kb);
    side.handles = std::max(side.handles, sample.handles);
  }
  const auto growth = static_cast<long>(after.memory_kb) - static_cast<long>(before.memory_kb);
  std::printf("%s: %d frames in %.1f s; %zu KB until frame 50, %zu KB after (%+ld KB); handles %zu, then %zu\n",
              name.c_str(), frames, samples.back().seconds, before.memory_kb, after.memory_kb, growth, before.handles,
              after.handles);
  return growth <= 1000 && after.handles <= before.handles && first > 20 && samples.size() - first > 20;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc < 4) {
    std::fprintf(stderr, "usage: soak MAKE_EXPORT TRIMTACK FOLDER [FRAMES]\n");
    return 2;
  }
  const std::string make = argv[1], program = argv[2];
  const fs::path folder = argv[3];
  const int frames = argc > 4 ? std::atoi(argv[4]) : 2000;
  constexpr int kInFile = 25;
  fs::create_directories(folder);
  const std::string obj = folder / "soak.obj", npy = folder / name_of_file(0), bound = folder / "bound";
  run({make, obj, "--faces", "380000", "--trims", "2000", "--stitches", "0", "--frames", std::to_string(kInFile),
       "--npy", npy});
  run({program, "bind", obj, "-o", bound});
  std::vector<std::string> files{npy};
  for (int i = 1; i * kInFile < frames; ++i) {
    files.push_back(folder / name_of_file(i));
    fs::remove(files.back());
    fs::create_hard_link(npy, files.back());
  }
  bool good = true;
  for (const std::string command : {"follow", "check"}) {
    std::vector<std::string> arguments{program, command, bound};
    arguments.insert(arguments.end(), files.begin(), files.end());
    if (command == "follow") arguments.insert(arguments.end(), {"-o", folder / "followed"});
    arguments.push_back("-q");
    good = report(command, watch(arguments), frames) && good;
  }
  std::error_code ignored;
  fs::remove_all(folder, ignored);
  std::printf("%s\n", good ? "flat" : "NOT flat");
  return good ? 0 : 1;
}
