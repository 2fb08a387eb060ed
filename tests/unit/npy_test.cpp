// SPDX-License-Identifier: MIT
#include "trimtack/io/npy.hpp"

#include <array>
#include <bit>
#include <catch2/catch.hpp>
#include <cstring>
#include <random>
#include <string>
#include <vector>

#include "support/scratch_folder.hpp"

using namespace trimtack;
using Catch::Matchers::Contains;

namespace {

template <class Number>
std::string array_bytes(const std::vector<double>& values, bool big_endian) {
  std::string bytes;
  for (const double value : values) {
    auto item = std::bit_cast<std::array<char, sizeof(Number)>>(static_cast<Number>(value));
    if (big_endian) std::reverse(item.begin(), item.end());
    bytes.append(item.data(), item.size());
  }
  return bytes;
}

std::string file_with(const std::string& dict, const std::string& data, int major = 1) {
  std::string header = dict;
  const std::size_t prefix = major == 1 ? 10 : 12;
  while ((prefix + header.size() + 1) % 64 != 0) header += ' ';
  header += '\n';
  std::string bytes("\x93NUMPY", 6);
  bytes += static_cast<char>(major);
  bytes += '\0';
  for (int i = 0; i < (major == 1 ? 2 : 4); ++i) bytes += static_cast<char>(header.size() >> (8 * i) & 0xff);
  return bytes + header + data;
}

std::string reason(const std::string& bytes) {
  const Result<NpyInfo> info = parse_npy_info(bytes, bytes.size(), "a.npy");
  REQUIRE_FALSE(info);
  CHECK(info.error().code == ErrorCode::BadInput);
  CHECK(info.error().subject == "a.npy");
  return info.error().message;
}

}  // namespace

TEST_CASE("an NPY header is the text of the published format: keys, trailing comma, 64-byte alignment") {
  // The example layout of numpy.lib.format: magic, version 1.0, 118 bytes of header, total 128.
  const std::string header = npy_header(std::array<std::uint64_t, 1>{3}, true);
  CHECK(header.size() == 128);
  CHECK(header.substr(0, 8) == std::string("\x93NUMPY\x01\x00", 8));
  CHECK(header[8] == 118);
  CHECK(header[9] == 0);
  CHECK_THAT(header.substr(10), Contains("{'descr': '<f8', 'fortran_order': False, 'shape': (3,), }   "));
  CHECK(header.back() == '\n');
  CHECK_THAT(npy_header(std::array<std::uint64_t, 4>{24, 7, 3, 4}, false), Contains("'<f4'"));
  CHECK_THAT(npy_header(std::array<std::uint64_t, 4>{24, 7, 3, 4}, false), Contains("(24, 7, 3, 4)"));
  CHECK_THAT(npy_header(std::array<std::uint64_t, 0>{}, false), Contains("'shape': ()"));
}

TEST_CASE("an NPY header of any length is a multiple of 64, and beyond 65535 bytes it is version 2.0") {
  for (const std::size_t dimensions : {1U, 5U, 17U, 60U, 4000U, 6000U}) {
    const std::vector<std::uint64_t> shape(dimensions, 1234567890U);
    const std::string header = npy_header(shape, true);
    CHECK(header.size() % 64 == 0);
    CHECK(header[6] == (dimensions == 6000U ? 2 : 1));
  }
}

TEST_CASE("NPY numbers read back exactly in every type, byte order and version") {
  const std::uint32_t seed = 20260101;
  CAPTURE(seed);
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> uniform(-1e4, 1e4);
  std::vector<double> values(40003 * 3);  // several blocks
  for (double& value : values) value = static_cast<float>(uniform(random));
  const test::ScratchFolder folder;
  for (const int major : {1, 2}) {
    for (const char* type : {"<f4", ">f4", "<f8", ">f8"}) {
      CAPTURE(major, type);
      const std::string dict = std::string("{'descr': '") + type + "', 'fortran_order': False, 'shape': (40003, 3), }";
      const bool big = type[0] == '>';
      const std::string data = type[2] == '4' ? array_bytes<float>(values, big) : array_bytes<double>(values, big);
      const std::string path = folder.write("a.npy", file_with(dict, data, major));
      const Result<NpyFile> file = NpyFile::open(path);
      REQUIRE(file);
      CHECK(file->info().shape == std::vector<std::uint64_t>{40003, 3});
      std::vector<double> back(values.size());
      REQUIRE(file->read(0, back));
      CHECK(back == values);
      std::vector<double> part(100);
      REQUIRE(file->read(70000, part));
      CHECK(std::equal(part.begin(), part.end(), values.begin() + 70000));
      CHECK_FALSE(file->read(values.size() - 99, part));
      CHECK_FALSE(file->read(~std::uint64_t{0}, part));
    }
  }
}

TEST_CASE("an NPY header as other writers lay it out is read") {
  const std::string data(24, '\0');
  for (const char* dict : {
           "{'descr':'<f8','fortran_order':False,'shape':(1,3)}",
           "{\"shape\": (1L, 3L), \"descr\": \"<f8\", \"fortran_order\": False}",
           "  { 'fortran_order' : False , 'shape' : ( 3 , ) , 'descr' : '<f8' , }  ",
           "{'descr': '<f8', 'fortran_order': True, 'shape': (3, 1), }",  // one row: either order is the same
       }) {
    CAPTURE(dict);
    CHECK(parse_npy_info(file_with(dict, data), file_with(dict, data).size(), "a.npy"));
  }
}

TEST_CASE("a hostile or unsuitable NPY file is refused with the reason") {
  const std::string good = "{'descr': '<f8', 'fortran_order': False, 'shape': (1, 3), }";
  const std::string data(24, '\0');
  CHECK_THAT(reason(""), Contains("not an NPY file"));
  CHECK_THAT(reason("v 1 2 3\nv 1 2 3\n"), Contains("not an NPY file"));
  CHECK_THAT(reason(file_with(good, data, 3)), Contains("version 3.0"));
  CHECK_THAT(reason(file_with(good, data.substr(1))), Contains("cut off"));
  CHECK_THAT(reason(file_with(good, data + "x")), Contains("left over"));
  CHECK_THAT(reason(file_with("{'descr': '<i8', 'fortran_order': False, 'shape': (3,), }", data)),
             Contains("float32 or float64"));
  CHECK_THAT(reason(file_with("{'descr': '|O', 'fortran_order': False, 'shape': (3,), }", data)),
             Contains("float32 or float64"));
  CHECK_THAT(reason(file_with("{'descr': [('x', '<f8')], 'fortran_order': False, 'shape': (3,), }", data)),
             Contains("records"));
  CHECK_THAT(reason(file_with("{'descr': '<f8', 'fortran_order': True, 'shape': (3, 7), }", data)),
             Contains("Fortran"));
  CHECK_THAT(reason(file_with("{'descr': '<f8', 'fortran_order': False, 'shape': (-3,), }", data)), Contains("shape"));
  CHECK_THAT(reason(file_with("{'descr': '<f8', 'fortran_order': False, 'shape': (18446744073709551616,), }", data)),
             Contains("shape"));
  CHECK_THAT(reason(file_with("{'descr': '<f8', 'fortran_order': False, 'shape': (4294967296, 4294967296), }", data)),
             Contains("64 bits"));
  CHECK_THAT(reason(file_with("{'descr': '<f8', 'fortran_order': False, 'shape': (2305843009213693952,), }", data)),
             Contains("64 bits"));
  CHECK_THAT(reason(file_with("{'descr': '<f8', 'fortran_order': False, 'shape': (4000000000, 3), }", data)),
             Contains("cut off"));
  CHECK_THAT(reason(file_with("{'descr': '<f8', 'shape': (3,), }", data)), Contains("lacks"));
  CHECK_THAT(reason(file_with("{'descr': '<f8', 'descr': '<f8', 'shape': (3,), }", data)), Contains("repeated"));
  CHECK_THAT(reason(file_with(good + "import os", data)), Contains("behind"));
  CHECK_THAT(reason(file_with("__import__('os')", data)), Contains("dictionary"));
  std::string long_header = file_with(good, data, 2);
  std::memcpy(long_header.data() + 8, "\xff\xff\xff\xff", 4);
  CHECK_THAT(reason(long_header), Contains("claims 4294967295"));
  const test::ScratchFolder folder;
  CHECK_FALSE(NpyFile::open(folder.path() / "missing.npy"));
  CHECK_FALSE(NpyFile::open(folder.path()));
}

TEST_CASE("every truncation of an NPY file and every flipped header byte is refused or still fits the file exactly") {
  const std::string whole =
      file_with("{'descr': '<f8', 'fortran_order': False, 'shape': (1, 3), }", std::string(24, '\0'));
  for (std::size_t size = 0; size < whole.size(); ++size) {
    CHECK_FALSE(parse_npy_info(std::string_view(whole).substr(0, size), size, "a.npy"));
  }
  for (std::size_t at = 0; at < whole.size() - 24; ++at) {
    for (int bit = 0; bit < 8; ++bit) {
      std::string flipped = whole;
      flipped[at] = static_cast<char>(flipped[at] ^ (1 << bit));
      const Result<NpyInfo> info = parse_npy_info(flipped, flipped.size(), "a.npy");
      if (!info) continue;
      std::uint64_t items = 1;
      for (const std::uint64_t n : info->shape) items *= n;
      CHECK(info->data_offset + items * static_cast<std::uint64_t>(info->item_bytes) == flipped.size());
    }
  }
}

TEST_CASE("an array that becomes shorter while it is open is reported") {
  const test::ScratchFolder folder;
  const std::string path = folder.write(
      "a.npy", file_with("{'descr': '<f8', 'fortran_order': False, 'shape': (100, 3), }", std::string(2400, '\0')));
  const Result<NpyFile> file = NpyFile::open(path);
  REQUIRE(file);
  std::filesystem::resize_file(path, 600);
  std::vector<double> out(300);
  const Result<void> done = file->read(0, out);
  REQUIRE_FALSE(done);
  CHECK_THAT(done.error().message, Contains("shorter"));
}
