// SPDX-License-Identifier: MIT
/// OBJ texts with every awkward feature that the reader claims, from a seed.
#pragma once

#include <cstdint>
#include <cstdio>
#include <random>
#include <string>
#include <vector>

namespace trimtack::test {

struct RandomObjOptions {
  int pieces = 6;           ///< connected pieces, each with its own positions
  bool plain = false;       ///< only what every reader understands: no continuations, weights, loose elements
  bool relative = true;     ///< some indices count from the end
  const char* line = "\n";  ///< line end
};

class RandomObj {
 public:
  RandomObj(std::uint64_t seed, const RandomObjOptions& options)
      : random_(seed), options_(options), line_end_(options.line) {}

  std::string make() {
    if (!options_.plain && chance(3)) text_ += "\xef\xbb\xbf";
    comment();
    put("mtllib " + std::string(chance(2) ? "coat.mtl" : "coat one.mtl trims.mtl"));
    for (int i = 0; i < options_.pieces; ++i) piece(i);
    if (!options_.plain && chance(2)) loose(1, positions_);
    if (chance(2)) number_line("v", 3);  // a position that no face uses
    if (!text_.empty() && chance(4)) text_.resize(text_.size() - line_end_.size());
    return text_;
  }

 private:
  std::uint64_t below(std::uint64_t n) { return random_() % n; }
  bool chance(std::uint64_t one_in) { return below(one_in) == 0; }

  std::string blank() {
    if (options_.plain || !chance(6)) return " ";
    static const char* const kBlanks[] = {"\t", "  ", " \t "};
    if (chance(3)) return " \\" + line_end_ + (chance(2) ? " " : "");
    return kBlanks[below(3)];
  }
  void put(const std::string& line) {
    if (!options_.plain && chance(12)) text_ += chance(2) ? " " : "\t";
    text_ += line;
    if (!options_.plain && chance(12)) text_ += chance(2) ? " " : "\t";
    text_ += line_end_;
    if (chance(15)) text_ += line_end_;
    if (chance(15)) comment();
  }
  void comment() { text_ += "# made in our workshop, C:\\garments\\" + line_end_; }

  std::string number() {
    char buffer[400];
    const double value = (static_cast<double>(random_() >> 11) / 9007199254740992.0 - 0.5) * 200;
    const char* format = "%.6f";
    switch (below(12)) {
      case 0:
        format = "%.17g";
        break;
      case 1:
        format = "%.3e";
        break;
      case 2:
        format = "%.0f";
        break;
      case 3:
        format = "%.9G";
        break;
      case 4:
        format = "%.25f";
        break;
      case 5:
        return chance(2) ? "-0.0" : "0";
      case 6:
        return options_.plain ? "1" : "+.5";
      case 7:
        return options_.plain ? "-2" : "5.";
      default:
        break;
    }
    std::snprintf(buffer, sizeof buffer, format, value);
    return buffer;
  }
  void number_line(const char* keyword, int count) {
    std::string line = keyword;
    for (int i = 0; i < count; ++i) line += blank() + number();
    if (!options_.plain && chance(20)) line += " # " + number();
    put(line);
    if (line[1] != 't' && line[1] != 'n') ++positions_;
  }

  std::string index(std::uint64_t one_based, std::uint64_t count) {
    if (options_.relative && chance(4)) return "-" + std::to_string(count - one_based + 1);
    return std::to_string(one_based);
  }

  void state(int piece_number) {
    static const char* const kAnyNames[] = {"Front left", "Front right", "", "Pocket#2", "horn 24L"};
    static const char* const kPlainNames[] = {"Front", "Back", "Sleeve", "Pocket_2", "horn24L"};
    const auto& names = options_.plain ? kPlainNames : kAnyNames;
    if (chance(2)) put(std::string("o ") + names[below(5)]);
    if (chance(2))
      put("g " + std::string(names[below(5)]) + (chance(2) ? " piece_" + std::to_string(piece_number) : ""));
    if (chance(2)) put(std::string("usemtl ") + names[below(5)]);
    if (chance(2)) put(chance(2) ? "s off" : "s " + std::to_string(below(3)));
  }

  void piece(int number_of_it) {
    const std::uint64_t first = positions_ + 1;
    const int count = 3 + static_cast<int>(below(9));
    for (int i = 0; i < count; ++i) {
      // 6 numbers are a colour everywhere; a weight (4) and an alpha (7) are left out of plain files.
      const int extra =
          chance(5) ? (options_.plain ? 3 : static_cast<int>(below(3) == 0 ? 1 : 2 + below(3) % 2 + 1)) : 0;
      number_line("v", 3 + extra);
      if (chance(2)) {
        number_line("vt", options_.plain ? 2 : 1 + static_cast<int>(below(3)));
        ++texcoords_;
      }
      if (chance(3)) {
        number_line("vn", 3);
        ++normals_;
      }
    }
    const int faces = 1 + static_cast<int>(below(8));
    for (int f = 0; f < faces; ++f) {
      if (f == 0 || chance(3)) state(number_of_it);
      face(first, static_cast<std::uint64_t>(count));
      if (!options_.plain && chance(5)) loose(first, static_cast<std::uint64_t>(count));
    }
  }

  void face(std::uint64_t first, std::uint64_t count) {
    std::string line = "f";
    const std::uint64_t corners = 3 + (chance(3) ? below(6) : 0);
    const std::uint64_t start = below(count);
    const bool texcoord = texcoords_ > 0 && chance(2);
    const bool normal = normals_ > 0 && chance(2);
    for (std::uint64_t c = 0; c < corners; ++c) {
      line += blank() + index(first + (start + c) % count, positions_);
      const bool with_texcoord = texcoord && (options_.plain || !chance(10));
      if (with_texcoord || normal) line += "/";
      if (with_texcoord) line += index(1 + below(texcoords_), texcoords_);
      if (normal) line += "/" + index(1 + below(normals_), normals_);
    }
    put(line);
  }

  void loose(std::uint64_t first, std::uint64_t count) {
    const bool line = chance(2);
    std::string text = line ? "l" : "p";
    const std::uint64_t vertices = 2 + below(3);
    for (std::uint64_t i = 0; i < vertices; ++i) {
      text += blank() + index(first + below(count), positions_);
      if (line && texcoords_ > 0 && chance(3)) text += "/" + index(1 + below(texcoords_), texcoords_);
    }
    put(text);
  }

  std::mt19937_64 random_;
  RandomObjOptions options_;
  std::string line_end_;
  std::string text_;
  std::uint64_t positions_ = 0, texcoords_ = 0, normals_ = 0;
};

}  // namespace trimtack::test
