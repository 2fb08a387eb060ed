// SPDX-License-Identifier: MIT
#include "runtime/all_usable.hpp"
#include "runtime/cloth_state.hpp"
#include "runtime/frame.hpp"
#include "runtime/view.hpp"
#include "trimtack/runtime.h"

namespace trimtack::view {
namespace {

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
  if (stride != 3 * sizeof(P) || !frame::all_usable(positions, 3 * vertex_count)) {
    for (size_t i = 0; i < vertex_count; ++i) {
      double q[3];
      frame::load_point(positions, stride, i, q);
      if (!frame::usable(q, 3)) ++out->unusable_vertices;
    }
  }
  look_at_cloth(view, cloth, *out);
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
