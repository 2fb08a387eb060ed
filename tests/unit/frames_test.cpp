// SPDX-License-Identifier: MIT
#include "trimtack/io/frames.hpp"

#include <array>
#include <catch2/catch.hpp>
#include <initializer_list>
#include <limits>
#include <string>
#include <utility>
#include <vector>

#include "support/scratch_folder.hpp"
#include "support/skinned_garment.hpp"
#include "trimtack/io/npy.hpp"

using namespace trimtack;
using Catch::Matchers::Contains;

namespace {

const std::string kTriangle = "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n";

std::vector<std::string> names(const std::vector<FrameRef>& frames) {
  std::vector<std::string> out;
  for (const FrameRef& frame : frames) out.push_back(frame.path.filename().string());
  return out;
}

std::string array_of(std::uint64_t frames, std::uint64_t vertices, bool flat = false) {
  std::string bytes = flat ? npy_header(std::array<std::uint64_t, 2>{vertices, 3}, false)
                           : npy_header(std::array<std::uint64_t, 3>{frames, vertices, 3}, false);
  for (std::uint64_t i = 0; i < frames * vertices * 3; ++i) {
    const auto value = static_cast<float>(i) * 0.5F;
    bytes.append(reinterpret_cast<const char*>(&value), sizeof value);
  }
  return bytes;
}

std::string reason(const std::vector<std::string>& arguments) {
  const Result<std::vector<FrameRef>> frames = list_frames(arguments);
  REQUIRE_FALSE(frames);
  return frames.error().message;
}

}  // namespace

TEST_CASE("a pattern's files come in the order of their numbers, whatever their width") {
  const test::ScratchFolder folder;
  for (const char* name : {"pose_10.obj", "pose_9.obj", "pose_100.obj", "pose_0011.obj", "rest.obj", "pose_9.mtl"}) {
    folder.write(name, kTriangle);
  }
  const Result<std::vector<FrameRef>> frames =
      list_frames(std::vector<std::string>{(folder.path() / "pose_*.obj").string()});
  REQUIRE(frames);
  CHECK(names(*frames) == std::vector<std::string>{"pose_9.obj", "pose_10.obj", "pose_0011.obj", "pose_100.obj"});
  CHECK((*frames)[0].number == 9);
  CHECK((*frames)[3].number == 100);
  const Result<std::vector<FrameRef>> digits =
      list_frames(std::vector<std::string>{(folder.path() / "pose_##.obj").string()});
  REQUIRE(digits);
  CHECK(names(*digits) == std::vector<std::string>{"pose_10.obj"});
}

TEST_CASE("files keep the order given; without numbers of their own, or with repeated ones, they are counted from 1") {
  const test::ScratchFolder folder;
  const std::string b = folder.write("b.obj", kTriangle), a = folder.write("a.obj", kTriangle);
  const Result<std::vector<FrameRef>> plain = list_frames(std::vector<std::string>{b, a});
  REQUIRE(plain);
  CHECK(names(*plain) == std::vector<std::string>{"b.obj", "a.obj"});
  CHECK((*plain)[0].number == 1);
  CHECK((*plain)[1].number == 2);
  const std::string left = folder.write("left_5.obj", kTriangle), right = folder.write("right_5.obj", kTriangle);
  const Result<std::vector<FrameRef>> twice = list_frames(std::vector<std::string>{left, right});
  REQUIRE(twice);
  CHECK((*twice)[0].number == 1);
  CHECK((*twice)[1].number == 2);
}

TEST_CASE("a file whose name looks like a pattern is that file") {
  const test::ScratchFolder folder;
  const std::string odd = folder.write("pose[1].obj", kTriangle);
  folder.write("pose1.obj", kTriangle);
  const Result<std::vector<FrameRef>> frames = list_frames(std::vector<std::string>{odd});
  REQUIRE(frames);
  CHECK(names(*frames) == std::vector<std::string>{"pose[1].obj"});
}

TEST_CASE("an NPY array gives one frame a row, read in any order") {
  const test::ScratchFolder folder;
  const std::string path = folder.write("cloth.npy", array_of(4, 5));
  const Result<std::vector<FrameRef>> frames = list_frames(std::vector<std::string>{path});
  REQUIRE(frames);
  REQUIRE(frames->size() == 4);
  CHECK((*frames)[3].number == 4);
  FrameReader reader;
  for (const std::size_t i : {2U, 0U, 3U, 3U, 1U}) {
    SourceMesh faces;
    const Result<std::span<const Vec3>> positions = reader.read((*frames)[i], &faces);
    REQUIRE(positions);
    REQUIRE(positions->size() == 5);
    CHECK(faces.face_count() == 0);
    for (std::size_t v = 0; v < 5; ++v) {
      const double first = static_cast<double>(i * 15 + v * 3) * 0.5;
      CHECK((*positions)[v] == Vec3{first, first + 0.5, first + 1});
    }
  }
  const std::string flat = folder.write("one.npy", array_of(1, 7, true));
  const Result<std::vector<FrameRef>> one = list_frames(std::vector<std::string>{flat});
  REQUIRE(one);
  CHECK(one->size() == 1);
  const Result<std::span<const Vec3>> positions = reader.read((*one)[0]);
  REQUIRE(positions);
  CHECK(positions->size() == 7);
}

TEST_CASE("OBJ and PLY frames give their positions in file order, and faces on request") {
  const test::ScratchFolder folder;
  const std::string obj = folder.write("f1.obj", "v 0 0 0\nv 1.25 0 0\nv 9 9 9\nv 0 1 -3e2\nf 1 2 4\n");
  const std::string ply = folder.write("f2.ply",
                                       "ply\nformat ascii 1.0\nelement vertex 4\nproperty float x\nproperty float y\n"
                                       "property float z\nelement face 1\nproperty list uchar int vertex_index\n"
                                       "end_header\n0 0 0\n1.25 0 0\n9 9 9\n0 1 -3e2\n3 0 1 3\n");
  const Result<std::vector<FrameRef>> frames = list_frames(std::vector<std::string>{obj, ply});
  REQUIRE(frames);
  FrameReader reader;
  for (const FrameRef& frame : *frames) {
    SourceMesh faces;
    const Result<std::span<const Vec3>> positions = reader.read(frame, &faces);
    REQUIRE(positions);
    REQUIRE(positions->size() == 4);
    CHECK((*positions)[1] == Vec3{1.25, 0, 0});
    CHECK((*positions)[3] == Vec3{0, 1, -300});
    CHECK(faces.corner_position == std::vector<Index>{0, 1, 3});
    const Result<std::span<const Vec3>> alone = reader.read(frame);
    REQUIRE(alone);
    CHECK(alone->size() == 4);
  }
}

TEST_CASE("a frame with a position that is not finite is refused, naming the row and the vertex") {
  const test::ScratchFolder folder;
  std::string bytes = array_of(3, 5);
  const float nan = std::numeric_limits<float>::quiet_NaN();
  bytes.replace(bytes.size() - 4 * 4, 4, reinterpret_cast<const char*>(&nan), 4);  // the last row, vertex 3
  const std::string path = folder.write("cloth.npy", bytes);
  FrameReader reader;
  CHECK(reader.read({path, 1, true, 2}));
  const Result<std::span<const Vec3>> positions = reader.read({path, 2, true, 3});
  REQUIRE_FALSE(positions);
  CHECK_THAT(positions.error().message, Contains("row 2") && Contains("vertex 3"));
}

TEST_CASE("coordinates that no pose is evaluated from are told of, and do not hide one that is not finite") {
  const test::ScratchFolder scratch;
  constexpr std::size_t kVertices = 20'000;  // several blocks
  const float far = 2e18F, infinite = std::numeric_limits<float>::infinity();
  const auto with = [&](std::initializer_list<std::pair<std::size_t, float>> numbers) {
    std::string bytes = array_of(1, kVertices);
    const std::size_t data = bytes.size() - kVertices * 3 * sizeof(float);
    for (const auto& [i, value] : numbers) bytes.replace(data + i * 4, 4, reinterpret_cast<const char*>(&value), 4);
    return scratch.write("frames.npy", bytes);
  };
  const auto read = [](FrameReader& reader, const std::string& path) { return reader.read({path, 0, true, 1}); };
  FrameReader near_reader, far_reader, bad_reader;
  REQUIRE(read(near_reader, with({})));
  CHECK(near_reader.all_usable());
  const auto seen = read(far_reader, with({{3 * 19'999 + 2, -far}}));
  REQUIRE(seen);
  CHECK((*seen)[19'999].z == -far);
  CHECK_FALSE(far_reader.all_usable());
  const auto bad =
      read(bad_reader, with({{1, far}, {3 * 15'000, far}, {3 * 15'001, infinite}, {3 * 18'000, infinite}}));
  REQUIRE_FALSE(bad);
  CHECK_THAT(bad.error().message, Contains("row 0: vertex 15001 is not finite"));
  CHECK_FALSE(bad_reader.all_usable());
}

TEST_CASE("a glTF animation gives its samples as frames") {
  const test::ScratchFolder folder;
  const test::SkinnedGarment source = test::make_skinned_garment({});
  const std::string path = folder.write("coat.glb", source.bytes);
  const Result<std::vector<FrameRef>> frames = list_frames(std::vector<std::string>{path});
  REQUIRE(frames);
  REQUIRE(frames->size() == 25);
  FrameReader reader;
  for (const std::size_t i : {24U, 0U, 7U}) {
    SourceMesh faces;
    const Result<std::span<const Vec3>> positions = reader.read((*frames)[i], &faces);
    REQUIRE(positions);
    REQUIRE(positions->size() == source.positions.size());
    CHECK(faces.face_count() == source.cloth_triangles + source.clasp_triangles);
    for (std::size_t v = 0; v < positions->size(); ++v) {
      const double angle = test::skinned_angle(static_cast<double>(i) / 24);
      CHECK(length((*positions)[v] - test::skinned_point(source.positions[v], source.upper_weight[v], angle)) < 1e-6);
    }
  }
  CHECK_FALSE(reader.read({path, 25, true, 26}));
}

TEST_CASE("arguments that give no frame are refused with the way out") {
  const test::ScratchFolder folder;
  CHECK_THAT(reason({(folder.path() / "none.obj").string()}), Contains("no such file"));
  CHECK_THAT(reason({(folder.path() / "pose_*.obj").string()}), Contains("no file matches"));
  CHECK_THAT(reason({folder.path().string()}), Contains("is a folder"));
  CHECK_THAT(reason({}), Contains("no frame"));
  CHECK_THAT(reason({folder.write("notes.txt", "x")}), Contains(".obj, .ply, .npy"));
  CHECK_THAT(reason({folder.write("empty.npy", array_of(0, 5))}), Contains("holds no frame"));
  const std::string flat = npy_header(std::array<std::uint64_t, 2>{2, 4}, false) + std::string(32, '\0');
  CHECK_THAT(reason({folder.write("four.npy", flat)}), Contains("shape (2, 4)"));
}
