// SPDX-License-Identifier: MIT
// Laws of following: what every pose must obey whatever the cloth does. Reference rotations are closed forms.
#include <catch2/catch.hpp>
#include <cmath>
#include <cstring>
#include <limits>
#include <thread>

#include "support/table_cases.hpp"
#include "trimtack/follow.hpp"
#include "trimtack/runtime.h"

using namespace trimtack;

namespace {

struct Followed {
  std::vector<Pose> poses;
  std::vector<PoseQuality> quality;
};

Followed follow_all(const std::vector<std::byte>& bytes, const std::vector<Vec3>& cloth,
                    const Executor& executor = {}) {
  const auto count = decode(bytes)->bindings.size();
  Followed out{std::vector<Pose>(count), std::vector<PoseQuality>(count)};
  const auto result = follow(bytes, cloth, out.poses, out.quality, executor);
  if (!result) FAIL(to_text(result.error()));
  return out;
}

template <class Map>
std::vector<Vec3> mapped(std::vector<Vec3> points, Map map) {
  for (Vec3& p : points) p = map(p);
  return points;
}

std::vector<Vec3> shifted(const std::vector<Vec3>& points, const Vec3& by) {
  return mapped(points, [&](const Vec3& p) { return p + by; });
}

/// Runs every task on its own thread, last one first.
void run_threads(void*, std::size_t count, Executor::Task task, void* context) {
  std::vector<std::thread> threads;
  for (std::size_t i = count; i-- > 0;) threads.emplace_back([=] { task(context, i); });
  for (std::thread& t : threads) t.join();
}

constexpr Index kBindings = 60;

}  // namespace

TEST_CASE("R0: the rest cloth gives the identity to 3e-12 at coordinates near 1000") {
  cases::Sheet sheet = cases::tube(24, 14, 5, 31);
  sheet.rest = shifted(sheet.rest, {1000, -1000, 1000});
  const BindTable table = cases::make_table(sheet, kBindings, 12, 31);
  const Followed f = follow_all(cases::bytes_of(table), sheet.rest);
  double worst = 0;
  for (std::size_t i = 0; i < f.poses.size(); ++i) {
    CHECK(f.quality[i] == PoseQuality::Chosen);
    for (const Vec3& p : {sheet.rest[0], sheet.rest[100], table.patches[table.bindings[i].patch].origin})
      worst = std::max(worst, length(apply(f.poses[i], p) - p));
  }
  CHECK(worst < 3e-12);
}

TEST_CASE("R1: moving the cloth rigidly moves every trim by the same motion") {
  INFO("seed 37");
  std::mt19937_64 random(37);
  const cases::Sheet sheet = cases::tube(24, 14, 5, 37);
  const BindTable table = cases::make_table(sheet, kBindings, 12, 37);
  const auto bytes = cases::bytes_of(table);
  for (int round = 0; round < 20; ++round) {
    const Mat3 r = cases::random_rotation(random);
    const Vec3 t{200.0 * round, -50, 30};
    const Followed f = follow_all(bytes, mapped(sheet.rest, [&](const Vec3& p) { return r * p + t; }));
    for (std::size_t i = 0; i < f.poses.size(); ++i) {
      REQUIRE(rotation_angle_deg(f.poses[i].rotation, r) < 1e-10);
      REQUIRE(length(f.poses[i].translation - t) < 1e-9);
      REQUIRE(f.quality[i] == PoseQuality::Chosen);
    }
  }
}

TEST_CASE("R2, R10: in-plane shear turns every trim by -atan(g / 2), whatever its patch") {
  const cases::Sheet sheet = cases::flat_sheet(20, 16, 5, 0.3, 41);
  const auto bytes = cases::bytes_of(cases::make_table(sheet, kBindings, 14, 41));
  for (const double g : {0.1, 0.5, 1.0, -0.4}) {
    const Mat3 expected = cases::rotation_about({0, 0, 1}, -std::atan(g / 2));
    const Followed f = follow_all(bytes, mapped(sheet.rest, [&](const Vec3& p) {
                                    return Vec3{p.x + g * p.y, p.y, p.z};
                                  }));
    for (const Pose& pose : f.poses) REQUIRE(rotation_angle_deg(pose.rotation, expected) < 1e-9);
  }
}

TEST_CASE("R3: any linear map of a flat cloth turns every trim by the polar factor, in space as in the plane") {
  INFO("seed 43");
  std::mt19937_64 random(43);
  std::uniform_real_distribution<double> number(-0.4, 0.4);
  const cases::Sheet sheet = cases::flat_sheet(20, 16, 5, 0.3, 43);
  const auto bytes = cases::bytes_of(cases::make_table(sheet, kBindings, 14, 43));
  for (int round = 0; round < 30; ++round) {
    const double f11 = 1 + number(random), f12 = number(random), f21 = number(random), f22 = 1 + number(random);
    const Mat3 turn = cases::random_rotation(random);
    const Mat3 expected = turn * cases::rotation_about({0, 0, 1}, std::atan2(f21 - f12, f11 + f22));
    const Followed f = follow_all(bytes, mapped(sheet.rest, [&](const Vec3& p) {
                                    return turn * Vec3{f11 * p.x + f12 * p.y, f21 * p.x + f22 * p.y, 0};
                                  }));
    for (const Pose& pose : f.poses) REQUIRE(rotation_angle_deg(pose.rotation, expected) < 1e-9);
  }
}

TEST_CASE("R4, R6: stretching does not turn, and the anchor moves with the cloth") {
  const cases::Sheet sheet = cases::flat_sheet(20, 16, 5, 0.3, 47);
  const BindTable table = cases::make_table(sheet, kBindings, 14, 47);
  const auto bytes = cases::bytes_of(table);
  struct Stretch {
    double x, y;
  };
  for (const Stretch s : {Stretch{1.2, 1}, Stretch{0.8, 1.3}, Stretch{1.37, 1.37}, Stretch{0.5, 0.5}}) {
    const auto map = [&](const Vec3& p) { return Vec3{s.x * p.x, s.y * p.y, p.z}; };
    const Followed f = follow_all(bytes, mapped(sheet.rest, map));
    for (std::size_t i = 0; i < f.poses.size(); ++i) {
      REQUIRE(rotation_angle_deg(f.poses[i].rotation, Mat3{}) < 1e-9);
      const Vec3 o = table.patches[table.bindings[i].patch].origin;
      REQUIRE(length(apply(f.poses[i], o) - map(o)) < 1e-11);
      REQUIRE(f.quality[i] == PoseQuality::Chosen);
    }
  }
}

TEST_CASE("R6: a cloth in another unit by mistake still turns nothing, and every pose says stretched") {
  const cases::Sheet sheet = cases::flat_sheet(20, 16, 5, 0.3, 53);
  const auto bytes = cases::bytes_of(cases::make_table(sheet, kBindings, 14, 53));
  for (const double scale : {10.0, 1000.0, 0.001}) {
    const auto cloth = mapped(sheet.rest, [&](const Vec3& p) { return scale * p; });
    const Followed f = follow_all(bytes, cloth);
    for (std::size_t i = 0; i < f.poses.size(); ++i) {
      REQUIRE(rotation_angle_deg(f.poses[i].rotation, Mat3{}) < 1e-9);
      REQUIRE(f.quality[i] == PoseQuality::Stretched);
    }
    const auto state = check_frame(bytes, cloth);
    REQUIRE(state);
    CHECK(state->scale == Approx(scale).epsilon(1e-9));
  }
}

TEST_CASE("R7: mirrored cloth gives proper rotations, half turns about an in-plane axis, and the frame says mirrored") {
  const cases::Sheet sheet = cases::tube(24, 14, 5, 59);
  const BindTable table = cases::make_table(sheet, kBindings, 12, 59);
  const auto bytes = cases::bytes_of(table);
  const auto mirror = mapped(sheet.rest, [](const Vec3& p) { return Vec3{-p.x, p.y, p.z}; });
  const Followed f = follow_all(bytes, mirror);
  for (std::size_t i = 0; i < f.poses.size(); ++i) {
    CHECK(cases::rotation_defect(f.poses[i].rotation) < 2e-15);
    // The reflected frame M R0 is u v of the new frame with the normal turned over: R = M (I - 2 n n^T).
    const Vec3 n = table.patches[table.bindings[i].patch].frame.column(2);
    Mat3 expected;
    for (int r = 0; r < 3; ++r)
      for (int c = 0; c < 3; ++c) expected(r, c) = (r == 0 ? -1 : 1) * ((r == c ? 1 : 0) - 2 * n[r] * n[c]);
    CHECK(rotation_angle_deg(f.poses[i].rotation, expected) < 1e-9);
  }
  CHECK(check_frame(bytes, mirror)->mirrored == Mirrored::Yes);
  CHECK(check_frame(bytes, sheet.rest)->mirrored == Mirrored::No);
  const auto bent = mapped(sheet.rest, [](const Vec3& p) { return Vec3{p.x, p.y, p.z + 0.005 * p.y * p.y}; });
  CHECK(check_frame(bytes, bent)->mirrored == Mirrored::No);
}

TEST_CASE("R7: one flat piece cannot tell a mirror image from a half turn, and says so") {
  const cases::Sheet sheet = cases::flat_sheet(20, 16, 5, 0.3, 61);
  const auto bytes = cases::bytes_of(cases::make_table(sheet, 20, 14, 61));
  CHECK(check_frame(bytes, sheet.rest)->mirrored == Mirrored::Unknown);
  const auto mirror = mapped(sheet.rest, [](const Vec3& p) { return Vec3{-p.x, p.y, p.z}; });
  CHECK(check_frame(bytes, mirror)->mirrored == Mirrored::Unknown);
  const Mat3 half_turn = cases::rotation_about({0, 1, 0}, 3.14159265358979323846);
  for (const Pose& pose : follow_all(bytes, mirror).poses) CHECK(rotation_angle_deg(pose.rotation, half_turn) < 1e-9);
}

TEST_CASE("R8: a collapsed triangle falls back to its patch and is flagged") {
  cases::Sheet sheet = cases::flat_sheet(20, 16, 5, 0.2, 67);
  const BindTable table = cases::make_table(sheet, 1, 14, 67);  // binding 0: triangle with an affine fallback
  const auto bytes = cases::bytes_of(table);
  const Tri t = table.bindings[0].anchor_triangle;
  const Vec3 a = sheet.rest[t[0]], b = sheet.rest[t[1]];
  for (const double along : {0.0, 0.5, 1.0}) {
    auto cloth = sheet.rest;
    cloth[t[2]] = a + along * (b - a);  // collinear
    const Followed f = follow_all(bytes, cloth);
    CHECK(f.quality[0] == PoseQuality::Fallback);
    CHECK(rotation_angle_deg(f.poses[0].rotation, Mat3{}) < 20);
    CHECK(cases::rotation_defect(f.poses[0].rotation) < 2e-15);
  }
  auto point = sheet.rest;
  point[t[1]] = point[t[2]] = point[t[0]];
  CHECK(follow_all(bytes, point).quality[0] == PoseQuality::Fallback);
}

TEST_CASE("R8: a whole cloth collapsed to a line, a point or nothing finite gives finite poses that say lost") {
  const cases::Sheet sheet = cases::tube(24, 14, 5, 71);
  const BindTable table = cases::make_table(sheet, kBindings, 12, 71);
  const auto bytes = cases::bytes_of(table);
  const double nan = std::numeric_limits<double>::quiet_NaN(), inf = std::numeric_limits<double>::infinity();
  const std::vector<std::vector<Vec3>> cloths{mapped(sheet.rest,
                                                     [](const Vec3& p) {
                                                       return Vec3{p.x, 0, 0};
                                                     }),
                                              mapped(sheet.rest,
                                                     [](const Vec3&) {
                                                       return Vec3{1, 2, 3};
                                                     }),
                                              mapped(sheet.rest,
                                                     [&](const Vec3&) {
                                                       return Vec3{nan, nan, nan};
                                                     }),
                                              mapped(sheet.rest,
                                                     [&](const Vec3& p) {
                                                       return Vec3{inf, p.y, p.z};
                                                     }),
                                              mapped(sheet.rest, [&](const Vec3& p) { return 1e300 * p; })};
  for (const auto& cloth : cloths) {
    const Followed f = follow_all(bytes, cloth);
    for (std::size_t i = 0; i < f.poses.size(); ++i) {
      CHECK(f.quality[i] == PoseQuality::Lost);
      CHECK(cases::rotation_defect(f.poses[i].rotation) < 2e-15);
      CHECK(is_finite(f.poses[i].translation));
    }
  }
}

TEST_CASE("a trim whose own cloth is gone takes its neighbour's rotation and stays where the cloth was") {
  const cases::Sheet sheet = cases::flat_sheet(30, 20, 5, 0.2, 73);
  const BindTable table = cases::make_table(sheet, 12, 11, 73);
  const auto bytes = cases::bytes_of(table);
  const Mat3 r = cases::rotation_about({1, 2, 3}, 2.0);
  auto cloth = mapped(sheet.rest, [&](const Vec3& p) { return r * p + Vec3{7, 8, 9}; });
  const Index lost = 2;  // an affine patch without a fallback
  const Patch& patch = table.patches[table.bindings[lost].patch];
  const Vec3 here = r * patch.origin + Vec3{7, 8, 9};
  for (Index k = 0; k < patch.count; ++k)
    cloth[table.vertices[patch.first + k]].y = std::numeric_limits<double>::quiet_NaN();
  cloth[table.vertices[patch.first]] = here;  // one vertex is left
  const Followed f = follow_all(bytes, cloth);
  CHECK(f.quality[lost] == PoseQuality::Lost);
  CHECK(rotation_angle_deg(f.poses[lost].rotation, r) < 1e-9);
  CHECK(length(apply(f.poses[lost], patch.origin) - here) < 1e-9);
}

TEST_CASE("a patch torn in two by a bad frame is not believed") {
  const cases::Sheet sheet = cases::flat_sheet(20, 16, 5, 0.2, 79);
  const BindTable table = cases::make_table(sheet, 2, 14, 79);  // binding 1: affine with a triangle fallback
  const auto bytes = cases::bytes_of(table);
  const Patch& patch = table.patches[table.bindings[1].patch];
  auto cloth = sheet.rest;
  for (Index k = patch.count / 2; k < patch.count; ++k) cloth[table.vertices[patch.first + k]] += Vec3{300, 0, 500};
  Followed f = follow_all(bytes, cloth);
  CHECK(f.quality[1] == PoseQuality::Fallback);
  CHECK(rotation_angle_deg(f.poses[1].rotation, Mat3{}) < 1e-9);
  // One vertex that flew off: the stretch stays small, the reach tells.
  cloth = sheet.rest;
  cloth[table.vertices[patch.first + patch.count - 1]] += Vec3{0, 0, 80};
  f = follow_all(bytes, cloth);
  CHECK(f.quality[1] == PoseQuality::Fallback);
  CHECK(rotation_angle_deg(f.poses[1].rotation, Mat3{}) < 1e-9);
}

TEST_CASE("a triangle turned over in whole surroundings does not flip its trim") {
  const cases::Sheet sheet = cases::flat_sheet(20, 16, 5, 0.2, 83);
  const BindTable table = cases::make_table(sheet, 1, 14, 83);
  const auto bytes = cases::bytes_of(table);
  auto cloth = sheet.rest;
  const Tri t = table.bindings[0].anchor_triangle;
  std::swap(cloth[t[1]], cloth[t[2]]);
  std::vector<tt_pose_f64> out(1);
  tt_table view;
  REQUIRE(tt_table_open(&view, bytes.data(), bytes.size()) == TT_OK);
  REQUIRE(tt_evaluate_f64(&view, &cloth[0].x, cloth.size(), sizeof(Vec3), 0, 1, out.data()) == TT_OK);
  CHECK(out[0].flags == (TT_POSE_FALLBACK | TT_POSE_INVERTED));
  CHECK(rotation_angle_deg(follow_all(bytes, cloth).poses[0].rotation, Mat3{}) < 60);
}

TEST_CASE("any crumpled cloth gives proper rotations and finite translations, in double and in float") {
  const cases::Sheet sheet = cases::tube(24, 14, 5, 89);
  const auto bytes = cases::bytes_of(cases::make_table(sheet, kBindings, 12, 89));
  tt_table view;
  REQUIRE(tt_table_open(&view, bytes.data(), bytes.size()) == TT_OK);
  std::vector<tt_pose> singles(kBindings);
  std::array<int, 4> seen{};
  for (std::uint64_t seed = 0; seed < 120; ++seed) {
    INFO("seed " << seed);
    std::mt19937_64 random(seed);
    std::normal_distribution<double> normal;
    const double amount = std::pow(10.0, static_cast<double>(seed % 12) - 4);
    auto cloth = mapped(sheet.rest, [&](const Vec3& p) {
      return p + amount * Vec3{normal(random), normal(random), normal(random)};
    });
    if (seed % 3 == 1)
      for (Vec3& p : cloth) p = {std::round(p.x / 20) * 20, std::round(p.y / 20) * 20, std::round(p.z / 20) * 20};
    if (seed % 5 == 2)
      for (std::size_t k = 0; k < cloth.size(); k += 7) cloth[k].x = std::numeric_limits<double>::quiet_NaN();
    const Followed f = follow_all(bytes, cloth);
    for (std::size_t i = 0; i < f.poses.size(); ++i) {
      REQUIRE(cases::rotation_defect(f.poses[i].rotation) < 2e-15);
      REQUIRE(is_finite(f.poses[i].translation));
      ++seen[static_cast<std::size_t>(f.quality[i])];
    }
    std::vector<float> floats;
    for (const Vec3& p : cloth)
      for (int k = 0; k < 3; ++k) floats.push_back(static_cast<float>(p[k]));
    REQUIRE(tt_evaluate(&view, floats.data(), cloth.size(), 0, 0, kBindings, singles.data()) == TT_OK);
    for (const tt_pose& pose : singles) {
      double norm = 0;
      for (const float q : pose.rotation) norm += double{q} * q;
      REQUIRE(std::fabs(norm - 1) < 3e-7);
      for (const float t : pose.translation) REQUIRE(std::isfinite(t));
    }
  }
  for (const int count : seen) CHECK(count > 0);  // all four answers were exercised
}

TEST_CASE("scaling unit and cloth scales translations only") {
  const cases::Sheet sheet = cases::tube(24, 14, 5, 97);
  const auto bytes = cases::bytes_of(cases::make_table(sheet, kBindings, 12, 97));
  const auto cloth = mapped(sheet.rest, [](const Vec3& p) {
    return Vec3{p.x + 0.2 * p.y, p.y, p.z - 0.001 * p.y * p.y};
  });
  const Followed base = follow_all(bytes, cloth);
  cases::Sheet scaled = sheet;
  for (Vec3& p : scaled.rest) p = 0.125 * p;  // exact
  const BindTable other = cases::make_table(scaled, kBindings, 1.5, 97);
  const Followed f = follow_all(cases::bytes_of(other), mapped(cloth, [](const Vec3& p) { return 0.125 * p; }));
  for (std::size_t i = 0; i < f.poses.size(); ++i) {
    CHECK(rotation_angle_deg(f.poses[i].rotation, base.poses[i].rotation) < 1e-11);
    CHECK(length(f.poses[i].translation - 0.125 * base.poses[i].translation) < 1e-12);
  }
}

TEST_CASE("a host's unit and up axis: poses in the host's coordinates move the host's trims the same way") {
  const cases::Sheet sheet = cases::tube(24, 14, 5, 101);
  for (const UpAxis file_up : {UpAxis::Y, UpAxis::Z}) {
    BindTable table = cases::make_table(sheet, kBindings, 12, 101);
    table.up = file_up;
    const auto bytes = cases::bytes_of(table);
    auto cloth = mapped(sheet.rest, [](const Vec3& p) { return Vec3{p.x + 0.2 * p.y, p.y, p.z - 0.001 * p.y * p.y}; });
    cloth[5].x = std::numeric_limits<double>::quiet_NaN();  // some fall back, some are lost
    const Followed base = follow_all(bytes, cloth);
    for (const std::uint32_t host_up : {TT_UP_Y, TT_UP_Z}) {
      const bool file_is_y = file_up == UpAxis::Y, host_is_y = host_up == TT_UP_Y;
      // Y-up to Z-up: (x, y, z) -> (x, -z, y), and back.
      const auto to_host = [&](const Vec3& p) {
        const Vec3 turned = file_is_y == host_is_y ? p : (file_is_y ? Vec3{p.x, -p.z, p.y} : Vec3{p.x, p.z, -p.y});
        return 0.001 * turned;
      };
      const tt_open_options options{1000, host_up, 0};
      tt_table view;
      REQUIRE(tt_table_open_with(&view, bytes.data(), bytes.size(), &options) == TT_OK);
      const auto host_cloth = mapped(cloth, to_host);
      std::vector<tt_pose_f64> poses(kBindings);
      REQUIRE(tt_evaluate_f64(&view, &host_cloth[0].x, cloth.size(), sizeof(Vec3), 0, kBindings, poses.data()) ==
              TT_OK);
      for (std::size_t i = 0; i < kBindings; ++i) {
        const Vec3 p{12, -34, 56}, in = to_host(p), expected = to_host(apply(base.poses[i], p));
        Vec3 out;
        REQUIRE(tt_apply_f64(&poses[i], &in.x, 1, 0, &out.x, 0) == TT_OK);
        CHECK(length(out - expected) < 1e-14);
        tt_binding binding;
        REQUIRE(tt_table_binding(&view, i, &binding) == TT_OK);
        const Vec3 origin = to_host(table.patches[table.bindings[i].patch].origin);
        for (int k = 0; k < 3; ++k) CHECK(std::fabs(binding.origin[k] - origin[k]) < 1e-15);
      }
    }
  }
}

TEST_CASE("C call and C++ follow agree bit for bit, for any split and any thread count") {
  const cases::Sheet sheet = cases::tube(40, 20, 5, 103);
  const Index count = 5000;
  const auto bytes = cases::bytes_of(cases::make_table(sheet, count, 8, 103));
  auto cloth = mapped(sheet.rest, [](const Vec3& p) { return Vec3{p.x, p.y, p.z + 5 * std::sin(p.y / 9)}; });
  for (std::size_t k = 0; k < cloth.size(); k += 11) cloth[k].y = std::numeric_limits<double>::quiet_NaN();
  const Followed serial = follow_all(bytes, cloth);
  runtime::Table once;
  REQUIRE(once.open(bytes) == TT_OK);
  std::vector<Pose> again(count);
  REQUIRE(follow(once, cloth, again, {}));
  CHECK(std::memcmp(serial.poses.data(), again.data(), count * sizeof(Pose)) == 0);
  CHECK_FALSE(follow(runtime::Table{}, cloth, again, {}));
  const Followed threads = follow_all(bytes, cloth, Executor{run_threads, nullptr, 3});
  CHECK(std::memcmp(serial.poses.data(), threads.poses.data(), count * sizeof(Pose)) == 0);
  CHECK((serial.quality == threads.quality));

  tt_table view;
  REQUIRE(tt_table_open(&view, bytes.data(), bytes.size()) == TT_OK);
  std::vector<tt_pose_f64> whole(count), split(count);
  REQUIRE(tt_evaluate_f64(&view, &cloth[0].x, cloth.size(), sizeof(Vec3), 0, count, whole.data()) == TT_OK);
  for (std::size_t i = 0; i < count; ++i) {
    double m[12];
    tt_pose_matrix_f64(&whole[i], m);
    const Pose& p = serial.poses[i];
    const double expected[12] = {p.rotation(0, 0), p.rotation(0, 1), p.rotation(0, 2), p.translation.x,
                                 p.rotation(1, 0), p.rotation(1, 1), p.rotation(1, 2), p.translation.y,
                                 p.rotation(2, 0), p.rotation(2, 1), p.rotation(2, 2), p.translation.z};
    REQUIRE(std::memcmp(m, expected, sizeof m) == 0);
  }
  INFO("seed 107");
  std::mt19937_64 random(107);
  for (std::size_t first = 0; first < count;) {
    const std::size_t n = std::min<std::size_t>(1 + random() % 97, count - first);
    REQUIRE(tt_evaluate_f64(&view, &cloth[0].x, cloth.size(), sizeof(Vec3), first, n, split.data() + first) == TT_OK);
    first += n;
  }
  CHECK(std::memcmp(whole.data(), split.data(), count * sizeof(tt_pose_f64)) == 0);
}

TEST_CASE("any stride and alignment of the positions gives the same bits") {
  const cases::Sheet sheet = cases::tube(24, 14, 5, 109);
  const auto bytes = cases::bytes_of(cases::make_table(sheet, kBindings, 12, 109));
  tt_table view;
  REQUIRE(tt_table_open(&view, bytes.data(), bytes.size()) == TT_OK);
  std::vector<float> packed;
  for (const Vec3& p : sheet.rest)
    for (int k = 0; k < 3; ++k) packed.push_back(static_cast<float>(p[k] * 1.1));
  const std::size_t n = sheet.rest.size();
  std::vector<tt_pose> expected(kBindings), got(kBindings);
  REQUIRE(tt_evaluate(&view, packed.data(), n, 0, 0, kBindings, expected.data()) == TT_OK);
  for (const std::size_t stride : {12U, 13U, 16U, 32U, 45U}) {
    std::vector<unsigned char> wide(n * stride + 1);
    for (std::size_t i = 0; i < n; ++i) std::memcpy(wide.data() + 1 + i * stride, &packed[3 * i], 12);
    REQUIRE(tt_evaluate(&view, reinterpret_cast<const float*>(wide.data() + 1), n, stride, 0, kBindings, got.data()) ==
            TT_OK);
    CHECK(std::memcmp(expected.data(), got.data(), kBindings * sizeof(tt_pose)) == 0);
  }
}

TEST_CASE("the cloth's distance from the origin costs nothing but the last digits of the coordinates") {
  const cases::Sheet sheet = cases::flat_sheet(20, 16, 5, 0, 113);  // whole and quarter millimetres: exact far away too
  const BindTable table = cases::make_table(sheet, kBindings, 14, 113);
  const auto bytes = cases::bytes_of(table);
  const auto bend = [](const Vec3& p) { return Vec3{p.x, p.y, std::round(p.x * p.x / 4) / 16}; };
  const Followed near = follow_all(bytes, mapped(sheet.rest, bend));
  const Followed far = follow_all(bytes, shifted(mapped(sheet.rest, bend), {1e7, -1e7, 1e7}));  // 10 km
  for (std::size_t i = 0; i < near.poses.size(); ++i) {
    CHECK(rotation_angle_deg(near.poses[i].rotation, far.poses[i].rotation) == 0);
    CHECK(length(far.poses[i].translation - near.poses[i].translation - Vec3{1e7, -1e7, 1e7}) < 1e-8);
  }
}

TEST_CASE("poses do not depend on how the cloth's vertices are numbered, but to rounding") {
  INFO("seed 127");
  std::mt19937_64 random(127);
  const cases::Sheet sheet = cases::tube(24, 14, 5, 127);
  const BindTable table = cases::make_table(sheet, kBindings, 12, 127);
  std::vector<Index> new_number(sheet.rest.size());
  for (Index i = 0; i < new_number.size(); ++i) new_number[i] = i;
  std::shuffle(new_number.begin(), new_number.end(), random);
  BindTable renumbered = table;
  for (Index& v : renumbered.vertices) v = new_number[v];
  for (Binding& b : renumbered.bindings)
    for (Index& v : b.anchor_triangle) v = new_number[v];
  const auto cloth = mapped(sheet.rest, [](const Vec3& p) {
    return Vec3{p.x + 0.2 * p.y, p.y, p.z - 0.001 * p.y * p.y};
  });
  std::vector<Vec3> moved(cloth.size());
  for (Index i = 0; i < cloth.size(); ++i) moved[new_number[i]] = cloth[i];
  const Followed a = follow_all(cases::bytes_of(table), cloth), b = follow_all(cases::bytes_of(renumbered), moved);
  CHECK(std::memcmp(a.poses.data(), b.poses.data(), kBindings * sizeof(Pose)) == 0);
}

TEST_CASE("an unbound trim moves with its nearest bound neighbour in the table") {
  const cases::Sheet sheet = cases::flat_sheet(20, 16, 5, 0.2, 131);
  BindTable table = cases::make_table(sheet, 9, 12, 131);
  Binding unbound;
  unbound.trim = 77;
  table.bindings.insert(table.bindings.begin() + 4, unbound);
  const Mat3 r = cases::rotation_about({1, 0, 1}, 1.0);
  const Followed f = follow_all(cases::bytes_of(table), mapped(sheet.rest, [&](const Vec3& p) {
                                  return r * p + Vec3{1, 2, 3};
                                }));
  CHECK(f.quality[4] == PoseQuality::Lost);
  CHECK(rotation_angle_deg(f.poses[4].rotation, r) < 1e-9);
  CHECK(length(f.poses[4].translation - Vec3{1, 2, 3}) < 1e-10);
  BindTable alone;
  alone.cloth_vertices = table.cloth_vertices;
  alone.bindings.push_back(unbound);
  const Followed rest = follow_all(cases::bytes_of(alone), sheet.rest);
  CHECK(rotation_angle_deg(rest.poses[0].rotation, Mat3{}) == 0);
  CHECK(length(rest.poses[0].translation) == 0);
}

TEST_CASE("follow refuses a frame with another vertex count, wrong rooms and broken tables") {
  const cases::Sheet sheet = cases::flat_sheet(10, 8, 5, 0.2, 137);
  auto bytes = cases::bytes_of(cases::make_table(sheet, 5, 12, 137));
  std::vector<Pose> poses(5);
  std::vector<PoseQuality> quality(4);
  auto cloth = sheet.rest;
  cloth.pop_back();
  const auto count = follow(bytes, cloth, poses, {});
  REQUIRE_FALSE(count);
  CHECK(count.error().code == ErrorCode::BadInput);
  CHECK_THAT(count.error().message, Catch::Matchers::Contains("79 vertices") && Catch::Matchers::Contains("80"));
  CHECK(follow(bytes, sheet.rest, poses, quality).error().code == ErrorCode::Usage);
  CHECK(follow(bytes, sheet.rest, std::span(poses).first(4), {}).error().code == ErrorCode::Usage);
  CHECK(follow(bytes, sheet.rest, poses, {}).has_value());
  CHECK_FALSE(check_frame(bytes, cloth));
  bytes.pop_back();
  CHECK(follow(bytes, sheet.rest, poses, {}).error().code == ErrorCode::BadInput);
}

TEST_CASE("bake keeps every edge length of every trim, to 1e-12 of it") {
  INFO("seed 139");
  std::mt19937_64 random(139);
  std::normal_distribution<double> normal;
  TrimShapes trims;
  for (Index t = 0; t < 50; ++t) {
    trims.id.push_back(t);
    for (int k = 0; k < 40; ++k) trims.vertices.push_back({normal(random), normal(random), normal(random)});
    trims.vertex_offsets.push_back(static_cast<Index>(trims.vertices.size()));
  }
  std::vector<Pose> poses;
  for (Index t = 0; t < 50; ++t) poses.push_back({cases::random_rotation(random), {normal(random), 5, 6}});
  std::vector<Vec3> out(trims.vertices.size()), threaded(trims.vertices.size());
  bake(trims, poses, out);
  bake(trims, poses, threaded, Executor{run_threads, nullptr, 2});
  CHECK((out == threaded));
  for (std::size_t t = 0; t < 50; ++t)
    for (Index v = trims.vertex_offsets[t] + 1; v < trims.vertex_offsets[t + 1]; ++v) {
      const double rest = length(trims.vertices[v] - trims.vertices[v - 1]);
      REQUIRE(std::fabs(length(out[v] - out[v - 1]) - rest) < 1e-12 * rest);
    }
}
