// SPDX-License-Identifier: MIT
/// Compares found parts with the truth of a made-up garment.
#pragma once

#include <array>
#include <string>
#include <vector>

#include "support/garment_generator.hpp"
#include "trimtack/parts.hpp"

namespace trimtack::testing {

struct Pairs {  ///< pairs of items: together in truth and found, only found, only in truth
  double both = 0, only_found = 0, only_true = 0;
  double f1() const { return both + only_found + only_true > 0 ? 2 * both / (2 * both + only_found + only_true) : 1; }
};
struct Bin {
  double confidence = 0;
  std::size_t count = 0, right = 0;
};
struct Score {
  std::size_t components = 0, wrong = 0, silent = 0, uncertain = 0;
  std::size_t large_panels_lost = 0;  ///< cloth longer than 100 mm that was called hard
  Pairs trims, prototypes;
  std::array<Bin, 10> bins;  ///< by confidence: 0.5-0.55, ..., 0.95-1
  std::vector<std::string> faults;
  void add(const Score& other);
};
Score score(const Garment& garment, const Parts& parts);

}  // namespace trimtack::testing
