// SPDX-License-Identifier: MIT
/// Chooses the weights of a binding among patches of growing size and order, by predicted error.
#pragma once

#include <array>
#include <span>
#include <vector>

#include "stages/frame_fit.hpp"
#include "stages/patch.hpp"
#include "trimtack/bind.hpp"

namespace trimtack {

/// What the trim must expect, in file units.
struct Expectation {
  double curvature = 0;  ///< 1 / bend radius
  double noise = 0;      ///< standard deviation of a vertex
  double fixed_radius =
      12;  ///< a patch of this radius is always among the candidates, larger ones only on coarse cloth
};

/// Weights over `vertices` (cloth vertex numbers; the anchor triangle's corners first), with their predictions.
struct FrameWeights {
  bool valid = false;
  int order = 0;
  double radius = 0;
  double jitter = 0;  ///< radians for vertex noise of 1 length unit
  double bias = 0;    ///< radians
  double error = 0;   ///< radians: bias and noise together
  std::vector<Index> vertices;
  std::vector<double> a, b;
};

struct ChosenFrames {
  FrameWeights chosen, fallback;
};

/// Scratch for many choices; one per thread.
class FrameChooser {
 public:
  /// @param grown   a grown patch, nearest first
  /// @param corners corners of the anchor triangles, which every binding lists first
  /// @param wide    false for stitches: at most 10 vertices, 16 in the fallback
  ChosenFrames choose(std::span<const GrownVertex> grown, std::span<const Index> corners, const Expectation& expect,
                      FrameChoice choice, bool wide);

 private:
  struct Candidate {
    int order = 0;
    std::size_t count = 0;
    double jitter = 0, bias = 0, error = 0;
  };
  bool evaluate(Candidate& candidate, const Expectation& expect, double give_up_above);
  FrameWeights weights_of(const Candidate& candidate, std::span<const GrownVertex> grown,
                          std::span<const Index> corners, std::span<const FitPoint> triangle);
  std::vector<std::size_t> counts(std::span<const GrownVertex> grown, double fixed_radius, std::size_t most) const;

  std::vector<FitPoint> points_;
  std::vector<double> storage_, a_, b_;
  BendTrial trial_;
};

}  // namespace trimtack
