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

/// A corner's weight in a triangle of the given area, as a linear function of the place.
struct Slope {
  double per_x = 0, per_y = 0, constant = 0;
  Slope(const Vec3& from, const Vec3& to, double area)
      : per_x((from.y - to.y) / area), per_y((to.x - from.x) / area), constant(-from.x * per_x - from.y * per_y) {}
  double at_row(double y) const { return constant + per_y * y; }
};

/// The part of a row where linear functions are positive.
struct Span {
  double low = 0, high = 0;
  void keep_positive(double constant, double per_x) {
    if (per_x > 0) low = std::max(low, -constant / per_x);
    if (per_x < 0) high = std::min(high, -constant / per_x);
    if (per_x == 0 && constant < 0) high = low - 2;
  }
};

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
  const Slope a(p[1], p[2], area), b(p[2], p[0], area);
  for (int y = y0; y < y1; ++y) {
    const double a_row = a.at_row(y + 0.5), b_row = b.at_row(y + 0.5);
    Span span{x0 + 0.5, x1 - 0.5};
    span.keep_positive(a_row, a.per_x);
    span.keep_positive(b_row, b.per_x);
    span.keep_positive(1 - a_row - b_row, -a.per_x - b.per_x);
    if (span.low > span.high + 2) continue;
    // One pixel more on both sides, where the test decides.
    const int first = std::max(x0, static_cast<int>(span.low) - 1),
              last = std::min(x1, static_cast<int>(span.high) + 2);
    for (int x = first; x < last; ++x) {
      const double wa = a_row + a.per_x * (x + 0.5), wb = b_row + b.per_x * (x + 0.5), wc = 1 - wa - wb;
      if (wa < 0 || wb < 0 || wc < 0) continue;
      put(raster, x, y, wa * p[0].z + wb * p[1].z + wc * p[2].z, front, number);
    }
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
