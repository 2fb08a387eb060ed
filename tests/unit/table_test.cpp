// SPDX-License-Identifier: MIT
// The binding table as arrays and as bytes.
#include "trimtack/table.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <cstring>
#include <limits>

#include "runtime/layout.hpp"
#include "support/table_cases.hpp"
#include "trimtack/runtime.h"

using namespace trimtack;

namespace {

BindTable sample() { return cases::make_table(cases::flat_sheet(12, 9, 5, 0.2, 4), 23, 12, 4); }

std::string refusal(const BindTable& table) {
  const auto bytes = encode(table, TT_TABLE_FORMAT_1);
  return bytes ? "" : to_text(bytes.error());
}

}  // namespace

TEST_CASE("decode(encode(t)) is t, and encode(decode(bytes)) is the bytes") {
  for (const Index count : {0U, 1U, 2U, 23U}) {
    BindTable table = cases::make_table(cases::flat_sheet(12, 9, 5, 0.2, 4), count, 12, 4);
    table.up = count % 2 == 0 ? UpAxis::Y : UpAxis::Z;
    const auto bytes = encode(table, TT_TABLE_FORMAT_1);
    REQUIRE(bytes);
    const auto back = decode(*bytes);
    REQUIRE(back);
    CHECK((*back == table));
    const auto again = encode(*back, TT_TABLE_FORMAT_1);
    REQUIRE(again);
    CHECK((*again == *bytes));
  }
}

TEST_CASE("decode accepts bytes at any address") {
  const auto bytes = cases::bytes_of(sample());
  std::vector<std::byte> shifted(bytes.size() + 8);
  for (std::size_t shift = 0; shift < 8; ++shift) {
    std::memcpy(shifted.data() + shift, bytes.data(), bytes.size());
    CHECK(decode(std::span(shifted).subspan(shift, bytes.size())).has_value());
  }
}

TEST_CASE("an unbound trim survives the round trip") {
  BindTable table = sample();
  BindTable unbound;
  unbound.cloth_vertices = table.cloth_vertices;
  unbound.bindings.emplace_back();
  unbound.bindings[0].trim = 3;
  const auto back = decode(cases::bytes_of(unbound));
  REQUIRE(back);
  CHECK((*back == unbound));
}

TEST_CASE("encode refuses what the runtime would refuse, and says where") {
  CHECK(refusal(sample()).empty());
  const auto broken = [](auto change) {
    BindTable table = sample();
    change(table);
    return refusal(table);
  };
  const double nan = std::numeric_limits<double>::quiet_NaN();
  using Catch::Matchers::Contains;
  CHECK_THAT(broken([](BindTable& t) { t.bindings[3].patch = 4000; }), Contains("binding 3"));
  CHECK_THAT(broken([](BindTable& t) { t.bindings[3].fallback = 4000; }), Contains("binding 3"));
  CHECK_THAT(broken([](BindTable& t) { t.bindings[4].anchor_face = t.cloth_faces; }), Contains("binding 4"));
  CHECK_THAT(broken([](BindTable& t) { t.bindings[4].anchor_triangle[2] = t.cloth_vertices; }), Contains("binding 4"));
  CHECK_THAT(broken([](BindTable& t) { t.bindings[5].order = -1; }), Contains("binding 5"));
  CHECK_THAT(broken([&](BindTable& t) { t.bindings[5].gap = nan; }), Contains("binding 5"));
  CHECK_THAT(broken([](BindTable& t) { t.vertices[7] = t.cloth_vertices; }), Contains("patch item 7"));
  CHECK_THAT(broken([&](BindTable& t) { t.a[7] = nan; }), Contains("patch item 7"));
  CHECK_THAT(broken([](BindTable& t) { t.c[0] += 1e-3; }), Contains("weights"));
  CHECK_THAT(broken([](BindTable& t) { t.a[0] += 1e-3; }), Contains("weights"));
  CHECK_THAT(broken([](BindTable& t) { t.patches[2].frame.m[0] += 1e-3; }), Contains("patch 2"));
  CHECK_THAT(broken([](BindTable& t) {
               for (int r = 0; r < 3; ++r) t.patches[2].frame(r, 2) *= -1;
             }),
             Contains("not a rotation"));
  CHECK_THAT(broken([&](BindTable& t) { t.patches[2].origin.y = nan; }), Contains("patch 2"));
  CHECK_THAT(broken([](BindTable& t) { t.patches[1].first += 1; }), Contains("patch 1"));
  CHECK_THAT(broken([](BindTable& t) { t.patches[1].count = 0; }), Contains("patch 1"));
  CHECK_THAT(broken([](BindTable& t) { t.patches.pop_back(); }), Contains("index"));
  CHECK_THAT(broken([](BindTable& t) { t.c.pop_back(); }), Contains("differ in length"));
  CHECK_THAT(broken([](BindTable& t) { t.unit.mm_per_unit = 0; }), Contains("header"));
  CHECK_FALSE(encode(sample(), 0));
  CHECK_FALSE(encode(sample(), 2));
}

TEST_CASE("decode names the byte that it refuses") {
  auto bytes = cases::bytes_of(sample());
  bytes[bytes.size() / 2] ^= std::byte{1};
  const auto table = decode(bytes);
  REQUIRE_FALSE(table);
  CHECK(table.error().code == ErrorCode::BadInput);
  CHECK_THAT(to_text(table.error()), Catch::Matchers::Contains("checksum"));
  CHECK_FALSE(decode({}));
}

TEST_CASE("set_rest_frames gives what the weights say and lists patches on collapsed cloth") {
  cases::Sheet sheet = cases::flat_sheet(4, 4, 5, 0, 1);
  BindTable table;
  cases::add_triangle_patch(table, sheet, sheet.triangles[0], {0.25, 0.25, 0.5});
  cases::add_triangle_patch(table, sheet, sheet.triangles[5], {1, 0, 0});
  sheet.rest[sheet.triangles[5][2]] = sheet.rest[sheet.triangles[5][1]];
  const auto without = set_rest_frames(table, sheet.rest);
  REQUIRE(without);
  CHECK((*without == std::vector<Index>{1}));
  CHECK(length(table.patches[0].origin - Vec3{3.75, 2.5, 0}) < 1e-14);
  CHECK(table.patches[0].reach == Approx(std::sqrt(50.0)));
  CHECK(rotation_angle_deg(table.patches[0].frame, Mat3{}) < 1e-12);
  table.vertices[0] = 16;
  CHECK_FALSE(set_rest_frames(table, sheet.rest));
  table.vertices[0] = 0;
  table.patches[1].count = 4;
  CHECK_FALSE(set_rest_frames(table, sheet.rest));
}

TEST_CASE("the fingerprint's numbers of every length go in byte by byte") {
  for (const std::uint32_t number : {0U, 1U, 255U, 256U, 0xffffU, 0x10000U, 0xabcdefU, 0xffffffU, 0x1000000U, ~0U}) {
    std::uint64_t state = layout::kFnvBasis;
    for (int byte = 0; byte < 4; ++byte) state = (state ^ (number >> 8 * byte & 0xffU)) * layout::kFnvPrime;
    CHECK(layout::add_to_fingerprint(layout::kFnvBasis, number) == state);
  }
}

TEST_CASE("the fingerprint is FNV-1a 64 over counts and corners and sees every change") {
  // FNV-1a 64 of four zero bytes, computed apart with Python integers.
  CHECK(cloth_fingerprint(0, {}, {}) == 0x4d25767f9dce13f5ULL);
  const std::vector<Index> offsets{0, 3, 7}, corners{0, 1, 2, 1, 3, 4, 2};
  const auto base = cloth_fingerprint(5, offsets, corners);
  CHECK(cloth_fingerprint(6, offsets, corners) != base);
  CHECK(cloth_fingerprint(5, std::vector<Index>{0, 4, 7}, corners) != base);
  for (std::size_t i = 0; i < corners.size(); ++i) {
    auto other = corners;
    other[i] ^= 1;
    CHECK(cloth_fingerprint(5, offsets, other) != base);
  }
  // All triangles: the runtime takes null offsets for the same.
  const std::vector<Index> three{0, 3, 6}, six{0, 1, 2, 2, 1, 3};
  std::uint64_t plain = 0;
  REQUIRE(tt_cloth_fingerprint(4, nullptr, 2, six.data(), &plain) == TT_OK);
  CHECK(plain == cloth_fingerprint(4, three, six));
}
