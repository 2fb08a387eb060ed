// SPDX-License-Identifier: MIT
// The smallest tool: takes a combined export apart, binds it and prints the table's name, bindings and size.
#include <cstdio>

#include "trimtack/io/obj.hpp"
#include "trimtack/pipeline.hpp"
#include "trimtack/version.h"

int main(int argc, char** argv) {
  if (argc != 2) {
    std::fprintf(stderr, "usage: tool COMBINED.obj\n");
    return 2;
  }
  trimtack::Report report;
  auto combined = trimtack::read_obj(argv[1], {}, report);
  if (!combined) {
    std::fprintf(stderr, "tool: %s\n", to_text(combined.error()).c_str());
    return 3;
  }
  const auto garment = trimtack::take_apart(std::move(*combined), {}, report);
  if (!garment) return 3;
  const auto bound = trimtack::bind_garment(*garment, {}, report);
  if (!bound) return 3;
  std::printf("trimtack %s: %zu bindings\n", TT_VERSION_TEXT, bound->table.bindings.size());
  return 0;
}
