// SPDX-License-Identifier: MIT
// Ear clipping: G. H. Meisters, "Polygons have ears", American Mathematical Monthly 82 (1975); only reflex corners can
// lie in an ear: ElGindy, Everett, Toussaint, "Slicing an ear using prune-and-search", Pattern Recognition Letters 14
// (1993). The polygon's plane is its mean plane (Newell's normal: I. E. Sutherland et al., ACM Computing Surveys 6,
// 1974). Small polygons are cut as well as can be by dynamic programming: G. T. Klincsek, "Minimal triangulations of
// polygonal domains", Annals of Discrete Mathematics 9 (1980).
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>

#include "core/memory.hpp"
#include "core/square_to.hpp"
#include "trimtack/mesh.hpp"

namespace trimtack {
namespace {

/// Cosines and lengths closer than this count as equal: rounding must not choose a diagonal.
constexpr double kTie = 1e-12;

bool before(const Vec3& p, const Vec3& q) {
  if (p.x != q.x) return p.x < q.x;
  if (p.y != q.y) return p.y < q.y;
  return p.z < q.z;
}

/// A triangle this thin (height over longest edge) has no area to speak of, and a direction that is rounding.
constexpr double kNeedle = 1e-4;

/// The unit normal of a triangle; none of a needle.
Vec3 normal_of(const Vec3& a, const Vec3& b, const Vec3& c) {
  const Vec3 area = cross(b - a, c - a);
  const double longest = std::max({squared_length(b - a), squared_length(c - b), squared_length(a - c)});
  return length(area) > kNeedle * longest ? normalized(area) : Vec3{};
}

/// Cosine between the two halves of a quad cut from a to c; -2 when a half has no area.
double agreement(const Vec3& a, const Vec3& b, const Vec3& c, const Vec3& d) {
  const Vec3 n = normal_of(a, b, c);
  const Vec3 m = normal_of(a, c, d);
  if (n == Vec3{} || m == Vec3{}) return -2;
  return dot(n, m);
}

/// True when the quad p[0..3] (vertex numbers v) is to be cut from corner 0 to corner 2.
bool cut_at_zero(const std::array<Vec3, 4>& p, const std::array<Index, 4>& v) {
  // The same arithmetic whatever corner comes first: start at the smallest position, go towards its smaller neighbour.
  std::size_t start = 0;
  for (std::size_t i = 1; i < 4; ++i) {
    if (before(p[i], p[start])) start = i;
  }
  const std::size_t step = before(p[(start + 3) % 4], p[(start + 1) % 4]) ? 3 : 1;
  const Vec3& a = p[start];
  const Vec3& b = p[(start + step) % 4];
  const Vec3& c = p[(start + 2) % 4];
  const Vec3& d = p[(start + 4 - step) % 4];
  const double across_a = agreement(a, b, c, d);
  const double across_b = agreement(b, c, d, a);
  const bool a_is_even = start % 2 == 0;
  if (std::abs(across_a - across_b) > kTie) return (across_a > across_b) == a_is_even;
  const double length_a = squared_length(c - a);
  const double length_b = squared_length(d - b);
  if (std::abs(length_a - length_b) > kTie * std::max(length_a, length_b)) return (length_a < length_b) == a_is_even;
  return std::min(v[0], v[2]) <= std::min(v[1], v[3]);
}

double area_sign(const Vec2& a, const Vec2& b, const Vec2& c) {
  return (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
}

/// Scratch for one n-gon, reused. Its corners begin at the smallest vertex: what follows does not depend on which
/// corner is written first.
struct Polygon {
  std::vector<Index> corners;
  std::vector<Vec2> flat;
  std::vector<Index> previous, next, reflex;
  std::vector<std::uint8_t> alive;
};

Vec3 newell_normal(const FaceView& faces, std::span<const Index> corners) {
  const Vec3 origin = faces.positions[faces.corners[corners.front()]];
  Vec3 normal;
  for (std::size_t i = 0; i < corners.size(); ++i) {
    const Vec3 p = faces.positions[faces.corners[corners[i]]] - origin;
    const Vec3 q = faces.positions[faces.corners[corners[(i + 1) % corners.size()]]] - origin;
    normal += cross(p, q);
  }
  return normalized(normal);
}

void flatten(const FaceView& faces, Index first, Index count, Polygon& polygon) {
  Index start = 0;
  for (Index i = 1; i < count; ++i) {
    if (faces.corners[first + i] < faces.corners[first + start]) start = i;
  }
  polygon.corners.resize(count);
  for (Index i = 0; i < count; ++i) polygon.corners[i] = first + (start + i) % count;
  const Vec3 normal = newell_normal(faces, polygon.corners);
  const Vec3 u = -square_to(normal);
  const Vec3 v = cross(normal, u);
  const Vec3 origin = faces.positions[faces.corners[polygon.corners.front()]];
  polygon.flat.resize(count);
  for (Index i = 0; i < count; ++i) {
    const Vec3 p = faces.positions[faces.corners[polygon.corners[i]]] - origin;
    polygon.flat[i] = {dot(p, u), dot(p, v)};
  }
}

/// Is corner i an ear: convex, and no reflex corner inside or on it? `work` counts the tests.
bool is_ear(const Polygon& polygon, Index i, std::uint64_t& work) {
  const Vec2& a = polygon.flat[polygon.previous[i]];
  const Vec2& b = polygon.flat[i];
  const Vec2& c = polygon.flat[polygon.next[i]];
  if (area_sign(a, b, c) <= 0) return false;
  for (const Index r : polygon.reflex) {
    ++work;
    if (polygon.alive[r] == 0 || r == i || r == polygon.previous[i] || r == polygon.next[i]) continue;
    const Vec2& p = polygon.flat[r];
    if (p == a || p == b || p == c) continue;
    if (area_sign(a, b, p) >= 0 && area_sign(b, c, p) >= 0 && area_sign(c, a, p) >= 0) return false;
  }
  return true;
}

void emit(const FaceView& faces, const std::array<Index, 3>& corners, Triangles& out) {
  out.corners.push_back(corners);
  out.triangles.push_back({faces.corners[corners[0]], faces.corners[corners[1]], faces.corners[corners[2]]});
}

void emit(const FaceView& faces, const Polygon& polygon, Index a, Index b, Index c, Triangles& out) {
  emit(faces, {polygon.corners[a], polygon.corners[b], polygon.corners[c]}, out);
}

/// Height over the longest edge; negative when the triangle is turned over.
double shape_of(const Vec2& a, const Vec2& b, const Vec2& c) {
  const auto squared = [](const Vec2& p, const Vec2& q) {
    return (p.x - q.x) * (p.x - q.x) + (p.y - q.y) * (p.y - q.y);
  };
  const double longest = std::max({squared(a, b), squared(b, c), squared(c, a)});
  return longest > 0 ? area_sign(a, b, c) / longest : 0;
}

/// Polygons of so many corners are cut as well as can be; that many has a quad with a vertex of its neighbours in the
/// middle of every edge.
constexpr Index kSmall = 8;

/// Cuts a small n-gon so that its worst triangle is as good as can be: corners that all but lie on a straight edge
/// become needles in no triangle where that can be helped. All that are not turned over cover it without overlap.
void cut_well(const FaceView& faces, Index first, Index count, Polygon& polygon, Triangles& out) {
  flatten(faces, first, count, polygon);
  struct Cut {
    double worst = 2, sum = 0;
    Index apex = 0;
  };
  std::array<std::array<Cut, kSmall>, kSmall> best;  // of the corners from i to j and the edge between these two
  for (Index span = 2; span < count; ++span)
    for (Index i = 0; i + span < count; ++i) {
      const Index j = i + span;
      Cut& chosen = best[i][j];
      for (Index k = i + 1; k < j; ++k) {
        const double shape = shape_of(polygon.flat[i], polygon.flat[k], polygon.flat[j]);
        const Cut cut{std::min({shape, best[i][k].worst, best[k][j].worst}), shape + best[i][k].sum + best[k][j].sum,
                      k};
        const bool better =
            cut.worst > chosen.worst + kTie || (cut.worst > chosen.worst - kTie && cut.sum > chosen.sum + kTie);
        if (chosen.apex == 0 || better) chosen = cut;
      }
    }
  std::array<std::array<Index, 2>, kSmall> open{{{0, count - 1}}};
  std::size_t depth = 1;
  while (depth > 0) {
    const auto [i, j] = open[--depth];
    if (j - i < 2) continue;
    const Index k = best[i][j].apex;
    emit(faces, polygon, i, k, j, out);
    open[depth++] = {k, j};
    open[depth++] = {i, k};
  }
}

/// Cuts a large n-gon into count - 2 triangles. A polygon that crosses itself, or one that needs more tests than is
/// reasonable, still gives that many: the corner at hand is cut off then.
void clip_ears(const FaceView& faces, Index first, Index count, Polygon& polygon, Triangles& out) {
  flatten(faces, first, count, polygon);
  polygon.previous.resize(count);
  polygon.next.resize(count);
  polygon.alive.assign(count, 1);
  polygon.reflex.clear();
  for (Index i = 0; i < count; ++i) {
    polygon.previous[i] = i == 0 ? count - 1 : i - 1;
    polygon.next[i] = i + 1 == count ? 0 : i + 1;
  }
  for (Index i = 0; i < count; ++i) {
    if (area_sign(polygon.flat[polygon.previous[i]], polygon.flat[i], polygon.flat[polygon.next[i]]) <= 0) {
      polygon.reflex.push_back(i);
    }
  }
  Index at = 0;
  std::uint64_t work = 0;
  const std::uint64_t budget = 2000000 + std::uint64_t{256} * count;
  Index left = count;
  Index refused = 0;
  while (left > 3) {
    if (refused < left && work < budget && !is_ear(polygon, at, work)) {
      ++refused;
      at = polygon.next[at];
      continue;
    }
    const Index before_it = polygon.previous[at];
    const Index after_it = polygon.next[at];
    emit(faces, polygon, before_it, at, after_it, out);
    polygon.alive[at] = 0;
    polygon.next[before_it] = after_it;
    polygon.previous[after_it] = before_it;
    // Skipping one corner spreads the cuts around instead of fanning from one vertex.
    at = polygon.next[after_it];
    refused = 0;
    --left;
  }
  emit(faces, polygon, polygon.previous[at], at, polygon.next[at], out);
}

}  // namespace

Triangles triangulate(const FaceView& faces) {
  Triangles out;
  std::size_t total = 0;
  for (Index f = 0; f < faces.face_count(); ++f) {
    const Index count = faces.offsets[f + 1] - faces.offsets[f];
    if (count >= 3) total += count - 2;
  }
  reserve_large(out.triangles, total);
  reserve_large(out.corners, total);
  reserve_large(out.face, total);
  Polygon polygon;
  for (Index f = 0; f < faces.face_count(); ++f) {
    const Index first = faces.offsets[f];
    const Index count = faces.offsets[f + 1] - first;
    if (count < 3) continue;
    if (count == 3) {
      emit(faces, {first, first + 1, first + 2}, out);
    } else if (count == 4) {
      std::array<Vec3, 4> p;
      std::array<Index, 4> v{};
      for (Index i = 0; i < 4; ++i) {
        v[i] = faces.corners[first + i];
        p[i] = faces.positions[v[i]];
      }
      if (cut_at_zero(p, v)) {
        emit(faces, {first, first + 1, first + 2}, out);
        emit(faces, {first, first + 2, first + 3}, out);
      } else {
        emit(faces, {first + 1, first + 2, first + 3}, out);
        emit(faces, {first + 1, first + 3, first}, out);
      }
    } else if (count <= kSmall) {
      cut_well(faces, first, count, polygon, out);
    } else {
      clip_ears(faces, first, count, polygon, out);
    }
    out.face.resize(out.triangles.size(), f);
  }
  return out;
}

}  // namespace trimtack
