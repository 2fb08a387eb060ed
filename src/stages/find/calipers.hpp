// SPDX-License-Identifier: MIT
/// Axes of parts whose second moments leave them open: a square stud, a hexagonal bead, a cube.
#pragma once

#include <array>
#include <cstddef>
#include <span>
#include <vector>

#include "trimtack/features.hpp"

namespace trimtack {

/// Turns the axes of such a part to where callipers would hold it: across the least area or volume, flush with a side.
/// Else they would lie anywhere, and with them the extents: a square of 10 mm would be 10 to 14 mm long, by rounding.
/// Scratch for many parts; one per thread.
class Calipers {
 public:
  /// @param shape  a component's, all of it measured. Axes, extents and their middles are set anew where the moments
  /// leave them open, unless the part is round there. Cost: O(1) for most, O(vertices) for round ones, for the others
  /// O(n log n) of at most 8000 vertices.
  void turn(const FaceView& faces, const ComponentMap& components, Index component, Shape& shape);

 private:
  struct Point2 {
    double x, y;
  };
  /// The first side of a rectangle about the points in a plane, and what it covers.
  struct Rectangle {
    Point2 side{1, 0};
    double area = 0;
  };

  void list_points(const FaceView& faces, const IndexList& vertices, const Vec3& origin, std::size_t step);
  /// Into the plane square to a direction.
  void project(const Vec3& u, const Vec3& v);
  void make_hull();
  Rectangle least_rectangle();
  void turn_in_plane(Vec3& u, Vec3& v);
  /// @param sides  normals, of which one becomes an axis    @return whether any will do
  bool turn_in_space(std::span<const Vec3> sides, std::array<Vec3, 3>& axes);

  std::vector<Vec3> points_;  // from the centroid
  std::vector<Point2> flat_, hull_;
};

}  // namespace trimtack
