// SPDX-License-Identifier: MIT
// bindings.json, bindings.csv and bindings.ttb on disk.
#include "trimtack/io/table_json.hpp"

#include <catch2/catch.hpp>
#include <fstream>
#include <limits>

#include "support/scratch_folder.hpp"
#include "support/table_cases.hpp"
#include "trimtack/io/table_file.hpp"

using namespace trimtack;
using Catch::Matchers::Contains;

namespace {

BindTable sample(Index count = 9) { return cases::make_table(cases::flat_sheet(12, 9, 5, 0.2, 6), count, 12, 6); }

std::string replaced(std::string text, const std::string& from, const std::string& to) {
  const std::size_t at = text.find(from);
  REQUIRE(at != std::string::npos);
  return text.replace(at, from.size(), to);
}

std::string refusal(const std::string& text) {
  const auto table = read_table_json(text, "bindings.json");
  return table ? "" : to_text(table.error());
}

}  // namespace

TEST_CASE("JSON round trip is exact: every number to the bit") {
  for (const Index count : {0U, 1U, 9U}) {
    BindTable table = sample(count);
    table.up = UpAxis::Z;
    table.fingerprint = 0xfedcba9876543210ULL;
    const std::string text = write_table_json(table);
    const auto back = read_table_json(text, "bindings.json");
    REQUIRE(back);
    CHECK((*back == table));
    CHECK(write_table_json(*back) == text);
    CHECK_THAT(text, Contains("\"hash\": \"fedcba9876543210\""));
  }
}

TEST_CASE("JSON of a garment with shared patches gives each binding its own") {
  BindTable table = sample(2);
  table.bindings[1].patch = table.bindings[0].patch;
  const auto back = read_table_json(write_table_json(table), "bindings.json");
  REQUIRE(back);
  CHECK(back->bindings[0].patch != back->bindings[1].patch);
  CHECK(back->patches[back->bindings[1].patch].frame == table.patches[table.bindings[0].patch].frame);
}

TEST_CASE("an unbound trim is written and read") {
  BindTable table = sample(1);
  Binding unbound;
  unbound.trim = 12;
  unbound.notes = {"no cloth within reach"};
  table.bindings.push_back(unbound);
  const auto back = read_table_json(write_table_json(table), "bindings.json");
  REQUIRE(back);
  CHECK((*back == table));
}

TEST_CASE("names that are not UTF-8 do not break the file") {
  BindTable table = sample(1);
  table.bindings[0].name = "b\xfftton";
  const auto back = read_table_json(write_table_json(table), "bindings.json");
  REQUIRE(back);
  CHECK(back->bindings[0].name == "b\xef\xbf\xbdtton");  // U+FFFD
}

TEST_CASE("a wrong JSON is refused with the place and what to do") {
  const std::string good = write_table_json(sample());
  CHECK(refusal(good).empty());
  CHECK_THAT(refusal(""), Contains("bindings.json") && Contains("not a JSON text"));
  CHECK_THAT(refusal("[1, 2]"), Contains("one JSON object"));
  CHECK_THAT(refusal("{}"), Contains("$.format"));
  CHECK_THAT(refusal(replaced(good, "trimtack-bindings", "trimtack-parts")), Contains("$.format"));
  CHECK_THAT(refusal(replaced(good, "\"version\": 1", "\"version\": 2")), Contains("$.version"));
  CHECK_THAT(refusal(replaced(good, "\"up\": \"y\"", "\"up\": \"x\"")), Contains("$.up"));
  CHECK_THAT(refusal(replaced(good, "\"hash\": \"", "\"hash\": \"z")), Contains("cloth.hash"));
  CHECK_THAT(refusal(replaced(good, "\"role\": \"trim\"", "\"role\": \"button\"")), Contains("bindings[0].role"));
  CHECK_THAT(refusal(replaced(good, "\"trim\": 1002", "\"trim\": -1")), Contains("bindings[2].trim"));
  CHECK_THAT(refusal(replaced(good, "\"trim\": 1002", "\"trim\": 1.5")), Contains("bindings[2].trim"));
  CHECK_THAT(refusal(replaced(good, "\"trim\": 1001", "\"trim\": \"x\"")), Contains("bindings[1].trim"));
  CHECK_THAT(refusal(replaced(good, "\"weights\": [", "\"weights\": [1, ")), Contains("bindings[0].anchor.weights"));
  CHECK_THAT(refusal(replaced(good, "\"c\": [", "\"c\": [1, ")), Contains("bindings[0]") && Contains("equally long"));
  CHECK_THAT(refusal(replaced(good, "\"c\": [", "\"c\": [null, ")), Contains("bindings[0].c[0]"));
  CHECK_THAT(refusal(replaced(good, "\"c\": [", "\"d\": [")), Contains("bindings[0].c") && Contains("missing"));
  CHECK_THAT(refusal(replaced(good, "\"order\": 0", "\"order\": 3")), Contains("bindings[0].order"));
  CHECK_THAT(refusal(replaced(good, "\"frame\": [[", "\"frame\": [[9, ")), Contains("bindings[0].frame"));
  CHECK_THAT(refusal(replaced(good, "\"bindings\": [", "\"bindings\": [7, ")), Contains("$.bindings"));
  CHECK_THAT(refusal(replaced(good, "\"notes\": [", "\"notes\": [3")), Contains("notes"));
  // What only the runtime's rules forbid.
  CHECK_THAT(refusal(replaced(good, "\"vertices\": 108", "\"vertices\": 8")), Contains("index"));
}

TEST_CASE("every prefix of a JSON is refused without a crash; deep nesting too") {
  const std::string good = write_table_json(sample(2));
  const std::size_t end = good.find_last_not_of('\n');
  for (std::size_t n = 0; n < end; n += 7) REQUIRE_FALSE(read_table_json(good.substr(0, n), "f"));
  CHECK_FALSE(read_table_json(std::string(200000, '['), "f"));
  CHECK_FALSE(read_table_json("{\"bindings\": [" + std::string(100000, '['), "f"));
}

TEST_CASE("CSV: one row a binding, quoted as RFC 4180 says, empty cells for none") {
  BindTable table = sample(3);
  table.bindings[0].name = "cuff, \"left\"";
  table.bindings[0].anchor_weights = {0.25, 0.25, 0.5};
  table.bindings[2].layer = kNone;
  table.bindings[2].runner_up = kNone;
  const std::string text = write_table_csv(table);
  CHECK(std::count(text.begin(), text.end(), '\n') == 4);
  CHECK(text.rfind("trim,name,role,anchor_face,v0,v1,v2,w0,w1,w2,origin_x,origin_y,origin_z,gap,layer,runner_up,order,"
                   "radius,jitter_deg_per_mm,bias_deg,error_deg,notes\n",
                   0) == 0);
  CHECK_THAT(text, Contains("\n1000,\"cuff, \"\"left\"\"\",trim,") && Contains(",0.25,0.25,0.5,"));
  CHECK_THAT(text, Contains("sits near an edge; two layers are close"));
}

TEST_CASE("a table file is read 8-aligned and checked") {
  const test::ScratchFolder folder;
  const auto bytes = cases::bytes_of(sample());
  const auto path = folder.path() / "bindings.ttb";
  const auto write = [&](std::size_t size) {
    std::ofstream(path, std::ios::binary)
        .write(reinterpret_cast<const char*>(bytes.data()), static_cast<std::streamsize>(size));
  };
  write(bytes.size());
  const auto read = open_table_file(path);
  REQUIRE(read);
  CHECK((read->bytes == bytes));
  CHECK(reinterpret_cast<std::uintptr_t>(read->bytes.data()) % 8 == 0);
  write(bytes.size() - 5);
  const auto cut = open_table_file(path);
  REQUIRE_FALSE(cut);
  CHECK_THAT(to_text(cut.error()), Contains("bindings.ttb") && Contains("cut short") && Contains("byte"));
  CHECK_FALSE(open_table_file(folder.path() / "missing.ttb"));
}
