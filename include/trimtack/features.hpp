// SPDX-License-Identifier: MIT
/// Measurements of each component: size, area, volume, topology, edges, creases, curvature, outline, thickness, UVs.
#pragma once

#include <array>
#include <cmath>
#include <span>
#include <vector>

#include "trimtack/components.hpp"
#include "trimtack/mesh.hpp"
#include "trimtack/parallel.hpp"

namespace trimtack {

/// Integrals over a component's surface. Lengths in file units.
struct Shape {
  Index face_count = 0, vertex_count = 0;  ///< vertices are welded ones
  double area = 0;
  double volume = 0;  ///< signed, of the cone over the centroid: the enclosed volume when closed
  Vec3 centroid;      ///< of the surface
  Box box;
  Mat3 axes;  ///< columns, right-handed: principal axes of the surface, longest first; flush with a side where the
              ///< moments leave them open (squares, cubes), unless the part is round there
  std::array<double, 3> moments{};      ///< second moments along the axes divided by the area (length squared)
  std::array<double, 3> extents{};      ///< of the vertices along the axes
  std::array<double, 3> extent_mids{};  ///< middle of that range along each axis, relative to the centroid
  /// Of the vertices about their mean, whatever the faces are: root mean square, mean and largest distance, and the
  /// fourth root of the second invariant of their covariance.
  std::array<double, 4> spread{};
};

/// The middle of the extents, which the centroid of a lopsided part is not.
inline Vec3 middle_of_extents(const Shape& s) {
  Vec3 middle = s.centroid;
  for (int k = 0; k < 3; ++k) middle += s.extent_mids[static_cast<std::size_t>(k)] * s.axes.column(k);
  return middle;
}

/// Half of what a part spans along a direction, no less.
inline double half_span(const Shape& s, const Vec3& along) {
  double span = 0;
  for (int k = 0; k < 3; ++k)
    span += 0.5 * s.extents[static_cast<std::size_t>(k)] * std::abs(dot(s.axes.column(k), along));
  return span;
}

/// What edges, outline, inside and UVs tell. Costs more than Shape; congruent components share it.
struct Detail {
  Index edges = 0, boundary_edges = 0, non_manifold_edges = 0, boundary_loops = 0;
  int euler = 0;
  bool closed = false;     ///< no boundary and no non-manifold edge
  Index loose_pieces = 0;  ///< of up to 20,000 faces, joined to the rest by vertices or by edges of more than two faces
  /// Where faces repeat others, as of cloth exported with both sides: of the others alone, as area and volume of a
  /// Shape.
  double single_area = 0, single_volume = 0;
  double mean_edge = 0;  ///< geometric mean length
  double longest_edge = 0;
  double edge_spread = 0;  ///< standard deviation of the logarithm of the edge length
  double boundary_length = 0;
  double crease_share = 0;      ///< length of edges bent by more than 35 degrees over that of all inner edges
  double bend = 0;              ///< integral of |angle| over inner edges: sum of length * angle (length)
  double curvature = 0;         ///< integral of the absolute angle deficit over inner vertices (radians)
  double roundness = 0;         ///< least over largest support of the outline around the best axis (1 = circle)
  int round_axis = 2;           ///< principal axis around which the outline was judged
  double thickness = 0;         ///< median distance through the inside, 0 when nothing faces the surface
  double thickness_spread = 0;  ///< range from the 10 to the 60 percent quantile over the median
  double facing_share = 0;      ///< share of the sampled area that faces an opposite sheet
  bool has_uv = false;
  double uv_scale = 0;         ///< UV length per length (area-weighted median)
  double uv_scale_spread = 0;  ///< quartile range over median
  double uv_stretch = 0;       ///< area-weighted median ratio of the singular values (1 = conformal)
};

/// One Shape per component. Cost: O(#corners). Threads: by component through the executor, same result for any.
std::vector<Shape> measure_shapes(const FaceView& faces, const ComponentMap& components, const Executor& executor = {});
/// The same into a list of all, without those few that stay apart.
void measure_shapes(const FaceView& faces, const ComponentMap& components, std::span<const Index> apart,
                    std::span<Shape> shapes, const Executor& executor = {});
/// The same of one component.
Shape measure_shape(const FaceView& faces, const ComponentMap& components, Index component);

/// Details of the listed components, in their order. Cost: O(corners of those components), plus a fixed number of
/// rays against each component's own faces for the thickness.
std::vector<Detail> measure_details(const SourceMesh& mesh, const WeldMap& welded, const ComponentMap& components,
                                    std::span<const Shape> shapes, std::span<const Index> which,
                                    const Executor& executor = {});

}  // namespace trimtack
