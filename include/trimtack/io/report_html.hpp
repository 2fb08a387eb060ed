// SPDX-License-Identifier: MIT
/// The report of a check as one self-contained page.
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "trimtack/fit_result.hpp"
#include "trimtack/mesh.hpp"
#include "trimtack/parts.hpp"
#include "trimtack/picture.hpp"
#include "trimtack/result.hpp"

namespace trimtack {

/// The garment in one frame. Frame 0 is the rest pose.
struct ReportShot {
  std::uint64_t frame = 0;
  std::vector<Vec3> cloth;  ///< #V of cloth.obj
  std::vector<Pose> poses;  ///< one per trim
};

/// What the page shows. Spans are borrowed; trims are in table order everywhere.
struct ReportInput {
  std::string title;
  const FitSummary* fit = nullptr;
  const Parts* parts = nullptr;                                       ///< prototypes with trade sizes, unit, up axis
  std::span<const std::string> trim_names;                            ///< #T
  std::span<const Role> trim_roles;                                   ///< #T
  std::span<const Index> trim_ids;                                    ///< #T, ids in parts.json
  std::span<const Index> trim_layers;                                 ///< #T, component that carries each
  std::span<const Index> trim_vertex_offsets, trim_triangle_offsets;  ///< #T + 1
  std::span<const Vec3> trim_vertices;                                ///< rest
  std::span<const Tri> trim_triangles;                                ///< local to each trim
  std::span<const Tri> cloth_triangles;
  std::span<const Index> component_of_triangle;               ///< of each cloth triangle
  std::vector<ReportShot> shots;                              ///< the rest pose first, then the frames worth a look
  std::vector<std::pair<std::string, std::string>> settings;  ///< what was run, as words and values
  PictureInput picture;  ///< front and back for paper and for browsers without WebGL; without triangles: none
};

/// The frames that the worst trims are worst in, ascending, at most `most`.
std::vector<std::uint64_t> frames_worth_a_look(const FitSummary& fit, std::size_t most);

/// The page: ASCII, opens without a network, same bytes for the same input. Coordinates are quantised to 1/65535 of the
/// garment's size and large cloths are thinned for the view, so that 20,000 trims over 200 frames stay below 10 MB.
/// @pre fit, parts and at least one shot are given; spans agree in length.
/// Cost: linear in the garment; a few hundred milliseconds for a million cloth faces.
std::string write_report_html(const ReportInput& input);

}  // namespace trimtack
