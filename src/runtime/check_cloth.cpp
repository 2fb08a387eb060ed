// SPDX-License-Identifier: MIT
// A frame as a whole: mistakes that a single trim cannot see. The typical stretch tells a unit mistake. A mirror image
// is told from the best linear map A of all surface tangents, min sum |A u0 - t|^2 + |A v0 - b|^2: on a closed garment
// the tangents span space, and det A < 0 means that the cloth was reflected. One flat piece cannot tell: reflected in
// its own plane it is the same as turned over.
#include "runtime/frame.hpp"
#include "runtime/layout.hpp"
#include "runtime/patch_pose.hpp"
#include "runtime/view.hpp"
#include "trimtack/runtime.h"

namespace trimtack::view {
namespace {

/// Normals that all lie this close to one direction (largest eigenvalue of their mean n n^T) leave the mirror
/// undecided.
constexpr double kOneSided = 0.85;
/// The linear map must explain this share of the tangents; a crumpled cloth does not.
constexpr double kExplained = 0.8;
/// Bindings that are asked, spread evenly over the table: enough for a mean, and a frame's check stays cheap.
constexpr uint32_t kMostAsked = 512;
/// Gradients this many times larger or smaller than the typical one have no vote.
constexpr double kOutlier = 16;

double determinant(const double m[9]) {
  return m[0] * (m[4] * m[8] - m[5] * m[7]) - m[1] * (m[3] * m[8] - m[5] * m[6]) + m[2] * (m[3] * m[7] - m[4] * m[6]);
}

/// Binary exponent of a positive finite number.
int exponent_of(double x) {
  uint64_t bits;
  memcpy(&bits, &x, sizeof bits);
  return static_cast<int>(bits >> 52 & 0x7ffU) - 1023;
}

double power_of_two(int exponent) {
  const uint64_t bits = static_cast<uint64_t>(exponent + 1023) << 52;
  double x;
  memcpy(&x, &bits, sizeof x);
  return x;
}

uint32_t asked_count(const View& view) {
  return view.header->binding_count < kMostAsked ? view.header->binding_count : kMostAsked;
}

uint32_t asked(const View& view, uint32_t k) {
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
double typical_area(const AskedPatches& all) {
  if (all.count == 0) return 0;
  int64_t exponents = 0;
  for (uint32_t k = 0; k < all.count; ++k) exponents += exponent_of(all.patch[k].area);
  const int64_t mean = exponents / int64_t{all.count};
  return power_of_two(static_cast<int>(mean > 900 ? 900 : (mean < -900 ? -900 : mean)));
}

bool has_vote(const Asked& one, double typical) {
  return !(one.area > kOutlier * typical) && !(one.area * kOutlier < typical);
}

/// Mean of sqrt(area) over gradients of typical size; 0 when there is none.
double typical_stretch(const View& view, const AskedPatches& all, double typical) {
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

Moments gather_moments(const View& view, const AskedPatches& all, double typical) {
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
bool positive(const double m[9]) { return m[0] > 0 && m[0] * m[4] - m[1] * m[3] > 0 && determinant(m) > 0; }

uint32_t judge_mirror(const Moments& m) {
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

/// Unsigned numbers as wide as the positions.
inline uint32_t as_bits(float x) {
  uint32_t bits;
  memcpy(&bits, &x, sizeof bits);
  return bits;
}
inline uint64_t as_bits(double x) {
  uint64_t bits;
  memcpy(&bits, &x, sizeof bits);
  return bits;
}

/// frame::usable for a packed list of any alignment, in whole numbers: sizes are ordered as their bits are, infinity
/// and NaN last, so the sum below carries into the highest bit for all beyond the limit.
template <class P>
bool all_usable(const P* positions, size_t count) {
  constexpr P kLimit = static_cast<P>(frame::kLargestCoordinate);
  static_assert(static_cast<double>(kLimit) <= frame::kLargestCoordinate);
  using Bits = decltype(as_bits(kLimit));
  constexpr Bits kSign = Bits{1} << (8 * sizeof(Bits) - 1);
  const Bits to_carry = kSign - 1 - as_bits(kLimit);
  const auto* bytes = reinterpret_cast<const unsigned char*>(positions);
  Bits carried = 0;
  for (size_t i = 0; i < count; ++i) {
    P number;
    memcpy(&number, bytes + i * sizeof number, sizeof number);
    carried |= (as_bits(number) & (kSign - 1)) + to_carry;
  }
  return (carried & kSign) == 0;
}

template <class P>
tt_status check_cloth(const tt_table* table, const P* positions, size_t vertex_count, size_t stride,
                      tt_cloth_state* out) {
  if (table == nullptr || out == nullptr) return TT_NULL_ARGUMENT;
  const View view = load(table);
  if (view.state != kOpen) return TT_NOT_OPEN;
  if (vertex_count != view.header->cloth_vertices) return TT_WRONG_VERTEX_COUNT;
  if (positions == nullptr && vertex_count != 0) return TT_NULL_ARGUMENT;
  if (!settle_stride(3 * sizeof(P), vertex_count, stride)) return TT_BAD_STRIDE;
  const Cloth<P> cloth{positions, stride};
  *out = tt_cloth_state{};
  if (stride != 3 * sizeof(P) || !all_usable(positions, 3 * vertex_count)) {
    for (size_t i = 0; i < vertex_count; ++i) {
      double q[3];
      frame::load_point(positions, stride, i, q);
      if (!frame::usable(q, 3)) ++out->unusable_vertices;
    }
  }
  AskedPatches all;
  ask(view, cloth, all);
  const double typical = typical_area(all);
  out->scale = typical_stretch(view, all, typical);
  out->mirrored = judge_mirror(gather_moments(view, all, typical));
  return TT_OK;
}

}  // namespace
}  // namespace trimtack::view

extern "C" {

tt_status tt_check_cloth(const tt_table* table, const float* positions, size_t vertex_count, size_t stride_bytes,
                         tt_cloth_state* out) {
  return trimtack::view::check_cloth(table, positions, vertex_count, stride_bytes, out);
}

tt_status tt_check_cloth_f64(const tt_table* table, const double* positions, size_t vertex_count, size_t stride_bytes,
                             tt_cloth_state* out) {
  return trimtack::view::check_cloth(table, positions, vertex_count, stride_bytes, out);
}

}  // extern "C"
