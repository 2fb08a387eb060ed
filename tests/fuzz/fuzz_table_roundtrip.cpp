// SPDX-License-Identifier: MIT
// Laws of writing a table, on any table: encode refuses with the element concerned, or decode gives the same table
// back, the runtime opens it, and JSON gives an equal table back. The table is built from the input's bytes, mostly
// well formed.
#include <cstdint>
#include <cstring>
#include <string>

#include "fuzz/byte_source.hpp"
#include "fuzz/fuzz_check.hpp"
#include "trimtack/io/table_json.hpp"
#include "trimtack/table.hpp"
#include "trimtack/version.h"

namespace {

using namespace trimtack;

using Source = fuzz::ByteSource;

Index add_patch(Source& in, BindTable& table) {
  Patch patch;
  patch.first = static_cast<Index>(table.vertices.size());
  patch.count = 1 + in.byte() % 5;
  double a = 0, b = 0, c = 0;
  for (Index k = 0; k < patch.count; ++k) {
    const bool last = k + 1 == patch.count;
    table.vertices.push_back(in.index(table.cloth_vertices));
    table.c.push_back(last ? 1 - c : in.number());
    table.a.push_back(last ? -a : in.number());
    table.b.push_back(last ? -b : in.number());
    c += table.c.back(), a += table.a.back(), b += table.b.back();
  }
  patch.origin = {in.number(), in.number(), in.number()};
  const double angle = in.number();
  patch.frame = to_matrix({0, std::sin(angle / 2), 0, std::cos(angle / 2)});
  if (in.byte() == 255) patch.frame.m[in.byte() % 9] = in.number();
  patch.reach = in.byte() == 255 ? in.number() : std::fabs(in.number());
  table.patches.push_back(patch);
  return static_cast<Index>(table.patches.size() - 1);
}

BindTable make_table(Source& in) {
  BindTable table;
  table.unit = {in.byte() == 255 ? in.number() : 1.0, in.text(), in.number(), {}};
  for (int n = in.byte() % 3; n > 0; --n) table.unit.reasons.push_back(in.text());
  table.up = in.byte() % 2 == 0 ? UpAxis::Y : UpAxis::Z;
  table.cloth_file = in.text();
  table.cloth_vertices = in.byte();
  table.cloth_faces = in.byte();
  for (int i = 0; i < 8; ++i) table.fingerprint = table.fingerprint << 8 | in.byte();
  while (!in.empty() && table.bindings.size() < 20) {
    Binding binding;
    binding.trim = in.index(200);
    binding.name = in.text();
    binding.role = static_cast<Role>(in.byte() % 3);
    binding.anchor_face = in.index(table.cloth_faces);
    for (Index& v : binding.anchor_triangle) v = in.index(table.cloth_vertices);
    for (double& w : binding.anchor_weights) w = in.number();
    if (in.byte() != 255) binding.patch = add_patch(in, table);
    if (in.byte() % 2 == 0) binding.fallback = add_patch(in, table);
    binding.gap = in.number();
    binding.layer = in.index(9);
    binding.runner_up = in.index(9);
    binding.order = in.byte() % 3;
    binding.radius = in.number();
    binding.jitter_deg_per_mm = in.number();
    binding.bias_deg = in.number();
    binding.error_deg = in.number();
    for (int n = in.byte() % 3; n > 0; --n) binding.notes.push_back(in.text());
    table.bindings.push_back(binding);
  }
  return table;
}

/// JSON holds UTF-8 only; bytes that are not become U+FFFD, and then the tables differ in texts.
bool is_ascii(const BindTable& table) {
  const auto plain = [](const std::string& text) {
    for (const char c : text)
      if (static_cast<unsigned char>(c) >= 128) return false;
    return true;
  };
  bool good = plain(table.unit.name) && plain(table.cloth_file);
  for (const std::string& reason : table.unit.reasons) good = good && plain(reason);
  for (const Binding& binding : table.bindings) {
    good = good && plain(binding.name);
    for (const std::string& note : binding.notes) good = good && plain(note);
  }
  return good;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  Source in(data, size);
  const BindTable table = make_table(in);
  const auto bytes = encode(table, TT_TABLE_FORMAT_LATEST);
  if (!bytes) {
    require_law(!bytes.error().subject.empty() && !bytes.error().message.empty(), "a refusal names the element");
    return 0;
  }
  const auto decoded = decode(*bytes);
  require_law(decoded.has_value() && *decoded == table, "decode(encode(t)) is t");
  const auto read = read_table_json(write_table_json(table), "bindings.json");
  require_law(read.has_value(), "the JSON is read: " + (read ? std::string() : to_text(read.error())));
  if (is_ascii(table)) require_law(*read == table, "JSON gives the same table");
  require_law(write_table_csv(table).size() > table.bindings.size(), "the CSV has rows");
  return 0;
}
