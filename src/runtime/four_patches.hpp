// SPDX-License-Identifier: MIT
/// Four patches side by side, a lane each: what patch_pose.hpp does for one. Private to the runtime.
#pragma once

#include "runtime/lanes.hpp"
#include "runtime/patch_pose.hpp"

#ifdef TRIMTACK_LANES

namespace trimtack::view {

struct FourPatches {
  const layout::Patch* lane[4];
};

/// The same number of each patch, straight into lanes (numbers gathered in memory first would be waited for).
template <class Number>
frame::Four across(const FourPatches& p, const Number& number) {
  return {number(*p.lane[0]), number(*p.lane[1]), number(*p.lane[2]), number(*p.lane[3])};
}

inline frame::Four rest_reaches(const FourPatches& patches) {
  return across(patches, [](const layout::Patch& patch) { return patch.reach; });
}

inline void rest_origins(const View& view, const FourPatches& patches, frame::Four out[3]) {
  frame::Four origin[3];
  for (int k = 0; k < 3; ++k) origin[k] = across(patches, [k](const layout::Patch& patch) { return patch.origin[k]; });
  to_host(view, origin, out);
}

inline void rest_frames(const View& view, const FourPatches& patches, frame::Four out[9]) {
  frame::Four rest[9];
  for (int k = 0; k < 9; ++k) rest[k] = across(patches, [k](const layout::Patch& patch) { return patch.frame[k]; });
  turn_frame(view.axes, rest, out);
}

/// Vertex `number` of each patch.
template <class P>
inline __attribute__((always_inline)) void load_vertices(const View& view, const Cloth<P>& cloth,
                                                         const FourPatches& patches, uint32_t number,
                                                         frame::Four out[3]) {
  double q[4][3];
  for (int lane = 0; lane < 4; ++lane)
    frame::load_point(cloth.positions, cloth.stride, view.vertices[patches.lane[lane]->first + number], q[lane]);
  for (int k = 0; k < 3; ++k) out[k] = {q[0][k], q[1][k], q[2][k], q[3][k]};
}

/// frame::weighted_sums of four patches with as many vertices each, operation by operation.
template <class P>
frame::Sums<frame::Four> sum_alike(const View& view, const Cloth<P>& cloth, const FourPatches& patches) {
  using frame::Four;
  frame::Sums<Four> sums{};
  load_vertices(view, cloth, patches, 0, sums.base);
  for (uint32_t i = 1; i < patches.lane[0]->count; ++i) {
    Four q[3];
    load_vertices(view, cloth, patches, i, q);
    const auto weights = [&](const layout::Patch& patch) -> const layout::Weights& {
      return view.weights[patch.first + i];
    };
    const Four c = across(patches, [&](const layout::Patch& patch) { return weights(patch).c; });
    const Four a = across(patches, [&](const layout::Patch& patch) { return weights(patch).a; });
    const Four b = across(patches, [&](const layout::Patch& patch) { return weights(patch).b; });
    Four squared_distance(0);
    for (int k = 0; k < 3; ++k) {
      const Four difference = q[k] - sums.base[k];
      sums.offset[k] = sums.offset[k] + c * difference;
      sums.t[k] = sums.t[k] + a * difference;
      sums.b[k] = sums.b[k] + b * difference;
      squared_distance = squared_distance + difference * difference;
    }
    sums.squared_reach = select(squared_distance > sums.squared_reach, squared_distance, sums.squared_reach);
  }
  return sums;
}

template <class P>
frame::Sums<frame::Four> sum_patches(const View& view, const Cloth<P>& cloth, const FourPatches& patches) {
  bool alike = !sums_wide(cloth.positions);
  for (int lane = 1; lane < 4; ++lane) alike = alike && patches.lane[lane]->count == patches.lane[0]->count;
  if (alike) return sum_alike(view, cloth, patches);
  frame::Sums<double> s[4];
  for (int lane = 0; lane < 4; ++lane) s[lane] = sum_patch(view, cloth, *patches.lane[lane]);
  const auto join = [&](const auto& number) -> frame::Four {
    return {number(s[0]), number(s[1]), number(s[2]), number(s[3])};
  };
  frame::Sums<frame::Four> sums;
  for (int k = 0; k < 3; ++k) {
    sums.base[k] = join([k](const auto& one) { return one.base[k]; });
    sums.offset[k] = join([k](const auto& one) { return one.offset[k]; });
    sums.t[k] = join([k](const auto& one) { return one.t[k]; });
    sums.b[k] = join([k](const auto& one) { return one.b[k]; });
  }
  sums.squared_reach = join([](const auto& one) { return one.squared_reach; });
  return sums;
}

/// Asks for the first vertices of the next four patches: large cloths lie outside the caches, and rows of trims do not
/// lie in the order of its vertices.
template <class P>
void ask_ahead(const View& view, const Cloth<P>& cloth, size_t first) {
  for (size_t i = first; i < first + 4; ++i) {
    const uint32_t patch = view.bindings[i].patch;
    if (patch == layout::kNone) continue;
    const uint32_t* vertices = view.vertices + view.patches[patch].first;
    const uint32_t count = view.patches[patch].count;
    for (uint32_t k = 0; k < 3 && k < count; ++k)
      __builtin_prefetch(reinterpret_cast<const unsigned char*>(cloth.positions) + vertices[k] * cloth.stride);
  }
}

}  // namespace trimtack::view

#endif
