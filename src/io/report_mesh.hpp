// SPDX-License-Identifier: MIT
/// Meshes of the report, thinned and packed for the page.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "trimtack/io/report_html.hpp"

namespace trimtack::report {

std::string base64(std::span<const std::uint8_t> bytes);

/// Little-endian arrays, in base64.
std::string pack(std::span<const std::uint16_t> values);
std::string pack(std::span<const std::uint32_t> values);
std::string pack(std::span<const float> values);

/// Coordinates as 1/65535 of a box.
struct Scale {
  Vec3 min;
  double size = 1;  ///< of the box's longest side
  std::uint16_t operator()(double value, int axis) const;
};
Scale scale_of(std::span<const ReportShot> shots);

/// A mesh of at most about `most` triangles: vertices that share a cell of a grid become one of them. `vertex` names
/// the vertex kept, so that the same thinning serves every pose.
struct ThinMesh {
  std::vector<Index> vertex;
  std::vector<Tri> triangles;  ///< numbers into `vertex`
};
ThinMesh thin(std::span<const Vec3> positions, std::span<const Tri> triangles, std::size_t most);

/// "{...}": box, cloth, shots, trims and prototypes as view.js reads them.
/// @param shown  trims to draw, ascending
std::string mesh_json(const ReportInput& input, std::span<const Index> shown);

/// Spacing of the cloth: median edge per component of cloth, in mm, as kNone-free pairs.
struct Spacing {
  Index component = 0;
  std::size_t triangles = 0;
  double median_mm = 0, finest_mm = 0, coarsest_mm = 0;  ///< median, 5th and 95th of a hundred
};
std::vector<Spacing> cloth_spacing(const ReportInput& input);

}  // namespace trimtack::report
