// SPDX-License-Identifier: MIT
// BindTable <-> bytes. The bytes are described in src/runtime/FORMAT.md and checked by the runtime's own open, on the
// way out as on the way in, so that nothing is written that a host would refuse.
#include <algorithm>
#include <cmath>
#include <cstring>
#include <limits>
#include <utility>

#include "core/memory.hpp"
#include "runtime/frame.hpp"
#include "runtime/layout.hpp"
#include "trimtack/runtime.h"
#include "trimtack/table.hpp"

namespace trimtack {
namespace {

constexpr std::size_t kMost = std::numeric_limits<std::uint32_t>::max() - 1;

Error bad(std::string subject, std::string message) {
  return {ErrorCode::BadInput, std::move(message), std::move(subject), 0};
}

std::uint32_t checked(std::size_t count) { return static_cast<std::uint32_t>(count); }

/// "binding 3 (\"cuff button\")", "patch 7", ... for an offset in the bytes.
std::string element_at(const layout::Header& h, std::uint64_t at) {
  const layout::Sections s = layout::place(h.binding_count, h.patch_count, h.item_count, h.text_count, h.text_bytes);
  const auto nth = [at](std::uint64_t begin, std::size_t size) { return std::to_string((at - begin) / size); };
  if (at < s.bindings) return "header";
  if (at < s.patches) return "binding " + nth(s.bindings, sizeof(layout::Binding));
  if (at < s.vertices) return "patch " + nth(s.patches, sizeof(layout::Patch));
  if (at < s.weights) return "patch item " + nth(s.vertices, sizeof(std::uint32_t));
  if (at < s.details) return "patch item " + nth(s.weights, sizeof(layout::Weights));
  if (at < s.texts) return "binding " + nth(s.details, sizeof(layout::Detail));
  if (at < s.text_data) return "text " + nth(s.texts, sizeof(layout::Text));
  return "texts";
}

/// Texts of a table in the order of the format, end to end.
struct TextPool {
  std::vector<layout::Text> texts;
  std::string data;
  bool fits = true;

  std::uint32_t add(const std::string& text) {
    fits = fits && data.size() + text.size() < kMost;
    texts.push_back({checked(data.size()), checked(text.size())});
    if (fits) data += text;
    return checked(texts.size() - 1);
  }
};

layout::Detail detail_of(const Binding& binding, TextPool& pool) {
  layout::Detail d{};
  d.anchor_face = binding.anchor_face;
  for (std::size_t k = 0; k < 3; ++k) {
    d.anchor_triangle[k] = binding.anchor_triangle[k];
    d.anchor_weights[k] = binding.anchor_weights[k];
  }
  d.layer = binding.layer;
  d.runner_up = binding.runner_up;
  d.order = static_cast<std::uint32_t>(binding.order);
  d.name = pool.add(binding.name);
  d.first_note = d.name + 1;
  d.note_count = checked(binding.notes.size());
  for (const std::string& note : binding.notes) pool.add(note);
  d.gap = binding.gap;
  d.radius = binding.radius;
  d.jitter_deg_per_mm = binding.jitter_deg_per_mm;
  d.bias_deg = binding.bias_deg;
  d.error_deg = binding.error_deg;
  return d;
}

layout::Patch record_of(const Patch& patch) {
  layout::Patch p{};
  p.first = patch.first;
  p.count = patch.count;
  p.reach = patch.reach;
  for (int k = 0; k < 3; ++k) p.origin[k] = patch.origin[k];
  std::copy(patch.frame.m.begin(), patch.frame.m.end(), p.frame);
  return p;
}

template <class T>
void put(std::vector<std::byte>& bytes, std::uint64_t at, const T* items, std::size_t count) {
  if (count != 0) std::memcpy(bytes.data() + at, items, count * sizeof(T));
}

Result<void> check_counts(const BindTable& table) {
  const std::size_t items = table.vertices.size();
  if (table.c.size() != items || table.a.size() != items || table.b.size() != items)
    return bad("table", "vertices, c, a and b differ in length; give each item one of each");
  if (items >= kMost || table.bindings.size() >= kMost || table.patches.size() >= kMost)
    return bad("table", "more items than a table can hold; split the garment");
  std::size_t texts = 2 + table.unit.reasons.size();
  for (const Binding& binding : table.bindings) texts += 1 + binding.notes.size();
  if (texts >= kMost) return bad("table", "more notes than a table can hold; drop some");
  return {};
}

layout::Header header_of(const BindTable& table, const TextPool& pool) {
  layout::Header h{};
  std::copy(std::begin(layout::kMagic), std::end(layout::kMagic), h.magic);
  h.byte_order = layout::kByteOrder;
  h.format = TT_TABLE_FORMAT_1;
  h.fingerprint = table.fingerprint;
  h.mm_per_unit = table.unit.mm_per_unit;
  h.unit_confidence = table.unit.confidence;
  h.up_axis = table.up == UpAxis::Y ? TT_UP_Y : TT_UP_Z;
  h.cloth_vertices = table.cloth_vertices;
  h.cloth_faces = table.cloth_faces;
  h.binding_count = checked(table.bindings.size());
  h.patch_count = checked(table.patches.size());
  h.item_count = checked(table.vertices.size());
  h.text_count = checked(pool.texts.size());
  h.text_bytes = checked(pool.data.size());
  h.unit_reason_count = checked(table.unit.reasons.size());
  const layout::Sections s = layout::place(h.binding_count, h.patch_count, h.item_count, h.text_count, h.text_bytes);
  h.bindings_at = s.bindings;
  h.patches_at = s.patches;
  h.vertices_at = s.vertices;
  h.weights_at = s.weights;
  h.details_at = s.details;
  h.texts_at = s.texts;
  h.text_data_at = s.text_data;
  h.file_bytes = s.end;
  return h;
}

/// Strings of an opened table.
std::string text_at(const std::byte* bytes, const layout::Header& h, std::uint32_t index) {
  layout::Text text;
  std::memcpy(&text, bytes + h.texts_at + index * sizeof text, sizeof text);
  return {reinterpret_cast<const char*>(bytes) + h.text_data_at + text.at, text.bytes};
}

Binding binding_at(const std::byte* bytes, const layout::Header& h, std::uint32_t index) {
  layout::Binding hot;
  layout::Detail d;
  std::memcpy(&hot, bytes + h.bindings_at + index * sizeof hot, sizeof hot);
  std::memcpy(&d, bytes + h.details_at + index * sizeof d, sizeof d);
  Binding binding;
  binding.trim = hot.trim;
  binding.role = static_cast<Role>(hot.role);
  binding.patch = hot.patch;
  binding.fallback = hot.fallback;
  binding.anchor_face = d.anchor_face;
  for (std::size_t k = 0; k < 3; ++k) {
    binding.anchor_triangle[k] = d.anchor_triangle[k];
    binding.anchor_weights[k] = d.anchor_weights[k];
  }
  binding.layer = d.layer;
  binding.runner_up = d.runner_up;
  binding.order = static_cast<int>(d.order);
  binding.gap = d.gap;
  binding.radius = d.radius;
  binding.jitter_deg_per_mm = d.jitter_deg_per_mm;
  binding.bias_deg = d.bias_deg;
  binding.error_deg = d.error_deg;
  binding.name = text_at(bytes, h, d.name);
  binding.notes.reserve(d.note_count);
  for (std::uint32_t k = 0; k < d.note_count; ++k) binding.notes.push_back(text_at(bytes, h, d.first_note + k));
  return binding;
}

void read_patches(const std::byte* bytes, const layout::Header& h, BindTable& table) {
  table.patches.resize(h.patch_count);
  for (std::uint32_t i = 0; i < h.patch_count; ++i) {
    layout::Patch p;
    std::memcpy(&p, bytes + h.patches_at + i * sizeof p, sizeof p);
    Patch& patch = table.patches[i];
    patch.first = p.first;
    patch.count = p.count;
    patch.reach = p.reach;
    patch.origin = {p.origin[0], p.origin[1], p.origin[2]};
    std::copy(std::begin(p.frame), std::end(p.frame), patch.frame.m.begin());
  }
  table.vertices.resize(h.item_count);
  if (h.item_count != 0) std::memcpy(table.vertices.data(), bytes + h.vertices_at, h.item_count * sizeof(Index));
  table.c.resize(h.item_count);
  table.a.resize(h.item_count);
  table.b.resize(h.item_count);
  for (std::uint32_t i = 0; i < h.item_count; ++i) {
    layout::Weights w;
    std::memcpy(&w, bytes + h.weights_at + i * sizeof w, sizeof w);
    table.c[i] = w.c, table.a[i] = w.a, table.b[i] = w.b;
  }
}

}  // namespace

std::uint64_t cloth_fingerprint(Index vertex_count, std::span<const Index> offsets, std::span<const Index> corners) {
  std::uint64_t out = 0;
  tt_cloth_fingerprint(vertex_count, offsets.data(), offsets.empty() ? 0 : offsets.size() - 1, corners.data(), &out);
  return out;
}

Result<std::vector<Index>> set_rest_frames(BindTable& table, std::span<const Vec3> rest) {
  std::vector<Index> without;
  for (std::size_t i = 0; i < table.patches.size(); ++i) {
    Patch& patch = table.patches[i];
    const std::string subject = "patch " + std::to_string(i);
    const std::size_t items = std::min({table.vertices.size(), table.c.size(), table.a.size(), table.b.size()});
    if (patch.count == 0 || patch.first > items || patch.count > items - patch.first)
      return bad(subject, "has no items or items beyond the end; give each patch its own range");
    for (std::size_t k = patch.first; k < patch.first + std::size_t{patch.count}; ++k)
      if (table.vertices[k] >= rest.size())
        return bad(subject, "names cloth vertex " + std::to_string(table.vertices[k]) + " of " +
                                std::to_string(rest.size()) + "; bind to this cloth again");
    const auto sums = frame::weighted_sums<double>(&rest[0].x, sizeof(Vec3), table.vertices.data() + patch.first,
                                                   patch.count, table.c.data() + patch.first,
                                                   table.a.data() + patch.first, table.b.data() + patch.first, 1);
    patch.origin = {sums.base[0] + sums.offset[0], sums.base[1] + sums.offset[1], sums.base[2] + sums.offset[2]};
    patch.reach = std::sqrt(sums.squared_reach);
    patch.frame = Mat3{};
    switch (frame::polar_frame(sums.t, sums.b, patch.frame.m.data())) {
      case frame::FrameStatus::Good:
        break;
      case frame::FrameStatus::Degenerate:
        without.push_back(static_cast<Index>(i));
        break;
      case frame::FrameStatus::NotFinite:
        return bad(subject, "has a rest vertex or weight that is not finite; repair the cloth");
    }
    if (!is_finite(patch.origin)) return bad(subject, "has a rest vertex that is not finite; repair the cloth");
  }
  return without;
}

Result<std::vector<std::byte>> encode(const BindTable& table, std::uint32_t format) {
  if (format != TT_TABLE_FORMAT_1)
    return Error{ErrorCode::Usage, "is not a table format; use " + std::to_string(TT_TABLE_FORMAT_LATEST),
                 "format " + std::to_string(format), 0};
  if (const Result<void> counts = check_counts(table); !counts) return counts.error();
  TextPool pool;
  pool.add(table.unit.name);
  pool.add(table.cloth_file);
  for (const std::string& reason : table.unit.reasons) pool.add(reason);
  std::vector<layout::Binding> bindings;
  std::vector<layout::Detail> details;
  reserve_large(bindings, table.bindings.size());
  reserve_large(details, table.bindings.size());
  for (const Binding& binding : table.bindings) {
    bindings.push_back({binding.patch, binding.fallback, binding.trim, static_cast<std::uint32_t>(binding.role)});
    details.push_back(detail_of(binding, pool));
  }
  if (!pool.fits) return bad("table", "names and notes are longer than a table can hold; shorten them");
  std::vector<layout::Patch> patches;
  reserve_large(patches, table.patches.size());
  for (const Patch& patch : table.patches) patches.push_back(record_of(patch));

  layout::Header header = header_of(table, pool);
  std::vector<std::byte> bytes = filled_large(header.file_bytes, std::byte{});
  put(bytes, header.bindings_at, bindings.data(), bindings.size());
  put(bytes, header.patches_at, patches.data(), patches.size());
  put(bytes, header.vertices_at, table.vertices.data(), table.vertices.size());
  for (std::size_t i = 0; i < table.vertices.size(); ++i) {
    const layout::Weights weights{table.c[i], table.a[i], table.b[i]};
    put(bytes, header.weights_at + i * sizeof weights, &weights, 1);
  }
  put(bytes, header.details_at, details.data(), details.size());
  put(bytes, header.texts_at, pool.texts.data(), pool.texts.size());
  put(bytes, header.text_data_at, pool.data.data(), pool.data.size());
  put(bytes, 0, &header, 1);
  header.checksum = layout::checksum(bytes.data(), bytes.size());
  put(bytes, 0, &header, 1);

  tt_table opened;
  const tt_status status = tt_table_open(&opened, bytes.data(), bytes.size());
  if (status != TT_OK)
    return bad(element_at(header, tt_table_fault_offset(&opened)),
               std::string(tt_status_text(status)) + "; such a table cannot be written");
  return bytes;
}

Result<BindTable> decode(std::span<const std::byte> bytes) {
  std::vector<std::uint64_t> aligned;
  const std::byte* data = bytes.data();
  if (reinterpret_cast<std::uintptr_t>(data) % 8 != 0) {
    aligned.resize((bytes.size() + 7) / 8);
    if (!bytes.empty()) std::memcpy(aligned.data(), bytes.data(), bytes.size());
    data = reinterpret_cast<const std::byte*>(aligned.data());
  }
  tt_table opened;
  const tt_status status = tt_table_open(&opened, data, bytes.size());
  layout::Header h{};
  if (bytes.size() >= sizeof h) std::memcpy(&h, data, sizeof h);
  if (status != TT_OK) {
    const std::uint64_t at = tt_table_fault_offset(&opened);
    std::string subject = "byte " + std::to_string(at);
    if (status >= TT_BAD_INDEX && status <= TT_BAD_TEXT) subject += " (" + element_at(h, at) + ")";
    return bad(subject, std::string(tt_status_text(status)) + "; bind the garment again to get a whole table");
  }
  BindTable table;
  table.fingerprint = h.fingerprint;
  table.unit.mm_per_unit = h.mm_per_unit;
  table.unit.confidence = h.unit_confidence;
  table.unit.name = text_at(data, h, 0);
  table.cloth_file = text_at(data, h, 1);
  for (std::uint32_t i = 0; i < h.unit_reason_count; ++i) table.unit.reasons.push_back(text_at(data, h, 2 + i));
  table.up = h.up_axis == TT_UP_Y ? UpAxis::Y : UpAxis::Z;
  table.cloth_vertices = h.cloth_vertices;
  table.cloth_faces = h.cloth_faces;
  read_patches(data, h, table);
  table.bindings.reserve(h.binding_count);
  for (std::uint32_t i = 0; i < h.binding_count; ++i) table.bindings.push_back(binding_at(data, h, i));
  return table;
}

}  // namespace trimtack
