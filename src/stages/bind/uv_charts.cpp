// SPDX-License-Identifier: MIT
#include "stages/bind/uv_charts.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <tuple>

#include "core/union_find.hpp"
#include "runtime/frame.hpp"
#include "stages/bind/frame_fit.hpp"
#include "stages/bind/layer.hpp"

namespace trimtack {
namespace {

// A chart looks in the direction of its area vectors' sum when that is this share of its area.
constexpr double kLooksSomewhere = 0.05;

/// Faces joined where they share a vertex and its UV; numbered by first face.
std::vector<Index> find_charts(const ClothMesh& cloth, Index& count) {
  const auto faces = static_cast<Index>(cloth.face_offsets.size() - 1);
  UnionFind sets(faces);
  std::vector<Index> corner_face(cloth.face_corners.size()), order(cloth.face_corners.size());
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
    if (key(order[k]) == key(order[k - 1])) sets.join(corner_face[order[k - 1]], corner_face[order[k]]);
  }
  std::vector<Index> chart(faces, kNone);
  count = 0;
  for (Index f = 0; f < faces; ++f) {
    const Index root = sets.find(f);
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
    // A closed shell (both sides of thick cloth in one chart) and a tube look nowhere: what their sum leaves is
    // rounding or how their ends are cut.
    chart.normal = length(chart.normal) > kLooksSomewhere * chart.area ? normalized(chart.normal) : Vec3{};
  }
}

/// Directions count where both have one.
double garment_distance(const Vec3& place, const Vec3& normal, const Vec3& other_place, const Vec3& other_normal) {
  const bool directed = normal != Vec3{} && other_normal != Vec3{};
  return length(place - other_place) + (directed ? 0.25 * (1 - dot(normal, other_normal)) : 0);
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

Vec2 mapped_uv(const UvChart& from, const UvChart& to, int turn, const Vec2& uv) {
  const auto share = [](double v, double low, double high) { return high > low ? (v - low) / (high - low) : 0.0; };
  double s = share(uv.x, from.low.x, from.high.x), t = share(uv.y, from.low.y, from.high.y);
  if ((turn & 4) != 0) std::swap(s, t);
  if ((turn & 1) != 0) s = 1 - s;
  if ((turn & 2) != 0) t = 1 - t;
  return {to.low.x + s * (to.high.x - to.low.x), to.low.y + t * (to.high.y - to.low.y)};
}

Mat3 turned_frame(const Mat3& frame, int turn) {
  if (turn == 0) return frame;
  Vec3 u = frame.column(0), v = frame.column(1);
  if ((turn & 1) != 0) u = -u;
  if ((turn & 2) != 0) v = -v;
  if ((turn & 4) != 0) std::swap(u, v);
  return from_columns(u, v, cross(u, v));
}

namespace {

/// Some faces of every chart, spread over it.
std::vector<std::vector<Index>> sample_faces(const UvPattern& pattern) {
  constexpr Index kSamples = 24;
  std::vector<Index> count(pattern.charts.size(), 0), seen(pattern.charts.size(), 0);
  for (const Index chart : pattern.chart_of_face) ++count[chart];
  std::vector<std::vector<Index>> out(pattern.charts.size());
  for (Index f = 0; f < pattern.chart_of_face.size(); ++f) {
    const Index chart = pattern.chart_of_face[f];
    if (seen[chart]++ % (count[chart] / kSamples + 1) == 0) out[chart].push_back(f);
  }
  return out;
}

/// How far from where they should be, on the mean, a turn leads places of the old piece; measured from the pieces'
/// middles, for the new garment may stand otherwise.
double misplaced(const UvPattern& from, const UvPattern& to, std::span<const Index> faces, const ChartMatch& match) {
  const ClothMesh& cloth = *from.topology->cloth;
  double sum = 0;
  for (const Index f : faces) {
    const UvChart &old_chart = from.charts[from.chart_of_face[f]], &new_chart = to.charts[match.chart];
    const Index first = cloth.face_offsets[f], end = cloth.face_offsets[f + 1];
    const double share = 1.0 / std::max<Index>(end - first, 1);
    Vec2 uv{};
    Vec3 middle;
    for (Index c = first; c < end; ++c) {
      uv = {uv.x + share * cloth.corner_uv[c].x, uv.y + share * cloth.corner_uv[c].y};
      middle += share * cloth.positions[cloth.face_corners[c]];
    }
    const Vec3 should = new_chart.centre + from.garment_place(middle) - old_chart.centre;
    const Surface s = place_of_uv(to, mapped_uv(old_chart, new_chart, match.turn, uv), should,
                                  from.topology->face_normal[f], match.chart);
    const double off = s.triangle == kNone ? 1 : length(to.garment_place(s.point) - should);
    sum += off < 1 ? off : 1;  // also what is no number
  }
  return sum;
}

/// The layout as it was stands against turned ones that are hardly better.
int best_turn(const UvPattern& from, const UvPattern& to, std::span<const Index> faces, Index chart) {
  constexpr double kClearly = 0.9;
  int best = 0;
  double least = kClearly * misplaced(from, to, faces, {chart, 0});
  for (int turn = 1; turn < 8; ++turn) {
    const double off = misplaced(from, to, faces, {chart, turn});
    if (off < least) least = off, best = turn;
  }
  return best;
}

}  // namespace

std::vector<ChartMatch> match_charts(const UvPattern& from, const UvPattern& to) {
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
                          0.25 * std::abs(std::abs(proportion(p)) - std::abs(proportion(q))) +
                          0.25 * std::abs(std::log(p.area / area * other_area / q.area));
      if (cost < 0.75) pairs.push_back({cost, i, j});
    }
  std::sort(pairs.begin(), pairs.end(), [](const Pair& p, const Pair& q) {
    return std::tie(p.cost, p.from, p.to) < std::tie(q.cost, q.from, q.to);
  });
  std::vector<ChartMatch> match(from.charts.size());
  std::vector<std::uint8_t> taken(to.charts.size(), 0);
  const std::vector<std::vector<Index>> faces = sample_faces(from);
  for (const Pair& p : pairs) {
    if (match[p.from].chart != kNone || taken[p.to] != 0) continue;
    match[p.from] = {p.to, best_turn(from, to, faces[p.from], p.to)};
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

namespace {

/// Vertices of the same chart in two rings of faces round a place, as (u, v) from the place's, nearest first.
struct UvNeighbour {
  double squared = 0;
  FitPoint uv;
  Vec3 position;
};

std::vector<UvNeighbour> neighbours_in_chart(const UvPattern& pattern, const Surface& surface) {
  const ClothTopology& topology = *pattern.topology;
  const ClothMesh& cloth = *topology.cloth;
  const Vec2 centre = uv_at(pattern, surface);
  std::vector<Index> faces{cloth.triangles.face[surface.triangle]};
  const Index chart = pattern.chart_of_face[faces[0]];
  std::vector<std::pair<Index, Index>> corners;  // welded vertex, corner
  for (int ring = 0; ring <= 2; ++ring) {
    const std::size_t known = faces.size();
    for (std::size_t i = 0; i < known; ++i)
      for (Index c = cloth.face_offsets[faces[i]]; c < cloth.face_offsets[faces[i] + 1]; ++c) {
        const Index w = topology.welded(cloth.face_corners[c]);
        corners.emplace_back(w, c);
        if (ring == 2) continue;
        for (const Index f : topology.ring(w))
          if (pattern.chart_of_face[f] == chart) faces.push_back(f);
      }
    std::sort(faces.begin(), faces.end());
    faces.erase(std::unique(faces.begin(), faces.end()), faces.end());
    std::sort(corners.begin(), corners.end());
    corners.erase(
        std::unique(corners.begin(), corners.end(), [](const auto& p, const auto& q) { return p.first == q.first; }),
        corners.end());
  }
  std::vector<UvNeighbour> out;
  for (const auto& [welded, corner] : corners) {
    const Vec2& uv = cloth.corner_uv[corner];
    const double x = uv.x - centre.x, y = uv.y - centre.y;
    const Vec3& p = cloth.positions[cloth.face_corners[corner]];
    if (std::isfinite(x + y) && is_finite(p)) out.push_back({x * x + y * y, {x, y, 0}, p});
  }
  std::stable_sort(out.begin(), out.end(),
                   [](const UvNeighbour& p, const UvNeighbour& q) { return p.squared < q.squared; });
  return out;
}

/// Enough for a quadratic fit on any mesh, few enough to stay near the place.
constexpr std::size_t kUvNeighbours = 24;

/// The frame of a quadratic fit of the positions over (u, v): what the cloth means, not how it is cut.
std::optional<Mat3> fitted_uv_frame(const UvPattern& pattern, const Surface& surface) {
  std::vector<UvNeighbour> near = neighbours_in_chart(pattern, surface);
  if (near.size() > kUvNeighbours) near.resize(kUvNeighbours);
  std::vector<FitPoint> points;
  points.reserve(near.size());
  for (const UvNeighbour& n : near) points.push_back(n.uv);
  std::vector<double> a(points.size()), b(points.size());
  if (!fit_frame(points, 2, a, b)) return std::nullopt;
  Vec3 du, dv;
  for (std::size_t i = 0; i < points.size(); ++i) {
    const Vec3 p = near[i].position - surface.point;
    du += a[i] * p;
    dv += b[i] * p;
  }
  const std::array<double, 3> t{du.x, du.y, du.z}, v{dv.x, dv.y, dv.z};
  Mat3 out;
  if (frame::polar_frame(t.data(), v.data(), out.m.data()) != frame::FrameStatus::Good) return std::nullopt;
  return out;
}

}  // namespace

std::optional<Mat3> uv_frame(const UvPattern& pattern, const Surface& surface) {
  if (const auto fitted = fitted_uv_frame(pattern, surface)) return fitted;
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
  // Too few vertices for a fit: the facet's frame turned onto the smooth normal.
  Vec3 normal = smooth_normal(*pattern.topology, surface);
  if (dot(normal, facet.column(2)) < 0) normal = -normal;
  const Vec3 u = normalized(facet.column(0) - dot(facet.column(0), normal) * normal);
  if (u == Vec3{}) return std::nullopt;
  return from_columns(u, cross(normal, u), normal);
}

}  // namespace trimtack
