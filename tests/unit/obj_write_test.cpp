// SPDX-License-Identifier: MIT
#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <limits>
#include <random>
#include <string>

#include "support/scratch_folder.hpp"
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
  return std::move(*mesh);
}

bool same(const SourceMesh& a, const SourceMesh& b) {
  std::string where;
  const bool result = same_content(a, b, &where);
  if (!result) UNSCOPED_INFO(where);
  return result;
}

}  // namespace

TEST_CASE("what is written reads back to the same content, spliced or formatted") {
  const SourceMesh mesh = parsed(kCoat);
  for (const bool splice : {true, false}) {
    ObjWriteOptions options;
    options.splice = splice;
    const std::string text = write_obj(mesh, options);
    INFO(text);
    CHECK(same(mesh, parsed(text)));
    CHECK((text.find("v 0.10 +0 0") != std::string::npos) == splice);
  }
}

TEST_CASE("the order of statements is fixed, states stand where they change") {
  CHECK(write_obj(parsed(kCoat), {"made by\nhand", false, {}}) ==
        "# made by\n# hand\nmtllib coat one.mtl\nmtllib two.mtl\nv 0.1 0 0\nv 1 0 0\nv 1 1 -0\nv 0 1 0\nv 2 2 2 1 0.5 "
        "0.25\n"
        "vt 0 0\nvt 1 0 0.5\nvn 0 0 1\no Front\ng left panel\nusemtl Drill\ns 1\nf 1/1/1 2/2/1 3/1/1 4/1/1\nl 1/1 5/2\n"
        "s off\nf 1 2 3\np 5\no Back\nf 1//1 3//1 4//1\n");
}

TEST_CASE("numbers are the shortest that read back to the same bits") {
  SourceMesh mesh;
  std::mt19937_64 random(9);
  for (int i = 0; i < 20000; ++i) {
    const auto number = [&] { return static_cast<double>(static_cast<std::int64_t>(random())) / 7e15; };
    mesh.positions.push_back({number(), number(), number()});
  }
  mesh.positions.push_back({std::numeric_limits<double>::max(), std::numeric_limits<double>::denorm_min(), -0.0});
  mesh.positions.push_back({0.1, 100000, 1e22});
  const std::string text = write_obj(mesh, {});
  CHECK(same(mesh, parsed(text)));
  CHECK(text.find("v 0.1 100000 1e+22\n") != std::string::npos);
}

TEST_CASE("changed positions are written, not the text of the old ones") {
  SourceMesh mesh = parsed("v 0.10 0 0\nv 1.0 0 0\nv 0 1.0 0\nvn 0 0 1.0\nf 1//1 2//1 3//1\n");
  set_positions(mesh, {{7, 0, 0}, {8, 0, 0}, {7, 1, 0}});
  CHECK(write_obj(mesh, {}) == "v 7 0 0\nv 8 0 0\nv 7 1 0\nvn 0 0 1.0\nf 1//1 2//1 3//1\n");
}

TEST_CASE("names cannot break the file: line breaks become blanks, a last backslash continues nothing") {
  SourceMesh mesh = parsed("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\nf 1 2 3\n");
  mesh.groups = {"left\nv 9 9 9", "C:\\coat\\"};
  mesh.states = {{0, {kNone, 0, kNone, kNone}}, {1, {kNone, 1, kNone, kNone}}};
  const SourceMesh again = parsed(write_obj(mesh, {}));
  CHECK(again.positions.size() == 3);
  CHECK(again.groups == std::vector<std::string>{"left v 9 9 9", "C:\\coat\\"});
  // A name cut off by the end of its file.
  const SourceMesh cut = parsed("v 0 0 0\nv 1 0 0\nv 0 1 0\ng tail\nf 1 2 3\ng end\\");
  CHECK(same(cut, parsed(write_obj(cut, {}))));
}

TEST_CASE("a spliced statement that ends with a continuation and CR does not swallow the next line") {
  const SourceMesh mesh = parsed("v 0 0 \\\r0 \\\r\rg left\rv 1 0 0\rv 0 1 0 \\\r\rg right\rf 1 2 3\r");
  REQUIRE(mesh.positions.size() == 3);
  const std::string text = write_obj(mesh, {});
  INFO(text);
  CHECK(same(mesh, parsed(text)));
}

TEST_CASE("a mesh without text, and one without anything, can be written") {
  CHECK(write_obj({}, {}).empty());
  SourceMesh mesh;
  mesh.positions = {{0, 0, 0}, {1, 0, 0}, {0, 1, 0}};
  mesh.loose = {{ElementKind::Point, {2}, {}, 0, {}}};
  CHECK(write_obj(mesh, {}) == "v 0 0 0\nv 1 0 0\nv 0 1 0\np 3\n");
}

TEST_CASE("pieces handed over one after the other are the text") {
  const SourceMesh mesh = parsed(kCoat);
  std::string joined;
  const Result<void> done = write_obj(mesh, {}, [&](std::string_view piece) -> Result<void> {
    joined += piece;
    return {};
  });
  CHECK(done.has_value());
  CHECK(joined == write_obj(mesh, {}));
  const Result<void> failed = write_obj(mesh, {}, [](std::string_view) -> Result<void> {
    return Error{ErrorCode::CannotWrite, "disk full", "cloth.obj", 0};
  });
  REQUIRE_FALSE(failed);
  CHECK(failed.error().message == "disk full");
}

namespace {

SourceMesh parsed_in_blocks(const std::string& text, std::size_t block_bytes) {
  Report report;
  ObjReadOptions options;
  options.block_bytes = block_bytes;
  Result<SourceMesh> mesh = parse_obj(text, "coat.obj", options, report);
  REQUIRE(mesh);
  return std::move(*mesh);
}

}  // namespace

TEST_CASE("spliced text is the same whatever blocks the source was read in") {
  std::string odd =
      "v 0.10 0 0\r\n v 1.0 0 0\r\n\r\nv 0 1.0 \\\r\n 0\n\n\nv 1 1 0 # a\n# b\rv 2 2 0\n vn 0 0 1.0\r\nvt 0 0\r";
  odd += "vt 1.0 0\r\nv 3 3 3 \\\r\r\ng a # b\nf 1/1/1 2/2/1 3/1/1\r\nvn 1.0 0 0\nv 4.0 4 4\n";
  const std::string whole = write_obj(parsed_in_blocks(odd, odd.size()), {});
  CHECK(same(parsed(whole), parsed(odd)));
  for (std::size_t bytes = 1; bytes < 64; ++bytes) {
    INFO("blocks of " << bytes);
    CHECK(write_obj(parsed_in_blocks(odd, bytes), {}) == whole);
  }
  std::string many;
  for (int i = 0; i < 10000; ++i) many += "v " + std::to_string(i) + ".0 0 0\r\n";
  const std::string joined = write_obj(parsed_in_blocks(many, many.size()), {});
  for (const std::size_t bytes : {1000, 4096, 50001}) CHECK(write_obj(parsed_in_blocks(many, bytes), {}) == joined);
}

TEST_CASE("lines copied together are those that the parser finds one by one") {
  const std::vector<std::string> plain{"v 1.0 2 3\n", "v 1 2 3 # a\n", "vt 0.50 1\n", "vn 0 0 1.0\n"};
  const std::vector<std::string> odd{"\n",    " v 1 1 1.0\n",     "# a\n",          "v\t1 1.0 1\n", "vp 1 1\n",
                                     "vtx\n", "v 1 2.0 \\\n 3\n", "vn 1.0 0 0\r\n", "\t\n",         "vt 1.0\r"};
  std::mt19937 random(7);
  const auto one_of = [&](const std::vector<std::string>& list) { return list[random() % list.size()]; };
  const auto some_of = [&](std::size_t count) {
    std::vector<Index> list;
    for (Index i = 0; i < count; ++i)
      if (random() % 3 != 0) list.push_back(i);
    return list;
  };
  for (int round = 0; round < 200; ++round) {
    std::string text;
    const unsigned odd_in_hundred = round % 4 == 0 ? 0 : static_cast<unsigned>(round) % 20;
    std::string usual = one_of(plain);
    for (int i = 0; i < 100; ++i) {
      if (round % 3 == 0 || random() % 8 == 0) usual = one_of(plain);
      text += random() % 100 < odd_in_hundred ? one_of(odd) : usual;
    }
    if (round % 5 == 0) text.pop_back();
    const SourceMesh mesh = parsed_in_blocks(text, text.size());
    SubsetMap part;
    part.positions = some_of(mesh.positions.size());
    part.texcoords = some_of(mesh.texcoords.size());
    part.normals = some_of(mesh.normals.size());
    ObjWriteOptions options;
    for (const SubsetMap* const selected :
         {static_cast<const SubsetMap*>(nullptr), static_cast<const SubsetMap*>(&part)}) {
      INFO(text << (selected == nullptr ? "\nall" : "\nsome"));
      options.part = selected;
      const std::string whole = write_obj(mesh, options);
      const SourceMesh again = parsed(whole);
      CHECK(again.positions.size() == (selected == nullptr ? mesh.positions.size() : part.positions.size()));
      CHECK(again.normals.size() == (selected == nullptr ? mesh.normals.size() : part.normals.size()));
      if (selected == nullptr) CHECK(same(again, parsed(text)));
      for (const std::size_t bytes : {1, 40, 200, 700})
        CHECK(write_obj(parsed_in_blocks(text, bytes), options) == whole);
    }
  }
}

TEST_CASE("a part's corners name its own numbers, whether the kinds are selected alike or not") {
  const std::string text =
      "v 0 0 0\nv 1 0 0\nv 0 1 0\nv 1 1 0\nvt 0 0\nvt 1 0\nvt 0 1\nvt 1 1\nvn 0 0 1\nvn 0 1 0\nvn 1 0 0\nvn 1 1 0\n"
      "f 1/1/1 2/2/2 3/3/3\nf 2/2/2 4/4/4 3/1/2\n";
  const SourceMesh mesh = parsed(text);
  SubsetMap part;
  part.positions = {1, 2, 3};
  part.texcoords = {0, 1, 3};
  part.normals = {1, 3};
  part.faces = {1};
  ObjWriteOptions options;
  options.part = &part;
  CHECK(write_obj(mesh, options) ==
        "v 1 0 0\nv 0 1 0\nv 1 1 0\nvt 0 0\nvt 1 0\nvt 1 1\nvn 0 1 0\nvn 1 1 0\nf 1/2/1 3/3/2 2/1/1\n");
  part.faces = {0};
  part.positions = part.texcoords = part.normals = {0, 1, 2};
  CHECK(write_obj(mesh, options) ==
        "v 0 0 0\nv 1 0 0\nv 0 1 0\nvt 0 0\nvt 1 0\nvt 0 1\nvn 0 0 1\nvn 0 1 0\nvn 1 0 0\nf 1/1/1 2/2/2 3/3/3\n");
}

TEST_CASE("the text stays in its file, and a file that was changed meanwhile is found out") {
  const test::ScratchFolder folder;
  const std::filesystem::path path = folder.path() / "coat.obj";
  const std::string text = "v 0.10 0 0\nv 1.0 0 0\nv 0 1.0 0\nvn 0 0 1.0\nf 1//1 2//1 3//1\n";
  const auto save = [&](const std::string& bytes) { std::ofstream(path, std::ios::binary) << bytes; };
  save(text);
  Report report;
  const Result<SourceMesh> mesh = read_obj(path, {}, report);
  REQUIRE(mesh);
  CHECK(write_obj(*mesh, {}) == text);
  const auto written = [&] { return write_obj(*mesh, {}, [](std::string_view) { return Result<void>(); }); };
  CHECK(written());
  save("v 0.10 0 0\nv 1.0 0 0\nv 0 1.1 0\nvn 0 0 1.0\nf 1//1 2//1 3//1\n");
  REQUIRE_FALSE(written());
  CHECK(to_text(written().error()) ==
        path.string() + ": was changed while it was being worked on; run the command again");
  CHECK(write_obj(*mesh, {}) == "v 0.1 0 0\nv 1 0 0\nv 0 1 0\nvn 0 0 1\nf 1//1 2//1 3//1\n");
  save("v 0.10 0 0\n");
  CHECK_FALSE(written());
  save(text);
  CHECK(written());
  std::filesystem::remove(path);  // still open
  CHECK(write_obj(*mesh, {}) == text);
}

TEST_CASE("normals may be left to the text") {
  const std::string text = "v 0 0 0\nv 1 0 0\nv 0 1 0\nvn 0 0 1.0\nf 1//1 2//1 3//1\n";
  SourceMesh mesh = parsed(text);
  mesh.normals.clear();
  CHECK(normal_count(mesh) == 1);
  CHECK(write_obj(mesh, {}) == text);
  ObjWriteOptions options;
  options.splice = false;
  CHECK_FALSE(write_obj(mesh, options, [](std::string_view) { return Result<void>(); }));
}
