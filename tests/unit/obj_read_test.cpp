// SPDX-License-Identifier: MIT
#include "trimtack/io/obj.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <fstream>

#include "support/scratch_folder.hpp"

using namespace trimtack;

namespace {

SourceMesh parsed(std::string text, Report* report = nullptr) {
  Report own;
  Result<SourceMesh> mesh = parse_obj(std::move(text), "coat.obj", {}, report == nullptr ? own : *report);
  if (!mesh) FAIL(to_text(mesh.error()));
  return std::move(*mesh);
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

using Names = std::vector<std::string>;

}  // namespace

TEST_CASE("all four corner forms give their indices") {
  const SourceMesh mesh = parsed(kFour + "f 1 2 3\nf 1/1 2/2 3/3\nf 1//1 2//1 3//1\nf 1/1/1 2/2/1 3/3/1 4/1/1\n");
  REQUIRE(mesh.face_count() == 4);
  CHECK(corners(mesh, 3) == std::vector<Index>{0, 1, 2, 3});
  CHECK(mesh.corner_texcoord == std::vector<Index>{kNone, kNone, kNone, 0, 1, 2, kNone, kNone, kNone, 0, 1, 2, 0});
  CHECK(mesh.corner_normal == std::vector<Index>{kNone, kNone, kNone, kNone, kNone, kNone, 0, 0, 0, 0, 0, 0, 0});
}

TEST_CASE("corner forms may be mixed within a face, and empty places are none") {
  const SourceMesh mesh = parsed(kFour + "f 1 2/2 3//1 4/3/1\nf 1/ 2// 3/1/\n");
  CHECK(mesh.corner_texcoord == std::vector<Index>{kNone, 1, kNone, 2, kNone, kNone, 0});
  CHECK(mesh.corner_normal == std::vector<Index>{kNone, kNone, 0, 0, kNone, kNone, kNone});
  // A list that nothing uses is empty.
  CHECK(parsed(kFour + "f 1/1 2/2 3/3\n").corner_normal.empty());
  CHECK(parsed(kFour + "f 1// 2// 3//\n").corner_texcoord.empty());
}

TEST_CASE("negative indices count from the latest entry at their line") {
  const SourceMesh mesh =
      parsed("v 0 0 0\nv 1 0 0\nv 1 1 0\nf -3 -2 -1\nv 5 5 5\nf -4 -3 -1\nvt 0 0\nf 1/-1 2/-1 3/-1\n");
  CHECK(corners(mesh, 0) == std::vector<Index>{0, 1, 2});
  CHECK(corners(mesh, 1) == std::vector<Index>{0, 1, 3});
  CHECK(mesh.corner_texcoord[6] == 0);
}

TEST_CASE("faces before their vertices are resolved, faces with repeated vertices are kept") {
  const SourceMesh mesh = parsed("f 1 2 3\nf 2 2 2 1\n" + kFour);
  CHECK(corners(mesh, 0) == std::vector<Index>{0, 1, 2});
  CHECK(corners(mesh, 1) == std::vector<Index>{1, 1, 1, 0});
}

TEST_CASE("a backslash before the line end continues any statement, but not a comment") {
  const SourceMesh mesh = parsed(
      "\\\nv 0 \\\n0 \\\r\n0\nv 1 0\\\n0\n# C:\\coat\\\nv 1 1 0 # here too \\\nf 1 \\\n 2 \\\n3\no "
      "left\\\npanel\nf\\\n 1 2 3\n");
  REQUIRE(mesh.positions.size() == 3);
  CHECK(mesh.positions[1] == Vec3{1, 0, 0});
  CHECK(mesh.face_count() == 2);
  CHECK(mesh.objects == Names{"left panel"});
}

TEST_CASE("names keep their blanks and odd characters, states follow the faces") {
  const SourceMesh mesh =
      parsed(kFour +
             "o Front left #2\ng panel  seam\ts\nusemtl Drill 8 oz \ns 1\nf 1 2 3\nf 1 2 4\n"
             "g\ns off\nf 1 3 4\no Front left #2\nusemtl horn\nusemtl Drill 8 oz\nf 2 3 4\no last\n");
  CHECK(mesh.objects == Names{"Front left #2", "last"});
  CHECK(mesh.groups == Names{"panel  seam\ts", ""});
  CHECK(mesh.materials == Names{"Drill 8 oz", "horn"});
  CHECK(mesh.smoothings == Names{"1", "off"});
  REQUIRE(mesh.states.size() == 2);  // nothing that changes nothing, nothing behind the last face
  CHECK(mesh.states[0].first_face == 0);
  CHECK(mesh.states[1].first_face == 2);
  CHECK(state_of(mesh, 3) == FaceState{0, 1, 1, 0});
}

TEST_CASE("several material libraries, also on one line and with blanks in their names") {
  const SourceMesh mesh = parsed("mtllib coat.mtl my trims.MTL \nmtllib coat.mtl\nmtllib folder/a.mtl.bak b\n" + kFour);
  CHECK(mesh.material_libraries == Names{"coat.mtl", "my trims.MTL", "folder/a.mtl.bak b"});
}

TEST_CASE("weights, colours and alpha are kept apart and absent where a v has none") {
  const SourceMesh mesh = parsed("v 0 0 0\nv 0 0 0 2\nv 0 0 0 .1 .2 .3\nv 0 0 0 .4 .5 .6 .7\nv 0 0 0\n");
  REQUIRE(mesh.position_weights.size() == 5);
  REQUIRE(mesh.colours.size() == 5);
  REQUIRE(mesh.colour_alpha.size() == 5);
  CHECK(mesh.position_weights[1] == 2);
  CHECK(std::isnan(mesh.position_weights[2]));
  CHECK(mesh.colours[2] == Vec3{.1, .2, .3});
  CHECK(mesh.colours[3] == Vec3{.4, .5, .6});
  CHECK(std::isnan(mesh.colours[4].x));
  CHECK(mesh.colour_alpha[3] == .7);
  CHECK(std::isnan(mesh.colour_alpha[2]));
  CHECK(parsed(kFour).colours.empty());
}

TEST_CASE("texture coordinates have one to three numbers") {
  const SourceMesh mesh = parsed("vt 0.5\nvt 0.25 3.75\nvt 1 2 3\n");
  CHECK(mesh.texcoords == std::vector<Vec2>{{0.5, 0}, {0.25, 3.75}, {1, 2}});
  CHECK(std::isnan(mesh.texcoord_w[0]));
  CHECK(mesh.texcoord_w[2] == 3);
}

TEST_CASE("lines and points are kept with their place and state") {
  const SourceMesh mesh = parsed(kFour + "p 1 -1\no a\nf 1 2 3\nl 1/1 2/2 3\no b\nl 1 2\n");
  REQUIRE(mesh.loose.size() == 3);
  CHECK(mesh.loose[0].kind == ElementKind::Point);
  CHECK(mesh.loose[0].vertices == std::vector<Index>{0, 3});
  CHECK(mesh.loose[0].state == FaceState{});
  CHECK(mesh.loose[1].texcoords == std::vector<Index>{0, 1, kNone});
  CHECK(mesh.loose[1].before_face == 1);
  CHECK(mesh.loose[1].state.object == 0);
  CHECK(mesh.loose[2].texcoords.empty());
  CHECK(mesh.loose[2].state.object == 1);
}

TEST_CASE("what is left out is reported once a kind, with count and first line") {
  Report report;
  parsed("# a\nvp 0 1\ncstype bezier\n" + kFour + "bevel on\nwibble 1 2 \\\n3\nend\nwobble\n", &report);
  REQUIRE(report.findings.size() == 3);
  CHECK(report.findings[0].code == "obj-free-form");
  CHECK(report.findings[0].count == 3);
  CHECK(report.findings[0].line == 2);
  CHECK(report.findings[0].subject == "coat.obj");
  CHECK(report.findings[1].code == "obj-display");
  CHECK(report.findings[1].severity == Severity::Note);
  CHECK(report.findings[2].code == "obj-unknown");
  CHECK(report.findings[2].count == 2);
  CHECK(report.findings[2].line == 13);
  CHECK(contains(report.findings[2].message, "'wibble'"));
}

TEST_CASE("a byte order mark, tabs, blank lines, blanks in front and no newline at the end") {
  const SourceMesh mesh = parsed("\xef\xbb\xbfv\t0\t0 0\n\n  \t\n\tv 1 0 0  \n v 0 1 0\n  f   1\t2  3");
  CHECK(mesh.positions.size() == 3);
  CHECK(mesh.face_count() == 1);
}

TEST_CASE("line ends may be LF, CR LF or CR, also mixed; line numbers in errors count each once") {
  CHECK(parsed("v 0 0 0\rv 1 0 0\r\nv 0 1 0\nf 1 2 3\r").face_count() == 1);
  CHECK(contains(refused("v 0 0 0\rv 1 0 0\r\n\r\nv 0 x 0\n"), "coat.obj:4: "));
}

TEST_CASE("lines of more than 64 KiB are read whole") {
  std::string text;
  std::string face = "f";
  for (int i = 1; i <= 30000; ++i) {
    text += "v " + std::to_string(i) + " 0 0\n";
    face += ' ' + std::to_string(i);
  }
  const std::string name(100000, 'n');
  const SourceMesh mesh = parsed(text + "o " + name + "\n# " + std::string(70000, '-') + '\n' + face + '\n');
  CHECK(mesh.face(0).size() == 30000);
  CHECK(mesh.objects[0] == name);
}

TEST_CASE("an empty text is an empty mesh") {
  CHECK(parsed("").face_count() == 0);
  CHECK(parsed("# nothing\n\n").positions.empty());
}

TEST_CASE("errors name file, line, what is wrong and what there is") {
  CHECK(contains(refused("v 0 0 0\nv 1 nan 0\n"), "coat.obj:2: v: 'nan' is not a finite number"));
  CHECK(contains(refused("v 0 0 0\nvt -inf 0\n"), "coat.obj:2: vt: '-inf' is not a finite number"));
  CHECK(contains(refused("vn 0 0 1.#QNAN\n"), "coat.obj:1: vn: '1.#QNAN' is not a finite number"));
  CHECK(contains(refused("v 0 0 1e999\n"), "coat.obj:1: v: '1e999' is larger than any double"));
  CHECK(contains(refused("v 0 0 0\n\nv 1 0,5 0\n"), "coat.obj:3: v: '0,5' is not a number: OBJ has decimal points"));
  CHECK(contains(refused("v 0 0 0x1\n"), "coat.obj:1: v: '0x1' is not a number"));
  CHECK(contains(refused("v 0 0\n"), "coat.obj:1: v has 2 numbers"));
  CHECK(contains(refused("v 1 2 3 4 5\n"), "coat.obj:1: v has 5 numbers"));
  CHECK(contains(refused("v 1 2 3 4 5 6 7 8\n"), "coat.obj:1: v has more than 7 numbers"));
  CHECK(contains(refused("vt\n"), "coat.obj:1: vt has no numbers"));
  CHECK(contains(refused("vn 1 2\n"), "coat.obj:1: vn has 2 numbers"));
  CHECK(contains(
      refused(kFour + "f 1 2 9\n"),
      "coat.obj:9: index in '9' names a position that does not exist: the file has 4 (1 to 4), 4 of them above "
      "this line"));
  CHECK(contains(refused(kFour + "f 1 2 -5\n"), "coat.obj:9: index in '-5' names a position that does not exist"));
  CHECK(contains(refused(kFour + "f 1/4 2/1 3/1\n"), "coat.obj:9: index in '1/4' names a texture coordinate that"));
  CHECK(contains(refused(kFour + "f 1//2 2//1 3//1\n"), "coat.obj:9: index in '1//2' names a normal that"));
  CHECK(contains(refused("v 0 0 0\nv 0 0 0\nv 0 0 0\nf 1/1 2/1 3/1\n"),
                 "coordinate that does not exist: the file has 0, "));
  CHECK(contains(refused(kFour + "f 1 2 99999999999999999999\n"), "coat.obj:9: index in '99999999999999999999' names"));
  CHECK(contains(refused(kFour + "f 1 2 -99999999999999999999\n"), "coat.obj:9: index in"));
  CHECK(contains(refused(kFour + "l 1 7\n"), "coat.obj:9: index in '7' names a position"));
  CHECK(contains(refused(kFour + "f 1 2 0\n"), "coat.obj:9: index 0 in '0'"));
  CHECK(contains(refused(kFour + "f 1/0 2/1 3/1\n"), "coat.obj:9: index 0 in '1/0'"));
  CHECK(contains(refused(kFour + "f 1 2\n"), "coat.obj:9: face with 2 corners"));
  CHECK(contains(refused(kFour + "f\n"), "coat.obj:9: face with 0 corners"));
  CHECK(contains(refused(kFour + "f 1 2 x\n"), "coat.obj:9: index expected in 'x'"));
  CHECK(contains(refused(kFour + "f 1 2 3.0\n"), "coat.obj:9: '3.0' is not a corner"));
  CHECK(contains(refused(kFour + "f 1/1/1/1 2 3\n"), "coat.obj:9: '1/1/1/1' is not a corner"));
  CHECK(contains(refused(kFour + "l 1//1 2\n"), "coat.obj:9: '1//1' is not v or v/vt"));
  CHECK(contains(refused(kFour + "p\n"), "coat.obj:9: point element without vertices"));
  CHECK(contains(refused(kFour + "call other.obj\n"), "coat.obj:9: call asks to run"));
  CHECK(contains(refused(kFour + "csh -f rm\n"), "coat.obj:9: csh asks to run"));
  CHECK(contains(refused("solid coat\nfacet normal 0 0 1\n"), "coat.obj:1: not an OBJ file"));
}

TEST_CASE("the first error in the file is the one that is named, whatever the block size") {
  std::string text = kFour;
  for (int i = 0; i < 100; ++i) text += "f 1 2 3\n";
  text += "v 0 0 x\nf 1 2 0\n";
  for (const std::size_t bytes : {1U, 20U, 100U, 100000U}) {
    ObjReadOptions options;
    options.block_bytes = bytes;
    Report report;
    const Result<SourceMesh> mesh = parse_obj(text, "coat.obj", options, report);
    REQUIRE_FALSE(mesh);
    CHECK(mesh.error().line == 109);
  }
}

TEST_CASE("an index out of range is found in whatever block it stands") {
  std::string text = kFour;
  for (int i = 0; i < 50; ++i) text += "v 0 0 0\nf -1 -2 -3\n";
  text += "f -1 -2 -55\n";
  for (int i = 0; i < 50; ++i) text += "v 0 0 0\n";
  for (const std::size_t bytes : {1U, 33U, 100000U}) {
    ObjReadOptions options;
    options.block_bytes = bytes;
    Report report;
    const Result<SourceMesh> mesh = parse_obj(text, "coat.obj", options, report);
    REQUIRE_FALSE(mesh);
    CHECK(to_text(mesh.error()) ==
          "coat.obj:109: index in '-55' names a position that does not exist: the file has 104 (1 to 104), 54 of them "
          "above this line; the file may be cut off or damaged, export it again");
  }
}

TEST_CASE("a limit on memory is kept, and said") {
  std::string text;
  for (int i = 0; i < 200000; ++i) text += "v 1 1 1\n";
  ObjReadOptions options;
  options.max_memory_bytes = 4 << 20;
  Report report;
  const Result<SourceMesh> mesh = parse_obj(text, "coat.obj", options, report);
  REQUIRE_FALSE(mesh);
  CHECK(contains(to_text(mesh.error()), "needs more memory than the limit of 4 MiB"));
  options.max_memory_bytes = 64 << 20;
  CHECK(parse_obj(text, "coat.obj", options, report).has_value());
}

TEST_CASE("positions alone are those of the whole mesh, whatever stands between them") {
  const std::string text =
      "mtllib a.mtl\nv 1 2 3\nvt 0.5 0.5\nvn 0 0 1\nv\\\n 4 5 \\\n 6 0.1 0.2 0.3\n# v 9 9 9\nf 1/1 2/1 \\\n 3/1\n"
      "l 1/1 2/1\nvp 1 2\n\tv 7 8 9\r\nf 1 2 99\nnonsense \\\nv 5 5 5\n";
  Report report;
  for (const std::size_t block : {std::size_t{1}, std::size_t{17}, std::size_t{1} << 18}) {
    const Result<SourceMesh> mesh = parse_obj(
        text, "frame.obj", {.keep_text = false, .positions_only = true, .block_bytes = block, .executor = {}}, report);
    REQUIRE(mesh);
    CHECK(mesh->positions == std::vector<Vec3>{{1, 2, 3}, {4, 5, 6}, {7, 8, 9}});
    CHECK(mesh->face_count() == 0);
    CHECK(report.findings.empty());
  }
  const Result<SourceMesh> damaged =
      parse_obj("v 1 2\n", "frame.obj", {.keep_text = false, .positions_only = true, .executor = {}}, report);
  REQUIRE_FALSE(damaged);
  CHECK(contains(to_text(damaged.error()), "v has 2 numbers"));
}

TEST_CASE("normals left to the text are looked at, counted and spliced, but not kept") {
  const std::string text = kFour + "vn 1 0 0.25\nf 1/1/1 2/2/2 3/3/-1\n";
  for (const std::size_t block : {std::size_t{1}, std::size_t{17}, std::size_t{1} << 18}) {
    ObjReadOptions options;
    options.leave_normals = true;
    options.block_bytes = block;
    Report report;
    const Result<SourceMesh> mesh = parse_obj(text, "coat.obj", options, report);
    REQUIRE(mesh);
    CHECK(mesh->normals.empty());
    CHECK(normal_count(*mesh) == 2);
    CHECK(mesh->corner_normal == std::vector<Index>{0, 1, 1});
    CHECK(write_obj(*mesh, {}) == write_obj(parsed(text), {}));
    CHECK(to_text(parse_obj(kFour + "vn 0 1 x\n", "coat.obj", options, report).error()) ==
          refused(kFour + "vn 0 1 x\n"));
    CHECK(to_text(parse_obj(kFour + "f 1//1 2//1 3//2\n", "coat.obj", options, report).error()) ==
          refused(kFour + "f 1//1 2//1 3//2\n"));
  }
}

namespace {

/// A file, and what replaces it once all of it has been parsed.
struct Change {
  std::filesystem::path path;
  std::string text;
};

void run_then_change(void* self, std::size_t count, Executor::Task task, void* context) {
  for (std::size_t i = 0; i < count; ++i) task(context, i);
  const Change& change = *static_cast<const Change*>(self);
  std::ofstream(change.path, std::ios::binary) << change.text;
}

}  // namespace

TEST_CASE("a file that is mended while its bad index is looked for has changed") {
  const test::ScratchFolder folder;
  Change change{folder.path() / "coat.obj", kFour + "f 1 2 3\n"};
  std::ofstream(change.path, std::ios::binary) << kFour + "f 1 2 9\n";
  ObjReadOptions options;
  options.executor = {run_then_change, &change, 2};
  options.block_bytes = 16;  // one alone is not given to the executor
  Report report;
  const Result<SourceMesh> mesh = read_obj(change.path, options, report);
  REQUIRE_FALSE(mesh);
  CHECK(to_text(mesh.error()) == change.path.string() + ": was changed while it was being read; run the command again");
}

TEST_CASE("files are read as text in memory is") {
  const test::ScratchFolder folder;
  const std::filesystem::path path = folder.path() / "coat.obj";
  std::string text;
  for (int i = 0; i < 400000; ++i) text += "v " + std::to_string(i) + ".125 0 -1\n";
  text += "f 1 2 3\nf -1 -2 -3\n";
  std::ofstream(path, std::ios::binary) << text;
  Report report;
  const Result<SourceMesh> mesh = read_obj(path, {}, report);
  REQUIRE(mesh);
  CHECK(mesh->file == path.string());
  std::string room;
  CHECK(*mesh->text->read(0, text.size(), room) == text);
  CHECK(mesh->text->count == std::array<Index, 3>{400000, 0, 0});
  CHECK(same_content(*mesh, parsed(text)));
  ObjReadOptions options;
  options.keep_text = false;
  CHECK(read_obj(path, options, report)->text == nullptr);
  options.max_memory_bytes = 1000;
  CHECK(contains(to_text(read_obj(path, options, report).error()), "more memory than the limit"));
  CHECK(contains(to_text(read_obj(folder.path() / "none.obj", {}, report).error()), "none.obj: does not exist"));
  CHECK(contains(to_text(read_obj(folder.path(), {}, report).error()), "is a folder"));
  std::ofstream(folder.path() / "empty.obj").flush();
  CHECK(read_obj(folder.path() / "empty.obj", {}, report)->positions.empty());
}
