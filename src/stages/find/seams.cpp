// SPDX-License-Identifier: MIT
// Unwelded exports leave a gap of some hundredths of a millimetre to a millimetre between the pieces of a pattern. The
// pieces of a thick export are closed; where their sheets meet the narrow walls between them is their rim.
#include "stages/find/seams.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "core/area_vector.hpp"
#include "stages/find/clues.hpp"

namespace trimtack {
namespace {

constexpr double kParallel = 0.9;  // cosine
constexpr double kSharp = 0.6;     // cosine: rims are bent by a right angle

struct Segment {
  Vec3 from, to;
};

/// Closed, and as thick as cloth.
bool is_shell(const RoleInput& in, Index component) {
  const Detail& d = in.twin_details[in.families->twin_of_component[component]];
  return d.boundary_edges == 0 && d.thickness > 0 && thickness_agrees(d, in.scale, 0.2);
}

bool holds(const Box& box, const Vec3& p) {
  return p.x >= box.min.x && p.x <= box.max.x && p.y >= box.min.y && p.y <= box.max.y && p.z >= box.min.z &&
         p.z <= box.max.z;
}

bool meet(const Box& p, const Box& q) {
  return p.min.x <= q.max.x && q.min.x <= p.max.x && p.min.y <= q.max.y && q.min.y <= p.max.y && p.min.z <= q.max.z &&
         q.min.z <= p.max.z;
}

struct Edge {
  Index from, to, face;
};

/// Edges with one face, or of a shell those with a sharp bend, of those that touch the box: all faces of an edge within
/// it do so, too.
void add_border(const RoleInput& in, Index component, const Box& box, std::vector<Segment>& out) {
  std::vector<Edge> edges;
  for (const Index f : in.components->faces_of(component)) {
    const auto corners = in.mesh->face(f);
    for (std::size_t k = 0; k < corners.size(); ++k) {
      const Index a = corners[k];
      const Index b = corners[k + 1 < corners.size() ? k + 1 : 0];
      if (!holds(box, in.mesh->positions[a]) && !holds(box, in.mesh->positions[b])) continue;
      const Index p = in.welded->of(a);
      const Index q = in.welded->of(b);
      if (p != q) edges.push_back({std::min(p, q), std::max(p, q), f});
    }
  }
  std::sort(edges.begin(), edges.end(), [](const Edge& a, const Edge& b) {
    if (a.from != b.from) return a.from < b.from;
    return a.to != b.to ? a.to < b.to : a.face < b.face;
  });
  const bool shell = is_shell(in, component);
  const auto at = [&](Index v) { return in.mesh->positions[v]; };
  for (std::size_t i = 0; i < edges.size();) {
    std::size_t j = i + 1;
    while (j < edges.size() && edges[j].from == edges[i].from && edges[j].to == edges[i].to) ++j;
    const bool rim = shell && j - i == 2 &&
                     dot(normalized(area_vector(in.mesh->positions, in.mesh->face(edges[i].face))),
                         normalized(area_vector(in.mesh->positions, in.mesh->face(edges[i + 1].face)))) < kSharp;
    if (j - i == 1 || rim) out.push_back({at(edges[i].from), at(edges[i].to)});
    i = j;
  }
}

double distance(const Vec3& p, const Segment& s) {
  const Vec3 d = s.to - s.from;
  const double l = squared_length(d);
  const double t = l > 0 ? std::clamp(dot(p - s.from, d) / l, 0.0, 1.0) : 0.0;
  return length(p - s.from - t * d);
}

}  // namespace

bool may_be_sewn(const RoleInput& in, Index component) {
  return in.twin_details[in.families->twin_of_component[component]].boundary_edges > 0 || is_shell(in, component);
}

double seam_share(const RoleInput& in, Index component, double reach) {
  if (!may_be_sewn(in, component)) return 0;
  const Shape& shape = in.shapes[component];
  Box box = shape.box;
  std::vector<Segment> own;
  add_border(in, component, box, own);
  for (int k = 0; k < 3; ++k) {
    box.min[k] -= reach;
    box.max[k] += reach;
  }
  std::vector<Segment> others;
  const auto twin_of = [&](Index c) { return in.families->twin_of_component[c]; };
  for (Index c = 0; c < in.shapes.size(); ++c) {
    // Studs set edge to edge are not sewn together.
    if (c == component || twin_of(c) == twin_of(component) || in.shapes[c].area < 0.5 * shape.area ||
        !meet(in.shapes[c].box, box))
      continue;
    if (may_be_sewn(in, c)) add_border(in, c, box, others);
  }
  double along = 0;
  double all = 0;
  for (const Segment& s : own) {
    const double l = length(s.to - s.from);
    const Vec3 middle = 0.5 * (s.from + s.to);
    all += l;
    const bool sewn = std::any_of(others.begin(), others.end(), [&](const Segment& o) {
      return distance(middle, o) <= reach &&
             std::abs(dot(normalized(s.to - s.from), normalized(o.to - o.from))) >= kParallel;
    });
    if (sewn) along += l;
  }
  return all > 0 ? along / all : 0;
}

}  // namespace trimtack
