// SPDX-License-Identifier: MIT
#include "trimtack/io/ply.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <catch2/catch.hpp>
#include <limits>
#include <string>
#include <vector>

using namespace trimtack;
using Catch::Matchers::Contains;

namespace {

Result<SourceMesh> parse(const std::string& bytes, bool faces = true, std::uint64_t max_memory = 0) {
  Report report;
  return parse_ply(bytes, "a.ply", {.faces = faces, .max_memory_bytes = max_memory}, report);
}

std::string reason(const std::string& bytes, std::uint64_t max_memory = 0) {
  const Result<SourceMesh> mesh = parse(bytes, true, max_memory);
  REQUIRE_FALSE(mesh);
  CHECK(mesh.error().code == ErrorCode::BadInput);
  CHECK(mesh.error().subject == "a.ply");
  return mesh.error().message;
}

const std::string kXyz = "property float x\nproperty float y\nproperty float z\n";
const std::string kFaces = "property list uchar int vertex_indices\n";

template <class Number>
void put(std::string& bytes, Number value, bool big) {
  auto item = std::bit_cast<std::array<char, sizeof value>>(value);
  if (big) std::reverse(item.begin(), item.end());
  bytes.append(item.data(), item.size());
}

// A triangle, a quad and a pentagon over 7 vertices with texture coordinates on corners.
SourceMesh sample() {
  SourceMesh mesh;
  mesh.file = "sample";
  for (int i = 0; i < 7; ++i) mesh.positions.push_back({i * 0.1, -i / 3.0, 1e3 + i});
  mesh.texcoords = {{0, 0}, {0.5, 0.25}, {1.5, 7}};
  mesh.normals = {{0, 0, 1}, {1, 0, 0}};
  const std::vector<std::vector<Index>> faces{{0, 1, 2}, {1, 2, 3, 4}, {2, 3, 4, 5, 0}};
  for (const std::vector<Index>& face : faces) {
    for (const Index v : face) {
      mesh.corner_position.push_back(v);
      mesh.corner_texcoord.push_back(face.size() == 3 ? 0 : (v % 3));
      mesh.corner_normal.push_back(face.size() == 5 ? 1 : 0);
    }
    mesh.face_offsets.push_back(static_cast<Index>(mesh.corner_position.size()));
  }
  return mesh;
}

}  // namespace

TEST_CASE("PLY positions and polygons survive writing and reading in each form, to the bit in double") {
  const SourceMesh mesh = sample();
  for (const bool binary : {false, true}) {
    for (const bool float64 : {false, true}) {
      CAPTURE(binary, float64);
      const Result<std::string> bytes =
          write_ply(mesh, {.binary = binary, .float64 = float64, .corner_data = false, .comment = "workshop coat"});
      REQUIRE(bytes);
      const Result<SourceMesh> back = parse(*bytes);
      REQUIRE(back);
      CHECK(back->face_offsets == mesh.face_offsets);
      CHECK(back->corner_position == mesh.corner_position);
      REQUIRE(back->positions.size() == mesh.positions.size());
      for (std::size_t i = 0; i < mesh.positions.size(); ++i) {
        for (int axis = 0; axis < 3; ++axis) {
          // Decimals of a float are the shortest that read back to that float.
          const double got = back->positions[i][axis], want = mesh.positions[i][axis];
          CHECK((float64 ? got == want : static_cast<float>(got) == static_cast<float>(want)));
        }
      }
    }
  }
}

TEST_CASE("PLY corners keep their texture coordinates and normals through split vertices") {
  const SourceMesh mesh = sample();
  const Result<std::string> bytes =
      write_ply(mesh, {.binary = true, .float64 = true, .corner_data = true, .comment = ""});
  REQUIRE(bytes);
  const Result<SourceMesh> back = parse(*bytes);
  REQUIRE(back);
  REQUIRE(back->corner_position.size() == mesh.corner_position.size());
  CHECK(back->face_offsets == mesh.face_offsets);
  std::vector<std::array<Index, 3>> distinct{{6, kNone, kNone}};  // the vertex no face uses stays
  for (std::size_t c = 0; c < mesh.corner_position.size(); ++c) {
    CHECK(back->positions[back->corner_position[c]] == mesh.positions[mesh.corner_position[c]]);
    CHECK(back->texcoords[back->corner_texcoord[c]] == mesh.texcoords[mesh.corner_texcoord[c]]);
    CHECK(back->normals[back->corner_normal[c]] == mesh.normals[mesh.corner_normal[c]]);
    distinct.push_back({mesh.corner_position[c], mesh.corner_texcoord[c], mesh.corner_normal[c]});
  }
  std::sort(distinct.begin(), distinct.end());
  distinct.erase(std::unique(distinct.begin(), distinct.end()), distinct.end());
  CHECK(back->positions.size() == distinct.size());
}

TEST_CASE("a PLY frame has the deformed positions, vertex for vertex") {
  const SourceMesh mesh = sample();
  std::vector<Vec3> moved = mesh.positions;
  for (Vec3& p : moved) p = {p.z, p.x, p.y};
  const Result<std::string> bytes =
      write_ply(mesh, {.binary = true, .float64 = true, .corner_data = false, .comment = ""}, moved);
  REQUIRE(bytes);
  const Result<SourceMesh> back = parse(*bytes, false);
  REQUIRE(back);
  CHECK(back->positions == moved);
  CHECK(back->face_count() == 0);
}

TEST_CASE("PLY data of every scalar type and byte order are read, extra properties skipped and reported") {
  for (const bool big : {false, true}) {
    CAPTURE(big);
    std::string bytes = std::string("ply\r\nformat binary_") + (big ? "big" : "little") +
                        "_endian 1.0\r\ncomment made by hand\r\nobj_info more\r\nelement vertex 3\r\n"
                        "property double x\r\nproperty int16 y\r\nproperty uchar mass\r\nproperty uint z\r\n"
                        "property uchar red\r\nproperty ushort green\r\nproperty float blue\r\n"
                        "element face 1\r\nproperty char flag\r\nproperty list uint ushort vertex_index\r\n"
                        "property list uchar float texcoord\r\nelement edge 2\r\nproperty int a\r\nend_header\r\n";
    for (int i = 0; i < 3; ++i) {
      put(bytes, 0.1 * i, big);
      put(bytes, static_cast<std::int16_t>(-i), big);
      put(bytes, std::uint8_t{99}, big);
      put(bytes, std::uint32_t{4000000000U} + static_cast<std::uint32_t>(i), big);
      put(bytes, std::uint8_t{255}, big);
      put(bytes, std::uint16_t{0}, big);
      put(bytes, 0.5F, big);
    }
    put(bytes, std::int8_t{1}, big);
    put(bytes, std::uint32_t{3}, big);
    for (const std::uint16_t v : {2, 0, 1}) put(bytes, v, big);
    put(bytes, std::uint8_t{2}, big);
    for (int i = 0; i < 2; ++i) put(bytes, 0.25F, big);
    for (int i = 0; i < 2; ++i) put(bytes, 7, big);
    Report report;
    const Result<SourceMesh> mesh = parse_ply(bytes, "a.ply", {}, report);
    REQUIRE(mesh);
    CHECK(mesh->positions[2] == Vec3{0.1 * 2, -2, 4000000002.0});
    CHECK(mesh->colours[0] == Vec3{1, 0, 0.5});
    CHECK(mesh->corner_position == std::vector<Index>{2, 0, 1});
    REQUIRE(report.findings.size() == 1);
    CHECK(report.findings[0].code == "ply-skipped");
    CHECK(report.findings[0].count == 4);
  }
}

TEST_CASE("ASCII PLY takes free spacing, a missing last line end and vertices behind the faces") {
  const std::string text =
      "ply\nformat ascii 1.0\nelement face 1\n" + kFaces + "element vertex 3\n" + kXyz +
      "property float u\nproperty float v\nend_header\n3  0 1\t2\n\n0 0 0 0 0\r\n+1 0 0 1 0\n0 1e0 0 0 1";
  const Result<SourceMesh> mesh = parse(text);
  REQUIRE(mesh);
  CHECK(mesh->positions[1] == Vec3{1, 0, 0});
  CHECK(mesh->texcoords[2] == Vec2{0, 1});
  CHECK(mesh->corner_texcoord == mesh->corner_position);
}

TEST_CASE("a PLY header that claims 4 billion vertices or faces is refused before memory is taken") {
  for (const char* format : {"ascii", "binary_little_endian", "binary_big_endian"}) {
    const std::string start = std::string("ply\nformat ") + format + " 1.0\n";
    CHECK_THAT(reason(start + "element vertex 4294967290\n" + kXyz + "end_header\n0 0 0\n"), Contains("too short"));
    CHECK_THAT(reason(start + "element vertex 18446744073709551615\n" + kXyz + "end_header\n"), Contains("too short"));
    CHECK_THAT(reason(start + "element vertex 0\n" + kXyz + "element face 4000000000\n" + kFaces + "end_header\n"),
               Contains("too short"));
    CHECK_THAT(
        reason(start + "element nothing 4000000000\nelement vertex 18446744073709551616\n" + kXyz + "end_header\n"),
        Contains("not a number"));
  }
  CHECK_THAT(reason("ply\nformat ascii 1.0\nelement vertex 3\n" + kXyz + "end_header\n0 0 0 1 0 0 0 1 0", 50),
             Contains("memory"));
}

TEST_CASE("malformed PLY files are refused with the reason") {
  const std::string ascii = "ply\nformat ascii 1.0\n";
  const std::string three = "element vertex 3\n" + kXyz;
  const std::string rows = "0 0 0\n1 0 0\n0 1 0\n";
  const std::string head = ascii + three + "element face 1\n" + kFaces + "end_header\n" + rows;
  CHECK(parse(head + "3 0 1 2\n"));
  CHECK_THAT(reason(""), Contains("not a PLY file"));
  CHECK_THAT(reason("solid\n"), Contains("not a PLY file"));
  CHECK_THAT(reason(ascii + three), Contains("end_header"));
  CHECK_THAT(reason("ply\nformat ascii 2.0\nend_header\n"), Contains("1.0"));
  CHECK_THAT(reason("ply\nformat utf8 1.0\nend_header\n"), Contains("unknown format"));
  CHECK_THAT(reason("ply\n" + three + "end_header\n" + rows), Contains("'format'"));
  CHECK_THAT(reason(ascii + "end_header\n"), Contains("'vertex'"));
  CHECK_THAT(reason(ascii + "element vertex 1\nproperty float x\nproperty float y\nend_header\n1 1\n"),
             Contains("lacks x, y or z"));
  CHECK_THAT(reason(ascii + "property float x\nend_header\n"), Contains("before the first element"));
  CHECK_THAT(reason(ascii + "element vertex 1\nproperty quad x\nend_header\n"), Contains("unknown type"));
  CHECK_THAT(reason(ascii + "element vertex 1\nproperty list float int x\nend_header\n"), Contains("unknown type"));
  CHECK_THAT(reason(ascii + three + three + "end_header\n"), Contains("listed twice"));
  CHECK_THAT(reason(ascii + three + "property float x\nend_header\n"), Contains("listed twice"));
  CHECK_THAT(reason(ascii + three + "hello\nend_header\n"), Contains("unexpected header line"));
  CHECK_THAT(reason(ascii + three + "element face 1\nproperty int a\nend_header\n" + rows), Contains("vertex_indices"));
  CHECK_THAT(reason(head + "3 0 1\n"), Contains("data end"));
  CHECK_THAT(reason(head + "3 0 1 x\n"), Contains("no number"));
  CHECK_THAT(reason(head + "3 0 1 2 3\n"), Contains("left over"));
  CHECK_THAT(reason(head + "3 0 1 3\n"),
             Contains("does not exist: the file has 3, counted from 0; the file may be cut off"));
  CHECK_THAT(reason(head + "3 0 1 -1\n"), Contains("does not exist"));
  CHECK_THAT(reason(head + "3 0 1 1.5\n"), Contains("does not exist"));
  CHECK_THAT(reason(head + "2 0 1\n"), Contains("at least 3"));
  CHECK_THAT(reason(head + "-3 0 1 2\n"), Contains("negative"));
  CHECK_THAT(reason(head + "99999999999 0 1 2\n"), Contains("longer than the rest"));
  CHECK_THAT(reason(ascii + "element vertex 2\n" + kXyz + "end_header\n0 0 0\n0 nan 0\n"),
             Contains("vertex 1 is not finite"));
  const Result<SourceMesh> located = parse(head + "3 0 1 x\n");
  CHECK(located.error().line == 13);
}

TEST_CASE("every truncation of a binary PLY file is refused") {
  const Result<std::string> bytes = write_ply(sample(), {});
  REQUIRE(bytes);
  for (std::size_t size = 0; size < bytes->size(); ++size) CHECK_FALSE(parse(bytes->substr(0, size)));
  CHECK_FALSE(parse(*bytes + "x"));
}

TEST_CASE("PLY cannot hold a number that is not finite") {
  SourceMesh mesh = sample();
  mesh.positions[3].y = std::numeric_limits<double>::quiet_NaN();
  const Result<std::string> bytes = write_ply(mesh, {});
  REQUIRE_FALSE(bytes);
  CHECK_THAT(bytes.error().message, Contains("vertex 3"));
  mesh.positions[3].y = 1e300;
  CHECK_FALSE(write_ply(mesh, {}));
  CHECK(write_ply(mesh, {.binary = true, .float64 = true, .corner_data = true, .comment = ""}));
}
