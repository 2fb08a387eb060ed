// SPDX-License-Identifier: MIT
// Opening a binding table: everything that an evaluation relies on is checked here, once, so that evaluating is safe
// whatever file the bytes came from.
#include "runtime/frame.hpp"
#include "runtime/layout.hpp"
#include "runtime/view.hpp"
#include "trimtack/runtime.h"

namespace trimtack::view {
namespace {

bool finite_below(double x, double limit) { return x <= limit && x >= -limit; }

bool all_below(const double* numbers, int count, double limit) {
  for (int i = 0; i < count; ++i)
    if (!finite_below(numbers[i], limit)) return false;
  return true;
}

/// A refusal with the place in the bytes that it concerns.
struct Refusal {
  tt_status status;
  uint64_t offset;
};
constexpr Refusal kAccepted{TT_OK, 0};

uint32_t swapped(uint32_t x) { return x >> 24 | (x >> 8 & 0xff00U) | (x << 8 & 0xff0000U) | x << 24; }

Refusal check_size(uint64_t size, uint64_t stated) {
  if (size < stated) return {TT_TRUNCATED, size};
  return {TT_TRAILING_BYTES, stated};
}

Refusal check_header(const void* data, uint64_t size) {
  // The magic first, so that a short text file is called what it is.
  const uint64_t present = size < sizeof(layout::kMagic) ? size : sizeof(layout::kMagic);
  if (memcmp(data, layout::kMagic, present) != 0) return {TT_NOT_A_TABLE, 0};
  if (size < sizeof(layout::Header)) return {TT_TRUNCATED, size};
  const auto& h = *static_cast<const layout::Header*>(data);
  if (h.byte_order == swapped(layout::kByteOrder)) return {TT_WRONG_BYTE_ORDER, offsetof(layout::Header, byte_order)};
  if (h.byte_order != layout::kByteOrder) return {TT_BAD_LAYOUT, offsetof(layout::Header, byte_order)};
  if (h.format != TT_TABLE_FORMAT_1) return {TT_UNKNOWN_FORMAT, offsetof(layout::Header, format)};
  if (h.file_bytes != size) return check_size(size, h.file_bytes);
  const layout::Sections s = layout::place(h.binding_count, h.patch_count, h.item_count, h.text_count, h.text_bytes);
  if (s.end != h.file_bytes) return {TT_BAD_LAYOUT, offsetof(layout::Header, binding_count)};
  if (h.bindings_at != s.bindings || h.patches_at != s.patches || h.vertices_at != s.vertices ||
      h.weights_at != s.weights || h.details_at != s.details || h.texts_at != s.texts || h.text_data_at != s.text_data)
    return {TT_BAD_LAYOUT, offsetof(layout::Header, bindings_at)};
  if (h.reserved != 0) return {TT_BAD_LAYOUT, offsetof(layout::Header, reserved)};
  if (h.reserved_tail != 0) return {TT_BAD_LAYOUT, offsetof(layout::Header, reserved_tail)};
  if (layout::checksum(data, size) != h.checksum) return {TT_BAD_CHECKSUM, offsetof(layout::Header, checksum)};
  if (!(h.mm_per_unit >= 1 / layout::kLargestUnit && h.mm_per_unit <= layout::kLargestUnit))
    return {TT_BAD_NUMBER, offsetof(layout::Header, mm_per_unit)};
  if (!finite_below(h.unit_confidence, layout::kLargestNumber))
    return {TT_BAD_NUMBER, offsetof(layout::Header, unit_confidence)};
  if (h.up_axis != TT_UP_Y && h.up_axis != TT_UP_Z) return {TT_BAD_NUMBER, offsetof(layout::Header, up_axis)};
  return kAccepted;
}

bool rest_frame_is_rotation(const double* r) {
  if (!all_below(r, 9, 2)) return false;
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j <= i; ++j) {
      const double g = r[i] * r[j] + r[3 + i] * r[3 + j] + r[6 + i] * r[6 + j];
      if (!finite_below(g - (i == j ? 1 : 0), layout::kFrameTolerance)) return false;
    }
  const double u[3] = {r[0], r[3], r[6]}, v[3] = {r[1], r[4], r[7]}, n[3] = {r[2], r[5], r[8]};
  double w[3];
  frame::cross(u, v, w);
  return frame::dot(w, n) > 0;
}

bool sums_to(double sum, double expected, double magnitude) {
  return finite_below(sum - expected, layout::kSumTolerance * magnitude);
}

Refusal check_patch_items(const View& view, const layout::Patch& patch, uint64_t weights_at, uint64_t vertices_at) {
  double c = 0, a = 0, b = 0, abs_c = 0, abs_a = 0, abs_b = 0;
  for (uint32_t k = 0; k < patch.count; ++k) {
    const uint64_t item = uint64_t{patch.first} + k;
    if (view.vertices[item] >= view.header->cloth_vertices)
      return {TT_BAD_INDEX, vertices_at + item * sizeof(uint32_t)};
    const layout::Weights& w = view.weights[item];
    if (!finite_below(w.c, layout::kLargestWeight) || !finite_below(w.a, layout::kLargestDerivative) ||
        !finite_below(w.b, layout::kLargestDerivative))
      return {TT_BAD_NUMBER, weights_at + item * sizeof(layout::Weights)};
    c += w.c, a += w.a, b += w.b;
    abs_c += w.c < 0 ? -w.c : w.c;
    abs_a += w.a < 0 ? -w.a : w.a;
    abs_b += w.b < 0 ? -w.b : w.b;
  }
  if (!sums_to(c, 1, abs_c) || !sums_to(a, 0, abs_a) || !sums_to(b, 0, abs_b))
    return {TT_BAD_WEIGHTS, weights_at + patch.first * sizeof(layout::Weights)};
  return kAccepted;
}

Refusal check_patches(const View& view) {
  const layout::Header& h = *view.header;
  uint32_t next = 0;
  for (uint32_t i = 0; i < h.patch_count; ++i) {
    const layout::Patch& patch = view.patches[i];
    const uint64_t at = h.patches_at + i * sizeof(layout::Patch);
    // Patches share no items and leave none out, so that opening and evaluating cost no more than the file's length.
    if (patch.first != next || patch.count == 0 || patch.count > layout::kMaxPatchVertices ||
        patch.count > h.item_count - next)
      return {TT_BAD_INDEX, at};
    if (!finite_below(patch.reach, layout::kLargestNumber) || patch.reach < 0)
      return {TT_BAD_NUMBER, at + offsetof(layout::Patch, reach)};
    if (!all_below(patch.origin, 3, layout::kLargestNumber))
      return {TT_BAD_NUMBER, at + offsetof(layout::Patch, origin)};
    if (!rest_frame_is_rotation(patch.frame)) return {TT_BAD_FRAME, at + offsetof(layout::Patch, frame)};
    const Refusal items = check_patch_items(view, patch, h.weights_at, h.vertices_at);
    if (items.status != TT_OK) return items;
    next += patch.count;
  }
  if (next != h.item_count) return {TT_BAD_INDEX, offsetof(layout::Header, item_count)};
  const uint64_t vertices_end = h.vertices_at + uint64_t{h.item_count} * sizeof(uint32_t);
  for (uint64_t at = vertices_end; at < h.weights_at; at += 4)
    if (view.vertices[(at - h.vertices_at) / 4] != 0) return {TT_BAD_LAYOUT, at};
  return kAccepted;
}

/// Texts lie end to end in the order they are used: unit name, cloth file, unit reasons, then name and notes of each
/// binding. `next` is the next text that must be named.
Refusal check_binding(const View& view, uint32_t i, uint32_t& next) {
  const layout::Header& h = *view.header;
  const layout::Binding& binding = view.bindings[i];
  const layout::Detail& detail = view.details[i];
  const uint64_t at = h.bindings_at + i * sizeof(layout::Binding);
  const uint64_t detail_at = h.details_at + i * sizeof(layout::Detail);
  if (binding.patch != layout::kNone && binding.patch >= h.patch_count)
    return {TT_BAD_INDEX, at + offsetof(layout::Binding, patch)};
  if (binding.patch == layout::kNone && binding.fallback != layout::kNone)
    return {TT_BAD_INDEX, at + offsetof(layout::Binding, fallback)};
  if (binding.fallback != layout::kNone && binding.fallback >= h.patch_count)
    return {TT_BAD_INDEX, at + offsetof(layout::Binding, fallback)};
  if (binding.role > 2) return {TT_BAD_NUMBER, at + offsetof(layout::Binding, role)};
  if (detail.anchor_face != layout::kNone && detail.anchor_face >= h.cloth_faces) return {TT_BAD_INDEX, detail_at};
  for (const uint32_t vertex : detail.anchor_triangle)
    if (vertex != layout::kNone && vertex >= h.cloth_vertices)
      return {TT_BAD_INDEX, detail_at + offsetof(layout::Detail, anchor_triangle)};
  if (detail.order > layout::kMaxOrder) return {TT_BAD_NUMBER, detail_at + offsetof(layout::Detail, order)};
  if (!all_below(detail.anchor_weights, 3, layout::kLargestNumber))
    return {TT_BAD_NUMBER, detail_at + offsetof(layout::Detail, anchor_weights)};
  const double numbers[5] = {detail.gap, detail.radius, detail.jitter_deg_per_mm, detail.bias_deg, detail.error_deg};
  if (!all_below(numbers, 5, layout::kLargestNumber)) return {TT_BAD_NUMBER, detail_at + offsetof(layout::Detail, gap)};
  if (next >= h.text_count || detail.name != next || detail.first_note != next + 1 ||
      detail.note_count > h.text_count - next - 1)
    return {TT_BAD_TEXT, detail_at + offsetof(layout::Detail, name)};
  next += 1 + detail.note_count;
  return kAccepted;
}

Refusal check_bindings(const View& view) {
  const layout::Header& h = *view.header;
  if (h.text_count < 2 || h.unit_reason_count > h.text_count - 2)
    return {TT_BAD_TEXT, offsetof(layout::Header, text_count)};
  uint32_t next = 2 + h.unit_reason_count;
  for (uint32_t i = 0; i < h.binding_count; ++i) {
    const Refusal refusal = check_binding(view, i, next);
    if (refusal.status != TT_OK) return refusal;
  }
  if (next != h.text_count) return {TT_BAD_TEXT, offsetof(layout::Header, text_count)};
  return kAccepted;
}

Refusal check_texts(const View& view) {
  const layout::Header& h = *view.header;
  uint32_t next = 0;
  for (uint32_t i = 0; i < h.text_count; ++i) {
    const layout::Text& text = view.texts[i];
    if (text.at != next || text.bytes > h.text_bytes - next)
      return {TT_BAD_TEXT, h.texts_at + i * sizeof(layout::Text)};
    next += text.bytes;
  }
  if (next != h.text_bytes) return {TT_BAD_TEXT, offsetof(layout::Header, text_bytes)};
  for (uint64_t at = h.text_data_at + h.text_bytes; at < h.file_bytes; ++at)
    if (view.text_data[at - h.text_data_at] != 0) return {TT_BAD_LAYOUT, at};
  return kAccepted;
}

View look_at(const void* data) {
  const auto* bytes = static_cast<const unsigned char*>(data);
  View view;
  view.header = static_cast<const layout::Header*>(data);
  const layout::Header& h = *view.header;
  view.bindings = static_cast<const layout::Binding*>(static_cast<const void*>(bytes + h.bindings_at));
  view.patches = static_cast<const layout::Patch*>(static_cast<const void*>(bytes + h.patches_at));
  view.vertices = static_cast<const uint32_t*>(static_cast<const void*>(bytes + h.vertices_at));
  view.weights = static_cast<const layout::Weights*>(static_cast<const void*>(bytes + h.weights_at));
  view.details = static_cast<const layout::Detail*>(static_cast<const void*>(bytes + h.details_at));
  view.texts = static_cast<const layout::Text*>(static_cast<const void*>(bytes + h.texts_at));
  view.text_data = static_cast<const char*>(static_cast<const void*>(bytes + h.text_data_at));
  return view;
}

bool apply_options(const tt_open_options* options, View& view) {
  const layout::Header& h = *view.header;
  view.state = kOpen;
  if (options == nullptr) return true;
  if (options->reserved != 0 || options->up_axis > TT_UP_Z) return false;
  if (options->mm_per_unit != 0) {
    if (!(options->mm_per_unit >= 1 / layout::kLargestUnit && options->mm_per_unit <= layout::kLargestUnit))
      return false;
    view.scale = h.mm_per_unit / options->mm_per_unit;
  }
  if (options->up_axis != TT_UP_OF_TABLE && options->up_axis != h.up_axis)
    view.axes = options->up_axis == TT_UP_Y ? Axes::ZToY : Axes::YToZ;
  return true;
}

tt_status refuse(tt_table* out, Refusal refusal) {
  View view;
  view.state = kRefused;
  view.fault_offset = refusal.offset;
  store(view, out);
  return refusal.status;
}

}  // namespace
}  // namespace trimtack::view

using trimtack::view::View;
namespace layout = trimtack::layout;

extern "C" {

uint32_t tt_runtime_version(void) { return TT_VERSION_MAJOR * 10000U + TT_VERSION_MINOR * 100U + TT_VERSION_PATCH; }

const char* tt_status_text(int status) {
  switch (status) {
    case TT_OK:
      return "no fault";
    case TT_NULL_ARGUMENT:
      return "a pointer that must not be null is null";
    case TT_NOT_OPEN:
      return "the table is not open";
    case TT_MISALIGNED:
      return "the table's bytes do not start at a multiple of 8";
    case TT_TRUNCATED:
      return "the table is cut short";
    case TT_NOT_A_TABLE:
      return "these bytes are not a binding table";
    case TT_WRONG_BYTE_ORDER:
      return "the table was written with swapped bytes, or this machine is not little-endian";
    case TT_UNKNOWN_FORMAT:
      return "the table has a format number that this runtime does not know";
    case TT_TRAILING_BYTES:
      return "there are bytes after the end of the table";
    case TT_BAD_LAYOUT:
      return "counts and offsets of the table contradict each other";
    case TT_BAD_CHECKSUM:
      return "the table's checksum is wrong, the file was damaged";
    case TT_BAD_INDEX:
      return "an index in the table is out of range";
    case TT_BAD_NUMBER:
      return "a number in the table is not finite or out of range";
    case TT_BAD_WEIGHTS:
      return "the weights of a patch do not sum to 1, 0 and 0";
    case TT_BAD_FRAME:
      return "a rest frame in the table is not a rotation";
    case TT_BAD_TEXT:
      return "the texts in the table do not follow each other";
    case TT_BAD_OPTIONS:
      return "unknown up axis, or a unit that is not a positive number";
    case TT_WRONG_VERTEX_COUNT:
      return "the cloth has another number of vertices than the table was made for";
    case TT_BAD_STRIDE:
      return "the stride is smaller than a point or leaves the address space";
    case TT_BAD_RANGE:
      return "the range of bindings exceeds the table";
  }
  return "unknown status";
}

tt_status tt_table_open_with(tt_table* out, const void* data, size_t size, const tt_open_options* options) {
  namespace view = trimtack::view;
  if (out == nullptr) return TT_NULL_ARGUMENT;
  if (data == nullptr) return view::refuse(out, {TT_NULL_ARGUMENT, 0});
  if (reinterpret_cast<uintptr_t>(data) % 8 != 0) return view::refuse(out, {TT_MISALIGNED, 0});
  const view::Refusal header = view::check_header(data, size);
  if (header.status != TT_OK) return view::refuse(out, header);
  View opened = view::look_at(data);
  const view::Refusal patches = view::check_patches(opened);
  if (patches.status != TT_OK) return view::refuse(out, patches);
  const view::Refusal bindings = view::check_bindings(opened);
  if (bindings.status != TT_OK) return view::refuse(out, bindings);
  const view::Refusal texts = view::check_texts(opened);
  if (texts.status != TT_OK) return view::refuse(out, texts);
  if (!view::apply_options(options, opened)) return view::refuse(out, {TT_BAD_OPTIONS, 0});
  view::store(opened, out);
  return TT_OK;
}

tt_status tt_table_open(tt_table* out, const void* data, size_t size) {
  return tt_table_open_with(out, data, size, nullptr);
}

uint64_t tt_table_fault_offset(const tt_table* table) {
  if (table == nullptr) return 0;
  const View view = trimtack::view::load(table);
  return view.state == trimtack::view::kRefused ? view.fault_offset : 0;
}

tt_status tt_table_info(const tt_table* table, tt_info* out) {
  if (table == nullptr || out == nullptr) return TT_NULL_ARGUMENT;
  const View view = trimtack::view::load(table);
  if (view.state != trimtack::view::kOpen) return TT_NOT_OPEN;
  const layout::Header& h = *view.header;
  memset(out, 0, sizeof *out);  // cppcheck-suppress memsetClassFloat ; zero bits are 0.0
  out->format = h.format;
  out->up_axis = h.up_axis;
  out->binding_count = h.binding_count;
  out->patch_count = h.patch_count;
  out->cloth_vertices = h.cloth_vertices;
  out->cloth_faces = h.cloth_faces;
  out->fingerprint = h.fingerprint;
  out->mm_per_unit = h.mm_per_unit;
  return TT_OK;
}

tt_status tt_table_binding(const tt_table* table, size_t index, tt_binding* out) {
  if (table == nullptr || out == nullptr) return TT_NULL_ARGUMENT;
  const View view = trimtack::view::load(table);
  if (view.state != trimtack::view::kOpen) return TT_NOT_OPEN;
  if (index >= view.header->binding_count) return TT_BAD_RANGE;
  const layout::Binding& binding = view.bindings[index];
  const layout::Detail& detail = view.details[index];
  memset(out, 0, sizeof *out);  // cppcheck-suppress memsetClassFloat ; zero bits are 0.0
  out->trim = binding.trim;
  out->role = binding.role;
  out->anchor_face = detail.anchor_face;
  for (int k = 0; k < 3; ++k) {
    out->anchor_triangle[k] = detail.anchor_triangle[k];
    out->anchor_weights[k] = detail.anchor_weights[k];
  }
  if (binding.patch != layout::kNone) trimtack::view::rest_origin(view, view.patches[binding.patch], out->origin);
  out->gap = detail.gap;
  out->layer = detail.layer;
  out->order = detail.order;
  out->name = view.text_data + view.texts[detail.name].at;
  out->name_bytes = view.texts[detail.name].bytes;
  return TT_OK;
}

tt_status tt_cloth_fingerprint(size_t vertex_count, const uint32_t* offsets, size_t face_count, const uint32_t* corners,
                               uint64_t* out) {
  if (out == nullptr || (face_count != 0 && corners == nullptr)) return TT_NULL_ARGUMENT;
  if (vertex_count > layout::kNone) return TT_BAD_RANGE;
  uint64_t state = layout::add_to_fingerprint(layout::kFnvBasis, static_cast<uint32_t>(vertex_count));
  for (size_t f = 0; f < face_count; ++f) {
    const size_t begin = offsets != nullptr ? offsets[f] : 3 * f;
    const size_t end = offsets != nullptr ? offsets[f + 1] : 3 * f + 3;
    if (end < begin) return TT_BAD_RANGE;
    state = layout::add_face_to_fingerprint(state, corners + begin, static_cast<uint32_t>(end - begin));
  }
  *out = state;
  return TT_OK;
}

}  // extern "C"
