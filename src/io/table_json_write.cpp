// SPDX-License-Identifier: MIT
// bindings.json as text, one binding a line; its grammar is bindings.schema.json beside this file.
#include <algorithm>
#include <array>
#include <cstdio>
#include <span>
#include <string>

#include "io/json_text.hpp"
#include "io/ordered_pieces.hpp"
#include "trimtack/io/table_json.hpp"

namespace trimtack {
namespace {

using json_text::append_id;
using json_text::append_number;
using json_text::append_string;
using json_text::append_vec3;

/// Numbers between brackets, without blanks: they are most of the file.
template <class T>
void append_list(std::string& out, std::span<const T> numbers) {
  out += '[';
  for (std::size_t i = 0; i < numbers.size(); ++i) {
    if (i != 0) out += ',';
    if (numbers[i] == 0) {
      out += '0';
    } else {
      append_number(out, numbers[i]);
    }
  }
  out += ']';
}

void append_texts(std::string& out, const std::vector<std::string>& texts) {
  out += '[';
  for (std::size_t i = 0; i < texts.size(); ++i) {
    if (i != 0) out += ", ";
    append_string(out, texts[i]);
  }
  out += ']';
}

/// The members of a patch, without braces.
void append_patch(std::string& out, const BindTable& table, const Patch& patch) {
  out += "\"vertices\": ";
  append_list<Index>(out, std::span(table.vertices).subspan(patch.first, patch.count));
  out += ", \"c\": ";
  append_list<double>(out, std::span(table.c).subspan(patch.first, patch.count));
  out += ", \"a\": ";
  append_list<double>(out, std::span(table.a).subspan(patch.first, patch.count));
  out += ", \"b\": ";
  append_list<double>(out, std::span(table.b).subspan(patch.first, patch.count));
  out += ", \"origin\": ";
  append_vec3(out, patch.origin);
  out += ", \"frame\": [";
  for (int row = 0; row < 3; ++row) {
    if (row != 0) out += ", ";
    append_vec3(out, {patch.frame(row, 0), patch.frame(row, 1), patch.frame(row, 2)});
  }
  out += "], \"reach\": ";
  append_number(out, patch.reach);
}

void append_member(std::string& out, const char* name, double value) {
  out += std::string(", \"") + name + "\": ";
  append_number(out, value);
}

void append_anchor(std::string& out, const Binding& binding) {
  out += ", \"anchor\": {\"face\": ";
  append_id(out, binding.anchor_face);
  out += ", \"triangle\": [";
  for (std::size_t k = 0; k < 3; ++k) {
    if (k != 0) out += ", ";
    append_id(out, binding.anchor_triangle[k]);
  }
  out += "], \"weights\": ";
  append_list<double>(out, binding.anchor_weights);
  out += '}';
}

void append_binding(std::string& out, const BindTable& table, const Binding& binding) {
  out += "{\"trim\": ";
  append_id(out, binding.trim);
  out += ", \"name\": ";
  append_string(out, binding.name);
  out += ", \"role\": \"";
  out += to_text(binding.role);
  out += '"';
  append_anchor(out, binding);
  out += ", ";
  // An unbound trim has a patch without vertices.
  append_patch(out, table, binding.patch == kNone ? Patch{} : table.patches[binding.patch]);
  out += ", \"fallback\": ";
  if (binding.fallback == kNone) {
    out += "null";
  } else {
    out += '{';
    append_patch(out, table, table.patches[binding.fallback]);
    out += '}';
  }
  append_member(out, "gap", binding.gap);
  out += ", \"layer\": ";
  append_id(out, binding.layer);
  out += ", \"runner_up\": ";
  append_id(out, binding.runner_up);
  out += ", \"order\": ";
  append_number(out, binding.order);
  append_member(out, "radius", binding.radius);
  out += ", \"predicted\": {\"jitter_deg_per_mm\": ";
  append_number(out, binding.jitter_deg_per_mm);
  append_member(out, "bias_deg", binding.bias_deg);
  append_member(out, "error_deg", binding.error_deg);
  out += "}, \"notes\": ";
  append_texts(out, binding.notes);
  out += '}';
}

}  // namespace

namespace {

void append_head(std::string& out, const BindTable& table) {
  out += "{\"format\": \"trimtack-bindings\", \"version\": 1,\n \"unit\": ";
  append_string(out, table.unit.name);
  append_member(out, "mm_per_unit", table.unit.mm_per_unit);
  append_member(out, "unit_confidence", table.unit.confidence);
  out += ", \"unit_reasons\": ";
  append_texts(out, table.unit.reasons);
  out += table.up == UpAxis::Y ? ", \"up\": \"y\"" : ", \"up\": \"z\"";
  out += ",\n \"cloth\": {\"file\": ";
  append_string(out, table.cloth_file);
  out += ", \"vertices\": ";
  append_number(out, table.cloth_vertices);
  out += ", \"faces\": ";
  append_number(out, table.cloth_faces);
  // 64 bits do not fit a JSON number of every reader.
  std::array<char, 20> hash{};
  std::snprintf(hash.data(), hash.size(), "%016llx", static_cast<unsigned long long>(table.fingerprint));
  out += std::string(", \"hash\": \"") + hash.data() + "\"},\n \"bindings\": [";
}

constexpr std::size_t kBindingsInPiece = 16;

}  // namespace

Result<void> write_table_json(const BindTable& table, const TextSink& sink, const Executor& executor) {
  ScratchPool<std::string> pool;
  std::string head;
  append_head(head, table);
  if (auto done = sink(head); !done) return done;
  const std::size_t count = table.bindings.size();
  const auto make = [&](std::size_t piece, std::string& out) {
    out.clear();
    const std::size_t end = std::min(count, (piece + 1) * kBindingsInPiece);
    for (std::size_t i = piece * kBindingsInPiece; i < end; ++i) {
      out += i == 0 ? "\n  " : ",\n  ";
      append_binding(out, table, table.bindings[i]);
    }
  };
  if (auto done = make_in_order(executor, (count + kBindingsInPiece - 1) / kBindingsInPiece, pool, make, sink); !done)
    return done;
  return sink(count == 0 ? "]}\n" : "\n ]}\n");
}

std::string write_table_json(const BindTable& table) {
  std::string out;
  (void)write_table_json(table, sink_into(out));
  return out;
}

}  // namespace trimtack
