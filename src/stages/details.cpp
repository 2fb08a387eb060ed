// SPDX-License-Identifier: MIT
// Topology and shape measures of single components. Angle deficit as discrete Gaussian curvature and length times
// angle as discrete mean curvature (Gauss-Bonnet on polyhedra; Sullivan 2008, Curvatures of smooth and discrete
// surfaces). Thickness through the inside as in the shape diameter function (Shapira, Shamir & Cohen-Or 2008), with
// one ray along the inward normal instead of a cone.
#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <numbers>

#include "core/area_vector.hpp"
#include "core/memory.hpp"
#include "stages/scratch_pool.hpp"
#include "trimtack/features.hpp"

namespace trimtack {
namespace {

constexpr double kCreaseAngle = 35.0 * std::numbers::pi / 180.0;
constexpr std::size_t kFineLimit = 20000;  // above this many faces the costlier measures are left out
constexpr std::size_t kThicknessRays = 40;
constexpr std::size_t kFewRays = 7;
constexpr std::size_t kUvSamples = 1500;
constexpr int kOutlineDirections = 24;

struct HalfEdge {
  Index to, face;
  bool forward;  // runs from the smaller to the larger vertex
};

/// Ascending; most vertices have about three edges, for which insertion beats a general sort.
template <class Iterator>
void sort_few(Iterator begin, Iterator end) {
  const auto before = [](const HalfEdge& a, const HalfEdge& b) {
    return a.to != b.to ? a.to < b.to : (a.face != b.face ? a.face < b.face : a.forward < b.forward);
  };
  if (end - begin > 16) {
    std::sort(begin, end, before);
    return;
  }
  for (Iterator i = begin; i != end; ++i) {
    const HalfEdge item = *i;
    Iterator j = i;
    for (; j != begin && before(item, *(j - 1)); --j) *j = *(j - 1);
    *j = item;
  }
}

struct Weighted {
  double value, weight;
};

struct Work {               // reused between components of one range
  std::vector<Index> rank;  // local vertex of each corner, face by face
  std::vector<Index> start;
  std::vector<Vec3> normal;  // area vectors
  std::vector<Index> first, cursor;
  std::vector<HalfEdge> half;
  std::vector<double> angle;
  std::vector<std::uint8_t> open;
  std::vector<Index> loop_parent;
  std::vector<Weighted> samples, samples2;
};

double weighted_quantile(std::vector<Weighted>& items, double q) {
  if (items.empty()) return 0;
  std::sort(items.begin(), items.end(), [](const Weighted& a, const Weighted& b) { return a.value < b.value; });
  double total = 0;
  for (const Weighted& w : items) total += w.weight;
  double sum = 0;
  for (const Weighted& w : items) {
    sum += w.weight;
    if (sum >= q * total) return w.value;
  }
  return items.back().value;
}

/// The area along the normal; none where it is beyond all numbers.
Vec3 finite_area(const FaceView& faces, std::span<const Index> corners) {
  const Vec3 n = 0.5 * area_vector(faces.positions, corners);
  return is_finite(n) ? n : Vec3{};
}

class Measurer {
 public:
  Measurer(const SourceMesh& mesh, const WeldMap& welded, const ComponentMap& components)
      : mesh_(mesh),
        faces_{mesh.positions, mesh.face_offsets, mesh.corner_position},
        welded_(welded),
        components_(components) {}

  Detail measure(Index c, const Shape& shape) {
    Detail detail;
    gather(c);
    match_edges(c, detail);
    if (detail.non_manifold_edges > 0 && drop_doubles()) {
      detail = Detail{};
      match_edges(c, detail);
    }
    count_loops(detail);
    if (components_.faces_of(c).size() <= kFineLimit) {
      add_curvature(c, detail);
      measure_thickness(c, shape, detail);
    } else if (detail.boundary_edges == 0 && shape.area > 0) {
      detail.thickness = 2.0 * std::abs(shape.volume) / shape.area;
      detail.facing_share = 1;
    }
    if (detail.closed && detail.euler == 2) thickness_from_volume(shape, detail);
    measure_outline(c, shape, detail);
    measure_uv(c, detail);
    return detail;
  }

 private:
  const Vec3& at(Index c, Index local) const {
    return faces_.positions[welded_.representative[components_.vertices_of(c)[local]]];
  }

  void gather(Index c) {
    work_.rank.clear();
    work_.start.assign(1, 0);
    work_.normal.clear();
    const auto own = components_.faces_of(c);
    reserve_large(work_.start, own.size() + 1);
    reserve_large(work_.normal, own.size());
    reserve_large(work_.rank, 3 * own.size());
    for (const Index f : components_.faces_of(c)) {
      const auto corners = faces_.face(f);
      for (const Index v : corners) work_.rank.push_back(components_.rank_of_welded[welded_.to_welded[v]]);
      work_.start.push_back(static_cast<Index>(work_.rank.size()));
      work_.normal.push_back(finite_area(faces_, corners));
    }
  }

  /// Empties faces that repeat another one's vertices. True when there was any.
  bool drop_doubles() {
    const std::size_t n = work_.start.size() - 1;
    std::vector<std::vector<Index>> keys(n);
    std::vector<Index> order(n);
    for (std::size_t f = 0; f < n; ++f) {
      keys[f].assign(work_.rank.begin() + work_.start[f], work_.rank.begin() + work_.start[f + 1]);
      std::sort(keys[f].begin(), keys[f].end());
      order[f] = static_cast<Index>(f);
    }
    std::sort(order.begin(), order.end(),
              [&](Index a, Index b) { return keys[a] != keys[b] ? keys[a] < keys[b] : a < b; });
    std::vector<std::uint8_t> drop(n, 0);
    bool any = false;
    for (std::size_t i = 1; i < n; ++i)
      if (keys[order[i]] == keys[order[i - 1]]) drop[order[i]] = 1, any = true;
    if (!any) return false;
    std::vector<Index> rank;
    std::vector<Index> start{0};
    for (std::size_t f = 0; f < n; ++f) {
      if (drop[f] == 0)
        rank.insert(rank.end(), work_.rank.begin() + work_.start[f], work_.rank.begin() + work_.start[f + 1]);
      else
        work_.normal[f] = {};
      start.push_back(static_cast<Index>(rank.size()));
    }
    work_.rank = std::move(rank);
    work_.start = std::move(start);
    return true;
  }

  void match_edges(Index c, Detail& detail) {
    const auto vertex_count = components_.vertices_of(c).size();
    work_.first.assign(vertex_count + 1, 0);
    const std::size_t face_count = work_.start.size() - 1;
    const auto each_edge = [&](auto&& fn) {
      for (std::size_t f = 0; f < face_count; ++f) {
        const Index begin = work_.start[f];
        const Index end = work_.start[f + 1];
        for (Index k = begin; k < end; ++k) {
          const Index p = work_.rank[k];
          const Index q = work_.rank[k + 1 < end ? k + 1 : begin];
          if (p != q) fn(p, q, static_cast<Index>(f));
        }
      }
    };
    each_edge([&](Index p, Index q, Index) { ++work_.first[std::min(p, q) + std::size_t{1}]; });
    for (std::size_t v = 0; v < vertex_count; ++v) work_.first[v + 1] += work_.first[v];
    work_.cursor.assign(work_.first.begin(), work_.first.end() - 1);
    reserve_large(work_.half, work_.first.back());
    work_.half.resize(work_.first.back());
    each_edge([&](Index p, Index q, Index f) {
      work_.half[work_.cursor[std::min(p, q)]++] = {std::max(p, q), f, p < q};
    });
    work_.open.assign(vertex_count, 0);
    work_.loop_parent.assign(vertex_count, kNone);
    EdgeSums sums;
    for (Index v = 0; v < vertex_count; ++v) {
      const auto begin = work_.half.begin() + work_.first[v];
      const auto end = work_.half.begin() + work_.first[v + std::size_t{1}];
      sort_few(begin, end);
      for (auto it = begin; it != end;) {
        auto stop = it;
        while (stop != end && stop->to == it->to) ++stop;
        add_edge(c, v, std::span<const HalfEdge>(&*it, static_cast<std::size_t>(stop - it)), detail, sums);
        it = stop;
      }
    }
    if (detail.edges > 0) {
      const double n = detail.edges;
      const double mean = sums.log_length / n;
      detail.mean_edge = std::exp(mean);
      detail.edge_spread = std::sqrt(std::max(0.0, sums.log_squared / n - mean * mean));
    }
    detail.crease_share = sums.inner_length > 0 ? sums.crease_length / sums.inner_length : 0;
    detail.closed = detail.edges > 0 && detail.boundary_edges == 0 && detail.non_manifold_edges == 0;
    int real_faces = 0;  // those with an inside
    for (std::size_t f = 0; f < face_count; ++f) {
      const auto begin = work_.rank.begin() + work_.start[f];
      const auto end = work_.rank.begin() + work_.start[f + 1];
      bool collapsed = end - begin < 3;
      for (auto it = begin; it != end && !collapsed; ++it)
        collapsed = end - begin == 3 && *it == *(it + 1 == end ? begin : it + 1);
      if (!collapsed) ++real_faces;
    }
    detail.euler = static_cast<int>(vertex_count) - static_cast<int>(detail.edges) + real_faces;
  }

  struct EdgeSums {
    double log_length = 0, log_squared = 0, inner_length = 0, crease_length = 0;
  };

  void add_edge(Index c, Index v, std::span<const HalfEdge> uses, Detail& detail, EdgeSums& sums) {
    ++detail.edges;
    const Index to = uses.front().to;
    const double l = length(at(c, to) - at(c, v));
    if (std::isfinite(l) && l > 0) {
      const double log_l = std::log(l);
      sums.log_length += log_l;
      sums.log_squared += log_l * log_l;
    }
    if (uses.size() == 1) {
      ++detail.boundary_edges;
      if (std::isfinite(l)) detail.boundary_length += l;
      work_.open[v] = work_.open[to] = 1;
      join_loop(v, to);
      return;
    }
    if (uses.size() > 2) ++detail.non_manifold_edges;
    if (!std::isfinite(l)) return;
    const Vec3& n0 = work_.normal[uses[0].face];
    const Vec3 n1 = uses[0].forward == uses[1].forward ? -work_.normal[uses[1].face] : work_.normal[uses[1].face];
    const double bend = std::atan2(length(cross(n0, n1)), dot(n0, n1));
    sums.inner_length += l;
    if (bend > kCreaseAngle) sums.crease_length += l;
    detail.bend += l * bend;
  }

  Index loop_root(Index v) {
    while (work_.loop_parent[v] != v) {
      work_.loop_parent[v] = work_.loop_parent[work_.loop_parent[v]];
      v = work_.loop_parent[v];
    }
    return v;
  }
  void join_loop(Index p, Index q) {
    if (work_.loop_parent[p] == kNone) work_.loop_parent[p] = p;
    if (work_.loop_parent[q] == kNone) work_.loop_parent[q] = q;
    const Index a = loop_root(p);
    const Index b = loop_root(q);
    work_.loop_parent[std::max(a, b)] = std::min(a, b);
  }
  void count_loops(Detail& detail) {
    for (Index v = 0; v < work_.loop_parent.size(); ++v)
      if (work_.loop_parent[v] == v) ++detail.boundary_loops;
  }

  void add_curvature(Index c, Detail& detail) {
    work_.angle.assign(components_.vertices_of(c).size(), 0.0);
    for (std::size_t f = 0; f + 1 < work_.start.size(); ++f) {
      const Index begin = work_.start[f];
      const Index n = work_.start[f + 1] - begin;
      if (n < 3) continue;
      for (Index k = 0; k < n; ++k) {
        const Vec3& p = at(c, work_.rank[begin + k]);
        const Vec3 a = at(c, work_.rank[begin + (k + 1) % n]) - p;
        const Vec3 b = at(c, work_.rank[begin + (k + n - 1) % n]) - p;
        const double angle = std::atan2(length(cross(a, b)), dot(a, b));
        if (std::isfinite(angle)) work_.angle[work_.rank[begin + k]] += angle;
      }
    }
    for (std::size_t v = 0; v < work_.angle.size(); ++v)
      if (work_.open[v] == 0) detail.curvature += std::abs(2.0 * std::numbers::pi - work_.angle[v]);
  }

  /// Distance along d from o to the nearest own face that looks the other way; infinite when there is none.
  /// @param outside  -1 when the faces are turned inside out
  double shoot(Index c, const Vec3& o, const Vec3& d, std::size_t skip, double outside) const {
    double best = std::numeric_limits<double>::infinity();
    const auto own = components_.faces_of(c);
    for (std::size_t f = 0; f < own.size(); ++f) {
      const double facing = outside * dot(work_.normal[f], d);
      if (f == skip || !(facing > 0)) continue;
      const auto corners = faces_.face(own[f]);
      const Vec3& p0 = faces_.positions[corners[0]];
      for (std::size_t k = 1; k + 1 < corners.size(); ++k) {
        // Moeller & Trumbore 1997
        const Vec3 e1 = faces_.positions[corners[k]] - p0;
        const Vec3 e2 = faces_.positions[corners[k + 1]] - p0;
        const Vec3 h = cross(d, e2);
        const double det = dot(e1, h);
        if (!(std::abs(det) > 0)) continue;
        const Vec3 s = o - p0;
        const double u = dot(s, h) / det;
        if (!(u >= -1e-9 && u <= 1 + 1e-9)) continue;
        const Vec3 q = cross(s, e1);
        const double v = dot(d, q) / det;
        if (!(v >= -1e-9 && u + v <= 1 + 1e-9)) continue;
        const double t = dot(e2, q) / det;
        if (t > 0 && t < best) best = t;
      }
    }
    return best;
  }

  void measure_thickness(Index c, const Shape& shape, Detail& detail) {
    const double outside = detail.closed && shape.volume < 0 ? -1.0 : 1.0;
    const auto own = components_.faces_of(c);
    work_.samples.clear();
    double area = 0;
    double facing = 0;
    const std::size_t rays = own.size() <= 500 ? kThicknessRays : (own.size() <= 3000 ? kThicknessRays / 3 : kFewRays);
    const std::size_t step = std::max<std::size_t>(1, own.size() / rays);
    for (std::size_t f = step / 2; f < own.size(); f += step) {
      const double a = length(work_.normal[f]);
      if (!(a > 0)) continue;
      const auto corners = faces_.face(own[f]);
      Vec3 middle;
      for (const Index v : corners) middle += faces_.positions[v];
      middle = (1.0 / static_cast<double>(corners.size())) * middle;
      const double t = shoot(c, middle, (-outside / a) * work_.normal[f], f, outside);
      area += a;
      if (!std::isfinite(t)) continue;
      facing += a;
      work_.samples.push_back({t, a});
    }
    if (!(facing > 0)) return;
    detail.facing_share = facing / area;
    detail.thickness = weighted_quantile(work_.samples, 0.5);
    // The edge walls of a small thick piece look across it; they are the upper part of the distribution.
    if (detail.thickness > 0)
      detail.thickness_spread =
          (weighted_quantile(work_.samples, 0.6) - weighted_quantile(work_.samples, 0.1)) / detail.thickness;
  }

  /// Coarse and creased shells of thin cloth scatter the rays. When half of the surface is about as large as the
  /// outline, the body is two sheets, and its volume tells how far apart they are.
  static void thickness_from_volume(const Shape& shape, Detail& detail) {
    const double around = 1.8 * (shape.extents[0] + shape.extents[1]);
    double thickness = 0;
    for (int round = 0; round < 3; ++round) {
      const double sheet = 0.5 * (shape.area - around * thickness);
      if (!(sheet > 0)) return;
      thickness = std::abs(shape.volume) / sheet;
    }
    const double sheet = 0.5 * (shape.area - around * thickness);
    const double outline = shape.extents[0] * shape.extents[1];
    const bool thin =
        thickness > 0 && thickness < 0.2 * shape.extents[1] && sheet > 0.5 * outline && sheet < 1.5 * outline;
    const bool scattered = detail.thickness_spread > 0.45 || detail.facing_share < 0.6;
    if (!thin || !scattered) return;
    detail.thickness = thickness;
    detail.thickness_spread = 0.3;
    detail.facing_share = 1;
  }

  void measure_outline(Index c, const Shape& shape, Detail& detail) {
    const auto own = components_.vertices_of(c);
    const std::size_t step = std::max<std::size_t>(1, own.size() / 4000);
    for (int axis = 0; axis < 3; ++axis) {
      const Vec3 u = shape.axes.column((axis + 1) % 3);
      const Vec3 v = shape.axes.column((axis + 2) % 3);
      std::array<double, kOutlineDirections> support{};
      for (std::size_t i = 0; i < own.size(); i += step) {
        const Vec3 p = at(c, static_cast<Index>(i)) - shape.centroid;
        const double x = dot(u, p);
        const double y = dot(v, p);
        for (int k = 0; k < kOutlineDirections; ++k) {
          const double h = x * cosine(k) + y * cosine(k + kOutlineDirections * 3 / 4);
          double& s = support[static_cast<std::size_t>(k)];
          s = std::max(s, h);
        }
      }
      const auto [low, high] = std::minmax_element(support.begin(), support.end());
      const double ratio = *high > 0 ? *low / *high : 0;
      if (ratio > detail.roundness + 1e-6) {
        detail.roundness = ratio;
        detail.round_axis = axis;
      }
    }
  }
  static double cosine(int k) {
    static const auto table = [] {
      std::array<double, kOutlineDirections> t{};
      for (int i = 0; i < kOutlineDirections; ++i)
        t[static_cast<std::size_t>(i)] = std::cos(2.0 * std::numbers::pi * i / kOutlineDirections);
      return t;
    }();
    return table[static_cast<std::size_t>(k % kOutlineDirections)];
  }

  void measure_uv(Index c, Detail& detail) {
    if (mesh_.corner_texcoord.empty()) return;
    const auto own = components_.faces_of(c);
    work_.samples.clear();
    work_.samples2.clear();
    const std::size_t step = std::max<std::size_t>(1, own.size() / kUvSamples);
    for (std::size_t f = 0; f < own.size(); f += step) {
      const Index begin = mesh_.face_offsets[own[f]];
      const Index end = mesh_.face_offsets[own[f] + 1];
      for (Index k = begin + 1; k + 1 < end; ++k) add_uv_sample({begin, k, k + 1});
    }
    if (work_.samples.empty()) return;
    detail.has_uv = true;
    detail.uv_scale = weighted_quantile(work_.samples, 0.5);
    if (detail.uv_scale > 0)
      detail.uv_scale_spread =
          (weighted_quantile(work_.samples, 0.75) - weighted_quantile(work_.samples, 0.25)) / detail.uv_scale;
    detail.uv_stretch = weighted_quantile(work_.samples2, 0.5);
  }

  void add_uv_sample(const Tri& corner) {
    std::array<Vec2, 3> t;
    std::array<Vec3, 3> p;
    for (std::size_t i = 0; i < 3; ++i) {
      const Index id = mesh_.corner_texcoord[corner[i]];
      if (id == kNone) return;
      t[i] = mesh_.texcoords[id];
      p[i] = mesh_.positions[mesh_.corner_position[corner[i]]];
    }
    const Vec3 e1 = p[1] - p[0];
    const Vec3 e2 = p[2] - p[0];
    const double l1 = length(e1);
    const Vec3 n = cross(e1, e2);
    const double area2 = length(n);
    if (!(area2 > 0) || !(l1 > 0) || !std::isfinite(area2)) return;
    // Triangle laid flat: (0,0), (l1,0), (x,y); Jacobian of the map to UV.
    const double x = dot(e1, e2) / l1;
    const double y = area2 / l1;
    const double du1 = t[1].x - t[0].x;
    const double dv1 = t[1].y - t[0].y;
    const double du2 = t[2].x - t[0].x;
    const double dv2 = t[2].y - t[0].y;
    const double a = du1 / l1;
    const double b = dv1 / l1;
    const double c = (du2 - a * x) / y;
    const double d = (dv2 - b * x) / y;
    const double det = std::abs(a * d - b * c);
    if (!(std::abs(du1 * dv2 - dv1 * du2) > 0)) return;  // edge walls of thick panels often have no UV area
    const double sum = a * a + b * b + c * c + d * d;
    const double root = std::sqrt(std::max(0.0, sum * sum - 4 * det * det));
    const double s1 = std::sqrt(std::max(0.0, 0.5 * (sum + root)));
    const double s2 = s1 > 0 ? det / s1 : 0;
    if (!std::isfinite(s1)) return;
    work_.samples.push_back({std::sqrt(det), area2});
    work_.samples2.push_back({s2 > 1e-6 * s1 && s1 > 0 ? std::min(s1 / s2, 1e6) : 1e6, area2});
  }

  const SourceMesh& mesh_;
  FaceView faces_;
  const WeldMap& welded_;
  const ComponentMap& components_;
  Work work_;
};

}  // namespace

std::vector<Detail> measure_details(const SourceMesh& mesh, const WeldMap& welded, const ComponentMap& components,
                                    std::span<const Shape> shapes, std::span<const Index> which,
                                    const Executor& executor) {
  std::vector<Detail> details(which.size());
  // One by one: the panels, which cost most, often come first.
  ScratchPool<Measurer> pool;
  for_ranges(executor, which.size(), 1, [&](std::size_t begin, std::size_t end) {
    pool.with([&] { return std::make_unique<Measurer>(mesh, welded, components); },
              [&](Measurer& measurer) {
                for (std::size_t i = begin; i < end; ++i) details[i] = measurer.measure(which[i], shapes[which[i]]);
              });
  });
  return details;
}

}  // namespace trimtack
