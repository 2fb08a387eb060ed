// SPDX-License-Identifier: MIT
// Numbers from 1e-6 to 1e7, 10 km from the origin, and long runs: what is bound is the same garment in any unit,
// motions stay proper, memory stays flat.
#include <malloc.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>
#include <fstream>

#include "support/scratch_folder.hpp"
#include "support/sheets.hpp"
#include "trimtack/follow.hpp"
#include "trimtack/io/frames.hpp"
#include "trimtack/io/npy.hpp"
#include "trimtack/io/poses.hpp"
#include "trimtack/runtime.h"
#include "trimtack/version.h"

using namespace trimtack;
using namespace trimtack::testing;

namespace {

/// A wavy sheet with nine discs, everything times `scale` and moved by `shift`.
struct Scene {
  ClothMesh cloth;
  TrimShapes trims;
  BindTable table;
  std::vector<std::byte> bytes;
};

Vec3 wave(const Vec2& p) { return {p.x, p.y, 4 * std::sin(0.05 * p.x)}; }

Scene make_scene(double scale, const Vec3& shift) {
  Scene scene;
  const Pattern pattern = make_pattern({.step = 6, .cells = Cells::Mixed, .jitter = 0.2, .seed = 5, .component = 0});
  std::vector<Vec3> positions = shaped(pattern, wave);
  for (Vec3& p : positions) p = scale * p + shift;
  scene.cloth = cloth_of(pattern, positions);
  for (int t = 0; t < 9; ++t) {
    const Vec2 at{-40.0 + 40 * (t % 3), -40.0 + 40 * (t / 3)};
    Solid solid = disc(wave(at) + Vec3{0, 0, 0.3}, {0, 0, 1}, 5, 2);
    for (Vec3& p : solid.vertices) p = scale * p + shift;
    append_trim(scene.trims, "disc " + std::to_string(t), solid.vertices, solid.triangles);
  }
  Unit unit = millimetres();
  unit.mm_per_unit = 1 / scale;
  const ClothIndex index(scene.cloth);
  Report report;
  Result<BindTable> table = bind(index, scene.trims, unit, {}, report);
  REQUIRE(table);
  scene.table = std::move(*table);
  const auto bytes = encode(scene.table, TT_TABLE_FORMAT_LATEST);
  REQUIRE(bytes);
  scene.bytes = *bytes;
  return scene;
}

std::vector<Pose> followed(const Scene& scene, const std::vector<Vec3>& cloth) {
  std::vector<Pose> poses(scene.table.bindings.size());
  std::vector<PoseQuality> quality(poses.size());
  REQUIRE(follow(scene.bytes, cloth, poses, quality));
  for (const PoseQuality q : quality) CHECK(q == PoseQuality::Chosen);
  return poses;
}

std::vector<Vec3> bent(const std::vector<Vec3>& rest, double scale, const Vec3& shift, double amount) {
  std::vector<Vec3> out = rest;
  for (Vec3& p : out) {
    const Vec3 q = (1 / scale) * (p - shift);
    const double r = 80 / amount;
    p = scale * Vec3{r * std::sin(q.x / r), q.y, q.z + r * (1 - std::cos(q.x / r))} + shift;
  }
  return out;
}

double norm(const float* q) {
  double sum = 0;
  for (int i = 0; i < 4; ++i) sum += static_cast<double>(q[i]) * static_cast<double>(q[i]);
  return std::sqrt(sum);
}

}  // namespace

TEST_CASE("a garment of 1e-6 to 1e7 units is bound and followed as the one in millimetres", "[numbers]") {
  const Scene mm = make_scene(1, {});
  const std::vector<Pose> reference = followed(mm, bent(mm.cloth.positions, 1, {}, 1));
  for (const double scale : {1e-8, 1e-6, 1e-3, 0.1, 25.4, 1e3, 1e5}) {
    INFO("scale " << scale);
    const Scene scene = make_scene(scale, {});
    const std::vector<Pose> poses = followed(scene, bent(scene.cloth.positions, scale, {}, 1));
    for (std::size_t i = 0; i < poses.size(); ++i) {
      CHECK(scene.table.bindings[i].order == mm.table.bindings[i].order);
      CHECK(rotation_angle_deg(poses[i].rotation, reference[i].rotation) < 1e-6);
      CHECK(length((1 / scale) * poses[i].translation - reference[i].translation) < 1e-6);
    }
  }
}

TEST_CASE("10 km from the origin nothing is lost but the digits of the coordinates themselves", "[numbers]") {
  const Vec3 shift{1e7, -1e7, 1e7};
  const Scene near = make_scene(1, {}), far = make_scene(1, shift);
  const std::vector<Pose> at_rest = followed(far, far.cloth.positions);
  const std::vector<Pose> reference = followed(near, bent(near.cloth.positions, 1, {}, 1));
  const std::vector<Pose> poses = followed(far, bent(far.cloth.positions, 1, shift, 1));
  for (std::size_t i = 0; i < poses.size(); ++i) {
    const Vec3 o = near.table.patches[near.table.bindings[i].patch].origin;
    // A double has 1.9e-9 of room at 1e7.
    CHECK(rotation_angle_deg(at_rest[i].rotation, Mat3{}) < 1e-7);
    CHECK(length(apply(at_rest[i], o + shift) - (o + shift)) < 1e-8);
    CHECK(rotation_angle_deg(poses[i].rotation, reference[i].rotation) < 1e-4);
    CHECK(length(apply(poses[i], o + shift) - shift - apply(reference[i], o)) < 1e-5);
  }
}

TEST_CASE("quaternions have norm 1 to 1e-7, in single precision as well, whatever the cloth does", "[numbers]") {
  const Scene scene = make_scene(1, {});
  tt_table table;
  REQUIRE(tt_table_open(&table, scene.bytes.data(), scene.bytes.size()) == TT_OK);
  std::mt19937_64 random(77);
  INFO("seed 77");
  std::uniform_real_distribution<double> crumple(-30, 30);
  double worst = 0, worst_double = 0;
  for (int round = 0; round < 200; ++round) {
    std::vector<Vec3> cloth = bent(scene.cloth.positions, 1, {}, 0.01 * (1 + round));
    if (round % 2 != 0)
      for (Vec3& p : cloth) p = p + Vec3{crumple(random), crumple(random), crumple(random)};
    std::vector<float> single;
    for (const Vec3& p : cloth)
      for (int i = 0; i < 3; ++i) single.push_back(static_cast<float>(p[i]));
    std::vector<tt_pose> poses(scene.table.bindings.size());
    REQUIRE(tt_evaluate(&table, single.data(), cloth.size(), 0, 0, poses.size(), poses.data()) == TT_OK);
    for (const tt_pose& pose : poses) worst = std::max(worst, std::abs(norm(pose.rotation) - 1));
    std::vector<Pose> exact(poses.size());
    std::vector<PoseQuality> quality(poses.size());
    REQUIRE(follow(scene.bytes, cloth, exact, quality));
    for (const Pose& pose : exact) {
      const Quat q = to_quat(pose.rotation);
      worst_double = std::max(worst_double, std::abs(std::sqrt(q.x * q.x + q.y * q.y + q.z * q.z + q.w * q.w) - 1));
    }
  }
  CHECK(worst < 1e-7);
  CHECK(worst > 0);
  CHECK(worst_double < 1e-14);
}

TEST_CASE("600 frames are followed in no more memory than 50, and give every handle back", "[numbers]") {
  const test::ScratchFolder scratch;
  const Scene scene = make_scene(1, {});
  const std::size_t vertices = scene.cloth.positions.size();
  constexpr std::uint64_t kFrames = 600;
  {
    const std::uint64_t shape[] = {kFrames, vertices, 3};
    std::ofstream out(scratch.path() / "frames.npy", std::ios::binary);
    out << npy_header(shape, true);
    for (std::uint64_t f = 0; f < kFrames; ++f) {
      const std::vector<Vec3> cloth = bent(scene.cloth.positions, 1, {}, 0.5 + 0.001 * static_cast<double>(f));
      out.write(reinterpret_cast<const char*>(cloth.data()), static_cast<std::streamsize>(24 * vertices));
    }
  }
  const std::vector<std::string> names{(scratch.path() / "frames.npy").string()};
  const auto frames = list_frames(names);
  REQUIRE(frames);
  REQUIRE(frames->size() == kFrames);
  const auto handles = [] {
    return std::distance(std::filesystem::directory_iterator("/proc/self/fd"), std::filesystem::directory_iterator());
  };
  const auto handles_before = handles();
  std::size_t at_50 = 0, after = 0;
  {
    FrameReader reader;
    std::vector<Pose> poses(scene.table.bindings.size());
    std::vector<PoseQuality> quality(poses.size());
    std::vector<Vec3> baked(scene.trims.vertices.size());
    std::string bytes;
    for (std::size_t f = 0; f < kFrames; ++f) {
      const auto cloth = reader.read((*frames)[f]);
      REQUIRE(cloth);
      REQUIRE(follow(scene.bytes, *cloth, poses, quality));
      bake(scene.trims, poses, baked);
      bytes.clear();
      append_poses_npy(bytes, poses);
      if (f == 49) at_50 = ::mallinfo2().uordblks;
      after = ::mallinfo2().uordblks;
    }
  }
  CHECK(after <= at_50 + 4096);
  CHECK(handles() == handles_before);
}
