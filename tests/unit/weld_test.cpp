// SPDX-License-Identifier: MIT
// What weld promises: exact equality only, numbers by first occurrence, the two zeros are one place.
#include "trimtack/weld.hpp"

#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <map>
#include <random>

using namespace trimtack;

TEST_CASE("weld: equal positions become one, in the order of first occurrence") {
  const std::vector<Vec3> p{{1, 2, 3}, {4, 5, 6}, {1, 2, 3}, {0, 0, 0}, {4, 5, 6}};
  const WeldMap map = weld(p);
  CHECK(map.later == std::vector<Index>{2, 4});
  CHECK(map.first == std::vector<Index>{0, 1});
  CHECK(map.places == 3);
  CHECK(place_numbers(map, p.size()) == std::vector<Index>{0, 1, 0, 2, 1});
}

TEST_CASE("weld: the next double is another place, minus zero is not (V5)") {
  const double next = std::nextafter(1.0, 2.0);
  const WeldMap map = weld(std::vector<Vec3>{{1, 0.0, 0}, {next, 0, 0}, {1, -0.0, 0}});
  CHECK(place_numbers(map, 3) == std::vector<Index>{0, 1, 0});
}

TEST_CASE("weld: vertices without a finite place are never one, however many there are") {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const WeldMap map = weld(std::vector<Vec3>(20000, Vec3{nan, 0, 0}));
  CHECK(map.places == 20000);
  CHECK(map.later.empty());
}

TEST_CASE("weld: nothing gives nothing") { CHECK(weld({}).places == 0); }

TEST_CASE("weld: a few among many") {
  std::mt19937 random(4);
  std::uniform_real_distribution<double> place(-1, 1);
  std::vector<Vec3> p(100'000);
  for (Vec3& v : p) v = {place(random), place(random), place(random)};
  p[77'000] = p[5];
  p[99'999] = p[5];
  p[60'000] = p[50'000];
  const WeldMap map = weld(p);
  CHECK(map.later == std::vector<Index>{60'000, 77'000, 99'999});
  CHECK(map.first == std::vector<Index>{50'000, 5, 5});
  CHECK(map.of(99'999) == 5);
  CHECK(map.of(99'998) == 99'998);
}

TEST_CASE("weld: small lists and those of many tables agree with an ordered map") {
  std::mt19937 random(3);
  for (const std::size_t n : {7U, 3000U, 300'000U}) {
    std::uniform_int_distribution<int> place(0, static_cast<int>(std::cbrt(n)) + 1), group(0, 1);
    std::vector<Vec3> p(n);
    std::vector<Index> groups(n);
    for (std::size_t i = 0; i < n; ++i) {
      p[i] = {0.1 * place(random), -7.0 * place(random), 1e6 + place(random)};
      if (i % 1000 == 5) p[i].y = std::numeric_limits<double>::infinity();
      groups[i] = static_cast<Index>(group(random));
    }
    for (const bool grouped : {false, true}) {
      CAPTURE(n, grouped);
      const WeldMap map = grouped ? weld(p, groups) : weld(p);
      std::map<std::array<double, 4>, Index> number;
      std::vector<Index> expected, first;
      for (std::size_t i = 0; i < n; ++i) {
        const double of_group = grouped ? groups[i] : 0;
        const auto next = static_cast<Index>(first.size());
        const bool finite = std::isfinite(p[i].y);
        const auto [at, fresh] =
            number.try_emplace({p[i].x, p[i].y, p[i].z, finite ? of_group : 10.0 + static_cast<double>(i)}, next);
        if (fresh) first.push_back(static_cast<Index>(i));
        expected.push_back(at->second);
      }
      CHECK(place_numbers(map, n) == expected);
      CHECK(map.places == first.size());
      std::size_t wrong = 0;
      for (Index v = 0; v < n; ++v) wrong += map.of(v) == first[expected[v]] ? 0 : 1;
      CHECK(wrong == 0);
    }
  }
}
