// SPDX-License-Identifier: MIT
// The whole job as a user sees it: programs started, files read and written.
//   bench_job [FACES TRIMS]     default 994000 20000
// 1. `bind` against a pipeline glued from libraries (glue_pipeline.cpp), both on two threads.
// 2. `split` against reading the same file and writing as much (cp).
// 3. `follow` of 200 frames against reading the frames into memory, poses as numbers; with text as well, without a bar.
#include <sys/stat.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include "bench/bench.hpp"
#include "bench/child.hpp"
#include "support/scratch_folder.hpp"
#include "trimtack/io/obj.hpp"

namespace {

using bench::Contender;

struct Watched {
  double peak_mib = 0;
};

Contender program(const std::string& name, const std::vector<std::string>& words, Watched& watched) {
  return {name, [words, &watched] { watched.peak_mib = std::max(watched.peak_mib, bench::run_child(words).peak_mib); }};
}

bool bench_bind(const std::string& mesh, const std::string& folder) {
  Watched bind, glue;
  std::vector<Contender> contenders{
      program("trimtack bind", {TRIMTACK_PROGRAM, "bind", mesh, "-o", folder + "/bound", "-q", "--threads", "2"}, bind),
      program("glued from libraries", {GLUE_PROGRAM, mesh, folder + "/glued"}, glue)};
  bench::interleave(contenders, 7);
  bench::print_table("read, split, bind, write", contenders);
  std::printf("  file %.0f MB; peak memory: %.0f MiB, glued %.0f MiB\n",
              1e-6 * static_cast<double>(std::filesystem::file_size(mesh)), bind.peak_mib, glue.peak_mib);
  const bool fast =
      bench::print_bar("glued / bind, elapsed", contenders[1].median() / contenders[0].median(), false, 8);
  const bool small = bench::print_bar("bind / glued, peak memory", bind.peak_mib / glue.peak_mib, true, 0.6);
  return fast && small;
}

/// Reads a file as a program would that needs all of it in memory.
std::size_t read_whole(const std::string& path) {
  const std::size_t size = std::filesystem::file_size(path);
  const auto bytes = trimtack::allocate_large(size);
  std::ifstream file(path, std::ios::binary);
  file.rdbuf()->pubsetbuf(nullptr, 0);
  file.read(bytes.get(), static_cast<std::streamsize>(size));
  bench::keep(bytes);
  return size;
}

bool bench_split(const std::string& mesh, const std::string& folder) {
  Watched split;
  const std::string copy = folder + "/copy.obj";
  std::vector<Contender> contenders{
      program("trimtack split", {TRIMTACK_PROGRAM, "split", mesh, "-o", folder + "/split", "-q", "--threads", "2"},
              split),
      {"reading and writing it alone, two threads", [&] {
         bench::Threads threads(2);
         trimtack::Report report;
         trimtack::ObjReadOptions options;
         options.executor = threads.executor();
         const auto read = trimtack::read_obj(mesh, options, report);
         std::ofstream out(copy, std::ios::binary);
         (void)trimtack::write_obj(*read, {.header = {}, .splice = true, .executor = threads.executor()},
                                   [&](std::string_view piece) -> trimtack::Result<void> {
                                     out.write(piece.data(), static_cast<std::streamsize>(piece.size()));
                                     return {};
                                   });
       }}};
  bench::interleave(contenders, 7);
  bench::print_table("split", contenders);
  return bench::print_bar("split / reading and writing", contenders[0].median() / contenders[1].median(), true, 2);
}

bool bench_follow(const std::string& folder) {
  const std::string mesh = folder + "/cloth.obj", frames = folder + "/frames.npy", bound = folder + "/followed";
  bench::run_child(
      {MAKE_EXPORT_PROGRAM, mesh, "--faces", "330000", "--trims", "2000", "--frames", "200", "--npy", frames});
  bench::run_child({TRIMTACK_PROGRAM, "bind", mesh, "-o", bound, "-q"});
  // The bar compares numbers in with numbers out. By default a table of text is written beside them, four times as
  // long: that costs what the text costs, whatever reads the frames.
  Watched follow, with_text;
  const std::vector<std::string> words{TRIMTACK_PROGRAM, "follow", bound, frames, "-q", "-o"};
  const auto into = [&](std::initializer_list<std::string> more) {
    std::vector<std::string> all = words;
    all.insert(all.end(), more);
    return all;
  };
  std::vector<Contender> contenders{
      program("trimtack follow --poses npy", into({folder + "/posed", "--poses", "npy"}), follow),
      program("trimtack follow, with text", into({folder + "/told"}), with_text),
      {"the frames read into memory", [&] { bench::keep(read_whole(frames)); }}};
  bench::interleave(contenders, 7);
  bench::print_table("follow, 200 frames, 2000 trims", contenders);
  std::printf("  frames %.0f MB, peak memory %.0f MiB, with text %.0f MiB\n",
              1e-6 * static_cast<double>(std::filesystem::file_size(frames)), follow.peak_mib, with_text.peak_mib);
  return bench::print_bar("reading / follow --poses npy, elapsed", contenders[2].median() / contenders[0].median(),
                          false, 0.7);
}

}  // namespace

int main(int argc, char** argv) {
  const trimtack::test::ScratchFolder scratch;
  const std::string folder = scratch.path().string(), mesh = folder + "/export.obj";
  const std::string faces = argc > 2 ? argv[1] : "994000", trims = argc > 2 ? argv[2] : "20000";
  bench::run_child({MAKE_EXPORT_PROGRAM, mesh, "--faces", faces, "--trims", trims, "--full"});
  const bool bind = bench_bind(mesh, folder), split = bench_split(mesh, folder), follow = bench_follow(folder);
  return bind && split && follow ? 0 : 1;
}
