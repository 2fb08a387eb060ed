// SPDX-License-Identifier: MIT
// What lies in whole runs is measured in groups of four, what does not by itself: the bits are the same.
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <random>

#include "trimtack/features.hpp"

using namespace trimtack;

namespace {

struct Part {
  std::vector<Vec3> vertices;
  std::vector<std::vector<Index>> faces;
};

/// A prism, its caps polygons, its sides quads, with a tent of triangles on the top.
Part prism(Index sides, double size, std::mt19937& random) {
  std::uniform_real_distribution<double> shift(-0.1, 0.1);
  Part part;
  for (Index ring = 0; ring < 2; ++ring)
    for (Index i = 0; i < sides; ++i) {
      const double angle = 6.283 * i / sides;
      part.vertices.push_back({size * (std::cos(angle) + shift(random)), size * (std::sin(angle) + shift(random)),
                               size * (ring + shift(random))});
    }
  part.vertices.push_back({shift(random), shift(random), 2 * size});
  std::vector<Index> bottom;
  for (Index i = 0; i < sides; ++i) {
    const Index next = (i + 1) % sides;
    bottom.push_back(sides - 1 - i);
    part.faces.push_back({i, next, sides + next, sides + i});
    part.faces.push_back({sides + i, sides + next, 2 * sides});
  }
  part.faces.push_back(bottom);
  return part;
}

struct Mesh {
  std::vector<Vec3> positions;
  std::vector<Index> offsets{0}, corners;

  void add_face(std::span<const Index> face, Index base) {
    for (const Index v : face) corners.push_back(base + v);
    offsets.push_back(static_cast<Index>(corners.size()));
  }
  std::vector<Shape> shapes() const {
    const FaceView faces{positions, offsets, corners};
    return measure_shapes(faces, find_components(faces, weld(positions)));
  }
};

/// Part after part.
Mesh in_runs(std::span<const Part> parts) {
  Mesh mesh;
  for (const Part& part : parts) {
    const auto base = static_cast<Index>(mesh.positions.size());
    mesh.positions.insert(mesh.positions.end(), part.vertices.begin(), part.vertices.end());
    for (const auto& face : part.faces) mesh.add_face(face, base);
  }
  return mesh;
}

/// A face of each part, then the next of each.
Mesh mixed(std::span<const Part> parts) {
  Mesh mesh;
  std::vector<Index> bases;
  std::size_t most = 0;
  for (const Part& part : parts) {
    bases.push_back(static_cast<Index>(mesh.positions.size()));
    mesh.positions.insert(mesh.positions.end(), part.vertices.begin(), part.vertices.end());
    most = std::max(most, part.faces.size());
  }
  for (std::size_t f = 0; f < most; ++f)
    for (std::size_t p = 0; p < parts.size(); ++p)
      if (f < parts[p].faces.size()) mesh.add_face(parts[p].faces[f], bases[p]);
  return mesh;
}

void check_same(const std::vector<Shape>& a, const std::vector<Shape>& b) {
  REQUIRE(a.size() == b.size());
  for (std::size_t c = 0; c < a.size(); ++c) {
    CAPTURE(c);
    CHECK(a[c].face_count == b[c].face_count);
    CHECK(a[c].vertex_count == b[c].vertex_count);
    CHECK(a[c].area == b[c].area);
    CHECK(a[c].volume == b[c].volume);
    CHECK(a[c].centroid == b[c].centroid);
    CHECK(a[c].box.min == b[c].box.min);
    CHECK(a[c].box.max == b[c].box.max);
    CHECK(a[c].axes.m == b[c].axes.m);
    CHECK(a[c].moments == b[c].moments);
    CHECK(a[c].extents == b[c].extents);
    CHECK(a[c].extent_mids == b[c].extent_mids);
    CHECK(a[c].spread == b[c].spread);
  }
}

}  // namespace

TEST_CASE("copies measured side by side have the shapes that each has alone") {
  std::mt19937 random(5);
  std::vector<Part> parts;
  for (int i = 0; i < 40; ++i) parts.push_back(prism(3 + static_cast<Index>(random() % 9), 1.0 + i, random));
  check_same(in_runs(parts).shapes(), mixed(parts).shapes());
}

TEST_CASE("a copy with a vertex that is no number, one without an area and a large one do not disturb the others") {
  std::mt19937 random(6);
  std::vector<Part> parts;
  for (int i = 0; i < 9; ++i) parts.push_back(prism(6, 1.0 + i, random));
  parts[2].vertices[4].y = std::numeric_limits<double>::infinity();
  for (Vec3& p : parts[5].vertices) p = {p.x, 0, 0};
  parts.push_back(prism(200, 3, random));
  check_same(in_runs(parts).shapes(), mixed(parts).shapes());
}

namespace {

/// A straight prism over a regular polygon whose side is given, turned any way, its numbers printed as exporters do.
Part regular_prism(Index sides, double side, double height, std::mt19937& random) {
  std::normal_distribution<double> any;
  const Vec3 n = normalized({any(random), any(random), any(random)});
  const Vec3 u = normalized(cross(n, Vec3{any(random), any(random), any(random)})), v = cross(n, u);
  const double pi = std::acos(-1.0), radius = 0.5 * side / std::sin(pi / sides);
  const auto printed = [](double x) { return std::round(x * 1e5) / 1e5; };
  Part part;
  std::vector<Index> bottom, top;
  for (Index i = 0; i < 2 * sides; ++i) {
    const double angle = 2 * pi * (i % sides) / sides;
    const Vec3 p =
        radius * (std::cos(angle) * u + std::sin(angle) * v) + (i < sides ? 0.0 : height) * n + Vec3{300, 900, 20};
    part.vertices.push_back({printed(p.x), printed(p.y), printed(p.z)});
    if (i < sides) bottom.push_back(sides - 1 - i), top.push_back(sides + i);
    if (i < sides) part.faces.push_back({i, (i + 1) % sides, sides + (i + 1) % sides, sides + i});
  }
  part.faces.push_back(bottom);
  part.faces.push_back(top);
  return part;
}

void check_extents(Index sides, double side, double height, const std::array<double, 3>& expected) {
  std::mt19937 random(7);
  std::vector<Part> parts;
  for (int i = 0; i < 20; ++i) parts.push_back(regular_prism(sides, side, height, random));
  for (const Shape& s : in_runs(parts).shapes()) {
    for (std::size_t k = 0; k < 3; ++k) CHECK(s.extents[k] == Approx(expected[k]).margin(1e-4));
    // The middle of the extents is the prism's, unless that has a side opposite to a corner.
    if (sides % 2 == 0) CHECK(length(middle_of_extents(s) - s.centroid) < 1e-4);
    CHECK(std::abs(dot(cross(s.axes.column(0), s.axes.column(1)), s.axes.column(2)) - 1) < 1e-9);
  }
}

}  // namespace

TEST_CASE("a square, a hexagon, a triangle and a cube are as long as callipers say, however they are turned") {
  const double root = std::sqrt(3.0);
  check_extents(4, 10, 2, {10, 10, 2});       // a square stud
  check_extents(4, 2, 30, {30, 2, 2});        // a bar of square section
  check_extents(6, 5, 3, {10, 5 * root, 3});  // a hexagonal bead: corner to corner, flat to flat
  check_extents(3, 8, 1, {8, 4 * root, 1});   // a triangle: a side and its height
  check_extents(4, 6, 6, {6, 6, 6});          // a cube
}

TEST_CASE("a spike on a cube lengthens it on that side only") {
  std::mt19937 random(8);
  Part part = regular_prism(4, 10, 10, random);
  const Vec3 up = 0.1 * (part.vertices[4] - part.vertices[0]);
  Vec3 middle;
  for (int i = 4; i < 8; ++i) middle += 0.25 * part.vertices[static_cast<std::size_t>(i)];
  part.vertices.push_back(middle + 1.5 * up);
  part.faces.pop_back();
  for (Index i = 0; i < 4; ++i) part.faces.push_back({4 + i, 4 + (i + 1) % 4, 8});
  const std::vector<Part> parts{part};
  const Shape s = in_runs(parts).shapes()[0];
  CHECK(s.extents[0] == Approx(11.5).margin(1e-4));
  CHECK(s.extents[1] == Approx(10).margin(1e-4));
  CHECK(length(middle_of_extents(s) - (middle - 4.25 * up)) < 1e-4);
}
