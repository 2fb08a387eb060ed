// SPDX-License-Identifier: MIT
// What a GLB holds is checked by tests/web with the Khronos validator and a reader of its own; here: limits and errors.
#include "trimtack/io/gltf.hpp"

#include <catch2/catch.hpp>
#include <cstring>
#include <limits>
#include <string>

#include "support/reversed_executor.hpp"
#include "support/sample_scene.hpp"
#include "support/scratch_folder.hpp"

using namespace trimtack;
using Catch::Matchers::Contains;

namespace {

Result<std::string> written(const Scene& scene, const GlbWriteOptions& options = {}) {
  const test::ScratchFolder folder;
  Result<FileSet> out = FileSet::open(folder.path() / "out");
  REQUIRE(out);
  Report report;
  if (const Result<void> done = write_glb(*out, "scene.glb", scene, options, report); !done) return done.error();
  REQUIRE(out->commit());
  return read_file(folder.path() / "out" / "scene.glb");
}

std::uint32_t u32(const std::string& bytes, std::size_t at) {
  std::uint32_t value = 0;
  std::memcpy(&value, bytes.data() + at, sizeof value);
  return value;
}

}  // namespace

TEST_CASE("a GLB's lengths agree with the file, chunks are padded to 4 bytes") {
  for (const int frames : {0, 1, 5}) {
    test::SampleOptions options;
    options.frames = frames;
    const test::SampleScene sample(options);
    const Result<std::string> bytes = written(sample.scene);
    REQUIRE(bytes);
    CHECK(bytes->substr(0, 4) == "glTF");
    CHECK(u32(*bytes, 4) == 2);
    CHECK(u32(*bytes, 8) == bytes->size());
    const std::uint32_t json = u32(*bytes, 12);
    CHECK(json % 4 == 0);
    CHECK(bytes->substr(16, 4) == "JSON");
    CHECK(bytes->substr(24 + json, 4) == std::string("BIN\0", 4));
    CHECK(u32(*bytes, 20 + json) % 4 == 0);
    CHECK(28 + json + u32(*bytes, 20 + json) == bytes->size());
  }
}

TEST_CASE("GLB bytes are the same whatever the order of the work") {
  test::SampleOptions options;
  options.columns = 150;  // several ranges of vertices
  options.frames = 2;
  const test::SampleScene sample(options);
  const Result<std::string> forward = written(sample.scene);
  GlbWriteOptions backward_options;
  backward_options.executor = test::reversed_executor();
  const Result<std::string> backward = written(sample.scene, backward_options);
  REQUIRE(forward);
  REQUIRE(backward);
  CHECK(*forward == *backward);
}

TEST_CASE("frames are asked for once each, in order") {
  test::SampleScene sample({});
  const auto frame = sample.scene.frame;
  std::vector<std::size_t> asked;
  sample.scene.frame = [&](std::size_t i, std::span<Vec3> cloth, std::span<Pose> poses) {
    asked.push_back(i);
    return frame(i, cloth, poses);
  };
  REQUIRE(written(sample.scene));
  CHECK(asked == std::vector<std::size_t>{0, 1, 2, 3, 4});
}

TEST_CASE("instances cannot be animated: refused as usage") {
  const test::SampleScene sample({});
  GlbWriteOptions options;
  options.instancing = true;
  const Result<std::string> bytes = written(sample.scene, options);
  REQUIRE_FALSE(bytes);
  CHECK(bytes.error().code == ErrorCode::Usage);
}

TEST_CASE("a GLB scene with a number that is not finite is refused and names the frame") {
  test::SampleScene sample({});
  const auto frame = sample.scene.frame;
  sample.scene.frame = [&](std::size_t i, std::span<Vec3> cloth, std::span<Pose> poses) {
    Result<void> done = frame(i, cloth, poses);
    if (i == 2) cloth[7].y = 1e300;
    return done;
  };
  const Result<std::string> vertex = written(sample.scene);
  REQUIRE_FALSE(vertex);
  CHECK_THAT(vertex.error().message, Contains("frame 14") && Contains("vertex 7"));
  sample.scene.frame = [&](std::size_t i, std::span<Vec3> cloth, std::span<Pose> poses) {
    Result<void> done = frame(i, cloth, poses);
    if (i == 4) poses[1].translation.x = std::numeric_limits<double>::infinity();
    return done;
  };
  const Result<std::string> pose = written(sample.scene);
  REQUIRE_FALSE(pose);
  CHECK_THAT(pose.error().message, Contains("frame 18") && Contains("front button 2"));
  test::SampleScene rest({});
  rest.cloth.positions[3].x = std::numeric_limits<double>::quiet_NaN();
  CHECK_THAT(written(rest.scene).error().message, Contains("vertex 3"));
}

TEST_CASE("a scene beyond 4 GiB is refused before anything is written") {
  test::SampleOptions options;
  options.columns = 100;
  options.frames = 40000;
  test::SampleScene sample(options);
  sample.scene.frame = [](std::size_t, std::span<Vec3>, std::span<Pose>) -> Result<void> {
    return Error{ErrorCode::Internal, "must not be asked", "", 0};
  };
  const Result<std::string> bytes = written(sample.scene);
  REQUIRE_FALSE(bytes);
  CHECK_THAT(bytes.error().message, Contains("4294967295"));
}
