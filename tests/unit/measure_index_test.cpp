// SPDX-License-Identifier: MIT
// What is found by cells against all things looked at one by one.
#include "stages/find/measure_index.hpp"

#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <numeric>
#include <random>

using namespace trimtack;

namespace {

struct Things {
  std::vector<std::array<double, 2>> list;
  MeasureIndex index;

  void add(double first, double second) {
    list.push_back({first, second});
    index.add(first, second);
  }
  std::vector<Index> found(double first, double first_reach, double second, double second_reach) const {
    std::vector<Index> out{77};
    index.find(first, first_reach, second, second_reach, out);
    return out;
  }
  std::vector<Index> within(double first, double first_reach, double second, double second_reach) const {
    std::vector<Index> out;
    for (Index i = 0; i < list.size(); ++i)
      if (std::abs(list[i][0] - first) <= first_reach && std::abs(list[i][1] - second) <= second_reach)
        out.push_back(i);
    return out;
  }
};

}  // namespace

TEST_CASE("all things within reach are found, ascending, and hardly any other") {
  std::mt19937 random(3);
  std::uniform_real_distribution<double> one(0, 1);
  for (const double size : {1e-200, 1e-6, 1.0, 1e9, 1e200}) {
    Things things;
    for (int i = 0; i < 3000; ++i) things.add(size * (1 + one(random)), 0.9 + 0.1 * one(random));
    for (int i = 0; i < 300; ++i) {
      const double first = size * (1 + one(random)), reach = size * 0.01 * one(random);
      const double second = 0.9 + 0.1 * one(random), second_reach = 0.02 * one(random);
      CHECK(things.found(first, reach, second, second_reach) == things.within(first, reach, second, second_reach));
    }
    const std::array<double, 2> known = things.list[1234];
    CHECK(things.found(known[0], 0, known[1], 0) == std::vector<Index>{1234});
  }
}

TEST_CASE("where reaches are no small part of the measures, all things are given") {
  Things things;
  for (int i = 0; i < 50; ++i) things.add(1 + i, 1);
  const double infinite = std::numeric_limits<double>::infinity(), none = std::numeric_limits<double>::quiet_NaN();
  std::vector<Index> all(50);
  std::iota(all.begin(), all.end(), Index{0});
  CHECK(things.found(3, 0.01, 1, 0.01) == std::vector<Index>{2});
  CHECK(things.found(1, 2, 1, 0) == all);
  CHECK(things.found(1, 0, 1, infinite) == all);
  CHECK(things.found(none, 0, 1, 0) == all);
  CHECK(things.found(0, 0, 1, 0) == all);
  CHECK(things.found(infinite, infinite, 1, 0) == all);
}

TEST_CASE("things without a logarithm are numbered, and found where all are") {
  Things things;
  const double infinite = std::numeric_limits<double>::infinity(), none = std::numeric_limits<double>::quiet_NaN();
  things.add(0, 1);
  things.add(none, 1);
  things.add(1, none);
  things.add(2, 1);
  things.add(infinite, 1);
  things.add(-1, 1);
  for (int i = 0; i < 50; ++i) things.add(100 + i, 1);
  CHECK(things.found(2, 0.001, 1, 0.001) == std::vector<Index>{3});
  CHECK(things.found(1, 0.001, 1, 0.001).empty());
  CHECK(things.found(2, 5, 1, 5).size() == 56);
}
