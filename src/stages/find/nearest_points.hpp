// SPDX-License-Identifier: MIT
/// The nearest of a set of points.
#pragma once

#include <limits>
#include <memory>
#include <span>

#include "trimtack/types.hpp"

namespace trimtack {

struct NearPoint {
  Index index = 0;
  double squared_distance = 0;
};

class NearestPoints {
 public:
  /// O(n log n). The points must stay where they are.
  explicit NearestPoints(std::span<const Vec3> points);
  ~NearestPoints();
  NearestPoints(NearestPoints&&) noexcept;
  NearestPoints& operator=(NearestPoints&&) noexcept;

  /// Fills `found` with the points nearest to `query`, nearest first. @return how many: fewer when there are fewer
  /// points. O(log n) each.
  /// @param within  squared distance within which as many surely lie, when known: less is looked at
  std::size_t find(const Vec3& query, std::span<NearPoint> found,
                   double within = std::numeric_limits<double>::infinity()) const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace trimtack
