// SPDX-License-Identifier: MIT
// The conformance vectors (made by make_vectors.py without this library) against the runtime, in double and in float.
#include <catch2/catch.hpp>
#include <cmath>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "trimtack/io/table_file.hpp"
#include "trimtack/io/table_json.hpp"
#include "trimtack/runtime.h"

using namespace trimtack;

namespace {

const std::string kFolder = TRIMTACK_SOURCE_DIR "/tests/conformance/";

std::string text_of(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  std::ostringstream out;
  out << in.rdbuf();
  return out.str();
}

/// Positions of the v statements; nan included, which a mesh reader would refuse.
std::vector<Vec3> positions_of(const std::string& path) {
  std::istringstream in(text_of(path));
  std::vector<Vec3> out;
  for (std::string line; std::getline(in, line);) {
    if (line.rfind("v ", 0) != 0) continue;
    const char* at = line.c_str() + 2;
    char* end = nullptr;
    Vec3 p;
    for (int k = 0; k < 3; ++k) p[k] = std::strtod(at, &end), at = end;
    out.push_back(p);
  }
  return out;
}

nlohmann::json expected() { return nlohmann::json::parse(text_of(kFolder + "expected.json")); }

}  // namespace

TEST_CASE("the table written from FORMAT.md by another program is the one in JSON") {
  const auto file = open_table_file(kFolder + "bindings.ttb");
  REQUIRE(file);
  const std::vector<std::byte>* const bytes = &file->bytes;
  const auto binary = decode(*bytes);
  const auto text = read_table_json(text_of(kFolder + "bindings.json"), "bindings.json");
  REQUIRE(binary);
  REQUIRE(text);
  CHECK((*binary == *text));
  const auto again = encode(*text, 1);
  REQUIRE(again);
  CHECK((*again == *bytes));
}

TEST_CASE("the fingerprint is that of the cloth's faces") {
  const auto table = decode(open_table_file(kFolder + "bindings.ttb")->bytes);
  std::vector<Index> offsets{0}, corners;
  std::istringstream in(text_of(kFolder + "cloth.obj"));
  for (std::string word; in >> word;) {
    if (word != "f") continue;
    for (int k = 0; k < 4; ++k) {
      Index i = 0;
      in >> i;
      corners.push_back(i - 1);
    }
    offsets.push_back(static_cast<Index>(corners.size()));
  }
  CHECK(cloth_fingerprint(table->cloth_vertices, offsets, corners) == table->fingerprint);
}

TEST_CASE("every frame gives the exact poses and flags") {
  const auto file = open_table_file(kFolder + "bindings.ttb");
  REQUIRE(file);
  const std::vector<std::byte>* const bytes = &file->bytes;
  tt_table table;
  REQUIRE(tt_table_open(&table, bytes->data(), bytes->size()) == TT_OK);
  const nlohmann::json vectors = expected();
  REQUIRE(vectors["frames"].size() == 7);
  int compared = 0;
  for (const auto& frame : vectors["frames"]) {
    INFO(frame["frame"]);
    const auto cloth = positions_of(kFolder + frame["file"].get<std::string>());
    const std::size_t count = frame["poses"].size();
    REQUIRE(count == 6);
    std::vector<tt_pose_f64> poses(count);
    std::vector<tt_pose> singles(count);
    REQUIRE(tt_evaluate_f64(&table, &cloth[0].x, cloth.size(), 0, 0, count, poses.data()) == TT_OK);
    std::vector<float> floats;
    for (const Vec3& p : cloth)
      for (int k = 0; k < 3; ++k) floats.push_back(static_cast<float>(p[k]));
    REQUIRE(tt_evaluate(&table, floats.data(), cloth.size(), 0, 0, count, singles.data()) == TT_OK);
    for (std::size_t i = 0; i < count; ++i) {
      INFO("binding " << i);
      const auto& pose = frame["poses"][i];
      CHECK(poses[i].flags == pose["flags"].get<unsigned>());
      CHECK(singles[i].flags == poses[i].flags);
      double m[12];
      float f[12];
      tt_pose_matrix_f64(&poses[i], m);
      tt_pose_matrix(&singles[i], f);
      if (pose["matrix"].is_null()) {
        CHECK((poses[i].flags & TT_POSE_LOST) != 0);
        for (const double x : m) CHECK(std::isfinite(x));
        continue;
      }
      ++compared;
      tt_binding binding;
      REQUIRE(tt_table_binding(&table, i, &binding) == TT_OK);
      for (std::size_t row = 0; row < 3; ++row) {
        // 1e-12 of the garment's size (1000) where the trim stands, and 1e-6 of it in float.
        double here = m[4 * row + 3], there = pose["matrix"][row][3].get<double>(), single = f[4 * row + 3];
        for (std::size_t col = 0; col < 3; ++col) {
          const double exact = pose["matrix"][row][col].get<double>();
          CHECK(std::fabs(m[4 * row + col] - exact) < 3e-14);
          here += m[4 * row + col] * binding.origin[col];
          there += exact * binding.origin[col];
          single += f[4 * row + col] * binding.origin[col];
        }
        CHECK(std::fabs(here - there) < 2e-12);
        CHECK(std::fabs(single - there) < 1e-3);
      }
    }
  }
  CHECK(compared == 41);
}
