// SPDX-License-Identifier: MIT
#include "stages/bind/cloth_topology.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <numeric>

#include "core/memory.hpp"

namespace trimtack {

Vec3 polygon_area(std::span<const Vec3> positions, std::span<const Index> corners) {
  Vec3 sum;
  const Vec3& first = positions[corners[0]];
  for (std::size_t i = 1; i + 1 < corners.size(); ++i)
    sum += cross(positions[corners[i]] - first, positions[corners[i + 1]] - first);
  return 0.5 * sum;
}

namespace {

using std::numbers::pi;

void build_rings(const ClothMesh& cloth, ClothTopology& out) {
  const auto face_count = static_cast<Index>(cloth.face_offsets.size() - 1);
  out.ring_offsets = filled_large<Index>(out.welded_count + std::size_t{1}, 0);
  for (const Index v : cloth.face_corners) ++out.ring_offsets[cloth.welded[v] + 1];
  std::partial_sum(out.ring_offsets.begin(), out.ring_offsets.end(), out.ring_offsets.begin());
  out.ring_faces = filled_large<Index>(cloth.face_corners.size(), 0);
  std::vector<Index> at = copied_large<Index>(std::span(out.ring_offsets).first(out.welded_count));
  for (Index f = 0; f < face_count; ++f)
    for (const Index v : out.face(f)) {
      const Index w = cloth.welded[v];
      // A face that names a vertex twice is listed once.
      if (at[w] > out.ring_offsets[w] && out.ring_faces[at[w] - 1] == f) continue;
      out.ring_faces[at[w]++] = f;
    }
  // Close the gaps that doubled corners left.
  Index write = 0;
  for (Index w = 0; w < out.welded_count; ++w) {
    const Index first = out.ring_offsets[w], end = at[w];
    out.ring_offsets[w] = write;
    for (Index i = first; i < end; ++i) out.ring_faces[write++] = out.ring_faces[i];
  }
  out.ring_offsets[out.welded_count] = write;
  out.ring_faces.resize(write);
}

/// Vertices at which an edge with three or more faces ends (a patch pocket's seam on its body, a dart sewn in).
void mark_branching(const ClothMesh& cloth, ClothTopology& out) {
  const auto face_count = static_cast<Index>(cloth.face_offsets.size() - 1);
  const auto for_edges = [&](auto&& visit) {
    for (Index f = 0; f < face_count; ++f) {
      const auto corners = out.face(f);
      for (std::size_t i = 0; i < corners.size(); ++i) {
        const Index p = cloth.welded[corners[i]], q = cloth.welded[corners[(i + 1) % corners.size()]];
        if (p != q) visit(std::min(p, q), std::max(p, q));
      }
    }
  };
  std::vector<Index> offsets = filled_large<Index>(out.welded_count + std::size_t{1}, 0);
  for_edges([&](Index low, Index) { ++offsets[low + 1]; });
  std::partial_sum(offsets.begin(), offsets.end(), offsets.begin());
  std::vector<Index> at = copied_large<Index>(std::span(offsets).first(out.welded_count)),
                     ends = filled_large<Index>(offsets.back(), 0);
  for_edges([&](Index low, Index high) { ends[at[low]++] = high; });
  out.branching = filled_large<std::uint8_t>(out.welded_count, 0);
  for (Index w = 0; w < out.welded_count; ++w) {
    const auto first = ends.begin() + offsets[w], last = ends.begin() + offsets[w + 1];
    std::sort(first, last);
    for (auto i = first; i != last;) {
      const auto next = std::upper_bound(i, last, *i);
      if (next - i > 2) out.branching[w] = out.branching[*i] = 1;
      i = next;
    }
  }
}

}  // namespace

namespace {

/// visit(last, corner, next) for every corner of a face at a welded vertex: the vertices before, at and after it.
template <class Visit>
void for_corners_at(const ClothTopology& topology, Index welded, Visit&& visit) {
  for (const Index f : topology.ring(welded)) {
    const auto corners = topology.face(f);
    for (std::size_t i = 0; i < corners.size(); ++i)
      if (topology.welded(corners[i]) == welded)
        visit(corners[i == 0 ? corners.size() - 1 : i - 1], corners[i], corners[i + 1 == corners.size() ? 0 : i + 1]);
  }
}

// A parabola that is no farther than this (0.0038) from the arc of a slope up to 1.
constexpr double kRoughArc = 0.004;

/// The angle of (x, y), y >= 0, to kRoughArc; no number for (0, 0).
double rough_angle(double y, double x) {
  const double across = std::abs(x), slope = std::min(across, y) / std::max(across, y);
  const double arc = slope * (pi / 4 + 0.273 * (1 - slope)), steep = y > across ? pi / 2 - arc : arc;
  return x < 0 ? pi - steep : steep;
}

}  // namespace

double angle_deficit(const ClothTopology& topology, Index welded) {
  const ClothMesh& cloth = *topology.cloth;
  if (topology.branching[welded] != 0) return 0;
  double sum = 0;
  std::vector<Index> ends;  // of the edges at the vertex, once per face: in a closed fan each twice
  for_corners_at(topology, welded, [&](Index last, Index corner, Index next) {
    const Vec3 p = cloth.positions[next] - cloth.positions[corner], q = cloth.positions[last] - cloth.positions[corner];
    sum += std::atan2(length(cross(p, q)), dot(p, q));
    ends.push_back(topology.welded(next));
    ends.push_back(topology.welded(last));
  });
  std::sort(ends.begin(), ends.end());
  for (std::size_t i = 0; i < ends.size(); i += 2)
    if (ends[i] != ends[i + 1]) return 0;
  return ends.empty() || !std::isfinite(sum) ? 0 : 2 * pi - sum;
}

bool surely_flat(const ClothTopology& topology, Index welded, double limit) {
  const ClothMesh& cloth = *topology.cloth;
  double sum = 0, error = 0;
  for_corners_at(topology, welded, [&](Index last, Index corner, Index next) {
    const Vec3 p = cloth.positions[next] - cloth.positions[corner], q = cloth.positions[last] - cloth.positions[corner];
    sum += rough_angle(length(cross(p, q)), dot(p, q));
    error += kRoughArc;
  });
  return std::abs(2 * pi - sum) + error < limit;
}

namespace {

void build_normals(const ClothMesh& cloth, ClothTopology& out) {
  const auto face_count = static_cast<Index>(cloth.face_offsets.size() - 1);
  out.face_normal = filled_large<Vec3>(face_count, {});
  out.vertex_normal = filled_large<Vec3>(out.welded_count, {});
  for (Index f = 0; f < face_count; ++f) {
    const auto corners = out.face(f);
    const Vec3 area = corners.empty() ? Vec3{} : polygon_area(cloth.positions, corners);
    out.face_normal[f] = normalized(area);
    if (!is_finite(area)) continue;
    for (const Index v : corners) {
      // A panel that is wound the other way round must not cancel its neighbour at their seam.
      Vec3& normal = out.vertex_normal[cloth.welded[v]];
      normal += dot(normal, area) < -0.5 * length(normal) * length(area) ? -area : area;
    }
  }
  for (Vec3& n : out.vertex_normal) n = normalized(n);
}

void count_triangles(const ClothMesh& cloth, ClothTopology& out) {
  out.triangles_of_face = filled_large<Index>(cloth.face_offsets.size(), 0);
  for (const Index f : cloth.triangles.face) ++out.triangles_of_face[f + 1];
  std::partial_sum(out.triangles_of_face.begin(), out.triangles_of_face.end(), out.triangles_of_face.begin());
}

}  // namespace

ClothTopology build_topology(const ClothMesh& cloth, const Executor& executor) {
  ClothTopology out;
  out.cloth = &cloth;
  for (const Index w : cloth.welded) out.welded_count = std::max(out.welded_count, w + 1);
  // None of them looks at what another one makes.
  constexpr std::array kParts{build_normals, mark_branching, build_rings, count_triangles};
  for_ranges(executor, kParts.size(), 1, [&](std::size_t begin, std::size_t end) {
    for (std::size_t i = begin; i < end; ++i) kParts[i](cloth, out);
  });
  return out;
}

}  // namespace trimtack
