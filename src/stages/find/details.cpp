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
#include <numeric>

#include "core/area_vector.hpp"
#include "core/memory.hpp"
#include "core/scratch_pool.hpp"
#include "stages/find/angles.hpp"
#include "stages/find/half_edges.hpp"
#include "stages/find/uv_measure.hpp"
#include "stages/find/weighted.hpp"
#include "trimtack/features.hpp"

namespace trimtack {
namespace {

constexpr double kCreaseAngle = 35.0 * std::numbers::pi / 180.0;
constexpr std::size_t kFineLimit = 20000;  // above this many faces the costlier measures are left out
constexpr std::size_t kThicknessRays = 40;
constexpr std::size_t kFewRays = 7;
constexpr std::size_t kOutlineDirections = 24;

struct Work {                 // reused between components of one range
  std::vector<Index> corner;  // slot of each corner's vertex, face by face, where the mesh's own lists do not do
  std::vector<Index> start;
  Room<Vec3> normal;         // area vectors
  std::vector<Index> first;  // half edge of each vertex, and the end
  Room<HalfEdge> half;
  std::vector<double> angle;
  std::vector<Index> loop_parent;   // kNone off the border
  std::vector<Index> piece_parent;  // of faces, over edges of two faces
  std::vector<Weighted> samples;
  std::vector<Vec3> points;  // of a component that does not lie close together
  Room<Index> slots;         // by vertex from the lowest one; only own vertices are set
  AngleBatch angles;
  std::array<double, AngleBatch::kSize> lengths{};  // of the edges in the batch
  std::array<Index, AngleBatch::kSize> owners{};    // vertices of the corners in the batch
};

/// The area along the normal; none where it is beyond all numbers.
Vec3 finite_area(const FaceView& faces, std::span<const Index> corners) {
  const Vec3 n = 0.5 * area_vector(faces.positions, corners);
  return is_finite(n) ? n : Vec3{};
}

struct Directions {
  std::array<double, kOutlineDirections> x{}, y{};
};

Directions outline_directions() {
  const auto cosine = [](std::size_t k) {
    return std::cos(2.0 * std::numbers::pi * static_cast<double>(k % kOutlineDirections) / kOutlineDirections);
  };
  Directions d;
  for (std::size_t k = 0; k < kOutlineDirections; ++k) {
    d.x[k] = cosine(k);
    d.y[k] = cosine(k + kOutlineDirections * 3 / 4);
  }
  return d;
}

class Measurer {
 public:
  Measurer(const SourceMesh& mesh, const WeldMap& welded, const ComponentMap& components)
      : mesh_(mesh),
        faces_{mesh.positions, mesh.face_offsets, mesh.corner_position},
        welded_(welded),
        components_(components) {}

  Detail measure(Index c, const Shape& with_doubles) {
    Detail detail;
    Shape shape = with_doubles;
    dropped_count_ = 0;
    own_faces_ = components_.faces_of(c);
    gather_points(c);
    gather_faces();
    match_edges(detail);
    if (detail.non_manifold_edges > 0 && drop_doubles()) {
      detail = Detail{};
      measure_single(shape, detail);
      match_edges(detail);
    }
    count_loops(detail);
    count_pieces(detail);
    if (own_faces_.size() <= kFineLimit) {
      add_curvature(detail);
      measure_thickness(shape, detail);
    } else if (detail.boundary_edges == 0 && shape.area > 0) {
      detail.thickness = 2.0 * std::abs(shape.volume) / shape.area;
      detail.facing_share = 1;
    }
    if (detail.closed && detail.euler == 2) thickness_from_volume(shape, detail);
    measure_outline(shape, detail);
    measure_uv(mesh_, own_faces_, detail);
    return detail;
  }

 private:
  /// Gives each place a slot: counted from the lowest vertex, if the component lies close together, else one after the
  /// other.
  void gather_points(Index c) {
    own_vertices_ = components_.vertices_of(c);
    const IndexList later = components_.later_of(c);
    lowest_ = own_vertices_.front();
    const Index highest = later.empty() ? own_vertices_.back() : std::max(own_vertices_.back(), later.back());
    const std::size_t span = highest - lowest_ + std::size_t{1};
    close_ = span <= 2 * own_vertices_.size();
    slots_ = close_ ? span : own_vertices_.size();
    points_ = faces_.positions.data() + lowest_;
    slot_of_ = nullptr;
    if (close_ && later.empty()) return;
    slot_of_ = work_.slots.of(span);
    if (close_) {
      std::iota(slot_of_, slot_of_ + span, Index{0});
    } else {
      work_.points.clear();
      reserve_large(work_.points, own_vertices_.size());
      for (const Index v : own_vertices_) {
        slot_of_[v - lowest_] = static_cast<Index>(work_.points.size());
        work_.points.push_back(faces_.positions[v]);
      }
      points_ = work_.points.data();
    }
    for (const Index v : later) slot_of_[v - lowest_] = slot_of_[welded_.of(v) - lowest_];
  }

  void gather_faces() {
    face_count_ = own_faces_.size();
    if (own_faces_.is_one_run()) {
      start_ = faces_.offsets.data() + own_faces_.front();
      corner_ = faces_.corners.data();
      first_vertex_ = lowest_;
      corner_slot_ = slot_of_;
    } else {
      copy_corners();
    }
    normal_ = work_.normal.of(face_count_);
    Vec3* normal = normal_;
    own_faces_.each_run([&](Index first, Index end) {
      for (Index f = first; f < end; ++f) *normal++ = finite_area(faces_, faces_.face(f));
    });
  }

  void copy_corners() {
    work_.corner.clear();
    work_.start.assign(1, 0);
    reserve_large(work_.start, own_faces_.size() + 1);
    reserve_large(work_.corner, 3 * own_faces_.size());
    for (const Index f : own_faces_) {
      for (const Index v : faces_.face(f))
        work_.corner.push_back(slot_of_ == nullptr ? v - lowest_ : slot_of_[v - lowest_]);
      work_.start.push_back(static_cast<Index>(work_.corner.size()));
    }
    use_copies();
  }
  void use_copies() {
    start_ = work_.start.data();
    corner_ = work_.corner.data();
    first_vertex_ = 0;
    corner_slot_ = nullptr;
  }
  Index slot(Index corner) const {
    const Index own = corner_[corner] - first_vertex_;
    return corner_slot_ == nullptr ? own : corner_slot_[own];
  }

  /// Empties faces that repeat another one's vertices. True when there was any.
  bool drop_doubles() {
    const std::size_t n = face_count_;
    std::vector<std::vector<Index>> keys(n);
    std::vector<Index> order(n);
    for (std::size_t f = 0; f < n; ++f) {
      for (Index k = start_[f]; k < start_[f + 1]; ++k) keys[f].push_back(slot(k));
      std::sort(keys[f].begin(), keys[f].end());
      order[f] = static_cast<Index>(f);
    }
    std::sort(order.begin(), order.end(),
              [&](Index a, Index b) { return keys[a] != keys[b] ? keys[a] < keys[b] : a < b; });
    std::vector<std::uint8_t> drop(n, 0);
    for (std::size_t i = 1; i < n; ++i)
      if (keys[order[i]] == keys[order[i - 1]]) drop[order[i]] = 1, ++dropped_count_;
    if (dropped_count_ == 0) return false;
    std::vector<Index> corner;
    std::vector<Index> start{0};
    for (std::size_t f = 0; f < n; ++f) {
      if (drop[f] == 0)
        for (Index k = start_[f]; k < start_[f + 1]; ++k) corner.push_back(slot(k));
      else
        normal_[f] = {};
      start.push_back(static_cast<Index>(corner.size()));
    }
    work_.corner = std::move(corner);
    work_.start = std::move(start);
    use_copies();
    return true;
  }

  /// Area and volume without the faces that were dropped.
  void measure_single(Shape& shape, Detail& detail) const {
    shape.area = shape.volume = 0;
    std::size_t f = 0;
    for (const Index face : own_faces_) {
      const Vec3& n = normal_[f++];
      shape.area += length(n);
      shape.volume += dot(faces_.positions[faces_.face(face).front()] - shape.centroid, n) / 3;
    }
    detail.single_area = shape.area;
    detail.single_volume = shape.volume;
  }

  /// fn(p, q, face) for each side of each face.
  template <class Fn>
  void each_side(Fn&& fn) const {
    for (std::size_t f = 0; f < face_count_; ++f) {
      const Index begin = start_[f];
      const Index end = start_[f + 1];
      if (begin == end) continue;
      Index p = slot(end - 1);
      for (Index k = begin; k < end; ++k) {
        const Index q = slot(k);
        if (p != q) fn(p, q, static_cast<Index>(f));
        p = q;
      }
    }
  }

  /// Half edges by their smaller vertex.
  void list_half_edges() {
    reserve_large(work_.first, slots_ + 2);
    work_.first.assign(slots_ + 2, 0);
    each_side([&](Index p, Index q, Index) { ++work_.first[std::min(p, q) + std::size_t{2}]; });
    for (std::size_t v = 1; v <= slots_; ++v) work_.first[v + 1] += work_.first[v];
    half_ = work_.half.of(work_.first.back());
    // Each place moves on to the next vertex's first, where it is wanted.
    each_side([&](Index p, Index q, Index f) {
      half_[work_.first[std::min(p, q) + std::size_t{1}]++] = {std::max(p, q), f, p < q};
    });
  }

  void match_edges(Detail& detail) {
    list_half_edges();
    reserve_large(work_.loop_parent, slots_);
    work_.loop_parent.assign(slots_, kNone);
    reserve_large(work_.piece_parent, face_count_);
    work_.piece_parent.resize(face_count_);
    std::iota(work_.piece_parent.begin(), work_.piece_parent.end(), Index{0});
    EdgeSums sums;
    for (Index v = 0; v < slots_; ++v) {
      const std::span<HalfEdge> own(half_ + work_.first[v], work_.first[v + std::size_t{1}] - work_.first[v]);
      sort_few(own);
      for (std::size_t i = 0; i < own.size();) {
        std::size_t end = i + 1;
        while (end < own.size() && own[end].to() == own[i].to()) ++end;
        add_edge(v, own.subspan(i, end - i), detail, sums);
        i = end;
      }
    }
    add_bends(detail, sums);
    if (detail.edges > 0) {
      const double n = detail.edges;
      const double mean = sums.log_length / n;
      detail.mean_edge = std::exp(mean);
      detail.edge_spread = std::sqrt(std::max(0.0, sums.log_squared / n - mean * mean));
    }
    detail.crease_share = sums.inner_length > 0 ? sums.crease_length / sums.inner_length : 0;
    detail.closed = detail.edges > 0 && detail.boundary_edges == 0 && detail.non_manifold_edges == 0;
    detail.euler = static_cast<int>(own_vertices_.size()) - static_cast<int>(detail.edges) + count_real_faces();
  }

  /// Those with an inside.
  int count_real_faces() const {
    int count = 0;
    for (std::size_t f = 0; f < face_count_; ++f) {
      const Index k = start_[f];
      const Index n = start_[f + 1] - k;
      if (n > 3 || (n == 3 && slot(k) != slot(k + 1) && slot(k + 1) != slot(k + 2) && slot(k + 2) != slot(k))) ++count;
    }
    return count;
  }

  struct EdgeSums {
    double log_length = 0, log_squared = 0, inner_length = 0, crease_length = 0;
  };

  void add_edge(Index v, std::span<const HalfEdge> uses, Detail& detail, EdgeSums& sums) {
    ++detail.edges;
    const Index to = uses.front().to();
    const double l = length(points_[to] - points_[v]);
    if (std::isfinite(l) && l > 0) {
      const double log_l = std::log(l);
      sums.log_length += log_l;
      detail.longest_edge = std::max(detail.longest_edge, l);
      sums.log_squared += log_l * log_l;
    }
    if (uses.size() == 1) {
      ++detail.boundary_edges;
      if (std::isfinite(l)) detail.boundary_length += l;
      join_loop(v, to);
      return;
    }
    if (uses.size() > 2)
      ++detail.non_manifold_edges;
    else
      join(work_.piece_parent, uses[0].face(), uses[1].face());
    if (!std::isfinite(l)) return;
    const Vec3& n1 = normal_[uses[1].face()];
    work_.lengths[work_.angles.count] = l;
    work_.angles.add(normal_[uses[0].face()], uses[0].forward() == uses[1].forward() ? -n1 : n1);
    if (work_.angles.full()) add_bends(detail, sums);
  }

  void add_bends(Detail& detail, EdgeSums& sums) {
    work_.angles.measure();
    for (std::size_t i = 0; i < work_.angles.count; ++i) {
      const double l = work_.lengths[i];
      const double bend = work_.angles.angle[i];
      sums.inner_length += l;
      if (bend > kCreaseAngle) sums.crease_length += l;
      detail.bend += l * bend;
    }
    work_.angles.count = 0;
  }

  static Index root(std::vector<Index>& parent, Index v) {
    while (parent[v] != v) v = parent[v] = parent[parent[v]];
    return v;
  }
  static void join(std::vector<Index>& parent, Index a, Index b) {
    if (parent[a] == parent[b]) return;
    a = root(parent, a);
    b = root(parent, b);
    parent[std::max(a, b)] = std::min(a, b);
  }
  void join_loop(Index p, Index q) {
    if (work_.loop_parent[p] == kNone) work_.loop_parent[p] = p;
    if (work_.loop_parent[q] == kNone) work_.loop_parent[q] = q;
    join(work_.loop_parent, p, q);
  }
  void count_pieces(Detail& detail) {
    std::vector<Index>& parent = work_.piece_parent;
    const auto is_first = [&](Index f) { return parent[f] == f && start_[f] != start_[f + std::size_t{1}]; };
    Index pieces = 0;
    for (Index f = 0; f < face_count_; ++f) pieces += is_first(f) ? 1 : 0;
    if (pieces < 2) return;
    std::vector<Index> size(face_count_, 0);
    for (Index f = 0; f < face_count_; ++f) ++size[root(parent, f)];
    for (Index f = 0; f < face_count_; ++f)
      if (is_first(f) && size[f] <= kFineLimit) ++detail.loose_pieces;
  }
  void count_loops(Detail& detail) {
    for (Index v = 0; v < work_.loop_parent.size(); ++v)
      if (work_.loop_parent[v] == v) ++detail.boundary_loops;
  }

  void add_curvature(Detail& detail) {
    work_.angle.assign(slots_, 0.0);
    for (std::size_t f = 0; f < face_count_; ++f) {
      const Index begin = start_[f];
      const Index n = start_[f + 1] - begin;
      if (n < 3) continue;
      for (Index k = 0; k < n; ++k) {
        const Index own = slot(begin + k);
        const Vec3& p = points_[own];
        const Vec3& next = points_[slot(begin + (k + 1 < n ? k + 1 : 0))];
        const Vec3& last = points_[slot(begin + (k > 0 ? k : n) - 1)];
        work_.owners[work_.angles.count] = own;
        work_.angles.add(next - p, last - p);
        if (work_.angles.full()) add_corners();
      }
    }
    add_corners();
    std::size_t at = 0;
    for (const Index v : own_vertices_) {
      const std::size_t slot = close_ ? v - lowest_ : at++;
      if (work_.loop_parent[slot] == kNone) detail.curvature += std::abs(2.0 * std::numbers::pi - work_.angle[slot]);
    }
  }

  void add_corners() {
    work_.angles.measure();
    for (std::size_t i = 0; i < work_.angles.count; ++i)
      if (std::isfinite(work_.angles.angle[i])) work_.angle[work_.owners[i]] += work_.angles.angle[i];
    work_.angles.count = 0;
  }

  /// Distance along d from o to the nearest own face that looks the other way; infinite when there is none.
  /// @param outside  -1 when the faces are turned inside out
  double shoot(const Vec3& o, const Vec3& d, std::size_t skip, double outside) const {
    double best = std::numeric_limits<double>::infinity();
    const IndexList& own = own_faces_;
    for (std::size_t f = 0; f < own.size(); ++f) {
      const double facing = outside * dot(normal_[f], d);
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

  void measure_thickness(const Shape& shape, Detail& detail) {
    const double outside = detail.closed && shape.volume < 0 ? -1.0 : 1.0;
    const IndexList& own = own_faces_;
    work_.samples.clear();
    double area = 0;
    double facing = 0;
    const std::size_t count = own.size() - dropped_count_;
    const std::size_t rays = count <= 500 ? kThicknessRays : (count <= 3000 ? kThicknessRays / 3 : kFewRays);
    const std::size_t step = std::max<std::size_t>(1, count / rays);
    std::size_t at = 0;
    for (std::size_t f = 0; f < own.size(); ++f) {
      if ((dropped_count_ > 0 && start_[f] == start_[f + 1]) || at++ % step != step / 2) continue;
      const double a = length(normal_[f]);
      if (!(a > 0)) continue;
      const auto corners = faces_.face(own[f]);
      Vec3 middle;
      for (const Index v : corners) middle += faces_.positions[v];
      middle = (1.0 / static_cast<double>(corners.size())) * middle;
      const double t = shoot(middle, (-outside / a) * normal_[f], f, outside);
      area += a;
      if (!std::isfinite(t)) continue;
      facing += a;
      work_.samples.push_back({t, a});
    }
    if (!(facing > 0)) return;
    detail.facing_share = facing / area;
    sort_by_value(work_.samples);
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

  void measure_outline(const Shape& shape, Detail& detail) {
    static const Directions directions = outline_directions();
    const std::size_t step = std::max<std::size_t>(1, own_vertices_.size() / 4000);
    for (int axis = 0; axis < 3; ++axis) {
      const Vec3 u = shape.axes.column((axis + 1) % 3);
      const Vec3 v = shape.axes.column((axis + 2) % 3);
      std::array<double, kOutlineDirections> support{};
      for (std::size_t i = 0; i < own_vertices_.size(); i += step) {
        const Vec3 p = faces_.positions[own_vertices_[i]] - shape.centroid;
        const double x = dot(u, p);
        const double y = dot(v, p);
        for (std::size_t k = 0; k < kOutlineDirections; ++k) {
          const double h = x * directions.x[k] + y * directions.y[k];
          support[k] = support[k] < h ? h : support[k];
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

  const SourceMesh& mesh_;
  FaceView faces_;
  const WeldMap& welded_;
  const ComponentMap& components_;
  IndexList own_faces_, own_vertices_;
  const Index* start_ = nullptr;        // of each face's corners, and the end
  const Index* corner_ = nullptr;       // the vertex of each corner, counted from the first one
  const Index* corner_slot_ = nullptr;  // of each vertex from there; null where they are the same
  Index first_vertex_ = 0;
  Vec3* normal_ = nullptr;
  HalfEdge* half_ = nullptr;
  std::size_t face_count_ = 0;
  std::size_t dropped_count_ = 0;  // faces that repeat others
  std::size_t slots_ = 0;          // some may be empty
  const Vec3* points_ = nullptr;   // by slot
  Index* slot_of_ = nullptr;       // by vertex from the lowest one; null where they are counted from there
  Index lowest_ = 0;
  bool close_ = true;
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
