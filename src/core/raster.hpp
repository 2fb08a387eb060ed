// SPDX-License-Identifier: MIT
/// A z-buffer for pictures of garments: orthographic views of triangles, smooth or faceted, with contact shadow.
#pragma once

#include <cstdint>
#include <limits>
#include <span>
#include <vector>

#include "trimtack/types.hpp"

namespace trimtack {

/// An orthographic view. `right`, `up` and `toward` (from the scene to the viewer) are orthonormal.
struct Camera {
  Vec3 right{1, 0, 0}, up{0, 1, 0}, toward{0, 0, 1};
  Vec3 centre;       ///< world point in the middle of the image
  double scale = 1;  ///< pixels per world unit
  int width = 0, height = 0;
  double front = std::numeric_limits<double>::infinity();  ///< nothing nearer to the viewer than this (z below) is seen
  /// Pixel coordinates (x right, y down, z towards the viewer in world units) of a world point.
  Vec3 project(const Vec3& p) const {
    const Vec3 d = p - centre;
    return {0.5 * width + scale * dot(d, right), 0.5 * height - scale * dot(d, up), dot(d, toward)};
  }
};

/// What is seen at each pixel, row by row from the top left.
struct Raster {
  int width = 0, height = 0;
  std::vector<Index> triangle;  ///< kNone: background
  std::vector<float> depth;     ///< towards the viewer, world units; -infinity: background
  std::size_t at(int x, int y) const {
    return static_cast<std::size_t>(y) * static_cast<std::size_t>(width) + static_cast<std::size_t>(x);
  }
};

/// Draws triangles at the pixel centres they cover, one smaller than a pixel at its own centre; the nearest wins, exact
/// ties go to the lower triangle number. Triangles with a corner that is not finite are left out. Cost: O(#T + covered
/// pixels).
Raster rasterise(std::span<const Vec3> positions, std::span<const Tri> triangles, const Camera& camera);

/// Light on every pixel in [0, 1]: a lamp from the upper left and one at the viewer, both sides of a face alike,
/// darkened where nearer things stand close by. `normals` per vertex (need not be unit); a triangle with `faceted` set
/// uses its own plane. `reach` is the contact shadow's radius in pixels, 0 for none.
std::vector<float> shade(const Raster& raster, std::span<const Vec3> positions, std::span<const Tri> triangles,
                         std::span<const Vec3> normals, std::span<const std::uint8_t> faceted, const Camera& camera,
                         int reach);

/// Sums of area-weighted face normals per vertex.
std::vector<Vec3> vertex_normals(std::span<const Vec3> positions, std::span<const Tri> triangles);

}  // namespace trimtack
