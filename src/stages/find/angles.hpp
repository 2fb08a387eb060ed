// SPDX-License-Identifier: MIT
/// Many angles at once.
#pragma once

#include <array>
#include <cstddef>

#include "trimtack/types.hpp"

namespace trimtack {

/// Collects pairs of vectors until there are enough to go through the arithmetic side by side.
struct AngleBatch {
  static constexpr std::size_t kSize = 128;
  std::array<double, kSize> squared_cross{}, dots{};  ///< of the two
  std::array<double, kSize> angle{};                  ///< between them, 0 to pi, within some 1e-15; set by measure()
  std::size_t count = 0;

  void add(const Vec3& p, const Vec3& q) {
    squared_cross[count] = squared_length(cross(p, q));
    dots[count] = dot(p, q);
    ++count;
  }
  bool full() const { return count == kSize; }
  void measure();
};

}  // namespace trimtack
