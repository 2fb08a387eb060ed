// SPDX-License-Identifier: MIT
// What weld promises: exact equality only, numbers by first occurrence, the two zeros are one place.
#include "trimtack/weld.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <limits>

using namespace trimtack;

TEST_CASE("weld: equal positions become one, in the order of first occurrence") {
  const std::vector<Vec3> p{{1, 2, 3}, {4, 5, 6}, {1, 2, 3}, {0, 0, 0}, {4, 5, 6}};
  const WeldMap map = weld(p);
  CHECK(map.to_welded == std::vector<Index>{0, 1, 0, 2, 1});
  CHECK(map.representative == std::vector<Index>{0, 1, 3});
}

TEST_CASE("weld: the next double is another place, minus zero is not (V5)") {
  const double next = std::nextafter(1.0, 2.0);
  const WeldMap map = weld(std::vector<Vec3>{{1, 0.0, 0}, {next, 0, 0}, {1, -0.0, 0}});
  CHECK(map.to_welded == std::vector<Index>{0, 1, 0});
}

TEST_CASE("weld: vertices without a finite place are never one, however many there are") {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const WeldMap map = weld(std::vector<Vec3>(20000, Vec3{nan, 0, 0}));
  CHECK(map.count() == 20000);
}

TEST_CASE("weld: nothing gives nothing") { CHECK(weld({}).count() == 0); }
