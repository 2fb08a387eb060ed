// SPDX-License-Identifier: MIT
/// Things by two measures, to find those that are about alike among many.
#pragma once

#include <cstddef>
#include <cstdint>
#include <unordered_map>
#include <vector>

#include "trimtack/types.hpp"

namespace trimtack {

class MeasureIndex {
 public:
  /// Things are numbered in the order in which they are added.
  void add(double first, double second);
  /// Numbers of the things within reach of both measures, and perhaps a few just beyond, ascending; all of them where
  /// they are few or the reaches no small part of the measures. @pre reaches are not negative
  /// Cost: that of the things found, where they differ by more than the reaches.
  void find(double first, double first_reach, double second, double second_reach, std::vector<Index>& out) const;

 private:
  struct Thing {
    double first = 0, second = 0;
    Index number = 0;
  };
  std::unordered_map<std::uint64_t, std::vector<Thing>> cells_;  ///< by the logarithms of both
  std::size_t count_ = 0;
};

}  // namespace trimtack
