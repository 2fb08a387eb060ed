// SPDX-License-Identifier: MIT
/// A frame as a whole: mistakes that a single trim cannot see. The typical stretch tells a unit mistake. A mirror image
/// is told from the best linear map A of all surface tangents, min sum |A u0 - t|^2 + |A v0 - b|^2: on a closed garment
/// the tangents span space, and det A < 0 means that the cloth was reflected. One flat piece cannot tell: reflected in
/// its own plane it is the same as turned over. Private to the library.
#pragma once

#include "runtime/frame.hpp"
#include "runtime/layout.hpp"
#include "runtime/patch_pose.hpp"
#include "runtime/view.hpp"
#include "trimtack/runtime.h"

namespace trimtack::view {

/// Normals that all lie this close to one direction (largest eigenvalue of their mean n n^T) leave the mirror
/// undecided.
inline constexpr double kOneSided = 0.85;
/// The linear map must explain this share of the tangents; a crumpled cloth does not.
inline constexpr double kExplained = 0.8;
/// Bindings that are asked, spread evenly over the table: enough for a mean, and a frame's check stays cheap.
inline constexpr uint32_t kMostAsked = 512;
/// Gradients this many times larger or smaller than the typical one have no vote.
inline constexpr double kOutlier = 16;

inline double determinant(const double m[9]) {
  return m[0] * (m[4] * m[8] - m[5] * m[7]) - m[1] * (m[3] * m[8] - m[5] * m[6]) + m[2] * (m[3] * m[7] - m[4] * m[6]);
}

/// Binary exponent of a positive finite number.
inline int exponent_of(double x) {
  uint64_t bits;
  memcpy(&bits, &x, sizeof bits);
  return static_cast<int>(bits >> 52 & 0x7ffU) - 1023;
}

inline double power_of_two(int exponent) {
  const uint64_t bits = static_cast<uint64_t>(exponent + 1023) << 52;
  double x;
  memcpy(&x, &bits, sizeof x);
  return x;
}

inline uint32_t asked_count(const View& view) {
  return view.header->binding_count < kMostAsked ? view.header->binding_count : kMostAsked;
}

inline uint32_t asked(const View& view, uint32_t k) {
  return static_cast<uint32_t>(uint64_t{k} * view.header->binding_count / asked_count(view));
}

/// The chosen patch of a binding; one without a patch has no say.
template <class P>
PatchState look_at_binding(const View& view, const Cloth<P>& cloth, uint32_t i) {
  if (view.bindings[i].patch != layout::kNone) return look_at_patch(view, cloth, view.patches[view.bindings[i].patch]);
  PatchState unbound{};
  unbound.belief = Belief::NotFinite;
  return unbound;
}

/// What the questions below ask of a patch that has a frame.
struct Asked {
  uint32_t binding;
  double t[3], b[3];
  double area, squares;
};

struct AskedPatches {
  Asked patch[kMostAsked];
  uint32_t count = 0;
};

template <class P>
void ask(const View& view, const Cloth<P>& cloth, AskedPatches& all) {
  for (uint32_t k = 0; k < asked_count(view); ++k) {
    const PatchState state = look_at_binding(view, cloth, asked(view, k));
    if (!has_frame(state.belief)) continue;
    Asked& one = all.patch[all.count++];
    one.binding = asked(view, k);
    for (int i = 0; i < 3; ++i) one.t[i] = state.sums.t[i], one.b[i] = state.sums.b[i];
    one.area = state.gradient.area, one.squares = state.gradient.squares;
  }
}

/// A power of two near the area of most gradients; 0 when there is none.
inline double typical_area(const AskedPatches& all) {
  if (all.count == 0) return 0;
  int64_t exponents = 0;
  for (uint32_t k = 0; k < all.count; ++k) exponents += exponent_of(all.patch[k].area);
  const int64_t mean = exponents / int64_t{all.count};
  return power_of_two(static_cast<int>(mean > 900 ? 900 : (mean < -900 ? -900 : mean)));
}

inline bool has_vote(const Asked& one, double typical) {
  return !(one.area > kOutlier * typical) && !(one.area * kOutlier < typical);
}

/// Mean of sqrt(area) over gradients of typical size; 0 when there is none.
inline double typical_stretch(const View& view, const AskedPatches& all, double typical) {
  double sum = 0;
  int64_t counted = 0;
  for (uint32_t k = 0; k < all.count; ++k) {
    if (!has_vote(all.patch[k], typical)) continue;
    sum += frame::root(all.patch[k].area);
    ++counted;
  }
  return counted == 0 ? 0 : sum / static_cast<double>(counted) / view.scale;
}

/// Sums over all bindings: moments of the rest tangents, and of tangents against rest tangents.
struct Moments {
  double rest[9] = {}, cross[9] = {}, squares = 0;
  int64_t count = 0;
};

inline Moments gather_moments(const View& view, const AskedPatches& all, double typical) {
  Moments m;
  for (uint32_t k = 0; k < all.count; ++k) {
    const Asked& one = all.patch[k];
    if (!has_vote(one, typical)) continue;
    double rest[9];
    rest_frame(view, view.patches[view.bindings[one.binding].patch], rest);
    for (int r = 0; r < 3; ++r)
      for (int c = 0; c < 3; ++c) {
        m.rest[3 * r + c] += rest[3 * r] * rest[3 * c] + rest[3 * r + 1] * rest[3 * c + 1];
        m.cross[3 * r + c] += one.t[r] * rest[3 * c] + one.b[r] * rest[3 * c + 1];
      }
    m.squares += one.squares;
    ++m.count;
  }
  return m;
}

/// All eigenvalues of the symmetric matrix are positive (Sylvester's minors).
inline bool positive(const double m[9]) { return m[0] > 0 && m[0] * m[4] - m[1] * m[3] > 0 && determinant(m) > 0; }

inline uint32_t judge_mirror(const Moments& m) {
  if (m.count == 0) return TT_MIRRORED_UNKNOWN;
  // mean n n^T = I - mean (u u^T + v v^T); its largest eigenvalue is below kOneSided when kOneSided I - it is positive.
  double spread[9];
  const double n = static_cast<double>(m.count);
  for (int k = 0; k < 9; ++k) spread[k] = m.rest[k] / n - (k % 4 == 0 ? 1 - kOneSided : 0);
  if (!positive(spread)) return TT_MIRRORED_UNKNOWN;
  // A = cross rest^-1 by Cramer's rule; explained = trace(A cross^T).
  const double det = determinant(m.rest);
  double explained = 0, map[9];
  for (int r = 0; r < 3; ++r) {
    for (int c = 0; c < 3; ++c) {
      double replaced[9];
      for (int k = 0; k < 9; ++k) replaced[k] = m.rest[k];
      for (int k = 0; k < 3; ++k) replaced[3 * c + k] = m.cross[3 * r + k];
      map[3 * r + c] = determinant(replaced) / det;
      explained += map[3 * r + c] * m.cross[3 * r + c];
    }
  }
  if (!(explained > kExplained * m.squares)) return TT_MIRRORED_UNKNOWN;
  return determinant(map) < 0 ? TT_MIRRORED_YES : TT_MIRRORED_NO;
}

/// Scale and mirror image; unusable_vertices is left as it is.
template <class P>
void look_at_cloth(const View& view, const Cloth<P>& cloth, tt_cloth_state& out) {
  AskedPatches all;
  ask(view, cloth, all);
  const double typical = typical_area(all);
  out.scale = typical_stretch(view, all, typical);
  out.mirrored = judge_mirror(gather_moments(view, all, typical));
}

}  // namespace trimtack::view
