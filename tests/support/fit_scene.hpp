// SPDX-License-Identifier: MIT
/// Sheets of cloth with exact shapes, and discs and bars that sit on them, for tests of fit and seating.
#pragma once

#include <cmath>
#include <functional>
#include <random>
#include <string>
#include <vector>

#include "trimtack/cloth.hpp"
#include "trimtack/fit.hpp"

namespace trimtack::test {

inline constexpr double kPi = 3.14159265358979323846;
using Shape = std::function<Vec3(double u, double v)>;

/// A rectangle of cloth as a grid of triangles; `place` gives the position for the flat coordinates.
struct Sheet {
  std::vector<Vec2> flat;
  ClothMesh cloth;
  std::vector<Vec3> shaped(const Shape& shape) const {
    std::vector<Vec3> out;
    for (const Vec2& p : flat) out.push_back(shape(p.x, p.y));
    return out;
  }
};

/// Adds a grid of (2n+1)^2 vertices over [-half, half]^2 to the sheet, at height z, facing +z.
inline void add_grid(Sheet& sheet, double half_u, double half_v, double step, const Shape& rest, Index component,
                     unsigned jitter_seed = 0) {
  const int nu = static_cast<int>(std::lround(half_u / step)), nv = static_cast<int>(std::lround(half_v / step));
  const auto first = static_cast<Index>(sheet.flat.size());
  std::mt19937 random(jitter_seed);
  std::uniform_real_distribution<double> shake(-0.25 * step, 0.25 * step);
  const Index row = static_cast<Index>(2 * nu + 1);
  for (int j = -nv; j <= nv; ++j) {
    for (int i = -nu; i <= nu; ++i) {
      const bool inner = std::abs(i) < nu && std::abs(j) < nv && jitter_seed != 0;
      const Vec2 p{i * step + (inner ? shake(random) : 0), j * step + (inner ? shake(random) : 0)};
      sheet.flat.push_back(p);
      sheet.cloth.positions.push_back(rest(p.x, p.y));
    }
  }
  for (int j = 0; j < 2 * nv; ++j) {
    for (int i = 0; i < 2 * nu; ++i) {
      const Index a = first + static_cast<Index>(j) * row + static_cast<Index>(i);
      for (const Index v : {a, a + 1, a + row + 1, a, a + row + 1, a + row}) sheet.cloth.face_corners.push_back(v);
      for (int k = 0; k < 2; ++k) {
        sheet.cloth.face_offsets.push_back(sheet.cloth.face_offsets.back() + 3);
        sheet.cloth.component_of_face.push_back(component);
      }
    }
  }
}

inline Sheet flat_sheet(double half, double step, unsigned jitter_seed = 0) {
  Sheet sheet;
  add_grid(
      sheet, half, half, step,
      [](double u, double v) {
        return Vec3{u, v, 0};
      },
      0, jitter_seed);
  complete_cloth(sheet.cloth);
  return sheet;
}

/// Everything measure_fit needs, kept alive together.
struct Scene {
  Sheet sheet;
  TrimShapes trims;
  BindTable table;
  Footprints feet;
  std::vector<Row> rows;
  FitOptions options;
};

/// Triangle of the sheet under or over (x, y) of the flat rest sheet, among those of one component.
inline Index triangle_at(const ClothMesh& cloth, double x, double y, Index component = 0) {
  Index best = kNone;
  double nearest = 1e300;
  for (Index t = 0; t < cloth.triangles.triangles.size(); ++t) {
    if (cloth.component_of_face[cloth.triangles.face[t]] != component) continue;
    const Tri& v = cloth.triangles.triangles[t];
    const Vec3 c = (1.0 / 3) * (cloth.positions[v[0]] + cloth.positions[v[1]] + cloth.positions[v[2]]);
    const double d = std::hypot(c.x - x, c.y - y);
    if (d < nearest) nearest = d, best = t;
  }
  return best;
}

/// Makes the only two trims one.
inline void make_one_trim(TrimShapes& t) {
  for (Index k = t.triangle_offsets[1]; k < t.triangle_offsets[2]; ++k) {
    for (Index& v : t.triangles[k]) v += t.vertex_offsets[1];
  }
  t.vertex_offsets = {0, t.vertex_offsets[2]};
  t.triangle_offsets = {0, t.triangle_offsets[2]};
  t.id.resize(1), t.name.resize(1), t.role.resize(1), t.prototype.resize(1), t.row.resize(1), t.placement.resize(1);
}

/// Adds a solid trim with the outline given (counter-clockwise), from `z` up to `z + thickness`, with footprint points
/// on the outline, half way in and in the middle. Returns its table index.
inline Index add_trim(Scene& scene, const std::string& name, const std::vector<Vec2>& outline, double z,
                      double thickness, Index component = 0) {
  const auto n = static_cast<Index>(outline.size());
  const auto id = static_cast<Index>(scene.trims.id.size());
  Vec2 middle;
  for (const Vec2& p : outline) middle = {middle.x + p.x / n, middle.y + p.y / n};
  for (const double height : {z, z + thickness}) {
    scene.trims.vertices.push_back({middle.x, middle.y, height});
    for (const Vec2& p : outline) scene.trims.vertices.push_back({p.x, p.y, height});
  }
  for (Index i = 0; i < n; ++i) {
    const Index a = 1 + i, b = 1 + (i + 1) % n, top = n + 1;
    for (const Tri& t : {Tri{0, b, a}, Tri{top, top + a, top + b}, Tri{a, b, top + b}, Tri{a, top + b, top + a}}) {
      scene.trims.triangles.push_back(t);
      scene.trims.component_of_triangle.push_back(100 + id);
    }
  }
  scene.trims.id.push_back(id);
  scene.trims.name.push_back(name);
  scene.trims.role.push_back(Role::Trim);
  scene.trims.prototype.push_back(0);
  scene.trims.row.push_back(kNone);
  scene.trims.placement.push_back({});
  scene.trims.vertex_offsets.push_back(static_cast<Index>(scene.trims.vertices.size()));
  scene.trims.triangle_offsets.push_back(static_cast<Index>(scene.trims.triangles.size()));
  const auto add_foot = [&](double x, double y) {
    FootprintPoint foot;
    foot.point = {x, y, z};
    foot.weight = 1;
    foot.surface.triangle = triangle_at(scene.sheet.cloth, x, y, component);
    scene.feet.points.push_back(foot);
  };
  add_foot(middle.x, middle.y);
  for (const Vec2& p : outline) {
    add_foot(p.x, p.y);
    add_foot(0.5 * (p.x + middle.x), 0.5 * (p.y + middle.y));
  }
  scene.feet.offsets.push_back(static_cast<Index>(scene.feet.points.size()));
  Binding binding;
  binding.trim = id;
  binding.name = name;
  binding.layer = component;
  const Index anchor = triangle_at(scene.sheet.cloth, middle.x, middle.y, component);
  binding.anchor_face = scene.sheet.cloth.triangles.face[anchor];
  binding.anchor_triangle = scene.sheet.cloth.triangles.triangles[anchor];
  scene.table.bindings.push_back(binding);
  scene.table.cloth_vertices = static_cast<Index>(scene.sheet.cloth.positions.size());
  return id;
}

inline std::vector<Vec2> disc(double x, double y, double diameter, int corners = 24) {
  std::vector<Vec2> out;
  for (int i = 0; i < corners; ++i) {
    const double a = 2 * kPi * i / corners;
    out.push_back({x + 0.5 * diameter * std::cos(a), y + 0.5 * diameter * std::sin(a)});
  }
  return out;
}

inline std::vector<Vec2> bar(double x, double y, double length, double width) {
  const double l = 0.5 * length, w = 0.5 * width;
  return {{x - l, y - w}, {x, y - w}, {x + l, y - w}, {x + l, y + w}, {x, y + w}, {x - l, y + w}};
}

inline FitModel prepare(const Scene& scene) {
  return prepare_fit(scene.sheet.cloth, scene.trims, scene.table, scene.feet, scene.rows, scene.options);
}

/// Measures the frames given with the poses given; returns all of them.
struct Measured {
  std::vector<std::vector<FitMeasures>> frames;
  FitSummary summary;
};
inline Measured measure(const Scene& scene, const std::vector<std::vector<Vec3>>& cloths,
                        const std::vector<std::vector<Pose>>& poses) {
  const FitModel model = prepare(scene);
  FitState state = begin_fit(model, scene.options);
  Measured result;
  for (std::size_t f = 0; f < cloths.size(); ++f) {
    result.frames.emplace_back(scene.table.bindings.size());
    measure_fit(model, cloths[f], poses[f], {}, f + 1, scene.options, state, result.frames.back());
  }
  result.summary = finish_fit(model, std::move(state), scene.options);
  return result;
}

/// u bends around the y axis with radius R, away from +z (convex) for R > 0, towards it for R < 0. Isometric.
inline Shape cylinder(double radius) {
  return [radius](double u, double v) {
    return Vec3{radius * std::sin(u / radius), v, radius * (std::cos(u / radius) - 1)};
  };
}
/// The sphere of radius R that touches the flat sheet at the origin (polar distance kept).
inline Shape sphere(double radius) {
  return [radius](double u, double v) {
    const double r = std::hypot(u, v), a = r / radius, s = r > 0 ? radius * std::sin(a) / r : 1.0;
    return Vec3{u * s, v * s, radius * (std::cos(a) - 1)};
  };
}
/// Twisted strip (x, y) -> (x, y cos kx, y sin kx).
inline Shape twisted_strip(double k) {
  return [k](double u, double v) { return Vec3{u, v * std::cos(k * u), v * std::sin(k * u)}; };
}

inline Mat3 rotation_about(const Vec3& axis, double angle_rad) {
  const Vec3 n = normalized(axis);
  const double s = std::sin(0.5 * angle_rad);
  return to_matrix({n.x * s, n.y * s, n.z * s, std::cos(0.5 * angle_rad)});
}
/// The motion that turns by `rotation` and takes p to q.
inline Pose about(const Mat3& rotation, const Vec3& p, const Vec3& q) { return {rotation, q - rotation * p}; }

}  // namespace trimtack::test
