// SPDX-License-Identifier: MIT
// A host that has set a locale with a decimal comma gets the same bytes, and reads the same numbers.
#include <unistd.h>

#include <array>
#include <catch2/catch.hpp>
#include <clocale>
#include <cstdlib>
#include <locale>

#include "core/phrase.hpp"
#include "support/garment_generator.hpp"
#include "support/scratch_folder.hpp"
#include "trimtack/io/obj.hpp"
#include "trimtack/io/parts_json.hpp"
#include "trimtack/io/ply.hpp"
#include "trimtack/io/table_json.hpp"
#include "trimtack/pipeline.hpp"
#include "trimtack/version.h"

using namespace trimtack;

namespace {

class CommaPunct : public std::numpunct<char> {
  char do_decimal_point() const override { return ','; }
  char do_thousands_sep() const override { return '.'; }
  std::string do_grouping() const override { return "\3"; }
};

/// A locale of the C library with a decimal comma, made for the test when none is installed.
bool set_c_locale(const test::ScratchFolder& scratch) {
  static constexpr std::array kNames = {"de_DE.UTF-8", "fr_FR.UTF-8", "nl_NL.UTF-8"};
  const auto set = [] {
    for (const char* name : kNames) {
      if (std::setlocale(LC_ALL, name) != nullptr && *std::localeconv()->decimal_point == ',') return true;
    }
    return false;
  };
  if (set()) return true;
  const std::string make =
      "localedef -i de_DE -f UTF-8 " + (scratch.path() / "de_DE.UTF-8").string() + " >/dev/null 2>&1";
  if (std::system(make.c_str()) != 0) return false;
  ::setenv("LOCPATH", scratch.path().c_str(), 1);
  return set();
}

/// Everything that a garment is written as, in one string.
std::string all_outputs(const SourceMesh& mesh) {
  Report report;
  const Result<Garment> garment = take_apart(mesh, {}, report);
  REQUIRE(garment);
  const Result<BoundGarment> bound = bind_garment(*garment, {}, report);
  REQUIRE(bound);
  std::string all = write_obj(garment->combined, {}) + write_parts_json(garment->parts, garment->maps) +
                    write_table_json(bound->table) + write_table_csv(bound->table);
  const Result<std::string> ply =
      write_ply(garment->combined, {.binary = false, .float64 = true, .corner_data = false, .comment = ""});
  REQUIRE(ply);
  all += *ply;
  for (const Finding& finding : report.findings) all += to_text(finding) + "\n";
  // And read again under the same locale.
  const Result<SourceMesh> obj = parse_obj(write_obj(garment->combined, {}), "a.obj", {}, report);
  REQUIRE(obj);
  CHECK(same_content(*obj, garment->combined));
  const Result<SourceMesh> from_ply = parse_ply(*ply, "a.ply", {}, report);
  REQUIRE(from_ply);
  CHECK(from_ply->positions == garment->combined.positions);
  const Result<BindTable> table = read_table_json(write_table_json(bound->table), "bindings.json");
  REQUIRE(table);
  CHECK(*table == bound->table);
  REQUIRE(read_parts_json(write_parts_json(garment->parts, garment->maps), "parts.json"));
  return all;
}

}  // namespace

TEST_CASE("outputs have the same bytes under a locale with a decimal comma", "[locale]") {
  const test::ScratchFolder scratch;
  const SourceMesh mesh = testing::make_garment(3).mesh;
  const std::string plain = all_outputs(mesh);
  REQUIRE(plain.size() > 100'000);
  const std::locale before = std::locale::global(std::locale(std::locale::classic(), new CommaPunct));
  CHECK(all_outputs(mesh) == plain);
  std::locale::global(before);
  if (set_c_locale(scratch)) {
    CHECK(all_outputs(mesh) == plain);
    std::setlocale(LC_ALL, "C");
  } else {
    WARN(
        "no locale with a decimal comma is installed and none can be made (Debian: locales): std::locale alone was "
        "tried");
  }
}

TEST_CASE("numbers in sentences are printf's", "[locale]") {
  CHECK(phrase("%.3g mm long, %.0f %% of %.2f", {0.00012345, 12.5, 1e6}) == "0.000123 mm long, 12 % of 1000000.00");
  CHECK(phrase("%.3g", {1234567.0}) == "1.23e+06");
  CHECK(phrase("%.1f and 100 %", {-0.25}) == "-0.2 and 100 %");
  CHECK(phrase("none", {}) == "none");
}
