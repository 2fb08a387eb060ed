// SPDX-License-Identifier: MIT
/// Weights of a frame from a patch, and what they will do wrong.
#pragma once

#include <array>
#include <span>

#include "trimtack/types.hpp"

namespace trimtack {

/// A patch vertex in the anchor's tangent plane; z along its normal.
struct FitPoint {
  double x = 0, y = 0, z = 0;
};

/// a and b: weights of d/dx and d/dy at the anchor (0, 0) from a weighted least-squares polynomial of the given order
/// (1 affine, 2 quadratic) through the points; they sum to 0 and reproduce every polynomial of that order.
/// @return false when the points do not determine such a polynomial (too few, on one line, on one conic).
/// Method: moving least squares (Lancaster & Salkauskas 1981) at one point. Weights fall from 1 at the anchor to 0.6 at
/// the rim, flat enough to stay within a few per cent of the best possible noise (equal weights, Gauss-Markov).
bool fit_frame(std::span<const FitPoint> points, int order, std::span<double> a, std::span<double> b);

/// Weights of the value at the anchor (they sum to 1) and of a and b, from one quadratic fit.
bool fit_place(std::span<const FitPoint> points, std::span<double> value, std::span<double> a, std::span<double> b);

/// Weights of the second derivatives d2/dx2, d2/dxdy, d2/dy2 at the anchor, from the same quadratic fit.
bool fit_curvature(std::span<const FitPoint> points, std::span<double> xx, std::span<double> xy, std::span<double> yy);

/// Recombines a and b so that their sums over the rest points are orthonormal: then the polar factor of a deformed
/// patch is that of the true deformation gradient, whatever slope the tangent plane was taken at.
/// @return false when the sums do not span a plane.
bool make_orthonormal(std::span<const FitPoint> points, std::span<double> a, std::span<double> b);

/// Standard deviation of the tilt about its worst axis, in radians, for independent vertex noise of 1 length unit along
/// each coordinate: the root of the larger eigenvalue of [[a.a, a.b], [a.b, b.b]]. Exact to first order.
double predicted_jitter(std::span<const double> a, std::span<const double> b);

/// The bend that a patch is tried on: its points rolled onto a cylinder of given radius about eight axes (isometric, so
/// that the true frame at the anchor does not turn). Keeps what does not depend on the weights.
class BendTrial {
 public:
  static constexpr std::size_t kAxes = 8;
  /// @param curvature  1 / radius of the cylinder
  void prepare(std::span<const FitPoint> points, double curvature, std::span<double> storage);
  static std::size_t storage_size(std::size_t points) { return points * kAxes * 2; }
  /// Largest angle in radians between the frame of the first `a.size()` points and the true one.
  double worst_error(std::span<const FitPoint> points, std::span<const double> a, std::span<const double> b) const;

 private:
  std::span<double> storage_;
  std::size_t count_ = 0;
};

/// What a fit of some order would do, before any weight is worked out.
struct FitPrediction {
  double jitter = 0;  ///< as predicted_jitter
  double bias = 0;    ///< as BendTrial::worst_error
};

/// Sums of d^2q f_i times the bend of the points, q = 0 and 1, f_i the terms of the polynomial: along the plane and up,
/// for each axis of a BendTrial.
using BendSums = std::array<std::array<std::array<std::array<double, BendTrial::kAxes>, 2>, 6>, 2>;

/// The same predictions for a patch that grows point by point: everything they need is a few sums, so that a prefix
/// costs no more than its last point. They agree with fit_frame, predicted_jitter and BendTrial to rounding.
class FitSums {
 public:
  /// @param points     must outlive the sums; none is taken yet
  /// @param curvature  1 / radius of the trial bend
  /// @param extent     about the size of the patch to come; only keeps numbers near 1
  void start(std::span<const FitPoint> points, double curvature, double extent);
  /// Takes the points up to `count`, which never falls. What only predictions ask for is summed when one is made.
  void extend(std::size_t count);
  double squared_radius() const { return squared_radius_ / (scale_ * scale_); }
  /// @return false when the points determine no polynomial of this order, or when its jitter is above most_jitter
  ///         (the bias, which costs most, is then not looked at)
  bool predict(int order, double most_jitter, FitPrediction& out);

 private:
  static constexpr std::size_t kTerms = 6;
  /// Whether no weights of any order can keep the jitter below a limit.
  bool surely_noisier(double jitter) const;
  void sum_moments();
  template <int kOrder>
  bool predict_order(double most_jitter, FitPrediction& out);
  std::span<const FitPoint> points_;
  std::size_t count_ = 0, summed_ = 0, bent_ = 0;    ///< points taken; those in the moments; those in the deflection
  double x_ = 0, y_ = 0, xx_ = 0, xy_ = 0, yy_ = 0;  ///< sums over the points taken
  double curvature_ = 0, scale_ = 1, squared_radius_ = 0;
  std::array<std::array<double, kTerms * kTerms>, 3> moments_{};  ///< sums of d^2q f_i f_j, q = 0, 1, 2
  BendSums deflection_{};
};

}  // namespace trimtack
