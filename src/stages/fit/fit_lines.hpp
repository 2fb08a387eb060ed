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
  bool faces_up = false;  ///< along z
};

/// A line along z through (x, y) of the place; what it meets is in ascending z.
struct FitLine {
  double x = 0, y = 0;
  std::vector<LineHit> own;    ///< the trim's patch of cloth
  std::vector<LineHit> other;  ///< cloth outside the patch
  std::vector<LineHit> trim;   ///< the trim itself
};

/// A square grid of lines over the trim as seen along its axis, and the cloth near them.
struct FitLines {
  std::vector<Vec3> vertices;  ///< of the trim, in place coordinates
  Box trim;                    ///< box of the trim in place coordinates
  Box seen;                    ///< where lines run and cloth is looked for
  std::vector<Index> near;     ///< triangles of the cloth near that, ascending
  std::vector<FitLine> lines;
};

/// Sets all but the lines; without triangles when the trim has no vertices.
/// @param aside, beyond  how far beside the trim, and over and beneath it, cloth is looked for, file units
/// @param stack  scratch
/// Cost: one query of the tree.
void look_near(const FitModel& model, std::size_t trim, double aside, double beyond, std::vector<Index>& stack,
               FitLines& out);
/// Lays side x side lines and notes what they cross. @pre look_near
/// Cost: lines x (triangles near + those of the trim).
void lay_lines(const FitModel& model, std::size_t trim, int side, FitLines& out);
/// The same with a line through each of the points.
void lay_lines(const FitModel& model, std::size_t trim, std::span<const Vec3> through, FitLines& out);

/// A trim's vertices in place coordinates.
std::vector<Vec3> in_place(const FitModel& model, std::size_t trim);

}  // namespace trimtack
