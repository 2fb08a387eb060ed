// SPDX-License-Identifier: MIT
// Opening and evaluating a table through the C ABI: every way to be refused, and the calls' own checks.
#include <catch2/catch.hpp>
#include <cmath>
#include <cstring>
#include <limits>
#include <random>

#include "runtime/layout.hpp"
#include "support/table_cases.hpp"
#include "trimtack/runtime.h"
#include "trimtack/runtime.hpp"

using namespace trimtack;

namespace {

const cases::Sheet& sheet() {
  static const cases::Sheet made = cases::flat_sheet(10, 8, 5, 0.2, 2);
  return made;
}

std::vector<std::byte> sample() { return cases::bytes_of(cases::make_table(sheet(), 7, 12, 2)); }

tt_status open(std::span<const std::byte> bytes) {
  tt_table table;
  return tt_table_open(&table, bytes.data(), bytes.size());
}

/// Status after one field was overwritten and the checksum made right again.
template <class T>
tt_status after(std::uint64_t at, T value) {
  auto bytes = sample();
  std::memcpy(bytes.data() + at, &value, sizeof value);
  const std::uint64_t sum = layout::checksum(bytes.data(), bytes.size());
  std::memcpy(bytes.data() + offsetof(layout::Header, checksum), &sum, sizeof sum);
  return open(bytes);
}

layout::Header header() {
  layout::Header h;
  std::memcpy(&h, sample().data(), sizeof h);
  return h;
}

std::vector<float> floats(const std::vector<Vec3>& points) {
  std::vector<float> out;
  for (const Vec3& p : points)
    for (int k = 0; k < 3; ++k) out.push_back(static_cast<float>(p[k]));
  return out;
}

}  // namespace

TEST_CASE("open: every prefix and every trailing byte is refused") {
  const auto bytes = sample();
  REQUIRE(open(bytes) == TT_OK);
  for (std::size_t n = 0; n < bytes.size(); ++n) {
    // A fresh block of exactly n bytes, so that a sanitizer sees any read beyond it.
    std::vector<std::byte> cut(bytes.begin(), bytes.begin() + static_cast<std::ptrdiff_t>(n));
    const std::uint64_t room = 0;
    const void* data = n == 0 ? static_cast<const void*>(&room) : cut.data();
    tt_table table;
    REQUIRE(tt_table_open(&table, data, n) == TT_TRUNCATED);
    REQUIRE(tt_table_fault_offset(&table) == n);
  }
  for (std::size_t more = 1; more <= 16; ++more) {
    auto longer = bytes;
    longer.resize(bytes.size() + more);
    CHECK(open(longer) == TT_TRAILING_BYTES);
  }
}

TEST_CASE("open: every single flipped byte of the file is refused with a reason") {
  auto bytes = sample();
  for (std::size_t i = 0; i < bytes.size(); ++i) {
    for (const unsigned flip : {0x01U, 0x80U, 0xffU}) {
      bytes[i] ^= static_cast<std::byte>(flip);
      const tt_status status = open(bytes);
      REQUIRE(status != TT_OK);
      REQUIRE(std::strlen(tt_status_text(status)) > 10);
      bytes[i] ^= static_cast<std::byte>(flip);
    }
  }
  CHECK(open(bytes) == TT_OK);
}

TEST_CASE("open: null, misaligned, foreign and swapped bytes have their own status") {
  auto bytes = sample();
  tt_table table;
  CHECK(tt_table_open(nullptr, bytes.data(), bytes.size()) == TT_NULL_ARGUMENT);
  CHECK(tt_table_open(&table, nullptr, 0) == TT_NULL_ARGUMENT);
  std::vector<std::byte> shifted(bytes.size() + 8);
  for (std::size_t shift = 1; shift < 8; ++shift) {
    std::memcpy(shifted.data() + shift, bytes.data(), bytes.size());
    CHECK(tt_table_open(&table, shifted.data() + shift, bytes.size()) == TT_MISALIGNED);
  }
  alignas(8) const char text[] = "{\"format\": \"trimtack-bindings\"}";
  CHECK(tt_table_open(&table, text, sizeof text) == TT_NOT_A_TABLE);
  CHECK(tt_table_open(&table, text, 3) == TT_NOT_A_TABLE);
  CHECK(after(offsetof(layout::Header, byte_order), std::uint32_t{0x04030201}) == TT_WRONG_BYTE_ORDER);
  CHECK(after(offsetof(layout::Header, byte_order), std::uint32_t{0}) == TT_BAD_LAYOUT);
  CHECK(after(offsetof(layout::Header, format), std::uint32_t{0}) == TT_UNKNOWN_FORMAT);
  CHECK(after(offsetof(layout::Header, format), std::uint32_t{2}) == TT_UNKNOWN_FORMAT);
}

TEST_CASE("open: a file whose numbers were all byte-swapped is called that") {
  auto bytes = sample();
  for (std::size_t i = 8; i + 4 <= 16; i += 4)
    std::reverse(bytes.begin() + static_cast<std::ptrdiff_t>(i), bytes.begin() + static_cast<std::ptrdiff_t>(i + 4));
  for (std::size_t i = 16; i + 8 <= bytes.size(); i += 8)
    std::reverse(bytes.begin() + static_cast<std::ptrdiff_t>(i), bytes.begin() + static_cast<std::ptrdiff_t>(i + 8));
  CHECK(open(bytes) == TT_WRONG_BYTE_ORDER);
}

TEST_CASE("open: counts that overflow or contradict the length are refused") {
  const auto at = [](std::size_t offset) { return offset; };
  for (const std::size_t offset : {at(offsetof(layout::Header, binding_count)),
                                   at(offsetof(layout::Header, patch_count)), at(offsetof(layout::Header, item_count)),
                                   at(offsetof(layout::Header, text_count)), at(offsetof(layout::Header, text_bytes))})
    for (const std::uint32_t value : {0U, 1U, 0x7fffffffU, 0xfffffffeU, 0xffffffffU})
      CHECK(after(offset, value) == TT_BAD_LAYOUT);
  for (std::size_t offset = offsetof(layout::Header, bindings_at); offset <= offsetof(layout::Header, reserved_tail);
       offset += 8)
    for (const std::uint64_t value : {std::uint64_t{1}, std::uint64_t{8}, ~std::uint64_t{0}})
      CHECK(after(offset, value) == TT_BAD_LAYOUT);
  CHECK(after(offsetof(layout::Header, reserved), 1U) == TT_BAD_LAYOUT);
  CHECK(after(offsetof(layout::Header, unit_reason_count), 0xffffffffU) == TT_BAD_TEXT);
}

TEST_CASE("open: every field that an evaluation relies on is checked") {
  const layout::Header h = header();
  const double nan = std::numeric_limits<double>::quiet_NaN(), inf = std::numeric_limits<double>::infinity();
  for (const double bad : {nan, inf, -inf, 0.0, -1.0, 1e10, 1e-10})
    CHECK(after(offsetof(layout::Header, mm_per_unit), bad) == TT_BAD_NUMBER);
  CHECK(after(offsetof(layout::Header, unit_confidence), nan) == TT_BAD_NUMBER);
  for (const std::uint32_t bad : {0U, 3U, 0xffffffffU})
    CHECK(after(offsetof(layout::Header, up_axis), bad) == TT_BAD_NUMBER);
  CHECK(after(offsetof(layout::Header, cloth_vertices), 3U) == TT_BAD_INDEX);
  CHECK(after(offsetof(layout::Header, cloth_faces), 0U) == TT_BAD_INDEX);

  CHECK(after(h.bindings_at + offsetof(layout::Binding, patch), h.patch_count) == TT_BAD_INDEX);
  CHECK(after(h.bindings_at + offsetof(layout::Binding, patch), layout::kNone) == TT_BAD_INDEX);  // has a fallback
  CHECK(after(h.bindings_at + offsetof(layout::Binding, fallback), h.patch_count) == TT_BAD_INDEX);
  CHECK(after(h.bindings_at + offsetof(layout::Binding, fallback), layout::kNone) == TT_OK);
  CHECK(after(h.bindings_at + offsetof(layout::Binding, role), 3U) == TT_BAD_NUMBER);

  CHECK(after(h.patches_at + offsetof(layout::Patch, first), 1U) == TT_BAD_INDEX);
  for (const std::uint32_t bad : {0U, 0xffffffffU})
    CHECK(after(h.patches_at + offsetof(layout::Patch, count), bad) == TT_BAD_INDEX);
  for (const std::uint32_t bad : {2U, 4U})  // the triangle cut short, or with a vertex of the next patch
    CHECK(after(h.patches_at + offsetof(layout::Patch, count), bad) == TT_BAD_WEIGHTS);
  for (const double bad : {nan, inf, -1.0})
    CHECK(after(h.patches_at + offsetof(layout::Patch, reach), bad) == TT_BAD_NUMBER);
  for (std::size_t k = 0; k < 3; ++k)
    for (const double bad : {nan, -inf, 1e19})
      CHECK(after(h.patches_at + offsetof(layout::Patch, origin) + 8 * k, bad) == TT_BAD_NUMBER);
  for (std::size_t k = 0; k < 9; ++k)
    for (const double bad : {nan, inf, 0.5, -3.0})
      CHECK(after(h.patches_at + offsetof(layout::Patch, frame) + 8 * k, bad) == TT_BAD_FRAME);

  CHECK(after(h.vertices_at, h.cloth_vertices) == TT_BAD_INDEX);
  for (std::size_t k = 0; k < 3; ++k) {
    CHECK(after(h.weights_at + 8 * k, nan) == TT_BAD_NUMBER);
    CHECK(after(h.weights_at + 8 * k, inf) == TT_BAD_NUMBER);
    CHECK(after(h.weights_at + 8 * k, 1e16) == TT_BAD_NUMBER);
    CHECK(after(h.weights_at + 8 * k, 0.123) == TT_BAD_WEIGHTS);
  }

  CHECK(after(h.details_at + offsetof(layout::Detail, anchor_face), h.cloth_faces) == TT_BAD_INDEX);
  CHECK(after(h.details_at + offsetof(layout::Detail, anchor_face), layout::kNone) == TT_OK);
  CHECK(after(h.details_at + offsetof(layout::Detail, anchor_triangle) + 8, h.cloth_vertices) == TT_BAD_INDEX);
  CHECK(after(h.details_at + offsetof(layout::Detail, anchor_weights) + 8, nan) == TT_BAD_NUMBER);
  CHECK(after(h.details_at + offsetof(layout::Detail, order), 16U) == TT_BAD_NUMBER);
  CHECK(after(h.details_at + offsetof(layout::Detail, name), 0U) == TT_BAD_TEXT);
  CHECK(after(h.details_at + offsetof(layout::Detail, first_note), 0U) == TT_BAD_TEXT);
  CHECK(after(h.details_at + offsetof(layout::Detail, note_count), 0xffffffffU) == TT_BAD_TEXT);
  for (std::size_t k = 0; k < 5; ++k)
    CHECK(after(h.details_at + offsetof(layout::Detail, gap) + 8 * k, nan) == TT_BAD_NUMBER);

  CHECK(after(h.texts_at, 1U) == TT_BAD_TEXT);
  CHECK(after(h.texts_at + 4, 0xffffffffU) == TT_BAD_TEXT);
  CHECK(after(h.texts_at + 4, 1U) == TT_BAD_TEXT);
}

TEST_CASE("open: bad options are refused") {
  const auto bytes = sample();
  tt_table table;
  const double nan = std::numeric_limits<double>::quiet_NaN();
  for (const double bad : {nan, -1.0, 1e10, std::numeric_limits<double>::infinity()}) {
    const tt_open_options options{bad, TT_UP_Y, 0};
    CHECK(tt_table_open_with(&table, bytes.data(), bytes.size(), &options) == TT_BAD_OPTIONS);
  }
  const tt_open_options axis{0, 3, 0}, reserved{0, 0, 1};
  CHECK(tt_table_open_with(&table, bytes.data(), bytes.size(), &axis) == TT_BAD_OPTIONS);
  CHECK(tt_table_open_with(&table, bytes.data(), bytes.size(), &reserved) == TT_BAD_OPTIONS);
}

TEST_CASE("a table that is not open is refused by every call") {
  tt_table table;
  std::memset(&table, 0x5a, sizeof table);
  const float p[3] = {0, 0, 0};
  tt_pose pose;
  tt_info info;
  tt_binding binding;
  tt_cloth_state state;
  for (int round = 0; round < 2; ++round) {
    CHECK(tt_evaluate(&table, p, 1, 0, 0, 1, &pose) == TT_NOT_OPEN);
    CHECK(tt_table_info(&table, &info) == TT_NOT_OPEN);
    CHECK(tt_table_binding(&table, 0, &binding) == TT_NOT_OPEN);
    CHECK(tt_check_cloth(&table, p, 1, 0, &state) == TT_NOT_OPEN);
    CHECK(tt_table_open(&table, nullptr, 0) == TT_NULL_ARGUMENT);  // and after a failed open
  }
}

TEST_CASE("info and binding give what was written") {
  const BindTable table = cases::make_table(sheet(), 7, 12, 2);
  const auto bytes = cases::bytes_of(table);
  runtime::Table view;
  REQUIRE(view.open(bytes) == TT_OK);
  const tt_info info = view.info();
  CHECK(info.format == TT_TABLE_FORMAT_1);
  CHECK(info.binding_count == 7);
  CHECK(info.patch_count == table.patches.size());
  CHECK(info.cloth_vertices == table.cloth_vertices);
  CHECK(info.cloth_faces == table.cloth_faces);
  CHECK(info.fingerprint == table.fingerprint);
  CHECK(info.mm_per_unit == 1.0);
  CHECK(info.up_axis == TT_UP_Y);
  for (std::size_t i = 0; i < 7; ++i) {
    tt_binding b;
    REQUIRE(view.binding(i, b) == TT_OK);
    const Binding& expected = table.bindings[i];
    CHECK(b.trim == expected.trim);
    CHECK(b.role == static_cast<std::uint32_t>(expected.role));
    CHECK(std::string(b.name, b.name_bytes) == expected.name);
    CHECK(b.anchor_face == expected.anchor_face);
    for (std::size_t k = 0; k < 3; ++k) {
      CHECK(b.anchor_triangle[k] == expected.anchor_triangle[k]);
      CHECK(b.anchor_weights[k] == expected.anchor_weights[k]);
      CHECK(b.origin[k] == table.patches[expected.patch].origin[static_cast<int>(k)]);
    }
    CHECK(b.gap == expected.gap);
    CHECK(b.layer == expected.layer);
  }
  tt_binding b;
  CHECK(view.binding(7, b) == TT_BAD_RANGE);
  CHECK(tt_runtime_version() == 100U * TT_VERSION_MINOR + 10000U * TT_VERSION_MAJOR + TT_VERSION_PATCH);
}

TEST_CASE("evaluate checks its arguments and writes nothing when it refuses") {
  const auto bytes = sample();
  tt_table table;
  REQUIRE(tt_table_open(&table, bytes.data(), bytes.size()) == TT_OK);
  const std::vector<float> p = floats(sheet().rest);
  const std::size_t n = sheet().rest.size();
  std::vector<tt_pose> out(7);
  std::memset(out.data(), 0x11, out.size() * sizeof(tt_pose));
  const auto before = out;
  CHECK(tt_evaluate(nullptr, p.data(), n, 0, 0, 7, out.data()) == TT_NULL_ARGUMENT);
  CHECK(tt_evaluate(&table, nullptr, n, 0, 0, 7, out.data()) == TT_NULL_ARGUMENT);
  CHECK(tt_evaluate(&table, p.data(), n, 0, 0, 7, nullptr) == TT_NULL_ARGUMENT);
  CHECK(tt_evaluate(&table, p.data(), n - 1, 0, 0, 7, out.data()) == TT_WRONG_VERTEX_COUNT);
  CHECK(tt_evaluate(&table, p.data(), n + 1, 0, 0, 7, out.data()) == TT_WRONG_VERTEX_COUNT);
  CHECK(tt_evaluate(&table, p.data(), n, 11, 0, 7, out.data()) == TT_BAD_STRIDE);
  CHECK(tt_evaluate(&table, p.data(), n, SIZE_MAX / 2, 0, 7, out.data()) == TT_BAD_STRIDE);
  CHECK(tt_evaluate(&table, p.data(), n, 0, 0, 8, out.data()) == TT_BAD_RANGE);
  CHECK(tt_evaluate(&table, p.data(), n, 0, 8, 0, out.data()) == TT_BAD_RANGE);
  CHECK(tt_evaluate(&table, p.data(), n, 0, 1, SIZE_MAX, out.data()) == TT_BAD_RANGE);
  CHECK(std::memcmp(before.data(), out.data(), out.size() * sizeof(tt_pose)) == 0);
  CHECK(tt_evaluate(&table, p.data(), n, 0, 7, 0, nullptr) == TT_OK);
  CHECK(tt_evaluate(&table, p.data(), n, 0, 0, 7, out.data()) == TT_OK);
}

TEST_CASE("apply moves points with any stride and in place; matrix says the same") {
  const tt_pose_f64 pose{{0.1, -0.2, 0.3, 0.9}, {5, -6, 7}, 0, 0};  // not of unit length on purpose
  double m[12];
  REQUIRE(tt_pose_matrix_f64(&pose, m) == TT_OK);
  CHECK(cases::rotation_defect(Mat3{{m[0], m[1], m[2], m[4], m[5], m[6], m[8], m[9], m[10]}}) < 1e-15);
  std::vector<double> points{1, 2, 3, 99, -4, 5, -6, 99, 7, 8, 9, 99};
  std::vector<double> packed(9);
  REQUIRE(tt_apply_f64(&pose, points.data(), 3, 32, packed.data(), 0) == TT_OK);
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t k = 0; k < 3; ++k) {
      const double expected =
          m[4 * k] * points[4 * i] + m[4 * k + 1] * points[4 * i + 1] + m[4 * k + 2] * points[4 * i + 2] + m[4 * k + 3];
      CHECK(packed[3 * i + k] == Approx(expected).epsilon(1e-14));
    }
  REQUIRE(tt_apply_f64(&pose, points.data(), 3, 32, points.data(), 32) == TT_OK);
  for (std::size_t i = 0; i < 3; ++i) {
    CHECK(std::memcmp(&points[4 * i], &packed[3 * i], 24) == 0);
    CHECK(points[4 * i + 3] == 99);
  }
  const tt_pose single{{0, 0, 0.70710678F, 0.70710678F}, {1, 0, 0}, 0};
  const float x[3] = {1, 0, 0};
  float y[3];
  REQUIRE(tt_apply(&single, x, 1, 0, y, 0) == TT_OK);
  CHECK(y[0] == Approx(1).margin(1e-6));
  CHECK(y[1] == Approx(1).margin(1e-6));
  CHECK(tt_apply(&single, x, 1, 11, y, 0) == TT_BAD_STRIDE);
  CHECK(tt_apply(nullptr, x, 1, 0, y, 0) == TT_NULL_ARGUMENT);
  const tt_pose nothing{{0, 0, 0, 0}, {0, 0, 0}, 0};
  float identity[12];
  REQUIRE(tt_pose_matrix(&nothing, identity) == TT_OK);
  CHECK(identity[0] == 1);
  CHECK(identity[5] == 1);
}

TEST_CASE("apply gives the same bits packed, several points at a time, as strided, one at a time") {
  std::mt19937 random(11);
  std::uniform_real_distribution<float> place(-2000, 2000);
  const tt_pose pose{{0.1F, -0.2F, 0.3F, 0.9F}, {5, -6, 7}, 0};
  const tt_pose_f64 pose64{{0.1, -0.2, 0.3, 0.9}, {5, -6, 7}, 0, 0};
  const auto same = [&](const auto& own, auto scalar, auto call, std::size_t count) {
    using Scalar = decltype(scalar);
    std::vector<Scalar> strided(4 * count), packed(3 * count), moved(4 * count), out(3 * count);
    for (std::size_t i = 0; i < count; ++i)
      for (std::size_t k = 0; k < 3; ++k) strided[4 * i + k] = packed[3 * i + k] = Scalar(place(random)) / Scalar(3);
    REQUIRE(call(&own, strided.data(), count, 4 * sizeof(Scalar), moved.data(), 4 * sizeof(Scalar)) == TT_OK);
    REQUIRE(call(&own, packed.data(), count, 0, out.data(), 0) == TT_OK);
    for (std::size_t i = 0; i < count; ++i) CHECK(std::memcmp(&moved[4 * i], &out[3 * i], 3 * sizeof(Scalar)) == 0);
    REQUIRE(call(&own, packed.data(), count, 0, packed.data(), 0) == TT_OK);
    CHECK(packed == out);
  };
  for (std::size_t count = 0; count < 100; ++count) {
    CAPTURE(count);
    same(pose, 0.0F, tt_apply, count);
    same(pose64, 0.0, tt_apply_f64, count);
  }
}

TEST_CASE("every status has a text of its own") {
  std::vector<std::string> texts;
  for (int s = TT_OK; s <= TT_BAD_RANGE; ++s) texts.emplace_back(tt_status_text(s));
  std::sort(texts.begin(), texts.end());
  CHECK(std::unique(texts.begin(), texts.end()) == texts.end());
  CHECK(std::string(tt_status_text(1000)) == "unknown status");
}
