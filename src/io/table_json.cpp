// SPDX-License-Identifier: MIT
// Reading bindings.json. One binding at a time is a document tree; it is turned into plain arrays and dropped before
// the next one, so that memory stays near the size of the table. What a runtime would refuse is refused here as well.
#include "trimtack/io/table_json.hpp"

#include <charconv>
#include <cmath>
#include <nlohmann/json.hpp>
#include <optional>
#include <utility>

#include "io/json_text.hpp"
#include "trimtack/version.h"

namespace trimtack {
namespace {

using nlohmann::json;

/// Reads members of one JSON object; the first mistake is kept with its path, later reads do nothing.
class Reader {
 public:
  explicit Reader(std::string file) : file_(std::move(file)) {}

  const std::optional<Error>& error() const { return error_; }

  void fail(const std::string& path, const std::string& what) {
    if (!error_) error_ = Error{ErrorCode::BadInput, path + ": " + what, file_, 0};
  }

  /// Member `key`, or null (and a fault when it is required).
  const json* member(const json& object, const char* key, const std::string& path, bool required) {
    const auto at = object.find(key);
    if (at != object.end()) return &*at;
    if (required) fail(path + "." + key, "is missing; add it");
    return nullptr;
  }

  void read(const json& value, const std::string& path, double& out) {
    const double number = value.is_number() ? value.get<double>() : std::nan("");
    if (!std::isfinite(number)) return fail(path, "must be a finite number");
    out = number;
  }
  void read(const json& value, const std::string& path, std::string& out) {
    if (!value.is_string()) return fail(path, "must be a text");
    out = value.get_ref<const std::string&>();
  }
  /// A 0-based index or count; null stands for none.
  void read(const json& value, const std::string& path, Index& out) {
    if (value.is_null()) {
      out = kNone;
    } else if (value.is_number_unsigned() && value.get<std::uint64_t>() < kNone) {
      out = static_cast<Index>(value.get<std::uint64_t>());
    } else {
      fail(path, "must be a whole number below 4294967295, or null");
    }
  }
  template <class T>
  void read(const json& value, const std::string& path, std::vector<T>& out) {
    if (!value.is_array()) return fail(path, "must be a list");
    out.assign(value.size(), T{});
    for (std::size_t i = 0; i < value.size() && !error_; ++i) {
      if (plain(value[i], out[i])) continue;
      read(value[i], path + "[" + std::to_string(i) + "]", out[i]);
    }
  }
  template <class T, std::size_t N>
  void read(const json& value, const std::string& path, std::array<T, N>& out) {
    std::vector<T> items;
    read(value, path, items);
    if (error_) return;
    if (items.size() != N) return fail(path, "must have " + std::to_string(N) + " items");
    for (std::size_t i = 0; i < N; ++i) out[i] = items[i];
  }
  void read(const json& value, const std::string& path, Vec3& out) {
    std::array<double, 3> xyz{};
    read(value, path, xyz);
    out = {xyz[0], xyz[1], xyz[2]};
  }
  void read(const json& value, const std::string& path, Mat3& out) {
    if (!value.is_array() || value.size() != 3) return fail(path, "must be three rows of three numbers");
    for (std::size_t row = 0; row < 3; ++row) {
      std::array<double, 3> numbers{};
      read(value[row], path + "[" + std::to_string(row) + "]", numbers);
      for (std::size_t k = 0; k < 3; ++k) out.m[3 * row + k] = numbers[k];
    }
  }
  template <class T>
  void required(const json& object, const char* key, const std::string& path, T& out) {
    if (const json* value = member(object, key, path, true)) read(*value, path + "." + key, out);
  }
  template <class T>
  void optional(const json& object, const char* key, const std::string& path, T& out) {
    if (const json* value = member(object, key, path, false)) read(*value, path + "." + key, out);
  }

 private:
  /// The common case of a list item, without making its path.
  static bool plain(const json& value, double& out) {
    if (!value.is_number()) return false;
    out = value.get<double>();
    return std::isfinite(out);
  }
  static bool plain(const json& value, Index& out) {
    if (!value.is_number_unsigned() || value.get<std::uint64_t>() >= kNone) return false;
    out = static_cast<Index>(value.get<std::uint64_t>());
    return true;
  }
  static bool plain(const json&, std::string&) { return false; }

  std::string file_;
  std::optional<Error> error_;
};

/// Appends a patch; returns its number, or kNone for one without vertices (an unbound trim).
Index read_patch(Reader& reader, const json& object, const std::string& path, BindTable& table) {
  std::vector<Index> vertices;
  std::vector<double> c, a, b;
  Patch patch;
  reader.required(object, "vertices", path, vertices);
  reader.required(object, "c", path, c);
  reader.required(object, "a", path, a);
  reader.required(object, "b", path, b);
  reader.required(object, "origin", path, patch.origin);
  reader.required(object, "frame", path, patch.frame);
  reader.optional(object, "reach", path, patch.reach);
  if (reader.error()) return kNone;
  if (c.size() != vertices.size() || a.size() != vertices.size() || b.size() != vertices.size()) {
    reader.fail(path, "vertices, c, a and b must be equally long");
    return kNone;
  }
  if (vertices.empty()) return kNone;
  if (vertices.size() >= kNone - table.vertices.size()) {
    reader.fail(path, "the table has more patch vertices than it can hold");
    return kNone;
  }
  patch.first = static_cast<Index>(table.vertices.size());
  patch.count = static_cast<Index>(vertices.size());
  table.vertices.insert(table.vertices.end(), vertices.begin(), vertices.end());
  table.c.insert(table.c.end(), c.begin(), c.end());
  table.a.insert(table.a.end(), a.begin(), a.end());
  table.b.insert(table.b.end(), b.begin(), b.end());
  table.patches.push_back(patch);
  return static_cast<Index>(table.patches.size() - 1);
}

void read_role(Reader& reader, const json& object, const std::string& path, Role& out) {
  std::string text = to_text(out);
  reader.optional(object, "role", path, text);
  for (const Role role : {Role::Cloth, Role::Trim, Role::Stitching}) {
    if (text != to_text(role)) continue;
    out = role;
    return;
  }
  reader.fail(path + ".role", "must be cloth, trim or stitching");
}

void read_binding(Reader& reader, const json& object, const std::string& path, BindTable& table) {
  Binding binding;
  reader.required(object, "trim", path, binding.trim);
  reader.required(object, "name", path, binding.name);
  read_role(reader, object, path, binding.role);
  if (const json* anchor = reader.member(object, "anchor", path, true)) {
    if (!anchor->is_object()) return reader.fail(path + ".anchor", "must be an object");
    reader.required(*anchor, "face", path + ".anchor", binding.anchor_face);
    reader.required(*anchor, "triangle", path + ".anchor", binding.anchor_triangle);
    reader.required(*anchor, "weights", path + ".anchor", binding.anchor_weights);
  }
  binding.patch = read_patch(reader, object, path, table);
  const json* fallback = reader.member(object, "fallback", path, false);
  if (fallback != nullptr && !fallback->is_null()) {
    if (!fallback->is_object()) return reader.fail(path + ".fallback", "must be an object or null");
    binding.fallback = read_patch(reader, *fallback, path + ".fallback", table);
  }
  reader.optional(object, "gap", path, binding.gap);
  reader.optional(object, "layer", path, binding.layer);
  reader.optional(object, "runner_up", path, binding.runner_up);
  Index order = 0;
  reader.optional(object, "order", path, order);
  if (order > 2) reader.fail(path + ".order", "must be 0, 1 or 2");
  binding.order = static_cast<int>(order);
  reader.optional(object, "radius", path, binding.radius);
  const json* predicted = reader.member(object, "predicted", path, false);
  if (predicted != nullptr) {
    if (!predicted->is_object()) return reader.fail(path + ".predicted", "must be an object");
    reader.optional(*predicted, "jitter_deg_per_mm", path + ".predicted", binding.jitter_deg_per_mm);
    reader.optional(*predicted, "bias_deg", path + ".predicted", binding.bias_deg);
    reader.optional(*predicted, "error_deg", path + ".predicted", binding.error_deg);
  }
  reader.optional(object, "notes", path, binding.notes);
  table.bindings.push_back(std::move(binding));
}

void read_hash(Reader& reader, const json& cloth, std::uint64_t& out) {
  std::string text;
  reader.required(cloth, "hash", "cloth", text);
  const auto result = std::from_chars(text.data(), text.data() + text.size(), out, 16);
  if (text.size() != 16 || result.ec != std::errc() || result.ptr != text.data() + text.size())
    reader.fail("cloth.hash", "must be 16 hexadecimal digits");
}

void read_count(Reader& reader, const json& object, const char* key, Index& out) {
  reader.required(object, key, "cloth", out);
  if (out == kNone) reader.fail(std::string("cloth.") + key, "must be a number");
}

void read_head(Reader& reader, const json& root, BindTable& table) {
  std::string format, up = "y";
  Index version = 0;
  reader.required(root, "format", "$", format);
  if (format != "trimtack-bindings") reader.fail("$.format", "must be \"trimtack-bindings\"; give a bindings.json");
  reader.required(root, "version", "$", version);
  if (version != 1) reader.fail("$.version", "must be 1; this file was written by a newer program");
  reader.required(root, "unit", "$", table.unit.name);
  reader.required(root, "mm_per_unit", "$", table.unit.mm_per_unit);
  reader.optional(root, "unit_confidence", "$", table.unit.confidence);
  reader.optional(root, "unit_reasons", "$", table.unit.reasons);
  reader.required(root, "up", "$", up);
  if (up != "y" && up != "z") reader.fail("$.up", "must be y or z");
  table.up = up == "z" ? UpAxis::Z : UpAxis::Y;
  const json* cloth = reader.member(root, "cloth", "$", true);
  if (cloth == nullptr) return;
  if (!cloth->is_object()) return reader.fail("$.cloth", "must be an object");
  reader.required(*cloth, "file", "cloth", table.cloth_file);
  read_count(reader, *cloth, "vertices", table.cloth_vertices);
  read_count(reader, *cloth, "faces", table.cloth_faces);
  read_hash(reader, *cloth, table.fingerprint);
}

}  // namespace

Result<BindTable> read_table_json(std::string_view text, const std::string& file) {
  BindTable table;
  Reader reader(file);
  std::string section;  // the root's member that is being read
  const json::parser_callback_t take = [&](int depth, json::parse_event_t event, json& parsed) {
    if (event == json::parse_event_t::key && depth == 1) section = parsed.get_ref<const std::string&>();
    if (event != json::parse_event_t::object_end || depth != 2 || section != "bindings") return true;
    if (!reader.error()) read_binding(reader, parsed, "bindings[" + std::to_string(table.bindings.size()) + "]", table);
    return false;
  };
  json root;
  try {
    root = json::parse(text.begin(), text.end(), take);
  } catch (const json::exception& e) {
    return Error{ErrorCode::BadInput, "not a JSON text: " + json_text::reason_of(e), file, 0};
  }
  if (!root.is_object()) return Error{ErrorCode::BadInput, "must hold one JSON object; give a bindings.json", file, 0};
  read_head(reader, root, table);
  if (const json* rest = reader.member(root, "bindings", "$", true))
    if (!rest->is_array() || !rest->empty()) reader.fail("$.bindings", "must be a list of objects");
  if (reader.error()) return *reader.error();
  // What the runtime would refuse must not pass as a table either.
  const Result<std::vector<std::byte>> bytes = encode(table, TT_TABLE_FORMAT_LATEST);
  if (!bytes) return Error{ErrorCode::BadInput, bytes.error().subject + ": " + bytes.error().message, file, 0};
  return table;
}

}  // namespace trimtack
