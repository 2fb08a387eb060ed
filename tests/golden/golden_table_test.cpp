// SPDX-License-Identifier: MIT
// Tables of every released format are read for ever, and the description of the bytes is the truth.
#include <catch2/catch.hpp>
#include <fstream>
#include <map>
#include <regex>
#include <sstream>

#include "runtime/layout.hpp"
#include "trimtack/io/table_file.hpp"
#include "trimtack/table.hpp"

using namespace trimtack;

namespace {

struct Field {
  std::size_t offset, bytes;
  std::string name;
  friend bool operator==(const Field&, const Field&) = default;
};

std::string text_of(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  std::ostringstream out;
  out << in.rdbuf();
  return out.str();
}

/// Rows "| 8 | u32 | name | ..." of the table below the heading "### NAME".
std::vector<Field> described(const std::string& text, const std::string& name) {
  std::vector<Field> fields;
  const std::size_t begin = text.find("### " + name + "\n");
  if (begin == std::string::npos) return fields;
  std::istringstream lines(text.substr(begin, text.find("\n##", begin + 1) - begin));
  static const std::regex row(R"(^\| (\d+) \| (u8|u32|u64|f64)(?:\[(\d+)\])? \| (\w+) \|.*$)");
  static const std::map<std::string, std::size_t> sizes{{"u8", 1}, {"u32", 4}, {"u64", 8}, {"f64", 8}};
  std::smatch m;
  for (std::string line; std::getline(lines, line);)
    if (std::regex_match(line, m, row))
      fields.push_back({std::stoul(m[1]), sizes.at(m[2]) * (m[3].matched ? std::stoul(m[3]) : 1), m[4]});
  return fields;
}

#define FIELD(type, member) \
  Field { offsetof(layout::type, member), sizeof(layout::type::member), #member }

}  // namespace

TEST_CASE("the first released table is still read, byte for byte") {
  const auto file = open_table_file(TRIMTACK_SOURCE_DIR "/tests/golden/table_v1.ttb");
  REQUIRE(file);
  const std::vector<std::byte>* const bytes = &file->bytes;
  const auto table = decode(*bytes);
  REQUIRE(table);
  CHECK(table->bindings.size() == 6);
  CHECK(table->bindings[5].name == "cuff snap \xe2\x84\x96 5");
  CHECK(table->cloth_vertices == 99);
  CHECK(table->fingerprint == 0x56c6503289da5cb6ULL);
  const auto again = encode(*table, 1);
  REQUIRE(again);
  CHECK((*again == *bytes));
}

TEST_CASE("FORMAT.md's offset tables equal the compiled structs") {
  const std::string text = text_of(TRIMTACK_SOURCE_DIR "/src/runtime/FORMAT.md");
  CHECK(
      described(text, "Header") ==
      std::vector<Field>{FIELD(Header, magic),          FIELD(Header, byte_order),        FIELD(Header, format),
                         FIELD(Header, file_bytes),     FIELD(Header, checksum),          FIELD(Header, fingerprint),
                         FIELD(Header, mm_per_unit),    FIELD(Header, unit_confidence),   FIELD(Header, up_axis),
                         FIELD(Header, cloth_vertices), FIELD(Header, cloth_faces),       FIELD(Header, binding_count),
                         FIELD(Header, patch_count),    FIELD(Header, item_count),        FIELD(Header, text_count),
                         FIELD(Header, text_bytes),     FIELD(Header, unit_reason_count), FIELD(Header, reserved),
                         FIELD(Header, bindings_at),    FIELD(Header, patches_at),        FIELD(Header, vertices_at),
                         FIELD(Header, weights_at),     FIELD(Header, details_at),        FIELD(Header, texts_at),
                         FIELD(Header, text_data_at),   FIELD(Header, reserved_tail)});
  CHECK(described(text, "Binding") == std::vector<Field>{FIELD(Binding, patch), FIELD(Binding, fallback),
                                                         FIELD(Binding, trim), FIELD(Binding, role)});
  CHECK(described(text, "Patch") == std::vector<Field>{FIELD(Patch, first), FIELD(Patch, count), FIELD(Patch, reach),
                                                       FIELD(Patch, origin), FIELD(Patch, frame)});
  CHECK(described(text, "Weights") == std::vector<Field>{FIELD(Weights, c), FIELD(Weights, a), FIELD(Weights, b)});
  CHECK(described(text, "Detail") ==
        std::vector<Field>{FIELD(Detail, anchor_face), FIELD(Detail, anchor_triangle), FIELD(Detail, anchor_weights),
                           FIELD(Detail, layer), FIELD(Detail, runner_up), FIELD(Detail, order), FIELD(Detail, name),
                           FIELD(Detail, first_note), FIELD(Detail, note_count), FIELD(Detail, gap),
                           FIELD(Detail, radius), FIELD(Detail, jitter_deg_per_mm), FIELD(Detail, bias_deg),
                           FIELD(Detail, error_deg)});
  CHECK(described(text, "Text") == std::vector<Field>{FIELD(Text, at), FIELD(Text, bytes)});
  // The sizes in the table of sections.
  for (const auto& [name, bytes] : std::map<std::string, std::size_t>{{"header", sizeof(layout::Header)},
                                                                      {"bindings", sizeof(layout::Binding)},
                                                                      {"patches", sizeof(layout::Patch)},
                                                                      {"weights", sizeof(layout::Weights)},
                                                                      {"details", sizeof(layout::Detail)},
                                                                      {"texts", sizeof(layout::Text)}}) {
    const std::regex row("\\| " + name + " \\|[^\\n]*\\| " + std::to_string(bytes) + " \\|");
    CHECK(std::regex_search(text, row));
  }
}
