// SPDX-License-Identifier: MIT
// Surface integrals: exact second moments of triangles (A/12 times the sum of p p^T over the corners and of s s^T for
// their sum s), volumes as sums of tetrahedra (Mirtich 1996). A polygon is taken as the fan around the mean of its
// corners, so that nothing depends on where its corner list starts.
#include "trimtack/features.hpp"

#include <algorithm>
#include <array>
#include <cstring>
#include <limits>

#include <Eigen/Dense>

#include "core/memory.hpp"

namespace trimtack {
namespace {

// Four triangles, a lane each, go through the arithmetic together and are summed one by one in their order: the same
// operations whatever the registers are.
#pragma GCC diagnostic ignored "-Wpsabi"  // nothing of this is called, all is inlined
typedef double Lanes __attribute__((vector_size(32)));
#define TRIMTACK_INLINE [[gnu::always_inline]] inline

struct Lanes3 {
  Lanes x, y, z;
};

TRIMTACK_INLINE Lanes3 operator-(const Lanes3& p, const Lanes3& q) { return {p.x - q.x, p.y - q.y, p.z - q.z}; }
TRIMTACK_INLINE Lanes3 operator+(const Lanes3& p, const Lanes3& q) { return {p.x + q.x, p.y + q.y, p.z + q.z}; }
TRIMTACK_INLINE Lanes dot(const Lanes3& p, const Lanes3& q) { return p.x * q.x + p.y * q.y + p.z * q.z; }
TRIMTACK_INLINE Lanes3 cross(const Lanes3& p, const Lanes3& q) {
  return {p.y * q.z - p.z * q.y, p.z * q.x - p.x * q.z, p.x * q.y - p.y * q.x};
}
TRIMTACK_INLINE Lanes root(const Lanes& x) {
  return Lanes{std::sqrt(x[0]), std::sqrt(x[1]), std::sqrt(x[2]), std::sqrt(x[3])};
}

struct Sums {
  Lanes a{};  // area, 6 volume, first moments x and y (divided by 3 at the end)
  Lanes b{};  // first moment z, second moments xx, yy, zz (divided by 12)
  Lanes c{};  // second moments xy, xz, yz
};

/// Adds what four lists hold for each of four triangles, triangle by triangle.
TRIMTACK_INLINE void add_in_order(Lanes& sum, const Lanes& p, const Lanes& q, const Lanes& r, const Lanes& s) {
  const Lanes pq_low = __builtin_shufflevector(p, q, 0, 4, 2, 6);   // p0 q0 p2 q2
  const Lanes pq_high = __builtin_shufflevector(p, q, 1, 5, 3, 7);  // p1 q1 p3 q3
  const Lanes rs_low = __builtin_shufflevector(r, s, 0, 4, 2, 6);
  const Lanes rs_high = __builtin_shufflevector(r, s, 1, 5, 3, 7);
  sum += __builtin_shufflevector(pq_low, rs_low, 0, 1, 4, 5);
  sum += __builtin_shufflevector(pq_high, rs_high, 0, 1, 4, 5);
  sum += __builtin_shufflevector(pq_low, rs_low, 2, 3, 6, 7);
  sum += __builtin_shufflevector(pq_high, rs_high, 2, 3, 6, 7);
}

TRIMTACK_INLINE void add_triangles(Sums& sums, const Lanes3& p, const Lanes3& q, const Lanes3& r) {
  const Lanes3 n = cross(q - p, r - p);
  const Lanes area = 0.5 * root(dot(n, n));
  const Lanes3 s = p + q + r;
  add_in_order(sums.a, area, dot(p, n), area * s.x, area * s.y);
  add_in_order(sums.b, area * s.z, area * (s.x * s.x + p.x * p.x + q.x * q.x + r.x * r.x),
               area * (s.y * s.y + p.y * p.y + q.y * q.y + r.y * r.y),
               area * (s.z * s.z + p.z * p.z + q.z * q.z + r.z * r.z));
  add_in_order(sums.c, area * (s.x * s.y + p.x * p.y + q.x * q.y + r.x * r.y),
               area * (s.x * s.z + p.x * p.z + q.x * q.z + r.x * r.z),
               area * (s.y * s.z + p.y * p.z + q.y * q.z + r.y * r.z), Lanes{});
}

/// Triangles that wait until there are four.
struct Waiting {
  std::array<double, 36> at{};  // x of the first corner of all four, then y, z, then the second corner's
  std::size_t count = 0;

  TRIMTACK_INLINE void add(Sums& sums, const Vec3& p, const Vec3& q, const Vec3& r) {
    const std::array<double, 9> corners{p.x, p.y, p.z, q.x, q.y, q.z, r.x, r.y, r.z};
    for (std::size_t k = 0; k < 9; ++k) at[4 * k + count] = corners[k];
    if (++count == 4) flush(sums);
  }
  /// Those that are missing have no area.
  TRIMTACK_INLINE void flush(Sums& sums) {
    if (count == 0) return;
    for (std::size_t k = 0; k < 9; ++k)
      for (std::size_t i = count; i < 4; ++i) at[4 * k + i] = 0;
    std::array<Lanes, 9> c;
    std::memcpy(&c, &at, sizeof c);
    add_triangles(sums, {c[0], c[1], c[2]}, {c[3], c[4], c[5]}, {c[6], c[7], c[8]});
    count = 0;
  }
};

bool usable(const FaceView& faces, std::span<const Index> corners) {
  if (corners.size() < 3) return false;
  return std::all_of(corners.begin(), corners.end(), [&](Index v) { return is_finite(faces.positions[v]); });
}

/// The fan around the mean of a quad's corners.
TRIMTACK_INLINE void add_quad(Sums& sums, const Vec3& a, const Vec3& b, const Vec3& c, const Vec3& d) {
  const Vec3 m = (1.0 / 4.0) * (Vec3{} + a + b + c + d);
  const Lanes3 middle{{m.x, m.x, m.x, m.x}, {m.y, m.y, m.y, m.y}, {m.z, m.z, m.z, m.z}};
  const Lanes3 from{{a.x, b.x, c.x, d.x}, {a.y, b.y, c.y, d.y}, {a.z, b.z, c.z, d.z}};
  const Lanes3 to{__builtin_shufflevector(from.x, from.x, 1, 2, 3, 0),
                  __builtin_shufflevector(from.y, from.y, 1, 2, 3, 0),
                  __builtin_shufflevector(from.z, from.z, 1, 2, 3, 0)};
  add_triangles(sums, middle, from, to);
}

/// @param all_finite  no vertex of the component needs to be looked at
TRIMTACK_INLINE void add_faces(Sums& to, const FaceView& faces, Index begin, Index end, const Vec3& origin,
                               bool all_finite) {
  Sums sums = to;
  Waiting waiting;
  const auto at = [&](Index v) { return faces.positions[v] - origin; };
  for (Index f = begin; f < end; ++f) {
    const auto corners = faces.face(f);
    if (all_finite ? corners.size() < 3 : !usable(faces, corners)) continue;
    if (corners.size() == 3) {
      waiting.add(sums, at(corners[0]), at(corners[1]), at(corners[2]));
      continue;
    }
    if (corners.size() == 4) {
      waiting.flush(sums);
      add_quad(sums, at(corners[0]), at(corners[1]), at(corners[2]), at(corners[3]));
      continue;
    }
    Vec3 middle;
    for (const Index v : corners) middle += at(v);
    middle = (1.0 / static_cast<double>(corners.size())) * middle;
    for (std::size_t k = 0; k < corners.size(); ++k)
      waiting.add(sums, middle, at(corners[k]), at(corners[k + 1 < corners.size() ? k + 1 : 0]));
  }
  waiting.flush(sums);
  to = sums;
}

void add_faces_baseline(Sums& sums, const FaceView& faces, Index begin, Index end, const Vec3& origin,
                        bool all_finite) {
  add_faces(sums, faces, begin, end, origin, all_finite);
}

#if defined(__x86_64__) && defined(__GNUC__)
/// Four lanes to a register; no fused operations, so the same bits.
__attribute__((target("avx2"))) void add_faces_wide(Sums& sums, const FaceView& faces, Index begin, Index end,
                                                    const Vec3& origin, bool all_finite) {
  add_faces(sums, faces, begin, end, origin, all_finite);
}

auto add_faces_here() { return __builtin_cpu_supports("avx2") ? &add_faces_wide : &add_faces_baseline; }
#else
auto add_faces_here() { return &add_faces_baseline; }
#endif

void set_axes(Shape& shape, const std::array<double, 6>& c) {
  Eigen::Matrix3d m;
  m << c[0], c[3], c[4], c[3], c[1], c[5], c[4], c[5], c[2];
  Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> solver;
  solver.computeDirect(m);  // closed form: three roots of the characteristic polynomial
  std::array<Vec3, 3> axis;
  for (int k = 0; k < 3; ++k) {
    const auto v = solver.eigenvectors().col(2 - k);
    axis[static_cast<std::size_t>(k)] = {v.x(), v.y(), v.z()};
    shape.moments[static_cast<std::size_t>(k)] = std::max(0.0, solver.eigenvalues()[2 - k]);
  }
  axis[2] = cross(axis[0], axis[1]);
  shape.axes = from_columns(axis[0], axis[1], axis[2]);
}

/// A component's vertices, at their places; fn(p) for each finite one.
struct Points {
  std::span<const Vec3> positions;
  IndexList own;
  bool all_finite = true;

  template <class Fn>
  void each(Fn&& fn) const {
    own.each_run([&](Index first, Index end) {
      for (Index v = first; v < end; ++v)
        if (all_finite || is_finite(positions[v])) fn(positions[v]);
    });
  }
};

/// Box of the finite vertices. @return how many there are
std::size_t set_box(Shape& shape, Points& points) {
  constexpr double inf = std::numeric_limits<double>::infinity();
  Box box{{inf, inf, inf}, {-inf, -inf, -inf}};
  std::size_t count = 0;
  points.all_finite = false;
  points.each([&](const Vec3& p) {
    box.min = {std::min(box.min.x, p.x), std::min(box.min.y, p.y), std::min(box.min.z, p.z)};
    box.max = {std::max(box.max.x, p.x), std::max(box.max.y, p.y), std::max(box.max.z, p.z)};
    ++count;
  });
  points.all_finite = count == points.own.size();
  if (count > 0) shape.box = box;
  return count;
}

/// @param origin  the middle of the box
void set_spread(Shape& shape, const Points& points, std::size_t count, const Vec3& origin) {
  if (count == 0) return;
  const double n = static_cast<double>(count);
  Vec3 mean;
  points.each([&](const Vec3& p) { mean += p - origin; });
  mean = (1.0 / n) * mean;
  std::array<double, 6> c{};
  double sum = 0;
  double largest = 0;
  points.each([&](const Vec3& q) {
    const Vec3 p = (q - origin) - mean;
    c[0] += p.x * p.x;
    c[1] += p.y * p.y;
    c[2] += p.z * p.z;
    c[3] += p.x * p.y;
    c[4] += p.x * p.z;
    c[5] += p.y * p.z;
    const double squared = squared_length(p);
    sum += std::sqrt(squared);
    largest = std::max(largest, squared);
  });
  const double minors = c[0] * c[1] - c[3] * c[3] + c[0] * c[2] - c[4] * c[4] + c[1] * c[2] - c[5] * c[5];
  shape.spread = {std::sqrt((c[0] + c[1] + c[2]) / n), sum / n, std::sqrt(largest),
                  std::sqrt(std::sqrt(std::max(0.0, minors)) / n)};
}

/// @param middle  of the surface, relative to the origin
void set_extents(Shape& shape, const Points& points, const Vec3& origin, const Vec3& middle) {
  constexpr double inf = std::numeric_limits<double>::infinity();
  std::array<double, 3> low{inf, inf, inf};
  std::array<double, 3> high{-inf, -inf, -inf};
  const std::array<Vec3, 3> axis{shape.axes.column(0), shape.axes.column(1), shape.axes.column(2)};
  points.each([&](const Vec3& q) {
    const Vec3 p = (q - origin) - middle;
    for (std::size_t k = 0; k < 3; ++k) {
      const double x = dot(axis[k], p);
      low[k] = std::min(low[k], x);
      high[k] = std::max(high[k], x);
    }
  });
  for (std::size_t k = 0; k < 3; ++k) {
    const bool any = high[k] >= low[k];
    shape.extents[k] = any ? high[k] - low[k] : 0;
    shape.extent_mids[k] = any ? 0.5 * (high[k] + low[k]) : 0;
  }
}

Shape measure_one(const FaceView& faces, const ComponentMap& components, Index c) {
  Shape shape;
  const IndexList own_faces = components.faces_of(c);
  Points points{faces.positions, components.vertices_of(c)};
  shape.face_count = static_cast<Index>(own_faces.size());
  shape.vertex_count = static_cast<Index>(points.own.size());
  const std::size_t count = set_box(shape, points);
  const Vec3 origin = 0.5 * (shape.box.min + shape.box.max);
  set_spread(shape, points, count, origin);
  static const auto add_faces_best = add_faces_here();
  Sums sums;
  own_faces.each_run(
      [&](Index first, Index end) { add_faces_best(sums, faces, first, end, origin, points.all_finite); });
  shape.area = sums.a[0];
  if (!(shape.area > 0)) {
    // Only degenerate faces: the vertices' own spread has to do.
    shape.centroid = origin;
    for (int k = 0; k < 3; ++k) shape.extents[static_cast<std::size_t>(k)] = shape.box.max[k] - shape.box.min[k];
    std::sort(shape.extents.rbegin(), shape.extents.rend());
    return shape;
  }
  const Vec3 c0 = (1.0 / (3.0 * shape.area)) * Vec3{sums.a[2], sums.a[3], sums.b[0]};
  shape.volume = sums.a[1] / 6.0;
  shape.centroid = origin + c0;
  const double w = 1.0 / (12.0 * shape.area);
  set_axes(shape, {w * sums.b[1] - c0.x * c0.x, w * sums.b[2] - c0.y * c0.y, w * sums.b[3] - c0.z * c0.z,
                   w * sums.c[0] - c0.x * c0.y, w * sums.c[1] - c0.x * c0.z, w * sums.c[2] - c0.y * c0.z});
  set_extents(shape, points, origin, c0);
  return shape;
}

}  // namespace

std::vector<Shape> measure_shapes(const FaceView& faces, const ComponentMap& components, const Executor& executor) {
  std::vector<Shape> shapes;
  reserve_large(shapes, components.count());
  shapes.resize(components.count());
  for_ranges(executor, components.count(), 64, [&](std::size_t begin, std::size_t end) {
    for (std::size_t c = begin; c < end; ++c) shapes[c] = measure_one(faces, components, static_cast<Index>(c));
  });
  return shapes;
}

}  // namespace trimtack
