// SPDX-License-Identifier: MIT
// Files that claim more than they hold, refer to what is not there, or unfold to much more than their length: each is
// refused with its exit code and a reason, with little memory and processor time whatever it claims.
#include <bit>
#include <catch2/catch.hpp>
#include <cstring>
#include <filesystem>

#include "support/run_program.hpp"
#include "support/scratch_folder.hpp"
#include "support/slow_build.hpp"

using namespace trimtack;
using test::Ran;
namespace fs = std::filesystem;

namespace {

/// Runs with little room: a file that is believed runs out of it, or out of time.
Ran run(const test::ScratchFolder& scratch, std::vector<std::string> arguments) {
  arguments.insert(arguments.end(), {"--max-memory", "200MB", "-q"});
  return test::run_program(arguments,
                           {.folder = scratch.path(), .cpu_seconds = test::kSlowBuild ? 200U : 20U, .environment = {}});
}

void refused(const test::ScratchFolder& scratch, const std::vector<std::string>& arguments, const std::string& says) {
  const Ran ran = run(scratch, arguments);
  INFO(arguments[0] << " " << arguments[1] << ": signal " << ran.signal << "\n" << ran.err.substr(0, 1000));
  CHECK(ran.code == 3);
  CHECK_THAT(ran.err, Catch::Contains("trimtack") && Catch::Contains(says));
  CHECK(ran.err.size() < 2000);
}

std::string glb(std::string json, std::string binary = {}) {
  json.resize((json.size() + 3) / 4 * 4, ' ');
  binary.resize((binary.size() + 3) / 4 * 4, '\0');
  std::string out = "glTF";
  const auto word = [&](std::size_t value) {
    for (int i = 0; i < 4; ++i) out += static_cast<char>(value >> (8 * i) & 0xffU);
  };
  word(2);
  word(12 + 8 + json.size() + (binary.empty() ? 0 : 8 + binary.size()));
  word(json.size());
  out += "JSON" + json;
  if (!binary.empty()) {
    word(binary.size());
    out += std::string("BIN\0", 4) + binary;
  }
  return out;
}

std::string little(std::initializer_list<float> numbers) {
  std::string out;
  for (const float x : numbers) {
    const auto bits = std::bit_cast<std::uint32_t>(x);
    for (int i = 0; i < 4; ++i) out += static_cast<char>(bits >> (8 * i) & 0xffU);
  }
  return out;
}

/// One triangle of nine floats that `copies` nodes place.
std::string many_nodes(std::size_t copies, std::size_t triangles) {
  std::string nodes, list;
  for (std::size_t i = 0; i < copies; ++i) {
    nodes += std::string(i == 0 ? "" : ",") + R"({"mesh":0})";
    list += (i == 0 ? "" : ",") + std::to_string(i);
  }
  const std::string count = std::to_string(3 * triangles);
  std::string binary;
  for (std::size_t i = 0; i < triangles; ++i) binary += little({0, 0, 0, 1, 0, 0, 0, 1, static_cast<float>(i)});
  return glb(R"({"asset":{"version":"2.0"},"scene":0,"scenes":[{"nodes":[)" + list + "]}],\"nodes\":[" + nodes +
                 R"(],"meshes":[{"primitives":[{"attributes":{"POSITION":0}}]}],"accessors":[{"bufferView":0,)" +
                 R"("componentType":5126,"count":)" + count + R"(,"type":"VEC3"}],"bufferViews":[{"buffer":0,)" +
                 R"("byteLength":)" + std::to_string(binary.size()) + R"(}],"buffers":[{"byteLength":)" +
                 std::to_string(binary.size()) + "}]}",
             binary);
}

std::string npy(const std::string& shape) {
  std::string header = "{'descr': '<f4', 'fortran_order': False, 'shape': " + shape + ", }";
  header.resize((header.size() + 10 + 64) / 64 * 64 - 11, ' ');
  header += '\n';
  std::string out = std::string("\x93NUMPY\x01\x00", 8);
  out += static_cast<char>(header.size() & 0xffU);
  out += static_cast<char>(header.size() >> 8U);
  return out + header + std::string(1200, '\0');
}

std::string nested(std::size_t depth, const std::string& open, const std::string& close) {
  std::string out;
  for (std::size_t i = 0; i < depth; ++i) out += open;
  for (std::size_t i = 0; i < depth; ++i) out += close;
  return out;
}

/// A sheet and a button, split and bound in "bound".
void make_bound(const test::ScratchFolder& scratch) {
  std::string obj;
  for (int j = 0; j <= 10; ++j)
    for (int i = 0; i <= 10; ++i) obj += "v " + std::to_string(20 * i) + " " + std::to_string(20 * j) + " 0\n";
  for (int j = 0; j < 10; ++j)
    for (int i = 0; i < 10; ++i) {
      const int a = 11 * j + i + 1;
      obj += "f " + std::to_string(a) + " " + std::to_string(a + 1) + " " + std::to_string(a + 12) + " " +
             std::to_string(a + 11) + "\n";
    }
  scratch.write("coat.obj", obj);
  const Ran ran = run(scratch, {"bind", "coat.obj", "-o", "bound", "--cloth", "component:0"});
  INFO(ran.err);
  REQUIRE(ran.code == 0);
}

}  // namespace

TEST_CASE("files that claim 4 billion vertices are refused in bounded time and memory", "[limits]") {
  const test::ScratchFolder scratch;
  const std::string face = "element face 1\nproperty list uchar int vertex_indices\nend_header\n";
  const std::string xyz = "property float x\nproperty float y\nproperty float z\n";
  for (const char* form : {"ascii", "binary_little_endian", "binary_big_endian"}) {
    scratch.write("a.ply",
                  std::string("ply\nformat ") + form + " 1.0\nelement vertex 4000000000\n" + xyz + face + "0 0 0\n");
    refused(scratch, {"inspect", "a.ply"}, "a.ply");
  }
  scratch.write("faces.ply", "ply\nformat binary_little_endian 1.0\nelement vertex 1\n" + xyz +
                                 "element face 4294967295\nproperty list uint int vertex_indices\nend_header\n" +
                                 std::string(12, '\0') + std::string(64, '\xff'));
  refused(scratch, {"inspect", "faces.ply"}, "faces.ply");
  scratch.write("a.glb",
                glb(R"({"asset":{"version":"2.0"},"scene":0,"scenes":[{"nodes":[0]}],"nodes":[{"mesh":0}],)"
                    R"("meshes":[{"primitives":[{"attributes":{"POSITION":0}}]}],"accessors":[{"bufferView":0,)"
                    R"("componentType":5126,"count":4000000000,"type":"VEC3"}],"bufferViews":[{"buffer":0,)"
                    R"("byteLength":48000000000}],"buffers":[{"byteLength":48000000000}]})",
                    "none"));
  refused(scratch, {"inspect", "a.glb"}, "a.glb");
  // An accessor without a buffer view is all zeros, however many.
  scratch.write("zeros.glb",
                glb(R"({"asset":{"version":"2.0"},"scene":0,"scenes":[{"nodes":[0]}],"nodes":[{"mesh":0}],)"
                    R"("meshes":[{"primitives":[{"attributes":{"POSITION":0}}]}],"accessors":[{)"
                    R"("componentType":5126,"count":4000000000,"type":"VEC3"}]})"));
  refused(scratch, {"inspect", "zeros.glb"}, "zeros.glb");
}

TEST_CASE("frames and tables that claim too much are refused", "[limits]") {
  const test::ScratchFolder scratch;
  make_bound(scratch);
  for (const char* shape : {"(4000000000, 3)", "(4000000000, 121, 3)",
                            "(18446744073709551615, 18446744073709551615, 3)", "(100, 4294967296, 3)"}) {
    scratch.write("f.npy", npy(shape));
    refused(scratch, {"follow", "bound", "f.npy", "-o", "out"}, "f.npy");
  }
  const std::string table = test::detail::text_of(scratch.path() / "bound/bindings.ttb");
  REQUIRE(table.size() > 100);
  std::string claims = table;
  for (std::size_t at = 8; at + 8 <= 100; at += 8) {
    claims = table;
    std::memset(claims.data() + at, 0xff, 8);
    scratch.write("bound/bindings.ttb", claims);
    refused(scratch, {"follow", "bound", "coat.obj", "-o", "out"}, "bindings.ttb");
  }
  CHECK_FALSE(fs::exists(scratch.path() / "out"));
}

TEST_CASE("an edited parts.json that claims too much, or is nested without end, is refused", "[limits]") {
  const test::ScratchFolder scratch;
  make_bound(scratch);
  const std::string text = test::detail::text_of(scratch.path() / "bound/parts.json");
  const auto with = [&](const std::string& from, const std::string& to) {
    std::string changed = text;
    const std::size_t at = changed.find(from);
    REQUIRE(at != std::string::npos);
    return changed.replace(at, from.size(), to);
  };
  for (const std::string& changed :
       {with("\"faces\": 100", "\"faces\": 4294967294"), with("\"vertices\": 121", "\"vertices\": 4000000000"),
        with("\"faces\": 100", "\"faces\": 1e400"), with("\"faces\": 100", "\"faces\": -1"),
        "{\"format\": " + nested(1'000'000, "[", "]") + "}", nested(1'000'000, "{\"a\":", "}"),
        std::string(1'000'000, '['), std::string(3'000'000, ' '), std::string("\0\0\0", 3)}) {
    scratch.write("bound/parts.json", changed);
    refused(scratch, {"bind", "bound", "-o", "out"}, "parts.json");
  }
  CHECK_FALSE(fs::exists(scratch.path() / "out"));
}

TEST_CASE("other JSON nested without end is refused", "[limits]") {
  const test::ScratchFolder scratch;
  make_bound(scratch);
  scratch.write("deep.glb", glb("{\"asset\":{\"version\":\"2.0\"},\"extras\":" + nested(1'000'000, "[", "]") + "}"));
  refused(scratch, {"inspect", "deep.glb"}, "deep.glb");
  scratch.write("deep.gltf", nested(1'000'000, "{\"a\":", "}"));
  refused(scratch, {"inspect", "deep.gltf"}, "deep.gltf");
  scratch.write("bound/trimtack.manifest.json", nested(1'000'000, "[", "]"));
  refused(scratch, {"verify", "bound"}, "manifest");
}

TEST_CASE("scenes that unfold to far more than their length are refused, or done within the memory given", "[limits]") {
  const test::ScratchFolder scratch;
  scratch.write("bomb.glb", many_nodes(20'000, 1000));  // 20 million triangles out of 400 KB
  refused(scratch, {"inspect", "bomb.glb"}, "memory");
  // A chain of nodes without end, and a node that is its own child.
  scratch.write("ring.glb", glb(R"({"asset":{"version":"2.0"},"scene":0,"scenes":[{"nodes":[0]}],)"
                                R"("nodes":[{"children":[1]},{"children":[0]}]})"));
  refused(scratch, {"inspect", "ring.glb"}, "ring.glb");
  scratch.write("self.gltf", R"({"asset":{"version":"2.0"},"scenes":[{"nodes":[0]}],"nodes":[{"children":[0]}]})");
  refused(scratch, {"inspect", "self.gltf"}, "self.gltf");
  // Every node has the next one twice for a child: 2^40 places.
  std::string nodes;
  for (int i = 0; i < 40; ++i) {
    const std::string next = std::to_string(i + 1);
    nodes += "{\"children\":[" + next + "," + next + "]},";
  }
  scratch.write("doubling.gltf", R"({"asset":{"version":"2.0"},"scenes":[{"nodes":[0]}],"nodes":[)" + nodes + "{}]}");
  refused(scratch, {"inspect", "doubling.gltf"}, "doubling.gltf");
}

TEST_CASE("a text larger than --max-memory, and a mesh that needs more, end with the limit named", "[limits]") {
  const test::ScratchFolder scratch;
  std::string obj;
  for (int i = 0; i < 200'000; ++i) obj += "v 0 0 0\n";
  scratch.write("coat.obj", obj + "f 1 2 3\n");
  const Ran small = test::run_program({"inspect", "coat.obj", "--max-memory", "1MB"},
                                      {.folder = scratch.path(), .cpu_seconds = 20, .environment = {}});
  CHECK(small.code == 3);
  CHECK_THAT(small.err, Catch::Contains("memory"));
}
