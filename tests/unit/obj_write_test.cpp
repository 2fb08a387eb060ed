// SPDX-License-Identifier: MIT
#include <catch2/catch.hpp>

#include "trimtack/io/obj.hpp"

using namespace trimtack;

namespace {

const std::string kCoat =
    "# workshop chore coat\r\nmtllib coat one.mtl two.mtl\r\no Front\r\ng left panel\r\nusemtl Drill\r\ns 1\r\n"
    "v 0.10 +0 0\r\nv 1e0 0 \\\r\n 0\r\nv\t1 1. -0.0 # corner\r\nv 0 1 0\r\n\r\nv 2 2 2 1 0.5 0.25\r\nvt 0\r\nvt 1 0 "
    "0.5\r\n"
    "vn 0 0 1\r\nf 1/1/1 2/2/1 3/1/1 4/1/1\r\nl 1/1 5/2\r\ns off\r\nf -5 -4 -3\r\np 5\r\no Back\r\nf 1//1 3//1 "
    "4//1\r\n";

SourceMesh parsed(std::string text) {
  Report report;
  Result<SourceMesh> mesh = parse_obj(std::move(text), "coat.obj", {}, report);
  if (!mesh) FAIL(to_text(mesh.error()));
  return *mesh;
}

}  // namespace

TEST_CASE("what is written reads back to the same content, spliced or formatted") {
  const SourceMesh mesh = parsed(kCoat);
  for (const bool splice : {true, false}) {
    ObjWriteOptions options;
    options.splice = splice;
    const std::string text = write_obj(mesh, options);
    INFO(text);
    std::string where;
    CHECK(same_content(mesh, parsed(text), &where));
    CHECK(where.empty());
    CHECK((text.find("v 0.10 +0 0") != std::string::npos) == splice);
  }
}
