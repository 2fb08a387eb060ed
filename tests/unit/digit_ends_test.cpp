// SPDX-License-Identifier: MIT
#include "core/digit_ends.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <catch2/catch.hpp>
#include <charconv>
#include <cstdint>
#include <cstdio>
#include <random>
#include <string>
#include <vector>

#include "trimtack/io/obj.hpp"

using namespace trimtack;

TEST_CASE("a mask of 64 characters tells digits from all other bytes, by words as by registers") {
  for (int value = 0; value < 256; ++value) {
    for (std::size_t place = 0; place < kMaskedText; ++place) {
      std::string text(kMaskedText, '5');
      text[place] = static_cast<char>(value);
      const bool digit = value >= '0' && value <= '9';
      const std::uint64_t expected = digit ? 0 : std::uint64_t{1} << place;
      REQUIRE(other_than_digits(text.data()) == expected);
      REQUIRE(other_than_digits_by_words(text.data()) == expected);
    }
  }
}

TEST_CASE("runs of digits end where a walk over the characters ends, with and without a sign") {
  std::mt19937_64 random(20261126);
  INFO("seed 20261126");
  constexpr char kLetters[] = "0123456789012345678901234567890123456789 -./\n";
  for (int round = 0; round < 2000; ++round) {
    std::string text(400, ' ');
    for (char& c : text) c = kLetters[random() % (sizeof kLetters - 1)];
    const auto walk = [&](std::size_t i) {
      while (i < text.size() && text[i] >= '0' && text[i] <= '9') ++i;
      return i;
    };
    DigitEnds ends{text.data(), 0};
    for (std::size_t p = 0; p + 2 * kMaskedText < text.size(); p += random() % 30) {
      const auto at = [&](const char* place) { return static_cast<std::size_t>(place - text.data()); };
      REQUIRE(at(end_of_digits(ends, text.data() + p)) == std::min(walk(p), p + kMaskedText));
      const SignedDigits digits = signed_digits(ends, text.data() + p);
      const std::size_t begin = walk(p) == p ? p + 1 : p;
      REQUIRE(digits.others == begin - p);
      REQUIRE(digits.begin == text.data() + begin);
      if (walk(begin) - begin < kMaskedText - 1) {
        REQUIRE(at(digits.end) == walk(begin));
      } else {
        REQUIRE(digits.end - digits.begin >= static_cast<std::ptrdiff_t>(kMaskedText) - 1);
      }
    }
  }
}

namespace {

/// A decimal as exporters write them: up to 19 digits, with or without sign, point and exponent.
std::string decimal(std::mt19937_64& random) {
  std::string text = random() % 3 == 0 ? "-" : random() % 20 == 0 ? "+" : "";
  const auto digits = [&](std::uint64_t count) {
    for (; count > 0; --count) text += static_cast<char>('0' + random() % 10);
  };
  digits(1 + random() % (random() % 8 == 0 ? 12 : 4));
  if (random() % 8 != 0) {
    text += '.';
    digits(random() % (random() % 3 == 0 ? 18 : 8));
  }
  if (random() % 40 == 0) text += "e-" + std::to_string(random() % 30);
  return text;
}

}  // namespace

TEST_CASE("numbers of plain lines are those of std::from_chars, wherever in the text the line stands") {
  std::mt19937_64 random(77);
  INFO("seed 77");
  std::string text;
  std::vector<double> expected;
  const auto number = [&](const char* gap) {
    const std::string one = decimal(random);
    const char* const first = one.data() + (one[0] == '+' ? 1 : 0);
    double value = 0;
    REQUIRE(std::from_chars(first, one.data() + one.size(), value).ec == std::errc());
    expected.push_back(value);
    text += gap + one;
  };
  constexpr int kLines = 40000;
  for (int i = 0; i < kLines; ++i) {
    text += 'v';
    for (int k = 0; k < 3; ++k) number(random() % 30 == 0 ? "  " : " ");
    text += random() % 50 == 0 ? " # seam\n" : random() % 50 == 0 ? "\r\n" : "\n";
  }
  Report report;
  ObjReadOptions options;
  options.block_bytes = 5000;
  const Result<SourceMesh> mesh = parse_obj(text, "lines", options, report);
  REQUIRE(mesh);
  REQUIRE(mesh->positions.size() == kLines);
  for (std::size_t i = 0; i < kLines; ++i) {
    const Vec3& p = mesh->positions[i];
    const std::array<double, 3> read{p.x, p.y, p.z};
    for (std::size_t k = 0; k < 3; ++k)
      REQUIRE(std::bit_cast<std::uint64_t>(read[k]) == std::bit_cast<std::uint64_t>(expected[3 * i + k]));
  }
}

TEST_CASE("corners of plain lines are as written, wherever in the text the line stands") {
  std::mt19937_64 random(78);
  INFO("seed 78");
  constexpr Index kCount = 1200;
  std::string text, faces;
  for (Index i = 0; i < kCount; ++i) text += "v 0 0 0\nvt 0 0\nvn 0 0 1\n";
  std::vector<Index> expected;
  for (int f = 0; f < 20000; ++f) {
    faces += 'f';
    for (std::uint64_t corner = 3 + random() % 20 / 17; corner > 0; --corner) {
      faces += random() % 40 == 0 ? "  " : " ";
      const std::uint64_t alike = random() % 4;  // all three, the first two, or none but by chance
      for (int k = 0; k < 3; ++k) {
        const bool again = k > 0 && (alike == 0 || (alike == 1 && k == 1));
        const Index index = again ? expected.back() : static_cast<Index>(random() % kCount);
        expected.push_back(index);
        if (k > 0) faces += '/';
        if (random() % 100 == 0) faces += "000";
        faces += std::to_string(index + 1);
      }
    }
    faces += random() % 50 == 0 ? " # seam\n" : "\n";
  }
  Report report;
  ObjReadOptions options;
  options.block_bytes = 5000;
  const Result<SourceMesh> mesh = parse_obj(text + faces, "corners", options, report);
  REQUIRE(mesh);
  REQUIRE(3 * mesh->corner_position.size() == expected.size());
  for (std::size_t c = 0; c < mesh->corner_position.size(); ++c) {
    REQUIRE(mesh->corner_position[c] == expected[3 * c]);
    REQUIRE(mesh->corner_texcoord[c] == expected[3 * c + 1]);
    REQUIRE(mesh->corner_normal[c] == expected[3 * c + 2]);
  }
}
