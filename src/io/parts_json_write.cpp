// SPDX-License-Identifier: MIT
// parts.json as text: one component, trim, prototype and row a line, so that an author can edit it.
#include <string>

#include "io/json_text.hpp"
#include "trimtack/io/parts_json.hpp"

namespace trimtack {
namespace {

using json_text::append_id;
using json_text::append_number;
using json_text::append_string;
using json_text::append_vec3;

void append_list(std::string& out, const std::vector<std::string>& texts) {
  out += '[';
  for (std::size_t i = 0; i < texts.size(); ++i) {
    if (i != 0) out += ", ";
    append_string(out, texts[i]);
  }
  out += ']';
}

void append_list(std::string& out, const std::vector<Index>& ids) {
  out += '[';
  for (std::size_t i = 0; i < ids.size(); ++i) {
    if (i != 0) out += ", ";
    append_number(out, ids[i]);
  }
  out += ']';
}

void append_range(std::string& out, Index first, Index end, bool more) {
  if (more) out += ", ";
  out += '[';
  append_number(out, first);
  out += ", ";
  append_number(out, end);
  out += ']';
}

void append_ranges(std::string& out, const std::vector<IndexRange>& ranges) {
  out += '[';
  for (std::size_t i = 0; i < ranges.size(); ++i) append_range(out, ranges[i].first, ranges[i].end, i != 0);
  out += ']';
}

/// Strictly ascending indices as ranges.
void append_as_ranges(std::string& out, const std::vector<Index>& indices) {
  out += '[';
  for (std::size_t i = 0; i < indices.size();) {
    std::size_t end = i + 1;
    while (end < indices.size() && indices[end] == indices[end - 1] + 1) ++end;
    append_range(out, indices[i], indices[end - 1] + 1, i != 0);
    i = end;
  }
  out += ']';
}

/// Opens item i of a list whose items stand one a line.
void append_item(std::string& out, std::size_t i) {
  out += i == 0 ? "\n  {\"id\": " : ",\n  {\"id\": ";
  append_number(out, i);
}

void append_source(std::string& out, const Parts& parts) {
  out += " \"source\": {\"file\": ";
  append_string(out, parts.source_file);
  out += ", \"faces\": ";
  append_number(out, parts.source_faces);
  out += ", \"vertices\": ";
  append_number(out, parts.source_vertices);
  if (!parts.doubled_vertices.empty()) {
    out += ", \"doubled_vertices\": ";
    append_list(out, parts.doubled_vertices);
  }
  out += ", \"unit\": ";
  append_string(out, parts.unit.name);
  out += ", \"mm_per_unit\": ";
  append_number(out, parts.unit.mm_per_unit);
  out += ", \"unit_confidence\": ";
  append_number(out, parts.unit.confidence);
  out += ", \"unit_reasons\": ";
  append_list(out, parts.unit.reasons);
  out += parts.up == UpAxis::Y ? ", \"up\": \"y\"},\n" : ", \"up\": \"z\"},\n";
}

void append_component(std::string& out, const Component& component) {
  out += ", \"role\": \"";
  out += to_text(component.role);
  out += "\", \"confidence\": ";
  append_number(out, component.confidence);
  out += component.uncertain ? ", \"uncertain\": true, \"reasons\": " : ", \"uncertain\": false, \"reasons\": ";
  append_list(out, component.reasons);
  out += ", \"trim\": ";
  append_id(out, component.trim);
  out += ", \"faces\": ";
  append_ranges(out, component.faces);
  out += ", \"vertices\": ";
  append_ranges(out, component.vertices);
  out += '}';
}

void append_trim(std::string& out, const Trim& trim) {
  out += ", \"name\": ";
  append_string(out, trim.name);
  out += ", \"role\": \"";
  out += to_text(trim.role);
  out += "\", \"components\": ";
  append_list(out, trim.components);
  out += ", \"prototype\": ";
  append_id(out, trim.prototype);
  out += trim.mirrored ? ", \"mirrored\": true, \"scale\": " : ", \"mirrored\": false, \"scale\": ";
  append_number(out, trim.scale);
  out += ", \"placement\": {\"translation\": ";
  append_vec3(out, trim.placement.translation);
  out += ", \"rotation\": [";
  for (int row = 0; row < 3; ++row) {
    if (row != 0) out += ", ";
    const Mat3& r = trim.placement.rotation;
    append_vec3(out, {r(row, 0), r(row, 1), r(row, 2)});
  }
  out += "]}, \"row\": ";
  append_id(out, trim.row);
  out += '}';
}

void append_prototype(std::string& out, const Prototype& prototype) {
  out += ", \"name\": ";
  append_string(out, prototype.name);
  out += ", \"trim\": ";
  append_id(out, prototype.trim);
  out += ", \"count\": ";
  append_number(out, prototype.count);
  out += ", \"size\": ";
  append_vec3(out, prototype.size);
  out += ", \"trade_size\": ";
  append_string(out, prototype.trade_size);
  out += ", \"trade_confidence\": ";
  append_number(out, prototype.trade_confidence);
  out += ", \"residual\": ";
  append_number(out, prototype.residual);
  out += '}';
}

void append_row(std::string& out, const Row& row) {
  static constexpr const char* kKinds[] = {"line", "zipper", "stitch-line"};
  out += ", \"kind\": \"";
  out += kKinds[static_cast<std::size_t>(row.kind)];
  out += "\", \"pitch\": ";
  append_number(out, row.pitch);
  out += ", \"trims\": ";
  append_list(out, row.trims);
  out += '}';
}

void append_map(std::string& out, const char* name, const SubsetMap& map) {
  out += std::string("  \"") + name + "\": {\"vertices\": ";
  append_as_ranges(out, map.positions);
  out += ",\n   \"texcoords\": ";
  append_as_ranges(out, map.texcoords);
  out += ",\n   \"normals\": ";
  append_as_ranges(out, map.normals);
  out += ",\n   \"faces\": ";
  append_as_ranges(out, map.faces);
  out += ",\n   \"loose\": ";
  append_as_ranges(out, map.loose);
  out += ",\n   \"loose_before_face\": ";
  append_list(out, map.loose_before_face);
  out += '}';
}

void append_spanning(std::string& out, const SpanningElement& element) {
  out += "\n   {\"loose\": ";
  append_number(out, element.loose);
  out += element.kind == ElementKind::Line ? ", \"kind\": \"line\", \"vertices\": "
                                           : ", \"kind\": \"point\", \"vertices\": ";
  append_list(out, element.vertices);
  out += ", \"texcoords\": ";
  append_list(out, element.texcoords);
  out += ", \"before_face\": ";
  append_number(out, element.before_face);
  const std::pair<const char*, const std::string*> names[] = {{"object", &element.object},
                                                              {"group", &element.group},
                                                              {"smoothing", &element.smoothing},
                                                              {"material", &element.material}};
  for (const auto& [key, name] : names) {
    out += std::string(", \"") + key + "\": ";
    append_string(out, *name);
  }
  out += '}';
}

/// Text on its way to the sink.
struct Outlet {
  const TextSink& sink;
  std::string text;
  Result<void> done;

  void flush() {
    if (done) done = sink(text);
    text.clear();
  }
};

constexpr std::size_t kPiece = std::size_t{1} << 18;

template <class T, class Append>
void append_items(Outlet& outlet, const char* key, const std::vector<T>& items, Append append) {
  std::string& out = outlet.text;
  out += std::string(" \"") + key + "\": [";
  for (std::size_t i = 0; i < items.size(); ++i) {
    append_item(out, i);
    append(out, items[i]);
    if (out.size() >= kPiece) outlet.flush();
  }
  out += items.empty() ? "],\n" : "\n ],\n";
}

}  // namespace

Result<void> write_parts_json(const Parts& parts, const SplitMaps& maps, const TextSink& sink) {
  Outlet outlet{sink, "{\"format\": \"trimtack-parts\", \"version\": 1,\n", {}};
  std::string& out = outlet.text;
  append_source(out, parts);
  append_items(outlet, "components", parts.components, append_component);
  append_items(outlet, "trims", parts.trims, append_trim);
  append_items(outlet, "prototypes", parts.prototypes, append_prototype);
  append_items(outlet, "rows", parts.rows, append_row);
  out += " \"maps\": {\n";
  append_map(out, "cloth", maps.cloth);
  out += ",\n";
  append_map(out, "trims", maps.trims);
  out += ",\n";
  append_map(out, "stitching", maps.stitching);
  out += ",\n  \"spanning\": [";
  for (std::size_t i = 0; i < maps.spanning.size(); ++i) {
    if (i != 0) out += ',';
    append_spanning(out, maps.spanning[i]);
    if (out.size() >= kPiece) outlet.flush();
  }
  out += "]},\n \"cloth_vertex_of\": ";
  append_list(out, maps.cloth.positions);
  out += "}\n";
  outlet.flush();
  return outlet.done;
}

std::string write_parts_json(const Parts& parts, const SplitMaps& maps) {
  std::string out;
  (void)write_parts_json(parts, maps, sink_into(out));
  return out;
}

}  // namespace trimtack
