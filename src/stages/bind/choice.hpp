// SPDX-License-Identifier: MIT
/// Chooses the weights of a binding among patches of growing size and order, by predicted error.
#pragma once

#include <array>
#include <span>
#include <vector>

#include "stages/bind/frame_fit.hpp"
#include "stages/bind/patch.hpp"
#include "trimtack/bind.hpp"

namespace trimtack {

/// What the trim must expect, in file units.
struct Expectation {
  double curvature = 0;  ///< 1 / bend radius
  double noise = 0;      ///< standard deviation of a vertex
  /// A patch of this radius is always among the candidates, larger ones only on coarse cloth.
  double fixed_radius = 12;
  double good_enough = 0;  ///< an error in radians that nobody sees at this trim; 0: the least that can be had
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
  bool misses_bend = false;  ///< all of the patch lies on two lines or so; one with more vertices may do better
};

/// How far a patch must be grown for a choice: the same limits as PatchGrower::grow.
struct GrowLimits {
  Index most = 0, enough = 0;
  double distance = 0;
};
GrowLimits grow_limits(const Expectation& expect, bool wide);
/// Enough for a patch that misses a bend within the limits above: five rows on either side of the anchor across each of
/// four lines.
constexpr Index kEnoughForBend = 48;

/// Scratch for many choices; one per thread.
class FrameChooser {
 public:
  /// @param grown   a grown patch, nearest first
  /// @param corners corners of the anchor triangles, which every binding lists first
  /// @param wide    false for stitches: at most 10 vertices
  /// @param only_good_enough  look only for a frame that is good enough; none is valid when there is none
  /// @return frames of at most 32 vertices besides the corners, fallbacks of 16 (of a bridge, with more than one anchor
  ///         triangle, all vertices: to leave some out would tell its panels apart); overwritten by the next call
  const ChosenFrames& choose(std::span<const GrownVertex> grown, std::span<const Index> corners,
                             const Expectation& expect, FrameChoice choice, bool wide, bool only_good_enough = false);

 private:
  struct Candidate {
    int order = 0;
    std::size_t reach = 0;         ///< taken from the nearest so many
    std::size_t count = 0;         ///< vertices taken
    std::size_t selection = kAll;  ///< which of selected_ holds them; kAll: all of the nearest
    double jitter = 0, bias = 0, error = 0;
  };
  static constexpr std::size_t kAll = ~std::size_t{0};
  void try_triangle(std::span<const FitPoint> triangle, const Expectation& expect);
  void try_sizes(const Expectation& expect, bool wide, std::size_t most_vertices);
  bool misses_bend(const Expectation& expect) const;
  void try_beyond(const Expectation& expect, std::size_t most_vertices);
  void try_thinned(const Expectation& expect);
  void list_sizes(double fixed_radius, bool wide);
  bool predict(const Expectation& expect, Candidate& candidate);
  std::size_t with_equals(std::size_t count) const;
  std::size_t within(double radius) const;
  std::size_t select(std::size_t reach, std::size_t count, int order);
  const Candidate* best_candidate(const Expectation& expect) const;
  void make_fallback(const Candidate* chosen, std::span<const Index> corners, bool wide, std::size_t most_vertices);
  void make_weights(const Candidate& candidate, std::span<const Index> corners, std::span<const FitPoint> triangle,
                    FrameWeights& out);

  std::span<const GrownVertex> grown_;
  std::vector<FitPoint> points_, picked_;
  std::vector<double> a_, b_, worth_, nearest_;
  std::vector<std::size_t> sizes_;
  std::vector<Candidate> candidates_, larger_;  ///< those that may be taken; those too large, to be thinned
  std::vector<std::vector<Index>> selected_;    ///< places in grown_, ascending
  std::size_t selections_ = 0;                  ///< how many of selected_ are in use
  double best_ = 0;                             ///< least error among candidates_
  bool only_good_enough_ = false;
  FitSums sums_;
  ChosenFrames out_;
};

}  // namespace trimtack
