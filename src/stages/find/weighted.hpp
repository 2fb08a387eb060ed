// SPDX-License-Identifier: MIT
/// Quantiles of weighted samples.
#pragma once

#include <algorithm>
#include <span>
#include <vector>

namespace trimtack {

struct Weighted {
  double value, weight;
};

inline void sort_by_value(std::vector<Weighted>& items) {
  std::sort(items.begin(), items.end(), [](const Weighted& a, const Weighted& b) { return a.value < b.value; });
}

/// @param items  by value
inline double weighted_quantile(std::span<const Weighted> items, double q) {
  if (items.empty()) return 0;
  double total = 0;
  for (const Weighted& w : items) total += w.weight;
  double sum = 0;
  for (const Weighted& w : items) {
    sum += w.weight;
    if (sum >= q * total) return w.value;
  }
  return items.back().value;
}

}  // namespace trimtack
