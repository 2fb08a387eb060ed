// SPDX-License-Identifier: MIT
#include "stages/uv_charts.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <tuple>

#include "runtime/frame.hpp"
#include "stages/layer.hpp"

namespace trimtack {
namespace {

Index root_of(std::vector<Index>& parent, Index i) {
  while (parent[i] != i) i = parent[i] = parent[parent[i]];
  return i;
}

/// Faces joined where they share a vertex and its UV; numbered by first face.
std::vector<Index> find_charts(const ClothMesh& cloth, Index& count) {
  const auto faces = static_cast<Index>(cloth.face_offsets.size() - 1);
  std::vector<Index> parent(faces), corner_face(cloth.face_corners.size()), order(cloth.face_corners.size());
  std::iota(parent.begin(), parent.end(), Index{0});
  std::iota(order.begin(), order.end(), Index{0});
  for (Index f = 0; f < faces; ++f)
    for (Index c = cloth.face_offsets[f]; c < cloth.face_offsets[f + 1]; ++c) corner_face[c] = f;
  const auto key = [&](Index c) {
    return std::tuple{cloth.welded[cloth.face_corners[c]], cloth.corner_uv[c].x, cloth.corner_uv[c].y};
  };
  std::sort(order.begin(), order.end(), [&](Index p, Index q) {
    const auto a = key(p), b = key(q);
    return a != b ? a < b : p < q;
  });
  for (std::size_t k = 1; k < order.size(); ++k) {
    if (key(order[k]) != key(order[k - 1])) continue;
    const Index p = root_of(parent, corner_face[order[k - 1]]), q = root_of(parent, corner_face[order[k]]);
    parent[std::max(p, q)] = std::min(p, q);
  }
  std::vector<Index> chart(faces, kNone);
  count = 0;
  for (Index f = 0; f < faces; ++f) {
    const Index root = root_of(parent, f);
    if (chart[root] == kNone) chart[root] = count++;
    chart[f] = chart[root];
  }
  return chart;
}

void measure_charts(UvPattern& out, Index count) {
  const ClothMesh& cloth = *out.topology->cloth;
  constexpr double kInfinity = std::numeric_limits<double>::infinity();
  out.charts.assign(count, {{kInfinity, kInfinity}, {-kInfinity, -kInfinity}, {}, {}, 0});
  for (Index f = 0; f + 1 < cloth.face_offsets.size(); ++f) {
    UvChart& chart = out.charts[out.chart_of_face[f]];
    const auto corners = out.topology->face(f);
    Vec3 middle;
    for (const Index v : corners) middle += cloth.positions[v];
    const Vec3 area = polygon_area(cloth.positions, corners);
    const double size = length(area);
    if (std::isfinite(size)) {
      chart.area += size;
      chart.normal += area;
      chart.centre += (size / static_cast<double>(corners.size())) * middle;
    }
    for (Index c = cloth.face_offsets[f]; c < cloth.face_offsets[f + 1]; ++c) {
      const Vec2& uv = cloth.corner_uv[c];
      chart.low = {std::min(chart.low.x, uv.x), std::min(chart.low.y, uv.y)};
      chart.high = {std::max(chart.high.x, uv.x), std::max(chart.high.y, uv.y)};
    }
  }
  for (UvChart& chart : out.charts) {
    if (chart.area > 0) chart.centre = out.garment_place((1 / chart.area) * chart.centre);
    chart.normal = normalized(chart.normal);
  }
}

double garment_distance(const Vec3& place, const Vec3& normal, const Vec3& other_place, const Vec3& other_normal) {
  return length(place - other_place) + 0.25 * (1 - dot(normal, other_normal));
}

}  // namespace

Vec3 UvPattern::garment_place(const Vec3& p) const {
  const Vec3 size = box.max - box.min;
  const auto share = [](double v, double low, double extent) { return extent > 0 ? (v - low) / extent : 0.5; };
  return {share(p.x, box.min.x, size.x), share(p.y, box.min.y, size.y), share(p.z, box.min.z, size.z)};
}

std::optional<UvPattern> build_pattern(const ClothTopology& topology) {
  const ClothMesh& cloth = *topology.cloth;
  if (cloth.corner_uv.empty() || cloth.corner_uv.size() != cloth.face_corners.size()) return std::nullopt;
  UvPattern out;
  out.topology = &topology;
  out.box = bounds(cloth.positions);
  Index count = 0;
  out.chart_of_face = find_charts(cloth, count);
  measure_charts(out, count);
  for (const Vec2& uv : cloth.corner_uv) out.flat.positions.push_back({uv.x, uv.y, 0});
  const Box layout = bounds(out.flat.positions);
  out.diagonal = length(layout.max - layout.min);
  if (!(out.diagonal > 0)) return std::nullopt;
  out.flat.triangles.face = cloth.triangles.face;
  for (const auto& c : cloth.triangles.corners) out.flat.triangles.triangles.push_back({c[0], c[1], c[2]});
  return out;
}

Vec2 uv_at(const UvPattern& pattern, const Surface& surface) {
  const auto& corners = pattern.topology->cloth->triangles.corners[surface.triangle];
  Vec2 out;
  for (std::size_t k = 0; k < 3; ++k) {
    const Vec2& uv = pattern.topology->cloth->corner_uv[corners[k]];
    out = {out.x + surface.bary[k] * uv.x, out.y + surface.bary[k] * uv.y};
  }
  return out;
}

std::vector<Index> match_charts(const UvPattern& from, const UvPattern& to) {
  struct Pair {
    double cost;
    Index from, to;
  };
  const auto proportion = [](const UvChart& c) {
    const double w = c.high.x - c.low.x, h = c.high.y - c.low.y;
    return w > 0 && h > 0 ? std::log(w / h) : 0.0;
  };
  double area = 0, other_area = 0;
  for (const UvChart& c : from.charts) area += c.area;
  for (const UvChart& c : to.charts) other_area += c.area;
  std::vector<Pair> pairs;
  for (Index i = 0; i < from.charts.size(); ++i)
    for (Index j = 0; j < to.charts.size(); ++j) {
      const UvChart &p = from.charts[i], &q = to.charts[j];
      if (!(p.area > 0) || !(q.area > 0)) continue;
      const double cost = garment_distance(p.centre, p.normal, q.centre, q.normal) +
                          0.25 * std::abs(proportion(p) - proportion(q)) +
                          0.25 * std::abs(std::log(p.area / area * other_area / q.area));
      if (cost < 0.75) pairs.push_back({cost, i, j});
    }
  std::sort(pairs.begin(), pairs.end(), [](const Pair& p, const Pair& q) {
    return std::tie(p.cost, p.from, p.to) < std::tie(q.cost, q.from, q.to);
  });
  std::vector<Index> match(from.charts.size(), kNone);
  std::vector<std::uint8_t> taken(to.charts.size(), 0);
  for (const Pair& p : pairs) {
    if (match[p.from] != kNone || taken[p.to] != 0) continue;
    match[p.from] = p.to;
    taken[p.to] = 1;
  }
  return match;
}

Surface place_of_uv(const UvPattern& pattern, const Vec2& uv, const Vec3& garment_place, const Vec3& normal,
                    Index chart) {
  const ClothMesh& cloth = *pattern.topology->cloth;
  const Vec3 query{uv.x, uv.y, 0};
  Surface best;
  double least = std::numeric_limits<double>::infinity();
  for (const double reach : {1e-7, 5e-3}) {
    for (Surface s : pattern.index->within(query, reach * pattern.diagonal)) {
      const Index face = cloth.triangles.face[s.triangle];
      if (chart != kNone && pattern.chart_of_face[face] != chart) continue;
      const Tri& t = cloth.triangles.triangles[s.triangle];
      s.point = {};
      for (std::size_t k = 0; k < 3; ++k) s.point += s.bary[k] * cloth.positions[t[k]];
      const double cost =
          garment_distance(pattern.garment_place(s.point), smooth_normal(*pattern.topology, s), garment_place, normal) +
          10 * s.distance / pattern.diagonal;
      if (cost >= least) continue;
      least = cost;
      best = s;
    }
    if (best.triangle != kNone) break;
  }
  return best;
}

std::optional<Mat3> uv_frame(const UvPattern& pattern, const Surface& surface) {
  const ClothMesh& cloth = *pattern.topology->cloth;
  const Tri& t = cloth.triangles.triangles[surface.triangle];
  const auto& c = cloth.triangles.corners[surface.triangle];
  const Vec3 p = cloth.positions[t[1]] - cloth.positions[t[0]], q = cloth.positions[t[2]] - cloth.positions[t[0]];
  const Vec2 &o = cloth.corner_uv[c[0]], &a = cloth.corner_uv[c[1]], &b = cloth.corner_uv[c[2]];
  const double u1 = a.x - o.x, v1 = a.y - o.y, u2 = b.x - o.x, v2 = b.y - o.y, det = u1 * v2 - u2 * v1;
  if (!(std::abs(det) > 1e-12 * (u1 * u1 + v1 * v1 + u2 * u2 + v2 * v2))) return std::nullopt;
  const Vec3 along_u = (1 / det) * (v2 * p - v1 * q), along_v = (1 / det) * (u1 * q - u2 * p);
  const std::array<double, 3> du{along_u.x, along_u.y, along_u.z}, dv{along_v.x, along_v.y, along_v.z};
  Mat3 facet;
  if (frame::polar_frame(du.data(), dv.data(), facet.m.data()) != frame::FrameStatus::Good) return std::nullopt;
  // The facet's frame turned onto the smooth normal: what the cloth means, not how it is cut.
  Vec3 normal = smooth_normal(*pattern.topology, surface);
  if (dot(normal, facet.column(2)) < 0) normal = -normal;
  const Vec3 u = normalized(facet.column(0) - dot(facet.column(0), normal) * normal);
  if (u == Vec3{}) return std::nullopt;
  return from_columns(u, cross(normal, u), normal);
}

}  // namespace trimtack
