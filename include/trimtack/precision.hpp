// SPDX-License-Identifier: MIT
/// How finely an export's positions were written, and what that alone does to a frame.
#pragma once

#include "trimtack/mesh.hpp"

namespace trimtack {

/// The step to which positions were rounded.
struct Precision {
  double step = 0;    ///< in file units: one in the last digit, or the spacing of single precision; 0: not known
  bool text = false;  ///< decimals of a text; otherwise single precision
  int decimals = 0;   ///< of a text: digits behind the point (may be negative)
};

/// Of a mesh read from text: the place of the last digit that its numbers use, when those digits look rounded (most are
/// not zero and they vary); numbers that are exact in themselves, as those of a regular grid, give 0. Otherwise the
/// spacing of single precision at the largest coordinate, when every position is a single-precision number.
/// Cost: at most 3,000 numbers are looked at, evenly over the file, and the positions once.
Precision position_precision(const SourceMesh& mesh);

/// Standard deviation of the rounding error of one coordinate: half a step over the square root of 3.
double rounding_noise(const Precision& precision);

/// Tilt in degrees (standard deviation) of the frame on an equilateral triangle of this edge whose corners have this
/// noise: noise * sqrt(2) / edge (error propagation to first order; checked by sampling in precision_test).
double triangle_tilt_deg(double noise, double edge);

/// Median edge length of the faces; 0 without faces. Cost: linear.
double median_edge(const SourceMesh& mesh);

}  // namespace trimtack
