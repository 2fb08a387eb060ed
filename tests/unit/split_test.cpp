// SPDX-License-Identifier: MIT
#include "trimtack/split.hpp"

#include <catch2/catch.hpp>

#include "trimtack/io/obj.hpp"

using namespace trimtack;

namespace {

// A cloth quad, a trim triangle and a stitch triangle; a spare position; vt 1 shared by all, vt 3 unused; a line on
// the cloth, one from cloth to trim, and a point on the spare position.
const char* const kCoat =
    "mtllib coat.mtl\no Coat\nusemtl drill\nv 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nv 5 0 0 1 0 0\nv 6 0 0\nv 5 1 0\n"
    "v 9 9 9\nv 7 0 0\nv 8 0 0\nv 7 1 0\nvt 0 0\nvt 1 0\nvt 2 0\nvn 0 0 1\n"
    "f 1/1 2/2 3/1 4/1\no Button\nusemtl horn\nf 5/1/1 6/1/1 7/1/1\nl 1 2\nl 2/2 5/1\no Thread\nf 9/1 10/1 11/1\np 8\n"
    "o Coat\nusemtl drill\nf 1/1 3/1 4/1\n";

SourceMesh coat() {
  Report report;
  return std::move(*parse_obj(kCoat, "coat.obj", {}, report));
}

Parts coat_parts() {
  Parts parts;
  parts.components.resize(3);
  parts.components[1].role = Role::Trim;
  parts.components[2].role = Role::Stitching;
  parts.component_of_face = {0, 1, 2, 0};
  return parts;
}

using List = std::vector<Index>;

std::string refused(const SourceMesh& cloth, const SourceMesh& trims, const SourceMesh& stitching,
                    const SplitMaps& maps) {
  const Result<SourceMesh> joined = join(cloth, trims, stitching, maps);
  REQUIRE_FALSE(joined);
  CHECK(joined.error().code == ErrorCode::BadInput);
  return joined.error().message;
}

bool contains(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

}  // namespace

TEST_CASE("each output gets its faces and what they use, the cloth what nothing uses") {
  Report report;
  const SplitMaps maps = split(coat(), coat_parts(), report);
  CHECK(maps.cloth.faces == List{0, 3});
  CHECK(maps.trims.faces == List{1});
  CHECK(maps.stitching.faces == List{2});
  CHECK(maps.cloth.positions == List{0, 1, 2, 3, 7});
  CHECK(maps.trims.positions == List{4, 5, 6});
  CHECK(maps.stitching.positions == List{8, 9, 10});
  CHECK(maps.cloth.texcoords == List{0, 1, 2});
  CHECK(maps.trims.texcoords == List{0});
  CHECK(maps.stitching.texcoords == List{0});
  CHECK(maps.cloth.normals.empty());
  CHECK(maps.trims.normals == List{0});
  CHECK(&maps.of(Role::Trim) == &maps.trims);
}

TEST_CASE("loose elements go with the owner of all their vertices, those that span outputs are kept whole and said") {
  Report report;
  const SplitMaps maps = split(coat(), coat_parts(), report);
  CHECK(maps.cloth.loose == List{0, 2});
  CHECK(maps.cloth.loose_before_face == List{2, 3});
  REQUIRE(maps.spanning.size() == 1);
  CHECK(maps.spanning[0].loose == 1);
  CHECK(maps.spanning[0].kind == ElementKind::Line);
  CHECK(maps.spanning[0].vertices == List{1, 4});
  CHECK(maps.spanning[0].texcoords == List{1, 0});
  CHECK(maps.spanning[0].before_face == 2);
  CHECK(maps.spanning[0].object == "Button");
  CHECK(maps.spanning[0].material == "horn");
  REQUIRE(report.findings.size() == 1);
  CHECK(report.findings[0].code == "split-spanning-element");
}

TEST_CASE("an output holds its own tables, numbers and text") {
  Report report;
  const SourceMesh combined = coat();
  const SplitMaps maps = split(combined, coat_parts(), report);
  const SourceMesh trims = extract(combined, maps.trims);
  CHECK(trims.objects == std::vector<std::string>{"Button"});
  CHECK(trims.materials == std::vector<std::string>{"horn"});
  CHECK(trims.corner_position == List{0, 1, 2});
  CHECK(trims.colours.size() == 3);
  CHECK(trims.text == nullptr);
  ObjWriteOptions options;
  options.part = &maps.trims;
  CHECK(write_obj(combined, options) ==
        "mtllib coat.mtl\nv 5 0 0 1 0 0\nv 6 0 0\nv 5 1 0\nvt 0 0\nvn 0 0 1\no Button\nusemtl horn\n"
        "f 1/1/1 2/1/1 3/1/1\n");
  const SourceMesh cloth = extract(combined, maps.cloth);
  CHECK(cloth.colours.empty());
  CHECK(cloth.corner_normal.empty());
}

TEST_CASE("join refuses maps and meshes that do not fit, and says why") {
  Report report;
  const SourceMesh combined = coat();
  const SplitMaps maps = split(combined, coat_parts(), report);
  const SourceMesh cloth = extract(combined, maps.cloth);
  const SourceMesh trims = extract(combined, maps.trims);
  const SourceMesh stitching = extract(combined, maps.stitching);
  REQUIRE(same_content(*join(cloth, trims, stitching, maps), combined));
  const auto with = [&](auto change) {
    SplitMaps changed = maps;
    change(changed);
    return refused(cloth, trims, stitching, changed);
  };
  CHECK(contains(with([](SplitMaps& m) { m.trims.positions.pop_back(); }), "has 3 positions, its map 2"));
  CHECK(contains(with([](SplitMaps& m) { m.trims.positions.back() = 7; }), "positions have gaps"));
  CHECK(contains(with([](SplitMaps& m) { m.trims.positions.back() = 4000000000U; }), "positions have gaps"));
  CHECK(contains(with([](SplitMaps& m) { std::swap(m.trims.positions[0], m.trims.positions[1]); }),
                 "positions are not in ascending order"));
  CHECK(contains(with([](SplitMaps& m) { m.trims.faces[0] = 0; }), "faces have gaps"));
  CHECK(contains(with([](SplitMaps& m) { m.trims.faces[0] = 4; }), "faces have gaps"));
  CHECK(contains(with([](SplitMaps& m) { m.spanning.clear(); }), "loose elements have gaps"));
  CHECK(contains(with([](SplitMaps& m) { m.spanning[0].vertices[0] = 11; }), "loose element 1 does not fit"));
  CHECK(contains(with([](SplitMaps& m) { m.spanning[0].before_face = 5; }), "loose element 1 does not fit"));
  CHECK(contains(with([](SplitMaps& m) { m.cloth.loose_before_face[0] = 4; }), "loose element 1 does not fit"));
  SourceMesh edited = trims;
  edited.texcoords[0].x = 0.5;
  CHECK(contains(refused(cloth, edited, stitching, maps), "texture coordinate 0 differs between two outputs"));
}

TEST_CASE("a mesh without faces or trims splits and joins") {
  Report report;
  const SourceMesh combined = std::move(*parse_obj("v 0 0 0\nv 1 0 0\nl 1 2\n", "coat.obj", {}, report));
  Parts parts;
  const SplitMaps maps = split(combined, parts, report);
  const SourceMesh nothing = extract(combined, maps.trims);
  CHECK(nothing.face_count() == 0);
  CHECK(same_content(*join(extract(combined, maps.cloth), nothing, nothing, maps), combined));
}
