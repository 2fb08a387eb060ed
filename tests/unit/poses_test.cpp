// SPDX-License-Identifier: MIT
#include "trimtack/io/poses.hpp"

#include <catch2/catch.hpp>
#include <charconv>
#include <cmath>
#include <cstring>
#include <string>
#include <vector>

using namespace trimtack;

namespace {

constexpr double kPi = 3.14159265358979323846;

Pose turn_about_z(double angle) {
  Pose pose;
  pose.rotation = Mat3{{std::cos(angle), -std::sin(angle), 0, std::sin(angle), std::cos(angle), 0, 0, 0, 1}};
  pose.translation = {10 * std::cos(angle), 1.0 / 3, -0.1};
  return pose;
}

std::vector<std::string> fields_of(const std::string& row) {
  std::vector<std::string> fields(1);
  bool quoted = false;
  for (const char c : row) {
    if (c == '"') {
      quoted = !quoted;
    } else if (c == ',' && !quoted) {
      fields.emplace_back();
    } else if (c != '\n') {
      fields.back() += c;
    }
  }
  return fields;
}

double number(const std::string& text) {
  double value = 0;
  const auto end = std::from_chars(text.data(), text.data() + text.size(), value).ptr;
  CHECK(end == text.data() + text.size());
  return value;
}

BindTable table_of(const std::vector<std::string>& names) {
  BindTable table;
  for (std::size_t i = 0; i < names.size(); ++i) {
    Binding binding;
    binding.trim = static_cast<Index>(10 + i);
    binding.name = names[i];
    table.bindings.push_back(binding);
  }
  return table;
}

}  // namespace

TEST_CASE("a poses.csv row holds the columns of its header, and every number to the last bit") {
  const BindTable table = table_of({"button", "snap, \"left\""});
  const std::vector<Pose> poses{turn_about_z(0.3), turn_about_z(-2)};
  std::string text;
  const char* const quality[] = {"chosen", "lost"};
  append_poses_csv(text, 7, table.bindings, poses, quality);
  const std::size_t split = text.find('\n') + 1;
  for (std::size_t i = 0; i < 2; ++i) {
    const std::vector<std::string> row = fields_of(i == 0 ? text.substr(0, split) : text.substr(split));
    REQUIRE(row.size() == fields_of(poses_csv_header()).size());
    CHECK(row[0] == "7");
    CHECK(row[1] == std::to_string(10 + i));
    CHECK(row.back() == quality[i]);
    CHECK(row[2] == (i == 0 ? "button" : "snap, left"));
    const Quat q{number(row[6]), number(row[7]), number(row[8]), number(row[9])};
    CHECK(q == to_quat(poses[i].rotation));
    for (int r = 0; r < 3; ++r) {
      CHECK(number(row[3 + static_cast<std::size_t>(r)]) == poses[i].translation[r]);
      for (int c = 0; c < 3; ++c)
        CHECK(number(row[10 + static_cast<std::size_t>(4 * r + c)]) == poses[i].rotation(r, c));
      CHECK(number(row[13 + static_cast<std::size_t>(4 * r)]) == poses[i].translation[r]);
    }
  }
}

TEST_CASE("T4: a full turn in 36 steps has no sign jump between successive quaternions") {
  const BindTable table = table_of({"button"});
  std::vector<Quat> previous(1, Quat{0, 0, 0, 0});
  Quat before;
  double largest_step = 0;
  for (int step = 0; step <= 36; ++step) {
    std::string text;
    append_poses_csv(text, static_cast<std::uint64_t>(step), table.bindings,
                     std::vector<Pose>{turn_about_z(step * kPi / 18)}, std::vector<const char*>{"chosen"}, previous);
    const std::vector<std::string> row = fields_of(text);
    const Quat q{number(row[6]), number(row[7]), number(row[8]), number(row[9])};
    if (step > 0) {
      const double d = q.x * before.x + q.y * before.y + q.z * before.z + q.w * before.w;
      CHECK(d > 0);
      largest_step = std::max(largest_step, 2 * std::acos(std::min(1.0, d)));
    }
    before = q;
  }
  CHECK(largest_step == Approx(kPi / 18).epsilon(1e-6));
  CHECK(before.w == Approx(-1));  // once around: the other sign of the same rotation
}

TEST_CASE("poses.npy rows are the row-major 3x4 matrices") {
  const std::vector<Pose> poses{turn_about_z(0.3), turn_about_z(1)};
  std::string bytes;
  append_poses_npy(bytes, poses);
  REQUIRE(bytes.size() == 2 * 12 * sizeof(double));
  double values[24];
  std::memcpy(values, bytes.data(), bytes.size());
  for (int i = 0; i < 2; ++i) {
    for (int r = 0; r < 3; ++r) {
      for (int c = 0; c < 3; ++c)
        CHECK(values[12 * i + 4 * r + c] == poses[static_cast<std::size_t>(i)].rotation(r, c));
      CHECK(values[12 * i + 4 * r + 3] == poses[static_cast<std::size_t>(i)].translation[r]);
    }
  }
}
