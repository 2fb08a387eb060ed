// SPDX-License-Identifier: MIT
#include "trimtack/io/placements.hpp"

#include <catch2/catch.hpp>
#include <charconv>
#include <sstream>
#include <string>
#include <vector>

#include "support/sample_scene.hpp"
#include "support/scratch_folder.hpp"
#include "trimtack/io/npy.hpp"
#include "trimtack/io/obj.hpp"

using namespace trimtack;

namespace {

std::vector<std::string> split(const std::string& row) {
  std::vector<std::string> fields;
  std::istringstream stream(row);
  for (std::string field; std::getline(stream, field, ',');) fields.push_back(field);
  return fields;
}

double number(const std::string& text) {
  double value = 0;
  std::from_chars(text.data(), text.data() + text.size(), value);
  return value;
}

}  // namespace

TEST_CASE("shapes read back from their OBJ files and placed by the CSV are the posed trims") {
  const test::SampleScene sample({});
  const test::ScratchFolder folder;
  Result<FileSet> out = FileSet::open(folder.path() / "out");
  REQUIRE(out);
  REQUIRE(write_placements(*out, "placements.csv", sample.scene, {}));
  REQUIRE(out->commit());
  const Result<std::string> text = read_file(folder.path() / "out" / "placements.csv");
  REQUIRE(text);
  std::istringstream lines(*text);
  std::string line;
  std::getline(lines, line);
  CHECK(line == "frame,trim,name,shape,mirrored,scale,tx,ty,tz,qx,qy,qz,qw");
  std::size_t rows = 0;
  for (; std::getline(lines, line); ++rows) {
    const std::vector<std::string> row = split(line);
    REQUIRE(row.size() == 13);
    const std::size_t frame = rows / sample.scene.trims.size(), t = rows % sample.scene.trims.size();
    const Scene::Placed& placed = sample.scene.trims[t];
    CHECK(row[0] == std::to_string(sample.scene.frame_numbers[frame]));
    CHECK(row[1] == std::to_string(placed.trim));
    CHECK(row[2] == placed.name);
    CHECK(row[4] == (placed.mirrored ? "1" : "0"));
    Report report;
    const Result<SourceMesh> shape = read_obj(folder.path() / "out" / row[3], {}, report);
    REQUIRE(shape);
    const SourceMesh& want = sample.scene.shapes[placed.shape];
    REQUIRE(shape->positions == want.positions);
    CHECK(shape->corner_position == want.corner_position);
    CHECK(shape->materials == want.materials);
    const Mat3 rotation = to_matrix({number(row[9]), number(row[10]), number(row[11]), number(row[12])});
    const Vec3 at{number(row[6]), number(row[7]), number(row[8])};
    const Pose pose = sample.poses_at(frame)[t];
    for (const Vec3& p : want.positions) {
      const Vec3 got = rotation * (number(row[5]) * p) + at;
      CHECK(length(got - apply(pose, apply(placed.placement, placed.scale * p))) < 1e-12);
    }
  }
  CHECK(rows == sample.scene.trims.size() * sample.scene.frame_numbers.size());
}

TEST_CASE("cloth and placement arrays hold every frame, and the rest of a scene without frames") {
  for (const int frames : {0, 3}) {
    test::SampleOptions options;
    options.frames = frames;
    const test::SampleScene sample(options);
    const test::ScratchFolder folder;
    Result<FileSet> out = FileSet::open(folder.path() / "out");
    REQUIRE(out);
    REQUIRE(write_cloth_npy(*out, "f4.npy", sample.scene, false));
    REQUIRE(write_cloth_npy(*out, "f8.npy", sample.scene, true));
    REQUIRE(write_placements_npy(*out, "placements.npy", sample.scene));
    REQUIRE(out->commit());
    const std::uint64_t rows = frames == 0 ? 1 : 3, vertices = sample.cloth.positions.size();
    const Result<NpyFile> f4 = NpyFile::open(folder.path() / "out" / "f4.npy");
    const Result<NpyFile> f8 = NpyFile::open(folder.path() / "out" / "f8.npy");
    const Result<NpyFile> placements = NpyFile::open(folder.path() / "out" / "placements.npy");
    REQUIRE(f4);
    REQUIRE(f8);
    REQUIRE(placements);
    CHECK(f4->info().shape == std::vector<std::uint64_t>{rows, vertices, 3});
    CHECK(f8->info().shape == f4->info().shape);
    CHECK(placements->info().shape == std::vector<std::uint64_t>{rows, sample.scene.trims.size(), 3, 4});
    for (std::uint64_t i = 0; i < rows; ++i) {
      const std::vector<Vec3> want = frames == 0 ? sample.cloth.positions : sample.cloth_at(i);
      std::vector<Vec3> got(vertices);
      REQUIRE(f8->read(i * vertices * 3, {&got[0].x, vertices * 3}));
      CHECK(got == want);
      REQUIRE(f4->read(i * vertices * 3, {&got[0].x, vertices * 3}));
      for (std::size_t v = 0; v < vertices; ++v) CHECK(got[v].y == static_cast<float>(want[v].y));
      std::vector<double> matrix(12);
      const std::size_t t = 2;  // the cuff button, half as large
      REQUIRE(placements->read((i * sample.scene.trims.size() + t) * 12, matrix));
      const Pose pose = frames == 0 ? Pose{} : sample.poses_at(i)[t];
      const Scene::Placed& placed = sample.scene.trims[t];
      const Vec3 p{1, 2, 3}, q = apply(pose, apply(placed.placement, placed.scale * p));
      for (std::size_t r = 0; r < 3; ++r) {
        const double x = matrix[4 * r] * p.x + matrix[4 * r + 1] * p.y + matrix[4 * r + 2] * p.z + matrix[4 * r + 3];
        CHECK(x == Approx(q[static_cast<int>(r)]).epsilon(1e-12).margin(1e-12));
      }
    }
  }
}
