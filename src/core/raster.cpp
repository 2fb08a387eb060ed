// SPDX-License-Identifier: MIT
// Pineda 1988: edge functions for coverage and interpolation. The contact shadow compares depths on two rings around
// a pixel (screen-space ambient occlusion in its simplest form).
#include "core/raster.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace trimtack {
namespace {

struct Flat {
  double x = 0, y = 0;
};

double edge(const Vec3& a, const Vec3& b, double x, double y) {
  return (b.x - a.x) * (y - a.y) - (b.y - a.y) * (x - a.x);
}

void put(Raster& raster, int x, int y, double z, double front, Index number) {
  if (z > front) return;
  const std::size_t i = raster.at(x, y);
  const auto depth = static_cast<float>(z);
  if (!(depth > raster.depth[i])) return;
  raster.depth[i] = depth;
  raster.triangle[i] = number;
}

void draw(Raster& raster, const std::array<Vec3, 3>& p, double front, Index number) {
  const double area = edge(p[0], p[1], p[2].x, p[2].y);
  if (area == 0 || !std::isfinite(area)) return;
  const auto clip = [](double v, int limit) {
    return static_cast<int>(std::clamp(v, 0.0, static_cast<double>(limit)));
  };
  const Vec3 middle = (1.0 / 3) * (p[0] + p[1] + p[2]);
  if (std::abs(area) < 1 && middle.x >= 0 && middle.y >= 0 && middle.x < raster.width && middle.y < raster.height)
    put(raster, static_cast<int>(middle.x), static_cast<int>(middle.y), middle.z, front, number);
  const int x0 = clip(std::floor(std::min({p[0].x, p[1].x, p[2].x}) - 0.5), raster.width);
  const int x1 = clip(std::ceil(std::max({p[0].x, p[1].x, p[2].x}) + 0.5), raster.width);
  const int y0 = clip(std::floor(std::min({p[0].y, p[1].y, p[2].y}) - 0.5), raster.height);
  const int y1 = clip(std::ceil(std::max({p[0].y, p[1].y, p[2].y}) + 0.5), raster.height);
  for (int y = y0; y < y1; ++y)
    for (int x = x0; x < x1; ++x) {
      const double cx = x + 0.5, cy = y + 0.5;
      const double a = edge(p[1], p[2], cx, cy) / area, b = edge(p[2], p[0], cx, cy) / area;
      const double c = 1 - a - b;
      if (a < 0 || b < 0 || c < 0) continue;
      put(raster, x, y, a * p[0].z + b * p[1].z + c * p[2].z, front, number);
    }
}

/// How much of the surroundings stands in front of a pixel: 0 free, 1 shut in.
double shut_in(const Raster& raster, int x, int y, int reach, double pixel) {
  constexpr std::array<Flat, 8> kRing{
      {{1, 0}, {0.7, 0.7}, {0, 1}, {-0.7, 0.7}, {-1, 0}, {-0.7, -0.7}, {0, -1}, {0.7, -0.7}}};
  const double here = raster.depth[raster.at(x, y)];
  double sum = 0;
  for (const double size : {0.35, 1.0})
    for (const Flat& d : kRing) {
      const int u = x + static_cast<int>(std::lround(size * reach * d.x));
      const int v = y + static_cast<int>(std::lround(size * reach * d.y));
      if (u < 0 || v < 0 || u >= raster.width || v >= raster.height) continue;
      const double rise = (raster.depth[raster.at(u, v)] - here) / (size * reach * pixel);
      if (rise > 0.1) sum += std::min(1.0, 1.4 * (rise - 0.1)) / (1 + std::max(0.0, rise - 3));
    }
  return sum / 16;
}

}  // namespace

Raster rasterise(std::span<const Vec3> positions, std::span<const Tri> triangles, const Camera& camera) {
  Raster raster;
  raster.width = camera.width;
  raster.height = camera.height;
  const auto pixels = static_cast<std::size_t>(camera.width) * static_cast<std::size_t>(camera.height);
  raster.triangle.assign(pixels, kNone);
  raster.depth.assign(pixels, -std::numeric_limits<float>::infinity());
  for (std::size_t t = 0; t < triangles.size(); ++t) {
    std::array<Vec3, 3> p;
    for (std::size_t k = 0; k < 3; ++k) p[k] = camera.project(positions[triangles[t][k]]);
    draw(raster, p, camera.front, static_cast<Index>(t));
  }
  return raster;
}

std::vector<Vec3> vertex_normals(std::span<const Vec3> positions, std::span<const Tri> triangles) {
  std::vector<Vec3> normals(positions.size());
  for (const Tri& t : triangles) {
    const Vec3 n = cross(positions[t[1]] - positions[t[0]], positions[t[2]] - positions[t[0]]);
    if (!is_finite(n)) continue;
    for (const Index v : t) normals[v] += n;
  }
  return normals;
}

namespace {

/// What shading needs of one triangle; neighbouring pixels mostly share it.
struct Lit {
  Index triangle = kNone;
  std::array<Vec3, 3> at, normal;
  Vec3 own;
  double area = 1;
  bool flat = false;
};

void load(Lit& lit, Index t, std::span<const Vec3> positions, const Tri& tri, std::span<const Vec3> normals, bool flat,
          const Camera& camera) {
  lit.triangle = t;
  lit.flat = flat;
  lit.own = normalized(cross(positions[tri[1]] - positions[tri[0]], positions[tri[2]] - positions[tri[0]]));
  for (std::size_t k = 0; k < 3; ++k) {
    lit.at[k] = camera.project(positions[tri[k]]);
    if (!flat) lit.normal[k] = normalized(normals[tri[k]]);
  }
  lit.area = edge(lit.at[0], lit.at[1], lit.at[2].x, lit.at[2].y);
}

Vec3 normal_at(const Lit& lit, double x, double y) {
  if (lit.flat) return lit.own;
  const double a = edge(lit.at[1], lit.at[2], x, y) / lit.area, b = edge(lit.at[2], lit.at[0], x, y) / lit.area;
  return normalized(a * lit.normal[0] + b * lit.normal[1] + (1 - a - b) * lit.normal[2]);
}

}  // namespace

std::vector<float> shade(const Raster& raster, std::span<const Vec3> positions, std::span<const Tri> triangles,
                         std::span<const Vec3> normals, std::span<const std::uint8_t> faceted, const Camera& camera,
                         int reach) {
  std::vector<float> light(raster.triangle.size(), 1.0F);
  const Vec3 lamp = normalized(0.75 * camera.toward + 0.5 * camera.up - 0.45 * camera.right);
  Lit lit;
  std::vector<float> shadows(static_cast<std::size_t>(raster.width) / 2 + 1, -1.0F);
  for (int y = 0; y < raster.height; ++y) {
    if (y % 2 == 0) std::fill(shadows.begin(), shadows.end(), -1.0F);
    for (int x = 0; x < raster.width; ++x) {
      const std::size_t i = raster.at(x, y);
      const Index t = raster.triangle[i];
      if (t == kNone) continue;
      if (t != lit.triangle)
        load(lit, t, positions, triangles[t], normals, !faceted.empty() && faceted[t] != 0, camera);
      Vec3 n = normal_at(lit, x + 0.5, y + 0.5);
      if (dot(lit.own, camera.toward) < 0) n = -n;
      const double diffuse = 0.30 + 0.30 * std::max(0.0, dot(n, camera.toward)) + 0.42 * std::max(0.0, dot(n, lamp));
      double shadow = 0;
      if (reach > 0) {
        // It is soft: one value does for two by two pixels.
        float& known = shadows[static_cast<std::size_t>(x / 2)];
        if (known < 0) known = static_cast<float>(shut_in(raster, x, y, reach, 1 / camera.scale));
        shadow = known;
      }
      light[i] = static_cast<float>(std::clamp(diffuse * (1 - 0.75 * shadow), 0.0, 1.0));
    }
  }
  return light;
}

}  // namespace trimtack
