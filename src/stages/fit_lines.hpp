// SPDX-License-Identifier: MIT
/// Lines along a trim's axis at rest, and the cloth that they cross.
#pragma once

#include <array>
#include <span>
#include <vector>

#include "trimtack/fit.hpp"

namespace trimtack {

/// Where a line meets a triangle, in place coordinates.
struct LineHit {
  double z = 0;
  Index triangle = kNone;
  std::array<double, 3> bary{};
};

/// A line along z through (x, y) of the place; what it meets is in ascending z.
struct FitLine {
  double x = 0, y = 0;
  std::vector<LineHit> own;    ///< the trim's patch of cloth
  std::vector<LineHit> other;  ///< cloth outside the patch
  std::vector<LineHit> trim;   ///< the trim itself
};

/// A grid of lines over the trim as seen along its axis.
/// @param beyond  how far above and beneath the trim other cloth is looked for, file units
/// @param stack, found  scratch
/// Cost: one query of the tree; lines x (triangles near + those of the trim).
std::vector<FitLine> lines_through(const FitModel& model, std::size_t trim, double beyond, std::vector<Index>& stack,
                                   std::vector<Index>& found);

}  // namespace trimtack
