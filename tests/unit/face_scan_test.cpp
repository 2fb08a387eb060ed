// SPDX-License-Identifier: MIT
#include "io/face_scan.hpp"

#include <catch2/catch.hpp>
#include <random>
#include <string>

#include "support/scratch_folder.hpp"
#include "support/thread_executor.hpp"
#include "trimtack/io/obj.hpp"
#include "trimtack/table.hpp"

using namespace trimtack;

namespace {

const std::string kTriangle = "v 0 0 0\nv 1 0 0\nv 0 1 0\n";

/// A mesh of several blocks with everything that counts as plain, lines of many lengths.
std::string plain_text(std::size_t faces) {
  std::mt19937_64 random(3);
  std::string text = "# plain\nmtllib a.mtl\n\no piece\ng one two\ns off\nusemtl cloth\nvt 0 0\nvn 0 0 1\n" + kTriangle;
  std::uint64_t vertices = 3;
  for (std::size_t f = 0; f < faces; ++f) {
    if (random() % 3 == 0) {
      text += "v " + std::to_string(random() % 1000) + ".25 0 -1e-3\n";
      ++vertices;
    }
    if (random() % 50 == 0) text += "# " + std::string(random() % 300, '-') + "\n";
    text += 'f';
    const std::uint64_t corners = 3 + random() % 4, form = random() % 4;
    for (std::uint64_t c = 0; c < corners; ++c) {
      text += ' ' + std::to_string(1 + random() % vertices);
      if (form != 0) text += form == 1 ? "/1" : (form == 2 ? "//1" : "/1/1");
    }
    text += '\n';
  }
  return text;
}

}  // namespace

TEST_CASE("faces are scanned as read_obj reads them, on any executor") {
  const test::ScratchFolder scratch;
  test::Threads threads(3);
  for (const std::size_t faces : {0U, 1U, 5000U, 60000U}) {
    const std::string text = plain_text(faces), path = scratch.write("plain.obj", text);
    Report report;
    const Result<SourceMesh> mesh = parse_obj(text, path, {}, report);
    REQUIRE(mesh);
    for (const Executor& executor : {Executor{}, threads.executor()}) {
      const std::optional<ScannedFaces> scanned = scan_faces(path, executor);
      REQUIRE(scanned);
      CHECK(scanned->vertices == mesh->positions.size());
      CHECK(scanned->faces == mesh->face_count());
      CHECK(scanned->fingerprint == cloth_fingerprint(scanned->vertices, mesh->face_offsets, mesh->corner_position));
    }
  }
}

TEST_CASE("anything out of the ordinary is left to read_obj") {
  const test::ScratchFolder scratch;
  CHECK(scan_faces(scratch.write("empty.obj", ""), {}));
  CHECK(scan_faces(scratch.write("plain.obj", kTriangle + "f 1 2 3\n"), {}));
  for (const char* const more :
       {"f 1 2 -1\n", "f 1 2 0\n", "f 1 2 4\n", "f 1 2\n", "f 1 2 3 \n", "f  1 2 3\n", "f 1 2 3", "f 1 \\\n2 3\n",
        "f 1 2 3\r\n", "f 1/ 2 3\n", "f 1/1/1/1 2 3\n", "f 1 2 3 # first\n", " f 1 2 3\n", "fo 1 2 3\n", "l 1 2\n",
        "f 1 2 12345678901\n", "f 1 2 x\n", "v\t1 2 3\n", "call a.obj\n"}) {
    CAPTURE(more);
    CHECK_FALSE(scan_faces(scratch.write("odd.obj", kTriangle + more), {}));
  }
  CHECK_FALSE(scan_faces(scratch.write("long.obj", "# " + std::string(200'000, '-') + "\n"), {}));
  CHECK_FALSE(scan_faces(scratch.path(), {}));
  CHECK_FALSE(scan_faces(scratch.path() / "none.obj", {}));
}
