// SPDX-License-Identifier: MIT
/// Small meshes for made-up garments: swept tubes, turned shapes, plates with holes, sheets. Lengths in mm.
#pragma once

#include <functional>
#include <span>
#include <vector>

#include "trimtack/types.hpp"

namespace trimtack::testing {

/// Polygons with their own vertices. `uv` is empty or one per corner.
struct Solid {
  std::vector<Vec3> vertices;
  std::vector<Index> offsets{0}, corners;
  std::vector<Vec2> uv;
  Index face_count() const { return static_cast<Index>(offsets.size() - 1); }
  Index add_vertex(const Vec3& p);
  void add_face(std::initializer_list<Index> face);
  void add_face(std::span<const Index> face);
};

/// Merges equal vertices and drops the corners and faces that collapse.
Solid cleaned(const Solid& solid);
Solid moved(const Solid& solid, const Mat3& linear, const Vec3& translation);
void append(Solid& to, const Solid& from);
/// Cuts polygons into triangles with the given share (0: none, 1: all).
Solid cut_to_triangles(const Solid& solid, double share, std::uint64_t seed);

enum class Ends { Flat, Fan, Open, Loop };
/// Tube around a path with one radius per path point. Loop joins the last ring to the first.
Solid swept(std::span<const Vec3> path, std::span<const double> radii, int sides, Ends ends, double squash = 1);
/// Turned around z. Profile points are (radius, z); a closed profile gives a ring, points at radius 0 close the shape.
Solid turned(std::span<const Vec2> profile, int sides, bool closed_profile);
/// Cells of a grid of nx x ny, kept where mask is set, as a plate between z = 0 and z = thickness with walls.
/// `place(i, j)` gives the corner positions; `wrap` joins i = nx to i = 0.
Solid plate(int nx, int ny, const std::function<bool(int, int)>& mask, const std::function<Vec2(int, int)>& place,
            double thickness, bool wrap);
Solid box(double x, double y, double z, int cuts = 1);
Solid ball(double radius, int sides, int rings);

/// A place on a surface: flat pattern coordinates (mm) -> space.
using Surface3 = std::function<Vec3(Vec2)>;
struct SheetOptions {
  double spacing = 10;
  double thickness = 0;  ///< 0: one open sheet; otherwise a closed shell around it
  double jitter = 0;     ///< share of the spacing by which inner vertices are moved
  bool walls = true;     ///< edge walls of a thick sheet
  std::uint64_t seed = 1;
};
/// A grid over [0, width] x [0, height] of the pattern, bent by `outline` (pattern -> pattern), laid on `surface`.
/// UVs are the pattern coordinates in mm.
Solid sheet(const Surface3& surface, double width, double height, const std::function<Vec2(Vec2)>& outline,
            const SheetOptions& options);
Vec3 normal_at(const Surface3& surface, Vec2 at);
/// Rigid frame on the surface: columns u, v, n and the point.
Pose frame_at(const Surface3& surface, Vec2 at, double lift, double turn_rad);

}  // namespace trimtack::testing
