// SPDX-License-Identifier: MIT
/// Cloth sheets with a known flat pattern, trims to put on them, and the evaluation of a table in double.
#pragma once

#include <array>
#include <cmath>
#include <functional>
#include <random>
#include <string>
#include <vector>

#include "runtime/frame.hpp"
#include "trimtack/bind.hpp"
#include "trimtack/cloth.hpp"
#include "trimtack/cloth_index.hpp"
#include "trimtack/table.hpp"

namespace trimtack::testing {

inline constexpr double kPi = 3.14159265358979323846;
inline constexpr double kDeg = 180 / kPi;

enum class Cells { Quads, Triangles, Mixed };

struct SheetOptions {
  double x0 = -60, x1 = 60, y0 = -60, y1 = 60, step = 5;
  Cells cells = Cells::Quads;
  double jitter = 0;  ///< share of the step by which inner vertices are moved
  std::uint64_t seed = 1;
  Index component = 0;
};

/// A flat pattern: where each vertex lies on the flat cloth, and the faces.
struct Pattern {
  std::vector<Vec2> flat;
  std::vector<Index> offsets{0}, corners, component;
};

inline void append_sheet(Pattern& out, const SheetOptions& o) {
  const auto nx = static_cast<Index>(std::lround((o.x1 - o.x0) / o.step));
  const auto ny = static_cast<Index>(std::lround((o.y1 - o.y0) / o.step));
  const auto first = static_cast<Index>(out.flat.size());
  std::mt19937_64 random(o.seed);
  std::uniform_real_distribution<double> shift(-o.jitter * o.step, o.jitter * o.step);
  for (Index j = 0; j <= ny; ++j)
    for (Index i = 0; i <= nx; ++i) {
      Vec2 p{o.x0 + (o.x1 - o.x0) * i / nx, o.y0 + (o.y1 - o.y0) * j / ny};
      if (i > 0 && i < nx) p.x += shift(random);
      if (j > 0 && j < ny) p.y += shift(random);
      out.flat.push_back(p);
    }
  for (Index j = 0; j < ny; ++j)
    for (Index i = 0; i < nx; ++i) {
      const Index a = first + j * (nx + 1) + i, b = a + 1, c = b + nx + 1, d = a + nx + 1;
      const bool cut = o.cells == Cells::Triangles || (o.cells == Cells::Mixed && (i * 7 + j * 3) % 4 == 0);
      const auto face = [&](std::initializer_list<Index> corners) {
        out.corners.insert(out.corners.end(), corners);
        out.offsets.push_back(static_cast<Index>(out.corners.size()));
        out.component.push_back(o.component);
      };
      if (!cut) {
        face({a, b, c, d});
      } else if ((i + j) % 2 == 0) {
        face({a, b, c});
        face({a, c, d});
      } else {
        face({a, b, d});
        face({b, c, d});
      }
    }
}

inline Pattern make_pattern(const SheetOptions& o) {
  Pattern out;
  append_sheet(out, o);
  return out;
}

using Shape = std::function<Vec3(const Vec2&)>;

inline std::vector<Vec3> shaped(const Pattern& pattern, const Shape& shape) {
  std::vector<Vec3> out;
  for (const Vec2& p : pattern.flat) out.push_back(shape(p));
  return out;
}

inline ClothMesh cloth_of(const Pattern& pattern, const std::vector<Vec3>& positions) {
  ClothMesh cloth;
  cloth.positions = positions;
  cloth.face_offsets = pattern.offsets;
  cloth.face_corners = pattern.corners;
  cloth.component_of_face = pattern.component;
  complete_cloth(cloth);
  return cloth;
}

inline Vec3 flat_shape(const Vec2& p) { return {p.x, p.y, 0}; }

/// Rolled on a cylinder of radius r whose axis is turned by `angle` from y; touches the plane at the pattern's (0, 0).
inline Shape cylinder(double r, double angle = 0) {
  return [=](const Vec2& p) {
    const double c = std::cos(angle), s = std::sin(angle);
    const double u = c * p.x + s * p.y, v = -s * p.x + c * p.y;
    const double x = r * std::sin(u / r), z = r * (1 - std::cos(u / r));
    return Vec3{c * x - s * v, s * x + c * v, z};
  };
}
/// Exact frame of that cylinder at pattern point p, relative to the flat sheet.
inline Mat3 cylinder_rotation(double r, const Vec2& p, double angle = 0) {
  const double c = std::cos(angle), s = std::sin(angle);
  const double w = (c * p.x + s * p.y) / r;
  const Mat3 turn{{c, -s, 0, s, c, 0, 0, 0, 1}};
  const Mat3 roll{{std::cos(w), 0, -std::sin(w), 0, 1, 0, std::sin(w), 0, std::cos(w)}};
  return turn * roll * transposed(turn);
}

inline void append_trim(TrimShapes& out, const std::string& name, const std::vector<Vec3>& vertices,
                        const std::vector<Tri>& triangles, Role role = Role::Trim) {
  out.id.push_back(static_cast<Index>(out.id.size()));
  out.name.push_back(name);
  out.role.push_back(role);
  out.prototype.push_back(kNone);
  out.row.push_back(kNone);
  out.placement.emplace_back();
  for (const Vec3& p : vertices) {
    out.source_vertex.push_back(static_cast<Index>(out.vertices.size()));
    out.vertices.push_back(p);
  }
  for (const Tri& t : triangles) {
    out.triangles.push_back(t);
    out.component_of_triangle.push_back(0);
  }
  out.vertex_offsets.push_back(static_cast<Index>(out.vertices.size()));
  out.triangle_offsets.push_back(static_cast<Index>(out.triangles.size()));
}

/// A closed disc (n-sided prism) standing on `foot`, axis along `up`.
struct Solid {
  std::vector<Vec3> vertices;
  std::vector<Tri> triangles;
};
inline void append_disc(Solid& out, const Vec3& foot, const Vec3& up, double radius, double height, Index sides = 24) {
  const Vec3 axis = std::abs(up.x) < 0.6 ? Vec3{1, 0, 0} : Vec3{0, 1, 0};
  const Vec3 u = normalized(axis - dot(axis, up) * up), v = cross(up, u);
  const auto first = static_cast<Index>(out.vertices.size());
  for (int level = 0; level < 2; ++level)
    for (Index i = 0; i < sides; ++i) {
      const double a = 2 * kPi * i / sides;
      out.vertices.push_back(foot + radius * std::cos(a) * u + radius * std::sin(a) * v + level * height * up);
    }
  out.vertices.push_back(foot);
  out.vertices.push_back(foot + height * up);
  for (Index i = 0; i < sides; ++i) {
    const Index a = first + i, b = first + (i + 1) % sides, c = a + sides, d = b + sides;
    out.triangles.push_back({a, b, d});
    out.triangles.push_back({a, d, c});
    out.triangles.push_back({first + 2 * sides, b, a});
    out.triangles.push_back({first + 2 * sides + 1, c, d});
  }
}
inline Solid disc(const Vec3& foot, const Vec3& up, double radius, double height, Index sides = 24) {
  Solid out;
  append_disc(out, foot, up, radius, height, sides);
  return out;
}
inline void append_box(Solid& out, const Vec3& low, const Vec3& high) {
  const auto first = static_cast<Index>(out.vertices.size());
  for (int i = 0; i < 8; ++i)
    out.vertices.push_back(
        {(i & 1) != 0 ? high.x : low.x, (i & 2) != 0 ? high.y : low.y, (i & 4) != 0 ? high.z : low.z});
  const std::array<std::array<Index, 4>, 6> quads{
      {{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}}};
  for (const auto& q : quads) {
    out.triangles.push_back({first + q[0], first + q[1], first + q[2]});
    out.triangles.push_back({first + q[0], first + q[2], first + q[3]});
  }
}

inline Unit millimetres() {
  Unit unit;
  unit.confidence = 1;
  return unit;
}

/// Pose of a patch on a deformed cloth, through the one frame maths, in double.
inline Pose evaluate(const BindTable& table, const Patch& patch, const std::vector<Vec3>& cloth) {
  const auto sums = frame::weighted_sums<double>(
      reinterpret_cast<const double*>(cloth.data()), sizeof(Vec3), table.vertices.data() + patch.first, patch.count,
      table.c.data() + patch.first, table.a.data() + patch.first, table.b.data() + patch.first, 1);
  Pose pose;
  std::array<double, 9> now{};
  if (frame::polar_frame(sums.t, sums.b, now.data()) != frame::FrameStatus::Good) {
    pose.rotation.m.fill(std::nan(""));
    return pose;
  }
  frame::relative_rotation(now.data(), patch.frame.m.data(), pose.rotation.m.data());
  const std::array<double, 3> rest{patch.origin.x, patch.origin.y, patch.origin.z};
  std::array<double, 3> moved{};
  frame::translation_of(pose.rotation.m.data(), sums.base, sums.offset, rest.data(), moved.data());
  pose.translation = {moved[0], moved[1], moved[2]};
  return pose;
}
inline Pose evaluate(const BindTable& table, Index binding, const std::vector<Vec3>& cloth) {
  return evaluate(table, table.patches[table.bindings[binding].patch], cloth);
}

inline double tilt_deg(const Mat3& a, const Mat3& b) {
  return 2 * std::asin(std::min(1.0, length(a.column(2) - b.column(2)) / 2)) * kDeg;
}

}  // namespace trimtack::testing
