// SPDX-License-Identifier: MIT
// Broad phase: sweep along the axis of widest spread over boxes. Narrow phase: vertices against triangles (closest
// point by regions, Ericson 2005, section 5.1.5), and edges against triangles (Moller and Trumbore 1997).
#include "stages/contacts.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace trimtack {
namespace {

constexpr std::size_t kMostSamples = 200;
constexpr std::size_t kMostTriangles = 3000;

double squared_distance_to_box(const Vec3& p, const Box& box) {
  double d = 0;
  for (int k = 0; k < 3; ++k) {
    const double x = std::max({box.min[k] - p[k], p[k] - box.max[k], 0.0});
    d += x * x;
  }
  return d;
}

struct Swept {  // what the sweep looks at, side by side in memory
  Box box;
  double size = 0;
  Index component = 0;
};

struct Ball {  // a triangle and the ball around it
  Vec3 a, b, c, centre;
  double radius;
};

struct Scratch {
  std::vector<Vec3> points;
  std::vector<Ball> balls, others;
};

/// Whether the segment p to q passes through the triangle.
bool passes_through(const Vec3& p, const Vec3& q, const Ball& t) {
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

struct Pair {
  const FaceView& faces;
  const WeldMap& welded;
  const ComponentMap& components;
  std::span<const Shape> shapes;

  void gather_points(Index a, const Box& box, double reach, std::vector<Vec3>& points) const {
    points.clear();
    for (const Index w : components.vertices_of(a)) {
      const Vec3& p = faces.positions[welded.representative[w]];
      if (squared_distance_to_box(p, box) <= reach * reach) points.push_back(p);
    }
  }

  void gather_balls(Index b, const Box& box, double reach, std::vector<Ball>& balls) const {
    balls.clear();
    for (const Index f : components.faces_of(b)) {
      const auto corners = faces.face(f);
      for (std::size_t k = 1; k + 1 < corners.size(); ++k) {
        Ball t{faces.positions[corners[0]], faces.positions[corners[k]], faces.positions[corners[k + 1]], {}, 0};
        t.centre = (1.0 / 3.0) * (t.a + t.b + t.c);
        t.radius = std::sqrt(
            std::max({squared_length(t.a - t.centre), squared_length(t.b - t.centre), squared_length(t.c - t.centre)}));
        const double far = reach + t.radius;
        if (squared_distance_to_box(t.centre, box) <= far * far) balls.push_back(t);
      }
    }
  }

  /// Least squared distance from vertices of a to faces of b, looking no further than `reach`; stops at `enough`.
  double one_way(Index a, Index b, double reach, double enough, Scratch& scratch) const {
    const double infinite = std::numeric_limits<double>::infinity();
    gather_points(a, shapes[b].box, reach, scratch.points);
    if (scratch.points.empty()) return infinite;
    gather_balls(b, shapes[a].box, reach, scratch.balls);
    double best = reach;
    bool any = false;
    const std::size_t point_step = std::max<std::size_t>(1, scratch.points.size() / kMostSamples);
    const std::size_t ball_step = std::max<std::size_t>(1, scratch.balls.size() / kMostTriangles);
    for (std::size_t i = 0; i < scratch.points.size() && best > enough; i += point_step) {
      const Vec3& p = scratch.points[i];
      for (std::size_t j = 0; j < scratch.balls.size(); j += ball_step) {
        const Ball& t = scratch.balls[j];
        const double far = best + t.radius;
        if (squared_length(p - t.centre) > far * far) continue;
        const double d = std::sqrt(squared_distance_to_triangle(p, t.a, t.b, t.c));
        if (d > best) continue;
        best = d;
        any = true;
      }
    }
    return any ? best : infinite;
  }

  /// Whether an edge of either passes through a face of the other; their vertices may lie far apart.
  bool pierce(Index a, Index b, Scratch& scratch) const {
    gather_balls(a, shapes[b].box, 0, scratch.balls);
    if (scratch.balls.empty()) return false;
    gather_balls(b, shapes[a].box, 0, scratch.others);
    const std::size_t own_step = std::max<std::size_t>(1, scratch.balls.size() / kMostSamples);
    const std::size_t other_step = std::max<std::size_t>(1, scratch.others.size() / kMostTriangles);
    for (std::size_t i = 0; i < scratch.balls.size(); i += own_step)
      for (std::size_t j = 0; j < scratch.others.size(); j += other_step) {
        const Ball& x = scratch.balls[i];
        const Ball& y = scratch.others[j];
        const double far = x.radius + y.radius;
        if (squared_length(x.centre - y.centre) > far * far) continue;
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

std::vector<Contact> find_contacts(const FaceView& faces, const WeldMap& welded, const ComponentMap& components,
                                   std::span<const Shape> shapes, std::span<const Index> candidates, double reach,
                                   std::span<const std::uint8_t> guests) {
  std::vector<Contact> contacts;
  if (candidates.empty()) return contacts;
  if (!guests.empty() && std::all_of(candidates.begin(), candidates.end(), [&](Index c) { return guests[c] != 0; }))
    return contacts;
  Box all = shapes[candidates[0]].box;
  for (const Index c : candidates)
    for (int k = 0; k < 3; ++k) {
      all.min[k] = std::min(all.min[k], shapes[c].box.min[k]);
      all.max[k] = std::max(all.max[k], shapes[c].box.max[k]);
    }
  int axis = 0;
  for (int k = 1; k < 3; ++k)
    if (all.max[k] - all.min[k] > all.max[axis] - all.min[axis]) axis = k;
  std::vector<Index> order(candidates.begin(), candidates.end());
  std::sort(order.begin(), order.end(), [&](Index a, Index b) {
    const double x = shapes[a].box.min[axis];
    const double y = shapes[b].box.min[axis];
    return x != y ? x < y : a < b;
  });
  const Pair pair{faces, welded, components, shapes};
  Scratch scratch;
  const auto meet = [&](const Swept& x, const Swept& y) {
    const double pad = reach * std::min(x.size, y.size);
    for (int k = 0; k < 3; ++k)
      if (x.box.min[k] > y.box.max[k] + pad || y.box.min[k] > x.box.max[k] + pad) return;
    const double enough = 0.1 * pad;  // what is nearer counts as touching
    double d = pair.one_way(x.component, y.component, pad, enough, scratch);
    if (d > enough) d = std::min(d, pair.one_way(y.component, x.component, pad, enough, scratch));
    if (d > enough && pair.pierce(x.component, y.component, scratch)) d = 0;
    if (d <= pad) contacts.push_back({std::min(x.component, y.component), std::max(x.component, y.component), d});
  };
  std::array<std::vector<Swept>, 2> active;  // hosts, guests
  for (const Index b : order) {
    const bool guest = !guests.empty() && guests[b] != 0;
    const Swept own{shapes[b].box, shapes[b].extents[0], b};
    for (std::size_t kind = 0; kind < (guest ? 1U : 2U); ++kind) {
      std::vector<Swept>& others = active[kind];
      std::size_t kept = 0;
      for (std::size_t i = 0; i < others.size(); ++i) {
        if (others[i].box.max[axis] + reach * others[i].size < own.box.min[axis]) continue;
        if (kept != i) others[kept] = others[i];
        meet(others[kept++], own);
      }
      others.resize(kept);
    }
    active[guest ? 1 : 0].push_back(own);
  }
  std::sort(contacts.begin(), contacts.end(),
            [](const Contact& x, const Contact& y) { return x.a != y.a ? x.a < y.a : x.b < y.b; });
  return contacts;
}

}  // namespace trimtack
