// SPDX-License-Identifier: MIT
/// Cloths and binding tables for tests: sheets and tubes with triangle and affine patches, made without the solver.
#pragma once

#include <cmath>
#include <cstddef>
#include <cstring>
#include <random>
#include <string>
#include <utility>
#include <vector>

#include "trimtack/table.hpp"
#include "trimtack/version.h"

namespace trimtack::cases {

struct Sheet {
  std::vector<Vec3> rest;
  std::vector<Tri> triangles;
};

/// Flat sheet in z = 0 with nx x ny vertices, `step` apart and moved by up to `jitter` steps inside the plane.
inline Sheet flat_sheet(Index nx, Index ny, double step, double jitter, std::uint64_t seed) {
  std::mt19937_64 random(seed);
  std::uniform_real_distribution<double> move(-jitter * step, jitter * step);
  Sheet sheet;
  for (Index j = 0; j < ny; ++j)
    for (Index i = 0; i < nx; ++i) sheet.rest.push_back({i * step + move(random), j * step + move(random), 0});
  for (Index j = 0; j + 1 < ny; ++j)
    for (Index i = 0; i + 1 < nx; ++i) {
      const Index v = j * nx + i;
      sheet.triangles.push_back({v, v + 1, v + nx + 1});
      sheet.triangles.push_back({v, v + nx + 1, v + nx});
    }
  return sheet;
}

/// The sheet rolled into a full tube about the y axis (its first and last columns stay apart).
inline Sheet tube(Index nx, Index ny, double step, std::uint64_t seed) {
  Sheet sheet = flat_sheet(nx, ny, step, 0.2, seed);
  const double radius = nx * step / 6.283185307179586;
  for (Vec3& p : sheet.rest) p = {radius * std::sin(p.x / radius), p.y, radius * std::cos(p.x / radius)};
  return sheet;
}

inline Vec3 normal_of(const Sheet& sheet, const Tri& t) {
  return normalized(cross(sheet.rest[t[1]] - sheet.rest[t[0]], sheet.rest[t[2]] - sheet.rest[t[0]]));
}

/// Appends a patch with the linear shape functions of a triangle.
inline Index add_triangle_patch(BindTable& table, const Sheet& sheet, const Tri& t, const std::array<double, 3>& w) {
  const Vec3 n = normal_of(sheet, t);
  const Vec3 e1 = sheet.rest[t[1]] - sheet.rest[t[0]], e2 = sheet.rest[t[2]] - sheet.rest[t[0]];
  const Vec3 u = normalized(e1), v = cross(n, u);
  // Columns of D = rest edges in (u, v); derivatives are the rows of D^-1.
  const double d11 = dot(e1, u), d12 = dot(e2, u), d21 = dot(e1, v), d22 = dot(e2, v);
  const double det = d11 * d22 - d12 * d21;
  const double a1 = d22 / det, a2 = -d21 / det, b1 = -d12 / det, b2 = d11 / det;
  Patch patch;
  patch.first = static_cast<Index>(table.vertices.size());
  patch.count = 3;
  table.vertices.insert(table.vertices.end(), t.begin(), t.end());
  table.c.insert(table.c.end(), w.begin(), w.end());
  for (const double x : {-(a1 + a2), a1, a2}) table.a.push_back(x);
  for (const double x : {-(b1 + b2), b1, b2}) table.b.push_back(x);
  table.patches.push_back(patch);
  return static_cast<Index>(table.patches.size() - 1);
}

/// Appends an affine least squares patch of all vertices within `radius` of `anchor`; the value comes from triangle t.
inline Index add_affine_patch(BindTable& table, const Sheet& sheet, const Tri& t, const std::array<double, 3>& w,
                              const Vec3& anchor, double radius) {
  const Vec3 n = normal_of(sheet, t);
  const Vec3 u = normalized(sheet.rest[t[1]] - sheet.rest[t[0]]), v = cross(n, u);
  std::vector<Index> vertices(t.begin(), t.end());
  for (Index i = 0; i < sheet.rest.size(); ++i)
    if (i != t[0] && i != t[1] && i != t[2] && length(sheet.rest[i] - anchor) <= radius) vertices.push_back(i);
  double mx = 0, my = 0;
  std::vector<std::pair<double, double>> xy;
  for (const Index i : vertices) {
    xy.emplace_back(dot(sheet.rest[i] - anchor, u), dot(sheet.rest[i] - anchor, v));
    mx += xy.back().first, my += xy.back().second;
  }
  const auto k = static_cast<double>(vertices.size());
  mx /= k, my /= k;
  double sxx = 0, sxy = 0, syy = 0;
  for (auto& [x, y] : xy) {
    x -= mx, y -= my;
    sxx += x * x, sxy += x * y, syy += y * y;
  }
  const double det = sxx * syy - sxy * sxy;
  Patch patch;
  patch.first = static_cast<Index>(table.vertices.size());
  patch.count = static_cast<Index>(vertices.size());
  for (std::size_t i = 0; i < vertices.size(); ++i) {
    table.vertices.push_back(vertices[i]);
    table.c.push_back(i < 3 ? w[i] : 0);
    table.a.push_back((syy * xy[i].first - sxy * xy[i].second) / det);
    table.b.push_back((sxx * xy[i].second - sxy * xy[i].first) / det);
  }
  table.patches.push_back(patch);
  return static_cast<Index>(table.patches.size() - 1);
}

/// `count` bindings at random places of the sheet: every third on a single triangle with an affine fallback, every
/// third affine with a triangle fallback, every third affine alone. All fields hold something.
inline BindTable make_table(const Sheet& sheet, Index count, double radius, std::uint64_t seed) {
  std::mt19937_64 random(seed);
  std::uniform_real_distribution<double> unit(0, 1);
  BindTable table;
  table.unit = {1.0, "mm", 0.9, {"buttons measure 18L", "a second reason"}};
  table.cloth_vertices = static_cast<Index>(sheet.rest.size());
  table.cloth_faces = static_cast<Index>(sheet.triangles.size());
  std::vector<Index> offsets{0}, corners;
  for (const Tri& t : sheet.triangles) {
    corners.insert(corners.end(), t.begin(), t.end());
    offsets.push_back(static_cast<Index>(corners.size()));
  }
  table.fingerprint = cloth_fingerprint(table.cloth_vertices, offsets, corners);
  for (Index i = 0; i < count; ++i) {
    Binding binding;
    binding.trim = 1000 + i;
    binding.name = "trim " + std::to_string(i);
    binding.role = i % 5 == 4 ? Role::Stitching : Role::Trim;
    binding.anchor_face = static_cast<Index>(random() % sheet.triangles.size());
    binding.anchor_triangle = sheet.triangles[binding.anchor_face];
    const double r = std::sqrt(unit(random)), s = unit(random);
    binding.anchor_weights = {1 - r, r * (1 - s), r * s};
    Vec3 anchor;
    for (std::size_t k = 0; k < 3; ++k) anchor += binding.anchor_weights[k] * sheet.rest[binding.anchor_triangle[k]];
    const auto triangle = [&] {
      return add_triangle_patch(table, sheet, binding.anchor_triangle, binding.anchor_weights);
    };
    const auto affine = [&] {
      return add_affine_patch(table, sheet, binding.anchor_triangle, binding.anchor_weights, anchor, radius);
    };
    binding.patch = i % 3 == 0 ? triangle() : affine();
    if (i % 3 == 0) binding.fallback = affine();
    if (i % 3 == 1) binding.fallback = triangle();
    binding.order = i % 3 == 0 ? 0 : 1;
    binding.radius = i % 3 == 0 ? 0 : radius;
    binding.gap = unit(random) - 0.25;
    binding.layer = i % 4;
    binding.runner_up = i % 2 == 0 ? kNone : 7;
    binding.jitter_deg_per_mm = unit(random);
    binding.bias_deg = unit(random);
    binding.error_deg = unit(random);
    if (i % 4 == 1) binding.notes = {"sits near an edge", "two layers are close, \"quoted\", \xc3\xa9"};
    table.bindings.push_back(binding);
  }
  (void)set_rest_frames(table, sheet.rest).has_value();
  return table;
}

/// Encoded table, 8-aligned. An empty result means that encoding failed.
inline std::vector<std::byte> bytes_of(const BindTable& table) {
  auto bytes = encode(table, TT_TABLE_FORMAT_LATEST);
  return bytes ? std::move(*bytes) : std::vector<std::byte>{};
}

inline Mat3 rotation_about(const Vec3& axis, double angle) {
  const Vec3 k = normalized(axis);
  const double c = std::cos(angle), s = std::sin(angle), m = 1 - c;
  return Mat3{{c + m * k.x * k.x, m * k.x * k.y - s * k.z, m * k.x * k.z + s * k.y, m * k.x * k.y + s * k.z,
               c + m * k.y * k.y, m * k.y * k.z - s * k.x, m * k.x * k.z - s * k.y, m * k.y * k.z + s * k.x,
               c + m * k.z * k.z}};
}

inline Mat3 random_rotation(std::mt19937_64& random) {
  std::normal_distribution<double> normal;
  const Vec3 axis{normal(random), normal(random), normal(random)};
  return rotation_about(axis, std::uniform_real_distribution<double>(-3.1, 3.1)(random));
}

/// Largest |R^T R - I| and |det R - 1|.
inline double rotation_defect(const Mat3& r) {
  const Mat3 g = transposed(r) * r;
  double worst = std::fabs(dot(cross(r.column(0), r.column(1)), r.column(2)) - 1);
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) worst = std::max(worst, std::fabs(g(i, j) - (i == j ? 1 : 0)));
  return worst;
}

}  // namespace trimtack::cases
