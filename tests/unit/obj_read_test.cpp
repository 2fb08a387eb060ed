// SPDX-License-Identifier: MIT
#include "trimtack/io/obj.hpp"

#include <catch2/catch.hpp>

using namespace trimtack;

namespace {

SourceMesh parsed(std::string text, Report* report = nullptr) {
  Report own;
  Result<SourceMesh> mesh = parse_obj(std::move(text), "coat.obj", {}, report == nullptr ? own : *report);
  if (!mesh) FAIL(to_text(mesh.error()));
  return *mesh;
}

std::string refused(std::string text) {
  Report report;
  const Result<SourceMesh> mesh = parse_obj(std::move(text), "coat.obj", {}, report);
  REQUIRE_FALSE(mesh);
  CHECK(mesh.error().code == ErrorCode::BadInput);
  return to_text(mesh.error());
}

bool contains(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

const std::string kFour = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nvt 0 0\nvt 1 0\nvt 1 1\nvn 0 0 1\n";

std::vector<Index> corners(const SourceMesh& mesh, Index f) { return {mesh.face(f).begin(), mesh.face(f).end()}; }

}  // namespace

TEST_CASE("all four corner forms give their indices") {
  const SourceMesh mesh = parsed(kFour + "f 1 2 3\nf 1/1 2/2 3/3\nf 1//1 2//1 3//1\nf 1/1/1 2/2/1 3/3/1 4/1/1\n");
  REQUIRE(mesh.face_count() == 4);
  CHECK(corners(mesh, 3) == std::vector<Index>{0, 1, 2, 3});
  CHECK(mesh.corner_texcoord == std::vector<Index>{kNone, kNone, kNone, 0, 1, 2, kNone, kNone, kNone, 0, 1, 2, 0});
  CHECK(mesh.corner_normal == std::vector<Index>{kNone, kNone, kNone, kNone, kNone, kNone, 0, 0, 0, 0, 0, 0, 0});
}

TEST_CASE("negative indices count from the latest entry at their line") {
  const SourceMesh mesh =
      parsed("v 0 0 0\nv 1 0 0\nv 1 1 0\nf -3 -2 -1\nv 5 5 5\nf -4 -3 -1\nvt 0 0\nf 1/-1 2/-1 3/-1\n");
  CHECK(corners(mesh, 0) == std::vector<Index>{0, 1, 2});
  CHECK(corners(mesh, 1) == std::vector<Index>{0, 1, 3});
  CHECK(mesh.corner_texcoord[6] == 0);
}

TEST_CASE("errors name file, line, what is wrong and what there is") {
  CHECK(contains(refused("v 0 0 0\nv 1 nan 0\n"), "coat.obj:2: v: 'nan' is not a finite number"));
  CHECK(contains(refused("v 0 0 0\n\nv 1 0,5 0\n"), "coat.obj:3: v: '0,5' is not a number: OBJ has decimal points"));
  CHECK(contains(refused(kFour + "f 1 2 9\n"),
                 "coat.obj:9: index in '9' names a position that does not exist: the file "
                 "has 4 (1 to 4), 4 of them above this line"));
  CHECK(contains(refused(kFour + "f 1 2 0\n"), "coat.obj:9: index 0"));
  CHECK(contains(refused(kFour + "f 1 2\n"), "coat.obj:9: face with 2 corners"));
  CHECK(contains(refused(kFour + "call other.obj\n"), "coat.obj:9: call asks to run"));
}
