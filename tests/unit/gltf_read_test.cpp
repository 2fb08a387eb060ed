// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <cstring>
#include <string>
#include <vector>

#include "support/reversed_executor.hpp"
#include "support/sample_scene.hpp"
#include "support/scratch_folder.hpp"
#include "support/skinned_garment.hpp"
#include "trimtack/io/gltf.hpp"

using namespace trimtack;
using Catch::Matchers::Contains;
using Catch::Matchers::Equals;

namespace {

GltfGarment opened(const std::string& bytes, double rate = 24) {
  Report report;
  GltfReadOptions options;
  options.frames_per_second = rate;
  Result<GltfGarment> garment = GltfGarment::parse(bytes, "coat.glb", {}, options, report);
  if (!garment) FAIL(garment.error().message);
  return std::move(*garment);
}

std::string reason(const std::string& bytes) {
  Report report;
  const Result<GltfGarment> garment = GltfGarment::parse(bytes, "coat.glb", {}, {}, report);
  REQUIRE_FALSE(garment);
  CHECK(garment.error().code == ErrorCode::BadInput);
  CHECK(garment.error().subject == "coat.glb");
  return garment.error().message;
}

std::vector<Vec3> posed(const GltfGarment& garment, Index clip, std::size_t i, const Executor& executor = {}) {
  std::vector<Vec3> positions(garment.mesh().positions.size());
  REQUIRE(garment.pose(clip, i, positions, executor));
  return positions;
}

std::string replaced(std::string text, const std::string& from, const std::string& to) {
  const std::size_t at = text.find(from);
  REQUIRE(at != std::string::npos);
  return text.replace(at, from.size(), to);
}

// The clasp as a trim: its anchor is the cloth triangle beneath it.
RigidGlbTrim clasp_of(const test::SkinnedGarment& source) {
  RigidGlbTrim trim;
  trim.trim = 7;
  trim.name = "clasp";
  for (std::size_t i = 0; i < source.clasp_triangles; ++i)
    trim.faces.push_back(static_cast<Index>(source.cloth_triangles + i));
  trim.anchor = {3 * 5 + 1, 3 * 5 + 2, 3 * 6 + 2};
  trim.weights = {0.5, 0.25, 0.25};
  return trim;
}

Pose pose_at(std::size_t i) {
  Pose pose;
  const double angle = 0.1 * static_cast<double>(i + 1), s = std::sin(angle / 2) / 3;
  pose.rotation = to_matrix({s, 2 * s, -2 * s, std::cos(angle / 2)});
  pose.translation = {0.01 * static_cast<double>(i), 0.3, -0.1};
  return pose;
}

Result<std::string> rigid(const GltfGarment& garment, const RigidGlbRequest& request) {
  const test::ScratchFolder folder;
  Result<FileSet> out = FileSet::open(folder.path() / "out");
  REQUIRE(out);
  Report report;
  if (const Result<void> done = write_rigid_glb(*out, "rigid.glb", garment, request, report); !done)
    return done.error();
  REQUIRE(out->commit());
  return read_file(folder.path() / "out" / "rigid.glb");
}

// Positions of a garment's triangle corners at a frame, for the faces of one object.
std::vector<Vec3> corners(const GltfGarment& garment, const std::vector<Vec3>& positions, const std::string& object) {
  std::vector<Vec3> out;
  const SourceMesh& mesh = garment.mesh();
  for (Index f = 0; f < mesh.face_count(); ++f) {
    if (mesh.objects[state_of(mesh, f).object] != object) continue;
    for (const Index v : mesh.face(f)) out.push_back(positions[v]);
  }
  return out;
}

}  // namespace

TEST_CASE("a skinned garment is read as modelled, and every sampled frame is linear blend skinning in closed form") {
  for (const bool one : {false, true}) {
    for (const bool text : {false, true}) {
      for (const bool narrow : {false, true}) {
        CAPTURE(one, text, narrow);
        const test::SkinnedGarment source = test::make_skinned_garment({one, text, narrow, false});
        const GltfGarment garment = opened(source.bytes);
        const SourceMesh& mesh = garment.mesh();
        REQUIRE(mesh.positions.size() == source.positions.size());
        CHECK(mesh.face_count() == source.cloth_triangles + source.clasp_triangles);
        CHECK(mesh.objects == std::vector<std::string>{"coat"});
        CHECK(mesh.materials == (one ? std::vector<std::string>{"twill"} : std::vector<std::string>{"twill", "brass"}));
        REQUIRE(garment.clips().size() == 1);
        CHECK(garment.clips()[0].name == "bend");
        REQUIRE(garment.clips()[0].seconds.size() == 25);
        CHECK(garment.clips()[0].seconds.back() == 1);
        for (std::size_t v = 0; v < source.positions.size(); ++v) {
          CHECK(length(mesh.positions[v] - source.positions[v] - Vec3{0, 0.2, 0}) < 1e-7);
        }
        const double tolerance = narrow ? 0.5 / 255 * 1.5 : 2e-7;
        for (std::size_t i = 0; i < 25; ++i) {
          const std::vector<Vec3> positions = posed(garment, 0, i);
          const double angle = test::skinned_angle(garment.clips()[0].seconds[i]);
          for (std::size_t v = 0; v < source.positions.size(); ++v) {
            const Vec3 want = test::skinned_point(source.positions[v], source.upper_weight[v], angle);
            CHECK(length(positions[v] - want) < tolerance);
          }
        }
        CHECK(posed(garment, 0, 7) == posed(garment, 0, 7, test::reversed_executor()));
      }
    }
  }
}

TEST_CASE("texture coordinates and normals of a glTF garment are those of its vertices, v the right way up") {
  const test::SkinnedGarment source = test::make_skinned_garment({});
  const GltfGarment garment = opened(source.bytes);
  const SourceMesh& mesh = garment.mesh();
  REQUIRE(mesh.corner_texcoord.size() == mesh.corner_position.size());
  for (std::size_t c = 0; c < mesh.corner_position.size(); ++c) {
    const Vec3& p = source.positions[mesh.corner_position[c]];
    CHECK(mesh.texcoords[mesh.corner_texcoord[c]].x == Approx(p.x).margin(1e-7));
    CHECK(mesh.texcoords[mesh.corner_texcoord[c]].y == Approx(1 - p.y).margin(1e-7));
    CHECK(mesh.normals[mesh.corner_normal[c]] == Vec3{0, 0, 1});
  }
}

TEST_CASE("a spline with zero tangents passes its keys and eases between them") {
  const GltfGarment garment = opened(test::make_skinned_garment({false, false, false, true}).bytes, 2);
  const test::SkinnedGarment source = test::make_skinned_garment({});
  const std::size_t top = 31;  // full weight of the upper joint
  CHECK(length(posed(garment, 0, 0)[top] - test::skinned_point(source.positions[top], 1, 0)) < 1e-6);
  CHECK(length(posed(garment, 0, 2)[top] - test::skinned_point(source.positions[top], 1, test::skinned_angle(1))) <
        1e-6);
  // Halfway the sum of both keys, normalised, is the rotation halfway.
  CHECK(length(posed(garment, 0, 1)[top] - test::skinned_point(source.positions[top], 1, test::skinned_angle(0.5))) <
        1e-6);
}

TEST_CASE("what trimtack writes as GLB it reads back: morph targets, node keys, shared vertices") {
  for (const UpAxis up : {UpAxis::Y, UpAxis::Z}) {
    test::SampleOptions options;
    options.up = up;
    const test::SampleScene sample(options);
    const test::ScratchFolder folder;
    Result<FileSet> out = FileSet::open(folder.path() / "out");
    REQUIRE(out);
    Report report;
    REQUIRE(write_glb(*out, "scene.glb", sample.scene, {}, report));
    REQUIRE(out->commit());
    GltfReadOptions read;
    read.frames_per_second = 12;  // sample frames are two apart
    const Result<GltfGarment> garment = GltfGarment::open(folder.path() / "out" / "scene.glb", read, report);
    REQUIRE(garment);
    REQUIRE(garment->clips().size() == 1);
    REQUIRE(garment->clips()[0].seconds.size() == sample.scene.frame_numbers.size());
    for (std::size_t i = 0; i < sample.scene.frame_numbers.size(); ++i) {
      const std::vector<Vec3> got = corners(*garment, posed(*garment, 0, i), "cloth");
      const std::vector<Vec3> moved = sample.cloth_at(i);
      double largest = 0;
      for (const Vec3& p : got) {
        double nearest = 1e9;
        for (const Vec3& q : moved)
          nearest = std::min(nearest, length(p - 0.001 * (up == UpAxis::Y ? q : Vec3{q.x, q.z, -q.y})));
        largest = std::max(largest, nearest);
      }
      CHECK(got.size() > 100);
      CHECK(largest < 1e-7);
    }
  }
}

TEST_CASE("trims as nodes: the clasp is rigid at every key, the cloth stays skinned as it was") {
  for (const bool one : {false, true}) {
    CAPTURE(one);
    const test::SkinnedGarment source = test::make_skinned_garment({one, false, false, false});
    const GltfGarment garment = opened(source.bytes);
    RigidGlbRequest request;
    request.trims = {clasp_of(source)};
    request.poses = [](Index clip, std::size_t i, std::span<Pose> poses) -> Result<void> {
      poses[0] = clip == kNone ? Pose{} : pose_at(i);
      return {};
    };
    const Result<std::string> bytes = rigid(garment, request);
    REQUIRE(bytes);
    const GltfGarment again = opened(*bytes);
    CHECK(again.mesh().face_count() == garment.mesh().face_count());
    CHECK(again.mesh().objects == std::vector<std::string>{"coat", "clasp"});
    CHECK(again.mesh().materials == garment.mesh().materials);
    const std::size_t cloth_corners = 3 * source.cloth_triangles;
    std::vector<Vec3> rest;
    for (std::size_t c = cloth_corners; c < garment.mesh().corner_position.size(); ++c) {
      rest.push_back(garment.mesh().positions[garment.mesh().corner_position[c]]);
    }
    REQUIRE(again.clips()[0].seconds == garment.clips()[0].seconds);
    for (std::size_t i = 0; i < 25; ++i) {
      const std::vector<Vec3> before = posed(garment, 0, i), after = posed(again, 0, i);
      const std::vector<Vec3> cloth = corners(again, after, "coat"), clasp = corners(again, after, "clasp");
      REQUIRE(cloth.size() == cloth_corners);
      REQUIRE(clasp.size() == rest.size());
      for (std::size_t c = 0; c < cloth.size(); ++c) CHECK(cloth[c] == before[garment.mesh().corner_position[c]]);
      for (std::size_t c = 0; c < clasp.size(); ++c) CHECK(length(clasp[c] - apply(pose_at(i), rest[c])) < 1e-6);
    }
    CHECK(length(corners(again, posed(again, kNone, 0), "clasp")[0] - rest[0]) < 1e-7);
  }
}

TEST_CASE("trims as weights: all vertices of the clasp share the anchor's weights, the cloth's stay") {
  for (const bool one : {false, true}) {
    CAPTURE(one);
    const test::SkinnedGarment source = test::make_skinned_garment({one, false, false, false});
    const GltfGarment garment = opened(source.bytes);
    RigidGlbRequest request;
    request.as = RigidAs::Weights;
    request.trims = {clasp_of(source)};
    const Result<std::string> bytes = rigid(garment, request);
    REQUIRE(bytes);
    const GltfGarment again = opened(*bytes);
    REQUIRE(again.mesh().positions == garment.mesh().positions);
    double weight = 0;
    for (std::size_t a = 0; a < 3; ++a) {
      weight += request.trims[0].weights[a] * source.upper_weight[request.trims[0].anchor[a]];
    }
    for (std::size_t i = 0; i < 25; ++i) {
      const std::vector<Vec3> before = posed(garment, 0, i), after = posed(again, 0, i);
      const double angle = test::skinned_angle(garment.clips()[0].seconds[i]);
      for (std::size_t v = 0; v < after.size(); ++v) {
        if (v < source.cloth_vertices) {
          CHECK(after[v] == before[v]);
        } else {
          CHECK(length(after[v] - test::skinned_point(source.positions[v], weight, angle)) < 3e-7);
        }
      }
    }
  }
}

TEST_CASE("rigid trims that cannot be written are refused with the reason") {
  const test::SkinnedGarment source = test::make_skinned_garment({});
  const GltfGarment garment = opened(source.bytes);
  RigidGlbRequest request;
  request.trims = {clasp_of(source)};
  CHECK(rigid(garment, request).error().code == ErrorCode::Usage);  // no poses
  request.as = RigidAs::Weights;
  request.trims.push_back(request.trims[0]);
  CHECK_THAT(rigid(garment, request).error().message, Contains("another trim's"));
  request.trims.pop_back();
  request.trims[0].anchor = {kNone, kNone, kNone};
  CHECK_THAT(rigid(garment, request).error().message, Contains("no anchor"));
  request.trims[0] = clasp_of(source);
  request.trims[0].faces = {9999};
  CHECK_THAT(rigid(garment, request).error().message, Contains("not in the file"));
  const test::SampleScene unskinned({});
  const test::ScratchFolder folder;
  Result<FileSet> out = FileSet::open(folder.path() / "out");
  Report report;
  REQUIRE(write_glb(*out, "scene.glb", unskinned.scene, {}, report));
  REQUIRE(out->commit());
  const Result<GltfGarment> stiff = GltfGarment::open(folder.path() / "out" / "scene.glb", {}, report);
  REQUIRE(stiff);
  request.trims[0].faces = {0};
  request.trims[0].anchor = {0, 1, 2};
  CHECK_THAT(rigid(*stiff, request).error().message, Contains("without a skin"));
}

TEST_CASE("malformed and hostile glTF is refused with the reason") {
  const std::string text = test::make_skinned_garment({false, true, false, false}).bytes;
  CHECK_THAT(reason(""), Contains("JSON cannot be read"));
  CHECK_THAT(reason("glTF"), Contains("header"));
  CHECK_THAT(
      reason("{}"),
      Equals(
          "is not valid glTF: key 'asset' not found; the file is damaged or its exporter at fault, export it again"));
  CHECK_THAT(reason(R"({"asset": {"version": "1.0"}})"), Contains("only version 2"));
  CHECK_THAT(reason(R"({"asset": {"version": "2.0"}})"), Contains("no triangle"));
  CHECK_THAT(reason(R"({"asset": {"version": "2.0"}, "extensionsRequired": ["KHR_draco_mesh_compression"]})"),
             Contains("KHR_draco"));
  CHECK_THAT(reason(std::string(100000, '[')), Contains("200 deep"));
  CHECK_THAT(reason(R"({"asset": {"version": "2.0"}, "buffers": [{"byteLength": 4, "uri": "../secret.bin"}]})"),
             Contains("does not lie beside"));
  CHECK_THAT(reason(R"({"asset": {"version": "2.0"}, "buffers": [{"byteLength": 4, "uri": "https://a/b"}]})"),
             Contains("does not lie beside"));
  CHECK_THAT(reason(R"({"asset": {"version": "2.0"}, "buffers": [{"byteLength": 4}]})"), Contains("no data"));
  CHECK_THAT(
      reason(
          R"({"asset": {"version": "2.0"}, "nodes": [{"children": [1]}, {"children": [0]}], "scenes": [{"nodes": [0]}]})"),
      Contains("wrong node"));
  CHECK_THAT(reason(R"({"asset": {"version": "2.0"}, "nodes": [{"children": [2]}, {"children": [2]}, {}]})"),
             Contains("two parents"));
  CHECK_THAT(reason(R"({"asset": {"version": "2.0"}, "nodes": [{"scale": [1, 1]}]})"), Contains("malformed transform"));
  CHECK_THAT(reason(replaced(text, "\"count\": 33", "\"count\": 4000000000")), Contains("leaves its buffer"));
  CHECK_THAT(reason(replaced(text, "\"buffers\": [\n    {\n      \"byteLength\": ",
                             "\"buffers\": [\n    {\n      \"byteLength\": 99")),
             Contains("bytes, but has"));
  CHECK_THAT(reason(replaced(text, "\"joints\": [", "\"joints\": [77,")), Contains("wrong joint"));
  CHECK_THAT(reason(replaced(text, "\"mesh\": 0", "\"mesh\": 5")), Contains("does not exist"));
  CHECK_THAT(reason(replaced(text, "\"skin\": 0", "\"skin\": 5")), Contains("skin that does not exist"));
  CHECK_THAT(reason(replaced(text, "\"attributes\": {", "\"attributes\": {\"TEXCOORD_1\": [[0]], ")),
             Contains("attribute"));
}

TEST_CASE("every truncation of a GLB is refused, and flipped bytes give a mesh with indices in range or an error") {
  const std::string whole = test::make_skinned_garment({}).bytes;
  for (std::size_t size = 0; size < whole.size(); size += 7) CHECK_FALSE(reason(whole.substr(0, size)).empty());
  for (std::size_t at = 0; at < whole.size(); at += 3) {
    std::string flipped = whole;
    flipped[at] = static_cast<char>(flipped[at] ^ (1 << (at % 8)));
    Report report;
    const Result<GltfGarment> garment = GltfGarment::parse(flipped, "coat.glb", {}, {}, report);
    if (!garment) continue;
    const SourceMesh& mesh = garment->mesh();
    for (const Index v : mesh.corner_position) REQUIRE(v < mesh.positions.size());
    std::vector<Vec3> positions(mesh.positions.size());
    for (std::size_t clip = 0; clip < garment->clips().size(); ++clip) {
      (void)garment->pose(static_cast<Index>(clip), 0, positions).has_value();
    }
  }
}
