// SPDX-License-Identifier: MIT
/// A small seeded generator with the same numbers on every platform (splitmix64; Steele, Lea & Flood 2014).
#pragma once

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <numbers>

#include "trimtack/types.hpp"

namespace trimtack::testing {

class Random {
 public:
  explicit Random(std::uint64_t seed) : state_(seed) { state_ = bits() ^ 0x6a09e667f3bcc908ULL; }
  std::uint64_t bits() {
    std::uint64_t z = (state_ += 0x9e3779b97f4a7c15ULL);
    z = (z ^ (z >> 30U)) * 0xbf58476d1ce4e5b9ULL;
    z = (z ^ (z >> 27U)) * 0x94d049bb133111ebULL;
    return z ^ (z >> 31U);
  }
  double unit() { return static_cast<double>(bits() >> 11U) * 0x1.0p-53; }
  double between(double low, double high) { return low + (high - low) * unit(); }
  int pick(int count) { return static_cast<int>(unit() * count); }
  int whole(int low, int high) { return low + pick(high - low + 1); }
  bool chance(double p) { return unit() < p; }
  double normal() {
    const double u = 1.0 - unit();
    return std::sqrt(-2.0 * std::log(u)) * std::cos(2.0 * std::numbers::pi * unit());
  }
  Vec3 direction() {
    Vec3 d;
    do {
      d = {normal(), normal(), normal()};
    } while (!(length(d) > 1e-3));
    return normalized(d);
  }
  Mat3 rotation() {
    const double a = normal();
    const double b = normal();
    const double c = normal();
    const double d = normal();
    const double n = std::sqrt(a * a + b * b + c * c + d * d);
    return to_matrix(Quat{a / n, b / n, c / n, d / n});
  }

 private:
  std::uint64_t state_;
};

}  // namespace trimtack::testing
