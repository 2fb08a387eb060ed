// SPDX-License-Identifier: MIT
// Vertices against triangles (closest point by regions, Ericson 2005, section 5.1.5).
#include "stages/find/contacts.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "core/memory.hpp"
#include "stages/find/box_sweep.hpp"

namespace trimtack {
namespace {

constexpr std::size_t kMostSamples = 200;
constexpr std::size_t kMostTriangles = 3000;
/// Two parts that have each been compared with so many others lie in a heap, where all touch all. A plate under
/// thousands of stones is no such case: a stone touches few others.
constexpr std::uint8_t kCrowd = 64;
// Squared distances of boxes are compared with this much slack, so that rounding leaves nothing out.
constexpr double kSlack = 1 + 1e-9;

double squared_distance_to_box(const Vec3& p, const Box& box) {
  double d = 0;
  for (int k = 0; k < 3; ++k) {
    const double x = std::max({box.min[k] - p[k], p[k] - box.max[k], 0.0});
    d += x * x;
  }
  return d;
}

double squared_distance_of(const Box& x, const Box& y) {
  double d = 0;
  for (int k = 0; k < 3; ++k) {
    const double gap = std::max({x.min[k] - y.max[k], y.min[k] - x.max[k], 0.0});
    d += gap * gap;
  }
  return d;
}

/// Whether a slab wider than `far` lies between two parts: across the line between them or one of their axes.
bool kept_apart(const Shape& a, const Shape& b, double far) {
  if (!(a.area > 0) || !(b.area > 0)) return false;  // their axes mean nothing
  const Vec3 apart = middle_of_extents(b) - middle_of_extents(a);
  const double slack = 1e-9 * (length(apart) + a.extents[0] + b.extents[0]);
  const auto parted_along = [&](const Vec3& along) {
    return std::abs(dot(apart, along)) - half_span(a, along) - half_span(b, along) > far + slack;
  };
  if (parted_along(normalized(apart))) return true;
  for (int k = 0; k < 3; ++k)
    if (parted_along(a.axes.column(k)) || parted_along(b.axes.column(k))) return true;
  return false;
}

struct Corners {  // of a triangle
  Vec3 a, b, c;
};

struct Scratch {
  std::vector<Vec3> points;
  std::vector<Corners> triangles, others;
  std::vector<double> boxes;    // of the triangles: least x of all, least y, least z, largest x, ...
  std::vector<double> squared;  // distances of one point from them
  std::vector<Box> other_boxes;
};

Vec3 centre_of(const Corners& t) { return (1.0 / 3.0) * (t.a + t.b + t.c); }

Box box_of(const Corners& t) {
  Box box{t.a, t.a};
  grow(box, t.b);
  grow(box, t.c);
  return box;
}

/// Whether the segment p to q passes through the triangle.
bool passes_through(const Vec3& p, const Vec3& q, const Corners& t) {
  const Vec3 d = q - p;
  const Vec3 u = t.b - t.a;
  const Vec3 v = t.c - t.a;
  const Vec3 n = cross(d, v);
  const double det = dot(u, n);
  if (!(std::abs(det) > 0)) return false;
  const Vec3 s = p - t.a;
  const double x = dot(s, n) / det;
  if (!(x >= 0 && x <= 1)) return false;
  const Vec3 m = cross(s, u);
  const double y = dot(d, m) / det;
  if (!(y >= 0 && x + y <= 1)) return false;
  const double along = dot(v, m) / det;
  return along >= 0 && along <= 1;
}

/// A triangle with the ball around it: where balls keep apart nothing is looked at.
struct Ball {
  Vec3 centre;
  double radius = 0;
};

Ball ball_of(const Corners& t) {
  const Vec3 centre = centre_of(t);
  return {
      centre,
      std::sqrt(std::max({squared_length(t.a - centre), squared_length(t.b - centre), squared_length(t.c - centre)}))};
}

/// Squared distances of n boxes from p.
[[gnu::always_inline]] inline void measure_from(const Vec3& p, const double* box, std::size_t n, double* out) {
  const auto gap = [](double low, double high, double x) {
    const double below = low - x, above = x - high;
    const double outside = below > above ? below : above;
    return outside > 0 ? outside : 0;
  };
  for (std::size_t j = 0; j < n; ++j) {
    const Vec3 d{gap(box[j], box[3 * n + j], p.x), gap(box[n + j], box[4 * n + j], p.y),
                 gap(box[2 * n + j], box[5 * n + j], p.z)};
    out[j] = squared_length(d);
  }
}

void measure_baseline(const Vec3& p, const double* box, std::size_t n, double* out) { measure_from(p, box, n, out); }

#if defined(__x86_64__) && defined(__GNUC__)
/// Four lanes to a register; no fused operations, so the same bits.
__attribute__((target("avx2"))) void measure_wide(const Vec3& p, const double* box, std::size_t n, double* out) {
  measure_from(p, box, n, out);
}

auto measure_here() { return __builtin_cpu_supports("avx2") ? &measure_wide : &measure_baseline; }
#else
auto measure_here() { return &measure_baseline; }
#endif

struct Pair {
  const FaceView& faces;
  const ComponentMap& components;
  std::span<const Shape> shapes;

  void gather_points(Index a, const Box& box, double reach, std::vector<Vec3>& points) const {
    points.clear();
    for (const Index v : components.vertices_of(a)) {
      const Vec3& p = faces.positions[v];
      if (squared_distance_to_box(p, box) <= reach * reach) points.push_back(p);
    }
  }

  /// Whether all vertices and triangles are looked at.
  bool is_small(Index c) const { return shapes[c].vertex_count < 2 * kMostSamples && !has_many_triangles(c); }

  bool has_many_triangles(Index c) const {
    const IndexList own = components.faces_of(c);
    const bool few = faces.offsets[own.back() + std::size_t{1}] - faces.offsets[own.front()] < 2 * kMostTriangles;
    return !few && triangle_count(c) >= 2 * kMostTriangles;
  }

  std::size_t triangle_count(Index b) const {
    std::size_t count = 0;
    for (const Index f : components.faces_of(b)) count += std::max<std::size_t>(faces.face(f).size(), 2) - 2;
    return count;
  }

  /// Triangles of b that may be within reach of the box. Of less than some thousand only those that may be within
  /// reach of `points`: the distances are the same.
  void gather_triangles(Index b, const Box& box, std::span<const Vec3> points, double reach,
                        std::vector<Corners>& out) const {
    out.clear();
    const bool all = has_many_triangles(b);
    const Box near = bounds(points);
    for (const Index f : components.faces_of(b)) {
      const auto corners = faces.face(f);
      for (std::size_t k = 1; k + 1 < corners.size(); ++k) {
        const Corners t{faces.positions[corners[0]], faces.positions[corners[k]], faces.positions[corners[k + 1]]};
        if (all ? ball_within(t, box, reach) : squared_distance_of(box_of(t), near) <= kSlack * reach * reach)
          out.push_back(t);
      }
    }
  }

  static bool ball_within(const Corners& t, const Box& box, double reach) {
    const Ball ball = ball_of(t);
    const double far = reach + ball.radius;
    return squared_distance_to_box(ball.centre, box) <= far * far;
  }

  /// Leaves out points that none of the triangles can be within reach of.
  static void narrow_points(std::span<const Corners> triangles, double reach, std::vector<Vec3>& points) {
    if (points.size() >= 2 * kMostSamples || triangles.empty()) return;
    Box box = box_of(triangles[0]);
    for (const Corners& t : triangles)
      for (const Vec3& p : {t.a, t.b, t.c}) grow(box, p);
    std::erase_if(points, [&](const Vec3& p) { return squared_distance_to_box(p, box) > kSlack * reach * reach; });
  }

  static void list_boxes(Scratch& scratch) {
    const std::size_t n = scratch.triangles.size();
    scratch.boxes.resize(6 * n);
    scratch.squared.resize(n);
    for (std::size_t j = 0; j < n; ++j) {
      const Box box = box_of(scratch.triangles[j]);
      for (int k = 0; k < 3; ++k) {
        scratch.boxes[static_cast<std::size_t>(k) * n + j] = box.min[k];
        scratch.boxes[static_cast<std::size_t>(k + 3) * n + j] = box.max[k];
      }
    }
  }

  /// Whether a vertex of a comes within `wanted` of a face of b. Large parts are sampled within `reach` of the other.
  bool comes_near(Index a, Index b, double reach, double wanted, Scratch& scratch) const {
    if (!(reach > 0)) return false;
    gather_points(a, shapes[b].box, reach, scratch.points);
    if (scratch.points.empty()) return false;
    gather_triangles(b, shapes[a].box, scratch.points, reach, scratch.triangles);
    narrow_points(scratch.triangles, reach, scratch.points);
    const std::size_t point_step = std::max<std::size_t>(1, scratch.points.size() / kMostSamples);
    const std::size_t triangle_step = std::max<std::size_t>(1, scratch.triangles.size() / kMostTriangles);
    list_boxes(scratch);
    static const auto measure_best = measure_here();
    for (std::size_t i = 0; i < scratch.points.size(); i += point_step) {
      const Vec3& p = scratch.points[i];
      measure_best(p, scratch.boxes.data(), scratch.triangles.size(), scratch.squared.data());
      for (std::size_t j = 0; j < scratch.triangles.size(); j += triangle_step) {
        if (scratch.squared[j] > kSlack * wanted * wanted) continue;
        const Corners& t = scratch.triangles[j];
        if (std::sqrt(squared_distance_to_triangle(p, t.a, t.b, t.c)) <= wanted) return true;
      }
    }
    return false;
  }

  /// Whether a has less than twice as many triangles: none is left out then.
  bool has_few(Index a, std::size_t most) const {
    const IndexList own = components.faces_of(a);
    return faces.offsets[own.back() + std::size_t{1}] - faces.offsets[own.front()] < 2 * most;
  }

  /// Whether fn(triangle) is true for any of the triangles of a that may meet something within the box.
  /// @param few  whether all of them are looked at
  template <class Fn>
  bool any_crossing(Index a, const Box& box, bool few, Fn&& fn) const {
    const IndexList own = components.faces_of(a);
    for (std::size_t r = 0; r < own.run_count(); ++r)
      for (Index f = own.first_of_run(r), end = own.end_of_run(r); f < end; ++f) {
        const auto corners = faces.face(f);
        if (corners.size() < 3 || (few && !boxes_meet(bounds_of(corners), box))) continue;
        for (std::size_t k = 1; k + 1 < corners.size(); ++k) {
          const Corners t{faces.positions[corners[0]], faces.positions[corners[k]], faces.positions[corners[k + 1]]};
          if (ball_within(t, box, 0) && fn(t)) return true;
        }
      }
    return false;
  }

  void gather_crossing(Index a, const Box& box, bool few, std::vector<Corners>& out) const {
    out.clear();
    any_crossing(a, box, few, [&](const Corners& t) {
      out.push_back(t);
      return false;
    });
  }

  Box bounds_of(std::span<const Index> corners) const {
    Box box{faces.positions[corners[0]], faces.positions[corners[0]]};
    for (const Index v : corners.subspan(1)) grow(box, faces.positions[v]);
    return box;
  }

  /// Whether an edge of either passes through a face of the other; their vertices may lie far apart.
  bool pierce(Index a, Index b, Scratch& scratch) const {
    if (squared_distance_of(shapes[a].box, shapes[b].box) > 0) return false;
    gather_crossing(b, shapes[a].box, has_few(b, kMostTriangles), scratch.triangles);
    if (scratch.triangles.empty()) return false;
    scratch.other_boxes.clear();
    for (const Corners& y : scratch.triangles) scratch.other_boxes.push_back(box_of(y));
    if (has_few(a, kMostSamples))
      return any_crossing(a, shapes[b].box, true, [&](const Corners& x) { return pierces_any(x, scratch); });
    gather_crossing(a, shapes[b].box, false, scratch.others);
    const std::size_t step = std::max<std::size_t>(1, scratch.others.size() / kMostSamples);
    for (std::size_t i = 0; i < scratch.others.size(); i += step)
      if (pierces_any(scratch.others[i], scratch)) return true;
    return false;
  }

  static bool pierces_any(const Corners& x, const Scratch& scratch) {
    const Box box = box_of(x);
    const std::size_t step = std::max<std::size_t>(1, scratch.triangles.size() / kMostTriangles);
    for (std::size_t j = 0; j < scratch.triangles.size(); j += step) {
      if (squared_distance_of(box, scratch.other_boxes[j]) > 0) continue;
      const Corners& y = scratch.triangles[j];
      const Ball p = ball_of(x);
      const Ball q = ball_of(y);
      const double far = p.radius + q.radius;
      if (squared_length(p.centre - q.centre) > far * far) continue;
      if (passes_through(x.a, x.b, y) || passes_through(x.b, x.c, y) || passes_through(x.c, x.a, y) ||
          passes_through(y.a, y.b, x) || passes_through(y.b, y.c, x) || passes_through(y.c, y.a, x))
        return true;
    }
    return false;
  }
};

}  // namespace

double squared_distance_to_triangle(const Vec3& p, const Vec3& a, const Vec3& b, const Vec3& c) {
  const auto to_segment = [&p](const Vec3& s, const Vec3& e) {
    const Vec3 d = e - s;
    const double l = squared_length(d);
    const double t = l > 0 ? std::clamp(dot(p - s, d) / l, 0.0, 1.0) : 0.0;
    return squared_length(p - s - t * d);
  };
  const Vec3 n = cross(b - a, c - a);
  const double nn = squared_length(n);
  if (nn > 0) {
    const double u = dot(cross(c - b, p - b), n);
    const double v = dot(cross(a - c, p - c), n);
    const double w = dot(cross(b - a, p - a), n);
    if (u >= 0 && v >= 0 && w >= 0) {
      const double h = dot(p - a, n);
      return h * h / nn;
    }
  }
  return std::min({to_segment(a, b), to_segment(b, c), to_segment(c, a)});
}

std::vector<std::array<Index, 2>> find_contacts(const FaceView& faces, const ComponentMap& components,
                                                std::span<const Shape> shapes, std::span<const Index> candidates,
                                                double reach, std::span<const std::uint8_t> camps,
                                                std::span<const Index> kinds, const PairLimit& limit) {
  std::vector<std::array<Index, 2>> contacts;
  if (candidates.empty()) return contacts;
  if (!camps.empty() && camps[candidates[0]] != 0 &&
      std::all_of(candidates.begin(), candidates.end(), [&](Index c) { return camps[c] == camps[candidates[0]]; }))
    return contacts;
  const Pair pair{faces, components, shapes};
  Scratch scratch;
  std::vector<std::uint8_t> compared(shapes.size(), 0);
  const auto meet = [&](Index x, Index y) {
    if (!kinds.empty() && kinds[x] == kinds[y]) return;
    if (compared[x] == kCrowd && compared[y] == kCrowd) return;
    const double pad = reach * std::min(shapes[x].extents[0], shapes[y].extents[0]);
    const Box& a = shapes[x].box;
    const Box& b = shapes[y].box;
    for (int k = 0; k < 3; ++k)
      if (a.min[k] > b.max[k] + pad || b.min[k] > a.max[k] + pad) return;
    double wanted = pad;
    if (limit) {
      wanted = std::min(pad, limit(std::min(x, y), std::max(x, y)));
      if (wanted < 0 || squared_distance_of(a, b) > kSlack * wanted * wanted ||
          kept_apart(shapes[x], shapes[y], wanted))
        return;
    }
    for (const Index c : {x, y}) compared[c] = std::min<std::uint8_t>(compared[c] + 1, kCrowd);
    const auto come_near = [&] {
      // Large parts are sampled according to what lies within reach.
      const double far = pair.is_small(x) && pair.is_small(y) ? wanted : pad;
      return pair.comes_near(x, y, far, wanted, scratch) || pair.comes_near(y, x, far, wanted, scratch);
    };
    if (pair.pierce(x, y, scratch) || come_near()) contacts.push_back({std::min(x, y), std::max(x, y)});
  };
  std::vector<Box> boxes;
  std::vector<std::uint8_t> camp_of_box;
  reserve_large(boxes, candidates.size());
  for (const Index c : candidates) {
    const double pad = reach * shapes[c].extents[0];
    boxes.push_back({shapes[c].box.min - Vec3{pad, pad, pad}, shapes[c].box.max + Vec3{pad, pad, pad}});
    if (!camps.empty()) camp_of_box.push_back(camps[c]);
  }
  sweep_boxes(boxes, camp_of_box, [&](Index i, Index k) { meet(candidates[i], candidates[k]); });
  std::sort(contacts.begin(), contacts.end());
  return contacts;
}

}  // namespace trimtack
