// SPDX-License-Identifier: MIT
// Pictures: what the z-buffer covers, where planes cut, colours that everyone can tell apart, PNG and SVG that are
// sound.
#include "trimtack/io/picture.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>

#include "core/raster.hpp"
#include "trimtack/demo.hpp"

using namespace trimtack;

namespace {

/// A sphere of latitude and longitude.
void add_sphere(PictureInput& picture, const Vec3& centre, double radius, Index part, int n = 48) {
  const auto base = static_cast<Index>(picture.positions.size());
  for (int j = 0; j <= n; ++j)
    for (int i = 0; i < n; ++i) {
      const double a = 2 * M_PI * i / n, b = M_PI * j / n;
      picture.positions.push_back(centre +
                                  radius * Vec3{std::sin(b) * std::cos(a), std::cos(b), -std::sin(b) * std::sin(a)});
    }
  const auto at = [&](int i, int j) { return base + static_cast<Index>(j * n + i % n); };
  for (int j = 0; j < n; ++j)
    for (int i = 0; i < n; ++i) {
      picture.triangles.push_back({at(i, j), at(i, j + 1), at(i + 1, j + 1)});
      picture.triangles.push_back({at(i, j), at(i + 1, j + 1), at(i + 1, j)});
    }
  picture.part_of_triangle.resize(picture.triangles.size(), part);
}

PictureInput two_spheres() {
  PictureInput picture;
  picture.parts = {{Role::Cloth, Mark::Plain, 0, kNone}, {Role::Trim, Mark::Plain, 1, 0}};
  add_sphere(picture, {0, 0, 0}, 100, 0);
  add_sphere(picture, {20, 10, 100}, 12, 1);
  picture.labels.push_back({{}, "7", Mark::Plain, 0, 0});
  picture.title = "two <spheres> & a \"label\"";
  picture.width = 600;
  return picture;
}

std::uint32_t big_endian(const std::string& bytes, std::size_t at) {
  std::uint32_t v = 0;
  for (std::size_t k = 0; k < 4; ++k) v = (v << 8) | static_cast<unsigned char>(bytes[at + k]);
  return v;
}

std::array<double, 3> linear(const Colour& c) {
  std::array<double, 3> out{c.r, c.g, c.b};
  for (double& v : out) v = v <= 0.04045 ? v / 12.92 : std::pow((v + 0.055) / 1.055, 2.4);
  return out;
}

/// CIE 1976 L*a*b*, D65 white (IEC 61966-2-1 primaries).
std::array<double, 3> lab(const std::array<double, 3>& rgb) {
  const double x = (0.4124 * rgb[0] + 0.3576 * rgb[1] + 0.1805 * rgb[2]) / 0.9505;
  const double y = 0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2];
  const double z = (0.0193 * rgb[0] + 0.1192 * rgb[1] + 0.9505 * rgb[2]) / 1.0890;
  const auto f = [](double t) { return t > 0.008856 ? std::cbrt(t) : 7.787 * t + 16.0 / 116; };
  return {116 * f(y) - 16, 500 * (f(x) - f(y)), 200 * (f(y) - f(z))};
}

double difference(const Colour& a, const Colour& b, const std::array<double, 9>& sight) {
  const auto seen = [&](const Colour& c) {
    const auto rgb = linear(c);
    std::array<double, 3> out{};
    for (std::size_t i = 0; i < 3; ++i)
      out[i] = std::clamp(sight[3 * i] * rgb[0] + sight[3 * i + 1] * rgb[1] + sight[3 * i + 2] * rgb[2], 0.0, 1.0);
    return lab(out);
  };
  const auto p = seen(a), q = seen(b);
  return std::hypot(p[0] - q[0], p[1] - q[1], p[2] - q[2]);
}

Camera camera_of(int size, double scale) {
  Camera camera;
  camera.width = camera.height = size;
  camera.scale = scale;
  return camera;
}

}  // namespace

TEST_CASE("raster: a square covers exactly the pixels whose centres it holds", "[picture]") {
  const std::vector<Vec3> p{{-2, -1, 0}, {2, -1, 0}, {2, 1, 0}, {-2, 1, 0}};
  const std::vector<Tri> t{{0, 1, 2}, {0, 2, 3}};
  const Raster raster = rasterise(p, t, camera_of(20, 3));  // 12 x 6 pixels
  CHECK(std::count_if(raster.triangle.begin(), raster.triangle.end(), [](Index i) { return i != kNone; }) == 72);
}

TEST_CASE("raster: a sphere's disc has its area, the nearest wins, the cut-away plane holds", "[picture]") {
  PictureInput picture;
  add_sphere(picture, {0, 0, 0}, 90, 0, 128);
  const auto covered = [](const Raster& r) {
    return static_cast<double>(std::count_if(r.triangle.begin(), r.triangle.end(), [](Index i) { return i != kNone; }));
  };
  Camera camera = camera_of(200, 1);
  const Raster raster = rasterise(picture.positions, picture.triangles, camera);
  CHECK(covered(raster) == Approx(M_PI * 90 * 90).epsilon(0.01));
  CHECK(raster.depth[raster.at(100, 100)] == Approx(90).margin(0.2));
  camera.front = 0;  // the inside of the far half is left
  const Raster cut = rasterise(picture.positions, picture.triangles, camera);
  CHECK(covered(cut) == Approx(M_PI * 90 * 90).epsilon(0.01));
  CHECK(cut.depth[cut.at(100, 100)] == Approx(-90).margin(0.2));
}

TEST_CASE("raster: exact ties go to the lower number; a triangle below a pixel still shows; NaN does not",
          "[picture]") {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const std::vector<Vec3> p{{-5, -5, 0},   {5, -5, 0},    {0, 5, 0},  {0.6, 0.6, 1},
                            {0.7, 0.6, 1}, {0.6, 0.7, 1}, {nan, 0, 9}};
  CHECK(rasterise(p, std::vector<Tri>{{0, 1, 2}, {2, 1, 0}}, camera_of(20, 1)).triangle[10 * 20 + 10] == 0);
  const Raster small = rasterise(p, std::vector<Tri>{{0, 1, 2}, {3, 4, 5}, {0, 1, 6}}, camera_of(20, 1));
  CHECK(small.triangle[9 * 20 + 10] == 1);
  CHECK(std::count(small.triangle.begin(), small.triangle.end(), 2U) == 0);
}

TEST_CASE("picture: marks and trim colours are told apart by everyone", "[picture]") {
  // Machado, Oliveira and Fernandes 2009, severity 1, on linear RGB (matrices from memory; each row sums to 1).
  const std::array<std::array<double, 9>, 4> sights{
      {{1, 0, 0, 0, 1, 0, 0, 0, 1},
       {0.152286, 1.052583, -0.204868, 0.114503, 0.786281, 0.099216, -0.003882, -0.048116, 1.051998},
       {0.367322, 0.860646, -0.227968, 0.280085, 0.672501, 0.047413, -0.011820, 0.042940, 0.968881},
       {1.255528, -0.076749, -0.178779, -0.078411, 0.930809, 0.147602, 0.004733, 0.691367, 0.303900}}};
  std::vector<Colour> marks;
  for (const Mark m : {Mark::Good, Mark::Close, Mark::Fault, Mark::Uncertain}) marks.push_back(colour_of(m));
  for (const auto& sight : sights) {
    for (std::size_t row = 0; row < 3; ++row)
      CHECK(sight[3 * row] + sight[3 * row + 1] + sight[3 * row + 2] == Approx(1).margin(1e-5));
    for (std::size_t i = 0; i < marks.size(); ++i) {
      for (std::size_t k = i + 1; k < marks.size(); ++k) CHECK(difference(marks[i], marks[k], sight) > 25);
      for (std::size_t k = 0; k < 8; ++k) CHECK(difference(marks[i], cloth_tint(k), sight) > 20);
    }
    for (std::size_t i = 0; i < 6; ++i) {
      for (std::size_t k = i + 1; k < 6; ++k) CHECK(difference(trim_colour(i), trim_colour(k), sight) > 25);
      for (std::size_t k = 0; k < 8; ++k) CHECK(difference(trim_colour(i), cloth_tint(k), sight) > 20);
    }
  }
}

TEST_CASE("picture: formats go by the extension, other ones are refused", "[picture]") {
  CHECK(*picture_format("a/b.PNG") == PictureFormat::Png);
  CHECK(*picture_format("b.svg") == PictureFormat::Svg);
  const auto wrong = picture_format("b.jpeg");
  REQUIRE_FALSE(wrong);
  CHECK(wrong.error().code == ErrorCode::Usage);
}

TEST_CASE("picture: PNG and SVG are sound, the same each time, and the same for Y up and Z up", "[picture]") {
  PictureInput picture = two_spheres();
  if (!can_draw_pictures()) {
    const auto none = draw_picture(picture, PictureFormat::Png);
    REQUIRE_FALSE(none);
    CHECK(none.error().message.find("cairo") != std::string::npos);
    return;
  }
  const auto png = draw_picture(picture, PictureFormat::Png), again = draw_picture(picture, PictureFormat::Png);
  REQUIRE(png);
  CHECK(*png == *again);
  CHECK(png->substr(0, 8) == "\x89PNG\r\n\x1a\n");
  CHECK(big_endian(*png, 16) == 600);
  CHECK(big_endian(*png, 20) > 200);
  const auto svg = draw_picture(picture, PictureFormat::Svg);
  REQUIRE(svg);
  CHECK(svg->find("two &lt;spheres&gt; &amp; a &quot;label&quot;") != std::string::npos);
  CHECK(svg->find(">7</text>") != std::string::npos);
  CHECK(svg->find("data:image/png;base64,iVBOR") != std::string::npos);
  CHECK(svg->rfind("</svg>\n") == svg->size() - 7);
  picture.up = UpAxis::Z;
  for (Vec3& p : picture.positions) p = {p.x, -p.z, p.y};
  const auto turned = draw_picture(picture, PictureFormat::Svg);
  REQUIRE(turned);
  CHECK(*turned == *svg);
}

TEST_CASE("picture: every way to be unusable is an error", "[picture]") {
  if (!can_draw_pictures()) return;
  PictureInput narrow = two_spheres();
  narrow.width = 10;
  CHECK_FALSE(draw_picture(narrow, PictureFormat::Png));
  PictureInput empty = two_spheres();
  empty.triangles.clear();
  empty.part_of_triangle.clear();
  CHECK_FALSE(draw_picture(empty, PictureFormat::Png));
  PictureInput unequal = two_spheres();
  unequal.part_of_triangle.pop_back();
  CHECK_FALSE(draw_picture(unequal, PictureFormat::Png));
  PictureInput nan = two_spheres();
  for (Vec3& p : nan.positions) p.x = std::numeric_limits<double>::quiet_NaN();
  CHECK_FALSE(draw_picture(nan, PictureFormat::Png));
  PictureInput stray = two_spheres();  // indices and parts out of range are left out
  stray.triangles[0][0] = 4'000'000'000U;
  stray.part_of_triangle[1] = 77;
  CHECK(draw_picture(stray, PictureFormat::Png));
}

TEST_CASE("picture: a trim inside the garment is shown by an inside view", "[picture]") {
  if (!can_draw_pictures()) return;
  PictureInput picture = two_spheres();
  CHECK(draw_picture(picture, PictureFormat::Svg)->find("inside") == std::string::npos);
  picture.parts.push_back({Role::Trim, Mark::Uncertain, 2, 1});
  add_sphere(picture, {-20, 0, 80}, 9, 2);
  picture.labels.push_back({{}, "8", Mark::Uncertain, 0, 1});
  const auto svg = draw_picture(picture, PictureFormat::Svg);
  REQUIRE(svg);
  CHECK(svg->find("inside of the front") != std::string::npos);
  CHECK(svg->find(">8?</text>") != std::string::npos);
  CHECK(svg->find("? uncertain") != std::string::npos);
}

TEST_CASE("picture: a fault of a few pixels has its number, and one that is covered is counted below", "[picture]") {
  if (!can_draw_pictures()) return;
  PictureInput picture = two_spheres();
  picture.parts.push_back({Role::Trim, Mark::Fault, 2, 1});
  add_sphere(picture, {-50, 0, 99}, 0.2, 2, 6);
  picture.labels.push_back({{}, "8", Mark::Fault, 0, 1});
  const auto small = draw_picture(picture, PictureFormat::Svg);
  REQUIRE(small);
  CHECK(small->find(">8!</text>") != std::string::npos);
  CHECK(small->find("left out") == std::string::npos);
  picture.parts.push_back({Role::Trim, Mark::Close, 3, 2});
  add_sphere(picture, {20, 10, 100}, 2, 3, 6);  // within the trim
  picture.labels.push_back({{}, "9", Mark::Close, 0, 2});
  const auto covered = draw_picture(picture, PictureFormat::Svg);
  REQUIRE(covered);
  CHECK(covered->find(">9~</text>") == std::string::npos);
  CHECK(covered->find("1 number left out where cloth or other trims cover the place") != std::string::npos);
}

TEST_CASE("picture: numbers stand for the place in the list of the worst, good trims have none", "[picture]") {
  PictureInput picture = two_spheres();
  FitSummary summary;
  summary.trims.resize(4);
  const auto judge = [&](std::size_t t, Verdict verdict, float lift) {
    summary.trims[t].verdict = verdict;
    summary.trims[t].worst[0].value = lift;
  };
  judge(0, Verdict::Good, 0.1F), judge(1, Verdict::Fault, 2), judge(2, Verdict::Close, 0.9F),
      judge(3, Verdict::Fault, 3);
  const std::vector<Index> trim_of_fit{7, 8, 9, 10};
  number_worst_first(picture, summary, trim_of_fit);
  REQUIRE(picture.labels.size() == 3);
  CHECK(picture.labels[0].text == "1");
  CHECK(picture.labels[0].group == 10);
  CHECK(picture.labels[0].mark == Mark::Fault);
  CHECK(picture.labels[1].group == 8);
  CHECK(picture.labels[2].text == "3");
  CHECK(picture.labels[2].group == 9);
  CHECK(picture.labels[2].mark == Mark::Close);
}
