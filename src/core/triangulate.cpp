// SPDX-License-Identifier: MIT
// Ear clipping: G. H. Meisters, "Polygons have ears", American Mathematical Monthly 82 (1975); only reflex corners can
// lie in an ear: ElGindy, Everett, Toussaint, "Slicing an ear using prune-and-search", Pattern Recognition Letters 14
// (1993). The polygon's plane is its mean plane (Newell's normal: I. E. Sutherland et al., ACM Computing Surveys 6,
// 1974).
#include <algorithm>
#include <cmath>
#include <cstdint>

#include "core/memory.hpp"
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

/// Cosine between the two halves of a quad cut from a to c; -2 when a half has no area.
double agreement(const Vec3& a, const Vec3& b, const Vec3& c, const Vec3& d) {
  const Vec3 n = normalized(cross(b - a, c - a));
  const Vec3 m = normalized(cross(c - a, d - a));
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

/// Scratch for one n-gon, reused.
struct Polygon {
  std::vector<Vec2> flat;
  std::vector<Index> previous, next, reflex;
  std::vector<std::uint8_t> alive;
};

Vec3 newell_normal(const FaceView& faces, Index first, Index count) {
  const Vec3 origin = faces.positions[faces.corners[first]];
  Vec3 normal;
  for (Index i = 0; i < count; ++i) {
    const Vec3 p = faces.positions[faces.corners[first + i]] - origin;
    const Vec3 q = faces.positions[faces.corners[first + (i + 1) % count]] - origin;
    normal += cross(p, q);
  }
  return normalized(normal);
}

void flatten(const FaceView& faces, Index first, Index count, Polygon& polygon) {
  const Vec3 normal = newell_normal(faces, first, count);
  const Vec3 lean = std::abs(normal.x) < 0.6 ? Vec3{1, 0, 0} : Vec3{0, 1, 0};
  const Vec3 u = normalized(cross(lean, normal));
  const Vec3 v = cross(normal, u);
  const Vec3 origin = faces.positions[faces.corners[first]];
  polygon.flat.resize(count);
  for (Index i = 0; i < count; ++i) {
    const Vec3 p = faces.positions[faces.corners[first + i]] - origin;
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

void emit(const FaceView& faces, Index first, Index a, Index b, Index c, Triangles& out) {
  out.corners.push_back({first + a, first + b, first + c});
  out.triangles.push_back({faces.corners[first + a], faces.corners[first + b], faces.corners[first + c]});
}

/// Cuts an n-gon into count - 2 triangles. A polygon that crosses itself, or one that needs more tests than is
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
  // Start at the smallest vertex, so that the cuts do not depend on which corner is written first.
  Index at = 0;
  for (Index i = 1; i < count; ++i) {
    if (faces.corners[first + i] < faces.corners[first + at]) at = i;
  }
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
    emit(faces, first, before_it, at, after_it, out);
    polygon.alive[at] = 0;
    polygon.next[before_it] = after_it;
    polygon.previous[after_it] = before_it;
    // Skipping one corner spreads the cuts around instead of fanning from one vertex.
    at = polygon.next[after_it];
    refused = 0;
    --left;
  }
  emit(faces, first, polygon.previous[at], at, polygon.next[at], out);
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
      emit(faces, first, 0, 1, 2, out);
    } else if (count == 4) {
      std::array<Vec3, 4> p;
      std::array<Index, 4> v{};
      for (Index i = 0; i < 4; ++i) {
        v[i] = faces.corners[first + i];
        p[i] = faces.positions[v[i]];
      }
      if (cut_at_zero(p, v)) {
        emit(faces, first, 0, 1, 2, out);
        emit(faces, first, 0, 2, 3, out);
      } else {
        emit(faces, first, 1, 2, 3, out);
        emit(faces, first, 1, 3, 0, out);
      }
    } else {
      clip_ears(faces, first, count, polygon, out);
    }
    out.face.resize(out.triangles.size(), f);
  }
  return out;
}

}  // namespace trimtack
