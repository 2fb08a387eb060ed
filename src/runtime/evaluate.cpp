// SPDX-License-Identifier: MIT
// Evaluating a binding table on a deformed cloth. Stateless: a pose depends on the table and the cloth alone, so any
// split into ranges and threads gives the same bits. The order of answers (FORMAT.md, "When the cloth has no answer"):
//   1. the chosen patch, when its cloth is believable and, for a single triangle, not turned over in its surroundings
//   2. the fallback patch, when believable
//   3. whichever of the two is nearer to believable (TT_POSE_STRETCHED)
//   4. the rotation of a neighbour in the table, or none, at what is left of the patch (TT_POSE_LOST)
#include <float.h>

#include "runtime/four_patches.hpp"
#include "runtime/frame.hpp"
#include "runtime/layout.hpp"
#include "runtime/patch_pose.hpp"
#include "runtime/view.hpp"
#include "runtime/wide_apply.hpp"
#include "trimtack/runtime.h"

namespace trimtack::view {
namespace {

/// How many neighbours in the table, on either side and then spread over the whole, may lend a rotation.
constexpr uint32_t kNeighbours = 16;
constexpr uint32_t kSpread = 32;

/// A motion before it is rounded to the host's pose: the anchor is base + offset.
struct Motion {
  double rotation[9];
  double base[3], offset[3];
  double rest_origin[3];
  uint32_t flags;
};

void set_identity(double r[9]) {
  for (int k = 0; k < 9; ++k) r[k] = k % 4 == 0 ? 1 : 0;
}

void use_patch(const View& view, const layout::Patch& patch, const PatchState& state, Motion& motion) {
  rotation_of(view, patch, state, motion.rotation);
  for (int k = 0; k < 3; ++k) {
    motion.base[k] = state.sums.base[k];
    motion.offset[k] = state.sums.offset[k];
  }
  rest_origin(view, patch, motion.rest_origin);
}

/// Mean of the positions of a patch that are finite. False when none is.
template <class P>
bool finite_mean(const View& view, const Cloth<P>& cloth, const layout::Patch& patch, double out[3]) {
  double sum[3] = {0, 0, 0};
  uint32_t count = 0;
  for (uint32_t k = 0; k < patch.count; ++k) {
    double q[3];
    frame::load_point(cloth.positions, cloth.stride, view.vertices[patch.first + k], q);
    if (!frame::usable(q, 3)) continue;
    for (int i = 0; i < 3; ++i) sum[i] += q[i];
    ++count;
  }
  for (int i = 0; i < 3; ++i) out[i] = count > 0 ? sum[i] / count : 0;
  return count > 0;
}

/// The nearest (at rest) of a few bindings whose chosen patch is believable.
struct Lender {
  uint32_t binding = layout::kNone;
  double squared_distance = 0;
  PatchState state;
};

template <class P>
void offer(const View& view, const Cloth<P>& cloth, uint32_t asker, uint32_t candidate, Lender& lender) {
  if (candidate == asker || view.bindings[candidate].patch == layout::kNone) return;
  const uint32_t own = view.bindings[asker].patch;
  const layout::Patch& patch = view.patches[view.bindings[candidate].patch];
  double squared = 0;
  for (int k = 0; k < 3; ++k) {
    // An unbound trim has no place; the nearest in the table lends then.
    const double apart = own == layout::kNone ? static_cast<double>(candidate) - static_cast<double>(asker)
                                              : patch.origin[k] - view.patches[own].origin[k];
    squared += apart * apart;
  }
  if (lender.binding != layout::kNone && !(squared < lender.squared_distance)) return;
  const PatchState state = look_at_patch(view, cloth, patch);
  if (state.belief != Belief::Good) return;
  lender = {candidate, squared, state};
}

template <class P>
Lender find_lender(const View& view, const Cloth<P>& cloth, uint32_t asker) {
  Lender lender;
  const uint32_t count = view.header->binding_count;
  const uint32_t begin = asker > kNeighbours ? asker - kNeighbours : 0;
  const uint32_t end = count - asker > kNeighbours ? asker + kNeighbours + 1 : count;
  for (uint32_t i = begin; i < end; ++i) offer(view, cloth, asker, i, lender);
  if (lender.binding != layout::kNone) return lender;
  for (uint32_t i = 0; i < kSpread; ++i)
    offer(view, cloth, asker, static_cast<uint32_t>(uint64_t{i} * count / kSpread), lender);
  return lender;
}

/// Rotation of the lender's motion, and where that motion takes `point` (in place). Identity without a lender.
template <class P>
void borrow(const View& view, const Cloth<P>& cloth, uint32_t index, double rotation[9], double point[3]) {
  const Lender lender = find_lender(view, cloth, index);
  set_identity(rotation);
  if (lender.binding == layout::kNone) return;
  Motion from;
  use_patch(view, view.patches[view.bindings[lender.binding].patch], lender.state, from);
  double moved[3];
  frame::translation_of(from.rotation, from.base, from.offset, from.rest_origin, moved);
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) {
      rotation[3 * i + j] = from.rotation[3 * i + j];
      moved[i] += from.rotation[3 * i + j] * point[j];
    }
  for (int k = 0; k < 3; ++k) point[k] = moved[k];
}

/// A trim without any patch: it moves with its nearest bound neighbour in the table, or rests.
template <class P>
void use_neighbour(const View& view, const Cloth<P>& cloth, uint32_t index, Motion& motion) {
  motion.flags = TT_POSE_LOST;
  for (int k = 0; k < 3; ++k) motion.base[k] = motion.offset[k] = motion.rest_origin[k] = 0;
  borrow(view, cloth, index, motion.rotation, motion.base);
}

/// The last resort: what can still be said about a trim whose cloth is gone.
template <class P>
void use_what_is_left(const View& view, const Cloth<P>& cloth, uint32_t index, const PatchState& chosen,
                      const PatchState* fallback, Motion& motion) {
  const layout::Binding& binding = view.bindings[index];
  const layout::Patch& patch = view.patches[binding.patch];
  motion.flags |= TT_POSE_LOST;
  rest_origin(view, patch, motion.rest_origin);
  double carried[3];
  for (int k = 0; k < 3; ++k) carried[k] = motion.rest_origin[k];
  borrow(view, cloth, index, motion.rotation, carried);
  const PatchState* finite = chosen.belief != Belief::NotFinite ? &chosen : fallback;
  if (finite != nullptr && finite->belief != Belief::NotFinite) {
    for (int k = 0; k < 3; ++k) motion.base[k] = finite->sums.base[k], motion.offset[k] = finite->sums.offset[k];
    if (finite == fallback) rest_origin(view, view.patches[binding.fallback], motion.rest_origin);
    return;
  }
  double mean[3];
  const bool any = finite_mean(view, cloth, patch, mean) ||
                   (fallback != nullptr && finite_mean(view, cloth, view.patches[binding.fallback], mean));
  for (int k = 0; k < 3; ++k) motion.base[k] = any ? mean[k] : carried[k], motion.offset[k] = 0;
}

/// Steps 2 to 4, when the chosen patch did not settle it.
template <class P>
void use_second_best(const View& view, const Cloth<P>& cloth, uint32_t index, const PatchState& chosen,
                     Motion& motion) {
  const layout::Binding& binding = view.bindings[index];
  const layout::Patch& patch = view.patches[binding.patch];
  if (chosen.belief == Belief::NotFinite) motion.flags |= TT_POSE_NOT_FINITE;
  PatchState fallback{};
  const bool has_fallback = binding.fallback != layout::kNone;
  if (has_fallback) {
    fallback = look_at_patch(view, cloth, view.patches[binding.fallback]);
    if (fallback.belief == Belief::Good) {
      motion.flags |= TT_POSE_FALLBACK;
      return use_patch(view, view.patches[binding.fallback], fallback, motion);
    }
  }
  const bool first = chosen.belief == Belief::Stretched;
  const bool second = has_fallback && fallback.belief == Belief::Stretched;
  if (!first && !second)
    return use_what_is_left(view, cloth, index, chosen, has_fallback ? &fallback : nullptr, motion);
  motion.flags |= TT_POSE_STRETCHED;
  if (first && (!second || excess(view, patch, chosen) <= excess(view, view.patches[binding.fallback], fallback)))
    return use_patch(view, patch, chosen, motion);
  motion.flags |= TT_POSE_FALLBACK;
  use_patch(view, view.patches[binding.fallback], fallback, motion);
}

/// Whether a binding's chosen patch, a good one with this normal, is turned over in whole surroundings. A single
/// triangle can be; a larger patch averages and cannot. @param around  the fallback, when it was looked at
template <class P>
bool turned_in_its_fallback(const View& view, const Cloth<P>& cloth, const layout::Binding& binding,
                            const double normal[3], PatchState& around) {
  const layout::Patch& patch = view.patches[binding.patch];
  if (patch.count > 3 || binding.fallback == layout::kNone) return false;
  const layout::Patch& other = view.patches[binding.fallback];
  around = look_at_patch(view, cloth, other);
  return around.belief == Belief::Good && turned_over(patch, normal, other, around.gradient.normal);
}

template <class P>
void find_motion(const View& view, const Cloth<P>& cloth, uint32_t index, Motion& motion) {
  const layout::Binding& binding = view.bindings[index];
  if (binding.patch == layout::kNone) return use_neighbour(view, cloth, index, motion);
  const layout::Patch& patch = view.patches[binding.patch];
  motion.flags = 0;
  const PatchState chosen = look_at_patch(view, cloth, patch);
  if (chosen.belief != Belief::Good) return use_second_best(view, cloth, index, chosen, motion);
  if (PatchState around; turned_in_its_fallback(view, cloth, binding, chosen.gradient.normal, around)) {
    motion.flags = TT_POSE_FALLBACK | TT_POSE_INVERTED;
    return use_patch(view, view.patches[binding.fallback], around, motion);
  }
  use_patch(view, patch, chosen, motion);
}

inline double largest(const float*) { return FLT_MAX; }
inline double largest(const double*) { return DBL_MAX; }

/// Limits on coordinates, weights and units keep translations below 1e37; only a hostile table comes near.
template <class Scalar>
Scalar bounded(double x) {
  const double limit = largest(static_cast<const Scalar*>(nullptr));
  return static_cast<Scalar>(x > limit ? limit : (x < -limit ? -limit : x));
}

/// Rounds the rotation first and then finds the translation that belongs to the rounded one, so that the anchor lands
/// where it should whatever the precision of the pose.
template <class Pose, class Scalar>
void write_pose(const Motion& motion, Pose& out, Scalar* rotation) {
  double q[4], kept[4], r[9], translation[3];
  frame::to_quaternion(motion.rotation, q);
  for (int k = 0; k < 4; ++k) {
    rotation[k] = static_cast<Scalar>(q[k]);
    kept[k] = rotation[k];
  }
  frame::to_matrix(kept, r);
  frame::translation_of(r, motion.base, motion.offset, motion.rest_origin, translation);
  out.flags = motion.flags;
  for (int k = 0; k < 3; ++k) out.translation[k] = bounded<Scalar>(translation[k]);
}

template <class P, class Pose>
void evaluate_one(const View& view, const Cloth<P>& cloth, size_t index, Pose& out) {
  Motion motion;
  find_motion(view, cloth, static_cast<uint32_t>(index), motion);
  out = Pose{};
  write_pose(motion, out, out.rotation);
}

#ifdef TRIMTACK_LANES

inline frame::Four as_kept(const frame::Four& q, const double*) { return q; }
inline frame::Four as_kept(const frame::Four& q, const float*) { return frame::round_to_float(q); }

/// use_patch and write_pose for four bindings. Lanes without a good patch hold nonsense and are written again later.
template <class Pose, class Scalar>
void write_four(const View& view, const FourPatches& patches, const frame::Sums<frame::Four>& sums,
                const frame::Gradient<frame::Four>& gradient, Pose* out, const Scalar* precision) {
  frame::Four now[9], rest[9], rotation[9], q[4], origin[3], translation[3];
  frame::polar_columns(sums.t, sums.b, gradient, now);
  rest_frames(view, patches, rest);
  frame::relative_rotation(now, rest, rotation);
  frame::to_quaternion(rotation, q);
  for (frame::Four& x : q) x = as_kept(x, precision);
  frame::to_matrix(q, rotation);
  rest_origins(view, patches, origin);
  frame::translation_of(rotation, sums.base, sums.offset, origin, translation);
  double rows[7][4];
  for (int k = 0; k < 4; ++k) q[k].store(rows[k]);
  for (int k = 0; k < 3; ++k) translation[k].store(rows[4 + k]);
  for (int lane = 0; lane < 4; ++lane) {
    out[lane] = Pose{};
    for (int k = 0; k < 4; ++k) out[lane].rotation[k] = static_cast<Scalar>(rows[k][lane]);
    for (int k = 0; k < 3; ++k) out[lane].translation[k] = bounded<Scalar>(rows[4 + k][lane]);
  }
}

/// Poses of four bindings from `index` on: together where their chosen patches are good, one by one where not.
template <class P, class Pose>
void evaluate_four(const View& view, const Cloth<P>& cloth, size_t index, Pose* out) {
  FourPatches patches;
  bool bound = true;
  for (int lane = 0; lane < 4; ++lane) {
    const uint32_t patch = view.bindings[index + lane].patch;
    bound = bound && patch != layout::kNone;
    patches.lane[lane] = view.patches + (bound ? patch : 0);
  }
  unsigned good = 0;
  if (bound) {
    const frame::Sums<frame::Four> sums = sum_patches(view, cloth, patches);
    const frame::Gradient<frame::Four> gradient = frame::measure(sums.t, sums.b);
    good = frame::bits(finite(sums) & cloth_like(view, rest_reaches(patches), sums, gradient));
    if (good != 0) write_four(view, patches, sums, gradient, out, out->rotation);
    for (int lane = 0; lane < 4; ++lane) {
      if ((good >> lane & 1U) == 0) continue;
      const double normal[3] = {gradient.normal[0].lane(lane), gradient.normal[1].lane(lane),
                                gradient.normal[2].lane(lane)};
      PatchState around;
      if (turned_in_its_fallback(view, cloth, view.bindings[index + lane], normal, around)) good &= ~(1U << lane);
    }
  }
  for (int lane = 0; lane < 4; ++lane)
    if ((good >> lane & 1U) == 0) evaluate_one(view, cloth, index + lane, out[lane]);
}

#endif

template <class P, class Pose>
void evaluate_range(const View& view, const Cloth<P>& cloth, size_t first, size_t count, Pose* out) {
  size_t i = 0;
#ifdef TRIMTACK_LANES
  for (; i + 4 <= count; i += 4) {
    if (i + 8 <= count) ask_ahead(view, cloth, first + i + 4);
    evaluate_four(view, cloth, first + i, out + i);
  }
#endif
  for (; i < count; ++i) evaluate_one(view, cloth, first + i, out[i]);
}

template <class P>
tt_status check_call(const View& view, const P* positions, size_t vertex_count, size_t& stride) {
  if (view.state != kOpen) return TT_NOT_OPEN;
  if (vertex_count != view.header->cloth_vertices) return TT_WRONG_VERTEX_COUNT;
  if (positions == nullptr && vertex_count != 0) return TT_NULL_ARGUMENT;
  if (!settle_stride(3 * sizeof(P), vertex_count, stride)) return TT_BAD_STRIDE;
  return TT_OK;
}

template <class P, class Pose>
tt_status evaluate(const tt_table* table, const P* positions, size_t vertex_count, size_t stride, size_t first,
                   size_t count, Pose* out) {
  if (table == nullptr || (out == nullptr && count != 0)) return TT_NULL_ARGUMENT;
  const View view = load(table);
  const tt_status status = check_call(view, positions, vertex_count, stride);
  if (status != TT_OK) return status;
  const size_t bindings = view.header->binding_count;
  if (first > bindings || count > bindings - first) return TT_BAD_RANGE;
  const Cloth<P> cloth{positions, stride};
  evaluate_range(view, cloth, first, count, out);
  return TT_OK;
}

template <class Pose>
void matrix_of(const Pose& pose, double r[9], double translation[3]) {
  double q[4];
  for (int k = 0; k < 4; ++k) q[k] = pose.rotation[k];
  for (int k = 0; k < 3; ++k) translation[k] = pose.translation[k];
  if (frame::dot(q, q) + q[3] * q[3] > 0)
    frame::to_matrix(q, r);
  else
    set_identity(r);
}

/// One point, in the same order of operations as four at a time.
inline void move_point(const double r[9], const double t[3], const double x[3], double y[3]) {
  for (int k = 0; k < 3; ++k) y[k] = (r[3 * k] * x[0] + r[3 * k + 1] * x[1]) + (r[3 * k + 2] * x[2] + t[k]);
}

/// The packed case, four points at a time; returns how many were done. Reads a block before it writes it: in place is
/// fine.
template <class P>
size_t apply_fours(const double r[9], const double t[3], const P* rest, size_t count, P* out) {
#ifdef TRIMTACK_LANES
  using frame::Four;
  const Four xx(r[0]), xy(r[1]), xz(r[2]), yx(r[3]), yy(r[4]), yz(r[5]), zx(r[6]), zy(r[7]), zz(r[8]);
  const Four tx(t[0]), ty(t[1]), tz(t[2]);
  size_t i = 0;
  for (; i + 4 <= count; i += 4) {
    Four x, y, z;
    frame::load_points(rest + 3 * i, x, y, z);
    frame::store_points((xx * x + xy * y) + (xz * z + tx), (yx * x + yy * y) + (yz * z + ty),
                        (zx * x + zy * y) + (zz * z + tz), out + 3 * i);
  }
  return i;
#else
  (void)r, (void)t, (void)rest, (void)count, (void)out;
  return 0;
#endif
}

/// The same with the widest registers there are.
template <class P>
size_t apply_packed(const double r[9], const double t[3], const P* rest, size_t count, P* out) {
#ifdef TRIMTACK_WIDE
  if constexpr (sizeof(P) == sizeof(float)) {
    if (__builtin_cpu_supports("avx512f")) return frame::wide::apply_sixteen(r, t, rest, count, out);
    if (__builtin_cpu_supports("avx2")) return frame::wide::apply_four(r, t, rest, count, out);
  } else if (__builtin_cpu_supports("avx512f")) {
    return frame::wide::apply_eight<frame::wide::Sum::Pairs>(r, t, rest, count, out);
  }
#endif
  return apply_fours(r, t, rest, count, out);
}

template <class P, class Pose>
tt_status apply(const Pose* pose, const P* rest, size_t count, size_t in_stride, P* out, size_t out_stride) {
  if (pose == nullptr || (count != 0 && (rest == nullptr || out == nullptr))) return TT_NULL_ARGUMENT;
  if (!settle_stride(3 * sizeof(P), count, in_stride) || !settle_stride(3 * sizeof(P), count, out_stride))
    return TT_BAD_STRIDE;
  double r[9], t[3];
  matrix_of(*pose, r, t);
  auto* target = reinterpret_cast<unsigned char*>(out);
  const auto move_singly = [&](size_t first, size_t end) {
    for (size_t i = first; i < end; ++i) {
      double x[3], y[3];
      frame::load_point(rest, in_stride, i, x);
      move_point(r, t, x, y);
      const P rounded[3] = {static_cast<P>(y[0]), static_cast<P>(y[1]), static_cast<P>(y[2])};
      memcpy(target + i * out_stride, rounded, sizeof rounded);
    }
  };
  size_t done = 0;
  if (in_stride == 3 * sizeof(P) && out_stride == 3 * sizeof(P)) {
    // In single precision whole lines take longer than parts of them.
    if (sizeof(P) == sizeof(double)) done = frame::wide::points_before_line(out, 3 * sizeof(P), count);
    move_singly(0, done);
    done += apply_packed(r, t, rest + 3 * done, count - done, out + 3 * done);
  }
  move_singly(done, count);
  return TT_OK;
}

template <class P, class Pose>
tt_status pose_matrix(const Pose* pose, P out[12]) {
  if (pose == nullptr || out == nullptr) return TT_NULL_ARGUMENT;
  double r[9], t[3];
  matrix_of(*pose, r, t);
  for (int i = 0; i < 3; ++i) {
    for (int j = 0; j < 3; ++j) out[4 * i + j] = static_cast<P>(r[3 * i + j]);
    out[4 * i + 3] = static_cast<P>(t[i]);
  }
  return TT_OK;
}

}  // namespace
}  // namespace trimtack::view

extern "C" {

tt_status tt_evaluate(const tt_table* table, const float* positions, size_t vertex_count, size_t stride_bytes,
                      size_t first, size_t count, tt_pose* out) {
  return trimtack::view::evaluate(table, positions, vertex_count, stride_bytes, first, count, out);
}

tt_status tt_evaluate_f64(const tt_table* table, const double* positions, size_t vertex_count, size_t stride_bytes,
                          size_t first, size_t count, tt_pose_f64* out) {
  return trimtack::view::evaluate(table, positions, vertex_count, stride_bytes, first, count, out);
}

tt_status tt_apply(const tt_pose* pose, const float* rest, size_t point_count, size_t in_stride, float* out,
                   size_t out_stride) {
  return trimtack::view::apply(pose, rest, point_count, in_stride, out, out_stride);
}

tt_status tt_apply_f64(const tt_pose_f64* pose, const double* rest, size_t point_count, size_t in_stride, double* out,
                       size_t out_stride) {
  return trimtack::view::apply(pose, rest, point_count, in_stride, out, out_stride);
}

tt_status tt_pose_matrix(const tt_pose* pose, float out[12]) { return trimtack::view::pose_matrix(pose, out); }

tt_status tt_pose_matrix_f64(const tt_pose_f64* pose, double out[12]) { return trimtack::view::pose_matrix(pose, out); }

}  // extern "C"
