// SPDX-License-Identifier: MIT
#include "zoo/zoo.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <functional>
#include <numbers>

#include "io/json_text.hpp"
#include "trimtack/types.hpp"

namespace trimtack::zoo {
namespace {

/// An OBJ text under construction.
class Export {
 public:
  std::string text;
  std::string end = "\n";  ///< of lines
  Index count = 0;         ///< vertices so far

  void line(const std::string& words) { text += words + end; }
  Index v(double x, double y, double z) {
    std::string words = "v";
    for (const double value : {x, y, z}) {
      words += ' ';
      json_text::append_number(words, value);
    }
    line(words);
    return ++count;
  }
  void f(const std::vector<Index>& corners) {
    std::string words = "f";
    for (const Index c : corners) words += ' ' + std::to_string(c);
    line(words);
  }
  using Place = std::function<Vec3(double, double)>;

  /// A grid of quads of nx by ny cells.
  Index sheet(Index nx, Index ny, const Place& place) {
    const Index first = count + 1;
    for (Index j = 0; j <= ny; ++j)
      for (Index i = 0; i <= nx; ++i) {
        const Vec3 p = place(static_cast<double>(i) / nx, static_cast<double>(j) / ny);
        v(p.x, p.y, p.z);
      }
    for (Index j = 0; j < ny; ++j)
      for (Index i = 0; i < nx; ++i) {
        const Index a = first + j * (nx + 1) + i;
        f({a, a + 1, a + nx + 2, a + nx + 1});
      }
    return first;
  }
  Index flat(double width, double height, Index nx, Index ny, const Vec3& at = {}) {
    return sheet(nx, ny, [&](double s, double t) { return at + Vec3{s * width, t * height, 0}; });
  }
  /// A closed disc. @param merged  vertices that stand for the first ones of its underside
  void button(const Vec3& at, double radius, double height, Index sides = 16, const std::vector<Index>& merged = {}) {
    const Index first = count + 1;
    const auto own = [&](Index v) { return v - first < merged.size() ? merged[v - first] : v; };
    for (const double z : {0.0, height})
      for (Index i = 0; i < sides; ++i) {
        const double a = 2 * std::numbers::pi * i / sides;
        v(at.x + radius * std::cos(a), at.y + radius * std::sin(a), at.z + z);
      }
    std::vector<Index> low, high;
    for (Index i = 0; i < sides; ++i) {
      const Index a = first + i, b = first + (i + 1) % sides;
      f({own(a), own(b), b + sides, a + sides});
      low.insert(low.begin(), own(a));
      high.push_back(a + sides);
    }
    f(low);
    f(high);
  }
};

/// A sheet of 300 x 400 with three buttons: what every garment below is a variation of.
Export plain(double scale = 1, const Vec3& at = {}) {
  Export e;
  e.sheet(30, 40, [&](double s, double t) { return at + scale * Vec3{300 * s, 400 * t, 12 * std::sin(5 * s)}; });
  for (int i = 0; i < 3; ++i) {
    const double x = 150, z = 12 * std::sin(2.5) + 0.2;
    e.button(at + scale * Vec3{x, 100.0 + 100 * i, z}, 9 * scale, 3 * scale);
  }
  return e;
}

/// Three buttons that hang on the sheet: by one vertex, by an edge, and by an edge and a vertex.
Export hanging() {
  Export e;
  const auto height = [](double x) { return 12 * std::sin(x / 60); };
  e.sheet(100, 120, [&](double s, double t) { return Vec3{300 * s, 400 * t, height(300 * s)}; });
  const auto vertex = [](Index column, Index row) { return 101 * row + column + 1; };
  for (Index i = 0; i < 3; ++i) {
    const Index row = 30 * (i + 1);
    const std::vector<Index> by = i == 0 ? std::vector<Index>{vertex(53, row)}
                                  : i == 1
                                      ? std::vector<Index>{vertex(53, row), vertex(53, row + 1)}
                                      : std::vector<Index>{vertex(53, row), vertex(53, row + 1), vertex(52, row + 2)};
    e.button({150, 100.0 * (i + 1), height(150) + 0.1}, 9, 3, 16, by);
  }
  return e;
}

std::string with_crlf(std::string text) {
  std::string out;
  for (const char c : text) out += c == '\n' ? std::string("\r\n") : std::string(1, c);
  return out;
}

std::string moebius() {
  Export e;
  constexpr Index kAround = 60;
  for (Index i = 0; i < kAround; ++i) {
    const double u = 2 * std::numbers::pi * i / kAround;
    for (const double w : {-20.0, 0.0, 20.0}) {
      const double r = 150 + w * std::cos(u / 2);
      e.v(r * std::cos(u), r * std::sin(u), w * std::sin(u / 2));
    }
  }
  for (Index i = 0; i < kAround; ++i) {
    const bool last = i + 1 == kAround;
    for (Index k = 0; k < 2; ++k) {
      const Index a = 3 * i + k + 1, b = a + 1;
      const Index c = last ? 3 - k - 1 : 3 * (i + 1) + k + 2, d = last ? 3 - k : 3 * (i + 1) + k + 1;
      e.f({a, b, c, d});
    }
  }
  e.button({150, 0, 1}, 6, 2);
  return e.text;
}

std::string fan(Index leaves) {
  Export e;
  const Index a = e.v(0, 0, 0), b = e.v(0, 100, 0);
  for (Index i = 0; i < leaves; ++i) {
    const double u = 2 * std::numbers::pi * i / leaves;
    e.f({a, b, e.v(100 * std::cos(u), 50, 100 * std::sin(u))});
  }
  e.button({30, 40, 0.1}, 6, 2);
  return e.text;
}

std::string polygon(Index corners) {
  Export e;
  std::vector<Index> all;
  for (Index i = 0; i < corners; ++i) {
    const double u = 2 * std::numbers::pi * i / corners, r = 200 + 20 * std::sin(9 * u);
    all.push_back(e.v(r * std::cos(u), r * std::sin(u), 3 * std::cos(2 * u)));
  }
  e.f(all);
  e.button({20, 30, 1}, 9, 3);
  return e.text;
}

std::string wheel(Index spokes) {
  Export e;
  const Index hub = e.v(0, 0, 0);
  for (Index i = 0; i < spokes; ++i) {
    const double u = 2 * std::numbers::pi * i / spokes;
    e.v(200 * std::cos(u), 200 * std::sin(u), 0);
  }
  for (Index i = 0; i < spokes; ++i) e.f({hub, 2 + i, 2 + (i + 1) % spokes});
  e.button({20, 30, 0.2}, 9, 3);
  return e.text;
}

/// A pompom: strips of all lengths and directions from one point, every box over every other one.
std::string heap(Index strips) {
  Export e;
  e.flat(300, 400, 30, 40);
  e.button({50, 60, 0.1}, 9, 3);
  constexpr double kGolden = 0.6180339887498949;
  for (Index i = 0; i < strips; ++i) {
    const double z = 1 - 2 * (i + 0.5) / strips, around = 2 * std::numbers::pi * kGolden * i;
    const double r = std::sqrt(1 - z * z), twist = 0.7 * i;
    const Vec3 along{r * std::cos(around), r * std::sin(around), z};
    const Vec3 side = normalized(cross(along, Vec3{std::cos(twist), std::sin(twist), 0.3}));
    const double length = 15 + 10 * std::fmod(kGolden * kGolden * i, 1.0);
    e.sheet(1, 2, [&](double s, double t) {
      return Vec3{150, 200, 26} + length * t * along + (0.8 - 0.6 * t) * (2 * s - 1) * side - Vec3{0, 4 * t * t, 0};
    });
  }
  return e.text;
}

void add_broken(std::vector<Animal>& out) {
  out.push_back({"empty", "", 3, 3, ""});
  out.push_back({"only_comments", "# nothing\n\n#\n", 3, 3, ""});
  out.push_back({"only_vertices", "v 0 0 0\nv 1 0 0\nv 0 1 0\n", 3, 3, "no faces"});
  out.push_back({"only_lines", "v 0 0 0\nv 1 0 0\nv 0 1 0\nl 1 2 3 1\n", 3, 3, "no faces"});
  out.push_back({"only_points", "v 0 0 0\nv 1 0 0\np 1 2\n", 3, 3, "no faces"});
  out.push_back({"nan_coordinate", "v 0 0 0\nv nan 0 0\nv 0 1 0\nf 1 2 3\n", 3, 3, ":2"});
  out.push_back({"infinite_coordinate", "v 0 0 0\nv 1 0 0\nv 0 -inf 0\nf 1 2 3\n", 3, 3, ":3"});
  out.push_back({"overflowing_coordinate", "v 0 0 0\nv 1e999 0 0\nv 0 1 0\nf 1 2 3\n", 3, 3, ":2"});
  out.push_back({"nan_uv", "v 0 0 0\nv 1 0 0\nv 0 1 0\nvt nan 0\nf 1/1 2/1 3/1\n", 3, 3, ":4"});
  out.push_back({"index_zero", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 0 1 2\n", 3, 3, ":4"});
  out.push_back({"index_4_billion", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 4294967297\n", 3, 3, ":4"});
  out.push_back({"index_before_first", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf -1 -2 -4\n", 3, 3, ":4"});
  out.push_back({"two_corners", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2\nf 1 2 3\n", 3, 3, ":4"});
  out.push_back({"shell_call", "v 0 0 0\nv 1 0 0\nv 0 1 0\ncsh rm -rf x\nf 1 2 3\n", 3, 3, ":4"});
}

void add_shapes(std::vector<Animal>& out) {
  Export e;
  e.f({e.v(0, 0, 0), e.v(100, 0, 0), e.v(0, 100, 0)});
  out.push_back({"one_triangle", e.text, 0, 0, ""});
  Export degenerate;
  for (int i = 0; i < 9; ++i) degenerate.v(7, 7, 7);
  for (Index i = 1; i <= 7; ++i) degenerate.f({i, i + 1, i + 2});
  out.push_back({"all_in_one_point", degenerate.text, 0, 3, ""});
  Export collinear;
  for (int i = 0; i < 9; ++i) collinear.v(10 * i, 20 * i, -i);
  for (Index i = 1; i <= 7; ++i) collinear.f({i, i + 1, i + 2});
  out.push_back({"all_on_one_line", collinear.text, 0, 3, ""});
  Export repeated;
  const Index a = repeated.v(0, 0, 0), b = repeated.v(100, 0, 0), c = repeated.v(0, 100, 0);
  for (int i = 0; i < 50; ++i) repeated.f({a, b, c});
  for (int i = 0; i < 50; ++i) repeated.f({a, c, b});
  out.push_back({"one_face_a_hundred_times", repeated.text, 0, 0, ""});
  Export same_corner;
  same_corner.text = plain().text;
  same_corner.line("f 1 1 2");
  same_corner.line("f 5 5 5");
  same_corner.line("f 1 2 3 2 1");
  out.push_back({"corners_repeat_in_a_face", same_corner.text, 0, 0, ""});
  out.push_back({"moebius_strip", moebius(), 0, 0, ""});
  out.push_back({"fan_of_1000_faces_on_an_edge", fan(1000), 0, 0, ""});
  out.push_back({"polygon_of_10000_corners", polygon(10'000), 0, 0, ""});
  out.push_back({"vertex_with_20000_faces", wheel(20'000), 0, 0, ""});
  out.push_back({"heap_of_5000_strips", heap(5'000), 0, 0, ""});
  Export speck;
  speck.f({speck.v(0, 0, 0), speck.v(200, 0, 0), speck.v(0, 200, 0)});
  speck.button({50, 50, 0.1}, 9, 3);
  out.push_back({"cloth_of_one_triangle_with_a_button", speck.text, 0, 0, ""});
  Export trims;
  for (int i = 0; i < 8; ++i) trims.button({40.0 * i, 0, 0}, 9, 3);
  out.push_back({"all_trims_no_cloth", trims.text, 0, 3, "no cloth"});
  Export cloth;
  cloth.flat(300, 400, 30, 40);
  out.push_back({"all_cloth_no_trims", cloth.text, 0, 0, ""});
  out.push_back({"buttons_hang_on_the_cloth", hanging().text, 0, 0, ""});
  Export far;
  far.flat(300, 400, 30, 40);
  far.button({1e6, 1e6, 1e6}, 9, 3);
  out.push_back({"button_a_kilometre_off", far.text, 0, 0, ""});
}

/// The plain garment in metres, every number rounded to `decimals`.
std::string rounded(int decimals) {
  const std::string text = plain(1e-3).text;
  std::string out;
  for (std::size_t at = 0, end = 0; at < text.size(); at = end + 1) {
    end = text.find('\n', at);
    if (text[at] != 'v') {
      out += text.substr(at, end + 1 - at);
      continue;
    }
    out += 'v';
    for (std::size_t word = at + 2; word < end; word = std::min(text.find(' ', word), end) + 1) {
      const double x = std::stod(text.substr(word, end - word)) + 1e-4 * std::sin(0.001 * static_cast<double>(word));
      std::array<char, 64> digits{};
      const auto wrote =
          std::to_chars(digits.data(), digits.data() + digits.size(), x, std::chars_format::fixed, decimals);
      out += ' ' + std::string(digits.data(), wrote.ptr);
    }
    out += '\n';
  }
  return out;
}

void add_numbers(std::vector<Animal>& out) {
  out.push_back({"plain", plain().text, 0, 0, ""});
  out.push_back({"size_1e-6", plain(1e-9).text, 0, 0, ""});
  out.push_back({"size_1e7", plain(3e4).text, 0, 0, ""});
  out.push_back({"ten_kilometres_off", plain(1, {1e7, -1e7, 1e7}).text, 0, 0, ""});
  out.push_back({"four_decimals_in_metres", rounded(4), 0, 0, "rounded to 4 decimals (0.1000 mm)"});
  out.push_back({"three_decimals_in_metres", rounded(3), 0, 0, "rounded to 3 decimals (1.0000 mm)"});
  out.push_back({"six_decimals_in_metres", rounded(6), 0, 0, ""});
  out.push_back({"denormal_size", plain(1e-312).text, 0, 3, ""});
  out.push_back({"size_1e150", plain(1e150).text, 0, 3, ""});
  out.push_back({"size_1e300", plain(1e300).text, 0, 3, ""});
}

void add_texts(std::vector<Animal>& out) {
  const std::string base = plain().text;
  out.push_back({"crlf", with_crlf(base), 0, 0, ""});
  out.push_back({"no_newline_at_the_end", base.substr(0, base.size() - 1), 0, 0, ""});
  out.push_back({"byte_order_mark", "\xef\xbb\xbf" + base, 0, 0, ""});
  out.push_back({"unicode_names",
                 "o Kn\xc3\xb6pfe \xe5\xb8\x83 \xf0\x9f\xa7\xa5\ng \xc3\xa9\xc3\xa9\nusemtl \xd0\xb0\n" + base, 0, 0,
                 ""});
  out.push_back({"bytes_that_are_no_text", "o \xff\xfe\x80 name\nusemtl \xc3\n" + base, 0, 0, ""});
  out.push_back(
      {"long_names", "o " + std::string(100'000, 'n') + "\ng " + std::string(100'000, ' ') + "x\n" + base, 0, 0, ""});
  out.push_back(
      {"quotes_and_markup_in_names", "o <b>\"&'</b>; rm $(x) `y` %s %n \\\\ ,\nusemtl </script>\n" + base, 0, 0, ""});
  std::string groups = base;
  for (int i = 0; i < 20'000; ++i) groups += "g piece_" + std::to_string(i) + "\no " + std::to_string(i) + "\n";
  out.push_back({"20000_groups_without_faces", groups, 0, 0, ""});
  out.push_back({"uv_missing_on_some_corners", "vt 0 0\nvt 1 0\nvt 1 1\n" + base + "f 1/1 2/2 33/3\n", 0, 0, ""});
  out.push_back({"names_itself_as_library",
                 "mtllib coat.obj\nmtllib trimtack.manifest.json parts.json cloth.obj\n" + base, 0, 0,
                 "has the name of an output"});
  out.push_back({"missing_library", "mtllib nowhere.mtl\n" + base, 0, 0, "was not found"});
  out.push_back(
      {"library_outside", "mtllib ../../../../etc/hostname.mtl\nmtllib /etc/x.mtl\n" + base, 0, 0, "outside"});
  out.push_back({"library_is_a_folder", "mtllib folder.mtl\n" + base, 0, 0, "was not found"});
  out.push_back({"library_is_a_pipe", "mtllib pipe.mtl\n" + base, 0, 0, "was not found"});
}

}  // namespace

std::vector<Animal> all_animals() {
  std::vector<Animal> out;
  add_broken(out);
  add_shapes(out);
  add_numbers(out);
  add_texts(out);
  return out;
}

}  // namespace trimtack::zoo
