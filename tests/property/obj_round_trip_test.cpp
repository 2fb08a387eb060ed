// SPDX-License-Identifier: MIT
// Laws of reading and writing OBJ on random files of awkward features. Seeds are printed on failure.
#include <catch2/catch.hpp>

#include "support/random_obj.hpp"
#include "support/reversed_executor.hpp"
#include "support/thread_executor.hpp"
#include "trimtack/io/obj.hpp"

using namespace trimtack;
using test::RandomObj;
using test::RandomObjOptions;

namespace {

constexpr std::uint64_t kSeeds = 400;

SourceMesh parsed(std::string text, const ObjReadOptions& options = {}) {
  Report report;
  Result<SourceMesh> mesh = parse_obj(std::move(text), "coat.obj", options, report);
  if (!mesh) FAIL(to_text(mesh.error()));
  return std::move(*mesh);
}

std::string text_of(std::uint64_t seed, const char* line = "\n") {
  RandomObjOptions options;
  options.line = line;
  return RandomObj(seed, options).make();
}

void check_same(const SourceMesh& a, const SourceMesh& b) {
  std::string where;
  CHECK(same_content(a, b, &where));
  CHECK(where.empty());
}

}  // namespace

TEST_CASE("writing and reading gives the same content, spliced or formatted") {
  for (std::uint64_t seed = 1; seed <= kSeeds; ++seed) {
    INFO("seed " << seed);
    const SourceMesh mesh = parsed(text_of(seed));
    REQUIRE(mesh.face_count() > 0);
    for (const bool splice : {true, false}) {
      ObjWriteOptions options;
      options.splice = splice;
      options.header = "written by a test\nsecond line";
      const std::string text = write_obj(mesh, options);
      check_same(mesh, parsed(text));
      // Written once more, nothing changes any more.
      CHECK(write_obj(parsed(text), options) == text);
    }
  }
}

TEST_CASE("line ends change nothing: LF, CR LF and CR give the same content") {
  for (std::uint64_t seed = 1; seed <= kSeeds; ++seed) {
    INFO("seed " << seed);
    const SourceMesh mesh = parsed(text_of(seed));
    check_same(mesh, parsed(text_of(seed, "\r\n")));
    check_same(mesh, parsed(text_of(seed, "\r")));
  }
}

TEST_CASE("block size and executor change nothing, to the byte of what is written") {
  for (std::uint64_t seed = 1; seed <= kSeeds / 4; ++seed) {
    INFO("seed " << seed);
    const std::string text = text_of(seed, seed % 2 == 0 ? "\r\n" : "\n");
    const SourceMesh mesh = parsed(text);
    const std::string written = write_obj(mesh, {});
    for (const std::size_t bytes : {1U, 7U, 64U, 1000U}) {
      ObjReadOptions options;
      options.block_bytes = bytes;
      options.executor = test::reversed_executor();
      const SourceMesh other = parsed(text, options);
      check_same(mesh, other);
      ObjWriteOptions write;
      write.executor = test::reversed_executor();
      CHECK(write_obj(other, write) == written);
    }
  }
}

TEST_CASE("threads change nothing, to the byte of what is written") {
  test::Threads threads(3);
  for (std::uint64_t seed = 1; seed <= 40; ++seed) {
    INFO("seed " << seed);
    RandomObjOptions many;
    many.pieces = 60;
    const std::string text = RandomObj(seed, many).make();
    const SourceMesh mesh = parsed(text);
    ObjReadOptions options;
    options.block_bytes = 200;
    options.executor = threads.executor();
    const SourceMesh other = parsed(text, options);
    check_same(mesh, other);
    ObjWriteOptions write;
    write.executor = threads.executor();
    CHECK(write_obj(other, write) == write_obj(mesh, {}));
  }
  // Enough faces for several pieces of writing.
  std::string text;
  for (int i = 0; i < 30000; ++i) {
    const std::string n = std::to_string(i);
    text += "v " + n + ".5 0 0\nv 0 " + n + " 1\nv 1 1 " + n + "e-1\n" + (i % 1000 == 0 ? "g part " + n + "\n" : "") +
            "f -1 -2 -3\n" + (i % 4096 == 0 ? "l -1 -2\n" : "");
  }
  ObjReadOptions options;
  options.executor = threads.executor();
  options.block_bytes = 10000;
  const SourceMesh mesh = parsed(text);
  check_same(mesh, parsed(text, options));
  for (const bool splice : {true, false}) {
    const std::string written = write_obj(mesh, {"", splice, {}});
    CHECK(write_obj(mesh, {"", splice, threads.executor()}) == written);
    check_same(mesh, parsed(written));
  }
}

TEST_CASE("every prefix of a file ends with a mesh or an error that names the file, never otherwise") {
  std::size_t read = 0;
  std::size_t refused = 0;
  for (std::uint64_t seed = 1; seed <= 12; ++seed) {
    INFO("seed " << seed);
    const std::string text = text_of(seed, seed % 3 == 0 ? "\r\n" : "\n");
    for (std::size_t length = 0; length < text.size(); ++length) {
      Report report;
      const Result<SourceMesh> mesh = parse_obj(text.substr(0, length), "coat.obj", {}, report);
      ++(mesh ? read : refused);
      if (mesh) continue;
      const bool named = mesh.error().subject == "coat.obj" && mesh.error().line > 0;
      if (!named) FAIL("prefix " << length << ": " << to_text(mesh.error()));
    }
  }
  CHECK(read > 1000);
  CHECK(refused > 100);
}

TEST_CASE("random byte edits never do more than change the mesh or refuse it") {
  std::mt19937_64 random(7);
  std::size_t read = 0;
  for (std::uint64_t seed = 1; seed <= 2000; ++seed) {
    std::string text = text_of(seed % 50);
    for (int edit = 0; edit < 3; ++edit) {
      text[random() % text.size()] = "0123456789-+./\\\r\n\t #ev\xff"[random() % 23];
    }
    Report report;
    const Result<SourceMesh> mesh = parse_obj(text, "coat.obj", {}, report);
    if (!mesh) continue;
    ++read;
    INFO("seed " << seed);
    check_same(*mesh, parsed(write_obj(*mesh, {})));
  }
  CHECK(read > 100);
}
