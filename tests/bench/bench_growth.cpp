// SPDX-License-Identifier: MIT
// Cost grows linearly: `split` and `bind` on exports from 10 thousand to 10 million faces and from 10 to 200,000 trims.
//   bench_growth [LARGEST_FACES]     default 10000000
#include <cstdint>
#include <cstdlib>
#include <filesystem>
#include <string>

#include "bench/bench.hpp"
#include "bench/child.hpp"
#include "support/scratch_folder.hpp"

namespace {

struct Size {
  std::uint64_t faces, trims;
};

/// The cost of one more face or trim must not rise with the size by more than this, over the whole table: what is left
/// for logarithms and caches. Quadratic steps show as factors of ten and more.
constexpr double kLargestRise = 2.5;

}  // namespace

int main(int argc, char** argv) {
  const std::uint64_t largest = argc > 1 ? std::strtoull(argv[1], nullptr, 10) : 10'000'000;
  constexpr Size kSizes[] = {{10'000, 10},        {10'000, 200},    {100'000, 10},
                             {100'000, 2'000},    {1'000'000, 10},  {1'000'000, 20'000},
                             {3'000'000, 60'000}, {10'000'000, 10}, {10'000'000, 200'000}};
  const trimtack::test::ScratchFolder scratch;
  const std::string folder = scratch.path().string(), mesh = folder + "/export.obj";
  std::printf("\n  %10s %8s %10s %10s %10s %12s %10s %10s\n", "faces", "trims", "split ms", "cpu ms", "MiB", "bind ms",
              "cpu ms", "MiB");
  double least_split = 0, most_split = 0, least_bind = 0, most_bind = 0;
  for (const Size& size : kSizes) {
    if (size.faces > largest) continue;
    bench::run_child(
        {MAKE_EXPORT_PROGRAM, mesh, "--faces", std::to_string(size.faces), "--trims", std::to_string(size.trims)});
    const bench::ChildRun split = bench::run_child({TRIMTACK_PROGRAM, "split", mesh, "-o", folder + "/split", "-q"});
    const bench::ChildRun bind = bench::run_child({TRIMTACK_PROGRAM, "bind", mesh, "-o", folder + "/bound", "-q"});
    std::printf("  %10llu %8llu %10.0f %10.0f %10.0f %12.0f %10.0f %10.0f\n",
                static_cast<unsigned long long>(size.faces), static_cast<unsigned long long>(size.trims), split.ms,
                split.processor_ms, split.peak_mib, bind.ms, bind.processor_ms, bind.peak_mib);
    std::fflush(stdout);
    if (size.faces < 1'000'000 || size.trims < 1000) continue;
    const auto widen = [&](double cost, double& least, double& most) {
      least = least == 0 ? cost : std::min(least, cost);
      most = std::max(most, cost);
    };
    widen(split.processor_ms / static_cast<double>(size.faces), least_split, most_split);
    widen(bind.processor_ms / static_cast<double>(size.faces), least_bind, most_bind);
  }
  if (least_split == 0) return 0;
  const bool split = bench::print_bar("split: dearest / cheapest face, 1 M faces and more", most_split / least_split,
                                      true, kLargestRise);
  const bool bind =
      bench::print_bar("bind: dearest / cheapest face, 1 M faces and more", most_bind / least_bind, true, kLargestRise);
  return split && bind ? 0 : 1;
}
