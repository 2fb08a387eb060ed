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
