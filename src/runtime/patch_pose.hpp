// SPDX-License-Identifier: MIT
/// From one patch on one cloth to a rigid motion, and how far to believe it. Private to the runtime.
#pragma once

#include <stddef.h>
#include <stdint.h>

#include "runtime/frame.hpp"
#include "runtime/view.hpp"
#include "runtime/wide_sums.hpp"

namespace trimtack::view {

/// Principal stretches that cloth under a trim can show. Woven cloth stretches by less than 0.2 and elastic knits to
/// about 3 times their length before they tear (common practice, no source); a coarse cloth mesh that is pushed
/// together keeps about a third of its length along the push before it folds. So everything a simulator delivers lies
/// well within 0.1 to 4, and a garment carried to another body size within 0.8 to 1.3; beyond it a vertex has left its
/// place.
inline constexpr double kSmallestStretch = 0.1;
inline constexpr double kLargestStretch = 4.0;
/// A patch whose vertices lie further from each other than this many times their rest distance has been torn apart.
inline constexpr double kLargestReach = 4.0;
/// Below this ratio of the principal stretches the second direction is noise: float positions a metre from the origin
/// carry 6e-5 mm, which on a 5 mm patch is 1e-5 of its size and at this ratio already one degree.
inline constexpr double kCollapsedRatio = 1e-3;

enum class Belief : uint8_t {
  Good,
  Stretched,  ///< a frame, but of cloth that no cloth can become
  Collapsed,  ///< finite, without a frame
  NotFinite
};

struct PatchState {
  frame::Sums<double> sums;
  frame::Gradient<double> gradient;
  Belief belief;
};

template <class P>
struct Cloth {
  const P* positions;
  size_t stride;
};

/// Whether patches are summed in wider registers, one by one: faster than four side by side in narrow ones.
inline bool sums_wide(const float*) { return false; }
inline bool sums_wide(const double*) {
#ifdef TRIMTACK_WIDE
  return __builtin_cpu_supports("avx2");
#else
  return false;
#endif
}

template <class P>
frame::Sums<double> sum_patch(const View& view, const Cloth<P>& cloth, const layout::Patch& patch) {
  const layout::Weights* w = view.weights + patch.first;
#ifdef TRIMTACK_WIDE
  if constexpr (sizeof(P) == sizeof(double)) {
    if (sums_wide(cloth.positions))
      return frame::wide::weighted_sums(cloth.positions, cloth.stride, view.vertices + patch.first, patch.count, w);
  }
#endif
  return frame::weighted_sums<double>(cloth.positions, cloth.stride, view.vertices + patch.first, patch.count, &w->c,
                                      &w->a, &w->b, sizeof(layout::Weights) / sizeof(double));
}

template <class T>
auto finite(const frame::Sums<T>& s) {
  const auto base = frame::usable(s.base, 3), offset = frame::usable(s.offset, 3);
  const auto t = frame::usable(s.t, 3), b = frame::usable(s.b, 3);
  return base & offset & t & b;
}

/// Whether finite sums are those of cloth as it can be: neither torn nor stretched beyond what cloth can.
template <class T>
auto cloth_like(const View& view, T rest_reach, const frame::Sums<T>& s, const frame::Gradient<T>& gradient) {
  const T scale = T(view.scale), reach = T(kLargestReach) * scale * rest_reach;
  const auto whole = (rest_reach <= T(0)) | (s.squared_reach <= reach * reach);
  const auto stretch = frame::stretch_within(gradient, T(kSmallestStretch) * scale, T(kLargestStretch) * scale);
  return whole & stretch;
}

inline Belief judge(const View& view, const layout::Patch& patch, const frame::Sums<double>& s,
                    const frame::Gradient<double>& gradient) {
  if (!finite(s)) return Belief::NotFinite;
  if (cloth_like(view, patch.reach, s, gradient)) return Belief::Good;
  return gradient.area > kCollapsedRatio * gradient.squares ? Belief::Stretched : Belief::Collapsed;
}

template <class P>
PatchState look_at_patch(const View& view, const Cloth<P>& cloth, const layout::Patch& patch) {
  PatchState state;
  state.sums = sum_patch(view, cloth, patch);
  state.gradient = frame::measure(state.sums.t, state.sums.b);
  state.belief = judge(view, patch, state.sums, state.gradient);
  return state;
}

/// True when the normals of two good patches lie in opposite half spaces but did not at rest, or the other way round.
inline bool turned_over(const layout::Patch& p, const double p_normal[3], const layout::Patch& q,
                        const double q_normal[3]) {
  double at_rest = 0;
  for (int row = 0; row < 3; ++row) at_rest += p.frame[3 * row + 2] * q.frame[3 * row + 2];
  return frame::dot(p_normal, q_normal) * at_rest < 0;
}

/// How many times a patch is over the limits, for the choice between two that both are.
inline double excess(const View& view, const layout::Patch& patch, const PatchState& state) {
  double stretch[2];
  frame::principal_stretches(state.gradient, stretch);
  const double most = stretch[0] / (kLargestStretch * view.scale);
  const double least = kSmallestStretch * view.scale / stretch[1];
  const double reach = kLargestReach * view.scale * patch.reach;
  const double spread = patch.reach > 0 ? frame::root(state.sums.squared_reach) / reach : 0;
  const double worse = most > least ? most : least;
  return worse > spread ? worse : spread;
}

/// Rotation from the rest frame to the frame. @pre belief is Good or Stretched
inline void rotation_of(const View& view, const layout::Patch& patch, const PatchState& state, double rotation[9]) {
  double now[9] = {1, 0, 0, 0, 1, 0, 0, 0, 1}, rest[9];
  frame::polar_frame(state.sums.t, state.sums.b, state.gradient, now);
  rest_frame(view, patch, rest);
  frame::relative_rotation(now, rest, rotation);
}

inline bool has_frame(Belief belief) { return belief == Belief::Good || belief == Belief::Stretched; }

}  // namespace trimtack::view
