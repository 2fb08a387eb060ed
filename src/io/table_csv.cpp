// SPDX-License-Identifier: MIT
// bindings.csv: the anchor triangle form. Quoting: RFC 4180.
#include <algorithm>
#include <string>

#include "io/json_text.hpp"
#include "io/ordered_pieces.hpp"
#include "trimtack/io/table_json.hpp"

namespace trimtack {
namespace {

using json_text::append_number;

void append_field(std::string& out, const std::string& text) {
  if (text.find_first_of(",\"\r\n") == std::string::npos) {
    out += text;
    return;
  }
  out += '"';
  for (const char ch : text) {
    if (ch == '"') out += '"';
    out += ch;
  }
  out += '"';
}

void append_index(std::string& out, Index index) {
  out += ',';
  if (index != kNone) append_number(out, index);
}

void append_value(std::string& out, double value) {
  out += ',';
  append_number(out, value);
}

void append_row(std::string& out, const BindTable& table, const Binding& binding) {
  append_number(out, binding.trim);
  out += ',';
  append_field(out, binding.name);
  out += ',';
  out += to_text(binding.role);
  append_index(out, binding.anchor_face);
  for (const Index vertex : binding.anchor_triangle) append_index(out, vertex);
  for (const double weight : binding.anchor_weights) append_value(out, weight);
  if (binding.patch == kNone) {
    out += ",,,";
  } else {
    const Vec3& origin = table.patches[binding.patch].origin;
    for (const double x : {origin.x, origin.y, origin.z}) append_value(out, x);
  }
  append_value(out, binding.gap);
  append_index(out, binding.layer);
  append_index(out, binding.runner_up);
  out += ',';
  append_number(out, binding.order);
  for (const double x : {binding.radius, binding.jitter_deg_per_mm, binding.bias_deg, binding.error_deg})
    append_value(out, x);
  std::string notes;
  for (const std::string& note : binding.notes) notes += (notes.empty() ? "" : "; ") + note;
  out += ',';
  append_field(out, notes);
  out += '\n';
}

constexpr std::size_t kRowsInPiece = 256;

}  // namespace

Result<void> write_table_csv(const BindTable& table, const TextSink& sink, const Executor& executor) {
  auto done = sink(
      "trim,name,role,anchor_face,v0,v1,v2,w0,w1,w2,origin_x,origin_y,origin_z,gap,layer,runner_up,order,radius,"
      "jitter_deg_per_mm,bias_deg,error_deg,notes\n");
  if (!done) return done;
  ScratchPool<std::string> pool;
  const std::size_t count = table.bindings.size();
  const auto make = [&](std::size_t piece, std::string& out) {
    out.clear();
    const std::size_t end = std::min(count, (piece + 1) * kRowsInPiece);
    for (std::size_t i = piece * kRowsInPiece; i < end; ++i) append_row(out, table, table.bindings[i]);
  };
  return make_in_order(executor, (count + kRowsInPiece - 1) / kRowsInPiece, pool, make, sink);
}

std::string write_table_csv(const BindTable& table) {
  std::string out;
  (void)write_table_csv(table, sink_into(out));
  return out;
}

}  // namespace trimtack
