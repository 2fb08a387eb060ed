// SPDX-License-Identifier: MIT
// Writes the demo coat as one combined export: demo_coat FILE.obj
#include <cstdio>

#include "trimtack/demo.hpp"
#include "trimtack/io/file_set.hpp"
#include "trimtack/io/obj.hpp"
#include "trimtack/result.hpp"

int main(int argc, char** argv) {
  if (argc != 2) {
    std::fprintf(stderr, "usage: demo_coat FILE.obj\n");
    return 2;
  }
  trimtack::DemoOptions options;
  options.frames = 0;
  const trimtack::Demo demo = trimtack::make_demo(options);
  const auto written = trimtack::write_file(argv[1], trimtack::write_obj(demo.combined, {}));
  if (written) return 0;
  std::fprintf(stderr, "%s\n", trimtack::to_text(written.error()).c_str());
  return 4;
}
