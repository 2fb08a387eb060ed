// SPDX-License-Identifier: MIT
/// What a tt_table holds once it is open. Private to the runtime.
#pragma once

#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include "runtime/layout.hpp"
#include "trimtack/runtime.h"

namespace trimtack::view {

inline constexpr uint64_t kOpen = 0x6e65706f20627474ULL;
inline constexpr uint64_t kRefused = 0x7573666572627474ULL;

/// How the host's axes come from the file's: both right-handed, one about x by a quarter turn.
enum class Axes : uint32_t { Same, YToZ, ZToY };

struct View {
  uint64_t state = 0;  ///< kOpen, kRefused, or anything else: never opened
  uint64_t fault_offset = 0;
  double scale = 1;  ///< host units in one file unit
  Axes axes = Axes::Same;
  const layout::Header* header = nullptr;
  const layout::Binding* bindings = nullptr;
  const layout::Patch* patches = nullptr;
  const uint32_t* vertices = nullptr;
  const layout::Weights* weights = nullptr;
  const layout::Detail* details = nullptr;
  const layout::Text* texts = nullptr;
  const char* text_data = nullptr;
};
static_assert(sizeof(View) <= sizeof(tt_table));

inline View load(const tt_table* table) {
  View view;
  memcpy(static_cast<void*>(&view), table, sizeof view);
  return view;
}

inline void store(const View& view, tt_table* table) {
  memset(table, 0, sizeof *table);
  memcpy(table, &view, sizeof view);
}

/// A vector of the file in the host's axes (no scale).
template <class T>
void turn(Axes axes, const T in[3], T out[3]) {
  out[0] = in[0];
  out[1] = axes == Axes::Same ? in[1] : (axes == Axes::YToZ ? -in[2] : in[2]);
  out[2] = axes == Axes::Same ? in[2] : (axes == Axes::YToZ ? in[1] : -in[1]);
}

/// A point of the file in the host's unit and axes.
template <class T>
void to_host(const View& view, const T origin[3], T out[3]) {
  turn(view.axes, origin, out);
  for (int k = 0; k < 3; ++k) out[k] = out[k] * T(view.scale);
}

/// A frame of the file in the host's axes.
template <class T>
void turn_frame(Axes axes, const T frame[9], T out[9]) {
  for (int column = 0; column < 3; ++column) {
    const T in[3] = {frame[column], frame[3 + column], frame[6 + column]};
    T turned[3];
    turn(axes, in, turned);
    for (int row = 0; row < 3; ++row) out[3 * row + column] = turned[row];
  }
}

/// Rest origin of a patch in the host's unit and axes.
inline void rest_origin(const View& view, const layout::Patch& patch, double out[3]) {
  to_host(view, patch.origin, out);
}

/// Rest frame of a patch in the host's axes.
inline void rest_frame(const View& view, const layout::Patch& patch, double out[9]) {
  turn_frame(view.axes, patch.frame, out);
}

/// True when count points fit between `stride` bytes each; a stride of 0 becomes the packed one.
inline bool settle_stride(size_t point_bytes, size_t count, size_t& stride) {
  if (stride == 0) stride = point_bytes;
  return stride >= point_bytes && (count == 0 || (count - 1) <= (SIZE_MAX - point_bytes) / stride);
}

}  // namespace trimtack::view
