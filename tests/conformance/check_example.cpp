// SPDX-License-Identifier: MIT
// Compares the CSV that an example host printed (stdin) with the exact poses of one frame.
// Usage: check_example expected.json FRAME < poses.csv
#include <cmath>
#include <fstream>
#include <iostream>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>
#include <vector>

#include "trimtack/types.hpp"

namespace {

std::vector<double> numbers_of(const std::string& row) {
  std::vector<double> out;
  std::istringstream cells(row);
  for (std::string cell; std::getline(cells, cell, ',');) {
    char* end = nullptr;
    const double x = std::strtod(cell.c_str(), &end);
    out.push_back(end != cell.c_str() && *end == '\0' ? x : std::nan(""));
  }
  return out;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 3) return 2;
  std::ifstream in(argv[1]);
  const nlohmann::json vectors = nlohmann::json::parse(in);
  std::string row;
  std::getline(std::cin, row);
  if (row != "trim,name,tx,ty,tz,qx,qy,qz,qw,flags") {
    std::cout << "wrong header: " << row << '\n';
    return 1;
  }
  std::size_t compared = 0;
  for (const auto& frame : vectors["frames"]) {
    if (frame["frame"] != argv[2]) continue;
    for (const auto& pose : frame["poses"]) {
      std::getline(std::cin, row);
      const std::vector<double> cells = numbers_of(row);
      bool good =
          cells.size() == 10 && cells[0] == pose["trim"].get<double>() && cells[9] == pose["flags"].get<double>();
      if (good && !pose["matrix"].is_null()) {
        const trimtack::Mat3 r = trimtack::to_matrix({cells[5], cells[6], cells[7], cells[8]});
        for (std::size_t i = 0; i < 3; ++i) {
          const auto& expected = pose["matrix"][i];
          good = good && std::fabs(cells[2 + i] - expected[3].get<double>()) < 1e-8;
          for (std::size_t j = 0; j < 3; ++j)
            good = good && std::fabs(r.m[3 * i + j] - expected[j].get<double>()) < 1e-10;
        }
      }
      if (!good) {
        std::cout << argv[2] << ": wrong pose: " << row << '\n';
        return 1;
      }
      ++compared;
    }
  }
  if (compared == 0 || std::getline(std::cin, row)) {
    std::cout << argv[2] << ": " << compared << " poses compared, and rows are left or missing\n";
    return 1;
  }
  return 0;
}
