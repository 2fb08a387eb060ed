// SPDX-License-Identifier: MIT
// Surface integrals: exact second moments of triangles (A/12 times the sum of p p^T over the corners and of s s^T for
// their sum s), volumes as sums of tetrahedra (Mirtich 1996). A polygon is taken as the fan around the mean of its
// corners, so that nothing depends on where its corner list starts.
#include "trimtack/features.hpp"

#include <algorithm>
#include <limits>

#include <Eigen/Dense>

namespace trimtack {
namespace {

/// Triangles side by side: several go through the arithmetic at once, and are summed one by one in their order.
struct Batch {
  static constexpr std::size_t kSize = 64;
  using Column = std::array<double, kSize>;
  std::array<Column, 9> corner{};  // x, y, z of the three
  std::array<Column, 11> term{};   // area, 6 volume, first and second moments, as they are summed up
  std::size_t count = 0;
};

/// Fills the terms, of whole groups of four.
[[gnu::always_inline]] inline void integrate(Batch& batch) {
  const auto& c = batch.corner;
  auto& t = batch.term;
  const std::size_t groups = (batch.count + 3) / 4;
  for (std::size_t i = 0; i < 4 * groups; ++i) {
    const Vec3 p{c[0][i], c[1][i], c[2][i]}, q{c[3][i], c[4][i], c[5][i]}, r{c[6][i], c[7][i], c[8][i]};
    const Vec3 n = cross(q - p, r - p);
    const double area = 0.5 * length(n);
    const Vec3 s = p + q + r;
    t[0][i] = area;
    t[1][i] = dot(p, n);
    t[2][i] = area * s.x;
    t[3][i] = area * s.y;
    t[4][i] = area * s.z;
    t[5][i] = area * (s.x * s.x + p.x * p.x + q.x * q.x + r.x * r.x);
    t[6][i] = area * (s.y * s.y + p.y * p.y + q.y * q.y + r.y * r.y);
    t[7][i] = area * (s.z * s.z + p.z * p.z + q.z * q.z + r.z * r.z);
    t[8][i] = area * (s.x * s.y + p.x * p.y + q.x * q.y + r.x * r.y);
    t[9][i] = area * (s.x * s.z + p.x * p.z + q.x * q.z + r.x * r.z);
    t[10][i] = area * (s.y * s.z + p.y * p.z + q.y * q.z + r.y * r.z);
  }
}

void integrate_baseline(Batch& batch) { integrate(batch); }

#if defined(__x86_64__) && defined(__GNUC__)
/// Four lanes to a register; no fused operations, so the same bits.
__attribute__((target("avx2"))) void integrate_wide(Batch& batch) { integrate(batch); }

auto integrate_here() { return __builtin_cpu_supports("avx2") ? &integrate_wide : &integrate_baseline; }
#else
auto integrate_here() { return &integrate_baseline; }
#endif

class Sums {
 public:
  double area = 0, volume = 0;
  Vec3 first;
  std::array<double, 6> second{};  // xx yy zz xy xz yz

  explicit Sums(Batch& batch) : batch_(batch) { batch.count = 0; }

  void add_triangle(const Vec3& p, const Vec3& q, const Vec3& r) {
    const std::size_t i = batch_.count;
    auto& c = batch_.corner;
    c[0][i] = p.x, c[1][i] = p.y, c[2][i] = p.z;
    c[3][i] = q.x, c[4][i] = q.y, c[5][i] = q.z;
    c[6][i] = r.x, c[7][i] = r.y, c[8][i] = r.z;
    if (++batch_.count == Batch::kSize) flush();
  }

  /// To be called before the sums are read.
  void flush() {
    static const auto run = integrate_here();
    run(batch_);
    const auto& t = batch_.term;
    for (std::size_t i = 0; i < batch_.count; ++i) {
      area += t[0][i];
      volume += t[1][i];                         // six times as much
      first += Vec3{t[2][i], t[3][i], t[4][i]};  // divided by 3 at the end, the second moments by 12
      for (std::size_t k = 0; k < 6; ++k) second[k] += t[5 + k][i];
    }
    batch_.count = 0;
  }

 private:
  Batch& batch_;
};

bool usable(const FaceView& faces, std::span<const Index> corners) {
  if (corners.size() < 3) return false;
  return std::all_of(corners.begin(), corners.end(), [&](Index v) { return is_finite(faces.positions[v]); });
}

/// @param all_finite  no vertex of the component needs to be looked at
void add_face(Sums& sums, const FaceView& faces, std::span<const Index> corners, const Vec3& origin, bool all_finite) {
  if (all_finite ? corners.size() < 3 : !usable(faces, corners)) return;
  if (corners.size() == 3) {
    sums.add_triangle(faces.positions[corners[0]] - origin, faces.positions[corners[1]] - origin,
                      faces.positions[corners[2]] - origin);
    return;
  }
  Vec3 middle;
  for (const Index v : corners) middle += faces.positions[v] - origin;
  middle = (1.0 / static_cast<double>(corners.size())) * middle;
  const Vec3 start = faces.positions[corners[0]] - origin;
  Vec3 from = start;
  for (std::size_t k = 1; k < corners.size(); ++k) {
    const Vec3 to = faces.positions[corners[k]] - origin;
    sums.add_triangle(middle, from, to);
    from = to;
  }
  sums.add_triangle(middle, from, start);
}

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

/// @param points  finite vertices relative to the middle of the box
void set_spread(Shape& shape, std::span<const Vec3> points) {
  if (points.empty()) return;
  const double n = static_cast<double>(points.size());
  Vec3 mean;
  for (const Vec3& p : points) mean += p;
  mean = (1.0 / n) * mean;
  std::array<double, 6> c{};
  double sum = 0;
  double largest = 0;
  for (const Vec3& q : points) {
    const Vec3 p = q - mean;
    c[0] += p.x * p.x;
    c[1] += p.y * p.y;
    c[2] += p.z * p.z;
    c[3] += p.x * p.y;
    c[4] += p.x * p.z;
    c[5] += p.y * p.z;
    const double squared = squared_length(p);
    sum += std::sqrt(squared);
    largest = std::max(largest, squared);
  }
  const double minors = c[0] * c[1] - c[3] * c[3] + c[0] * c[2] - c[4] * c[4] + c[1] * c[2] - c[5] * c[5];
  shape.spread = {std::sqrt((c[0] + c[1] + c[2]) / n), sum / n, std::sqrt(largest),
                  std::sqrt(std::sqrt(std::max(0.0, minors)) / n)};
}

void set_extents(Shape& shape, std::span<const Vec3> points, const Vec3& middle) {
  constexpr double inf = std::numeric_limits<double>::infinity();
  std::array<double, 3> low{inf, inf, inf};
  std::array<double, 3> high{-inf, -inf, -inf};
  const std::array<Vec3, 3> axis{shape.axes.column(0), shape.axes.column(1), shape.axes.column(2)};
  for (const Vec3& q : points) {
    const Vec3 p = q - middle;
    for (std::size_t k = 0; k < 3; ++k) {
      const double x = dot(axis[k], p);
      low[k] = std::min(low[k], x);
      high[k] = std::max(high[k], x);
    }
  }
  for (std::size_t k = 0; k < 3; ++k) {
    const bool any = high[k] >= low[k];
    shape.extents[k] = any ? high[k] - low[k] : 0;
    shape.extent_mids[k] = any ? 0.5 * (high[k] + low[k]) : 0;
  }
}

struct Scratch {
  std::vector<Vec3> points;
  Batch batch;
};

Shape measure_one(const FaceView& faces, const WeldMap& welded, const ComponentMap& components, Index c,
                  Scratch& scratch) {
  Shape shape;
  std::vector<Vec3>& points = scratch.points;
  const auto own_faces = components.faces_of(c);
  const auto own_vertices = components.vertices_of(c);
  shape.face_count = static_cast<Index>(own_faces.size());
  shape.vertex_count = static_cast<Index>(own_vertices.size());
  points.clear();
  for (const Index w : own_vertices) {
    const Vec3& p = faces.positions[welded.representative[w]];
    if (is_finite(p)) points.push_back(p);
  }
  shape.box = bounds(points);
  const Vec3 origin = 0.5 * (shape.box.min + shape.box.max);
  for (Vec3& p : points) p = p - origin;
  set_spread(shape, points);
  Sums sums(scratch.batch);
  const bool all_finite = points.size() == own_vertices.size();
  for (const Index f : own_faces) add_face(sums, faces, faces.face(f), origin, all_finite);
  sums.flush();
  shape.area = sums.area;
  if (!(sums.area > 0)) {
    // Only degenerate faces: the vertices' own spread has to do.
    shape.centroid = origin;
    for (int k = 0; k < 3; ++k) shape.extents[static_cast<std::size_t>(k)] = shape.box.max[k] - shape.box.min[k];
    std::sort(shape.extents.rbegin(), shape.extents.rend());
    return shape;
  }
  const Vec3 c0 = (1.0 / (3.0 * sums.area)) * sums.first;
  shape.volume = sums.volume / 6.0;
  shape.centroid = origin + c0;
  const double w = 1.0 / (12.0 * sums.area);
  set_axes(shape,
           {w * sums.second[0] - c0.x * c0.x, w * sums.second[1] - c0.y * c0.y, w * sums.second[2] - c0.z * c0.z,
            w * sums.second[3] - c0.x * c0.y, w * sums.second[4] - c0.x * c0.z, w * sums.second[5] - c0.y * c0.z});
  set_extents(shape, points, c0);
  return shape;
}

}  // namespace

std::vector<Shape> measure_shapes(const FaceView& faces, const WeldMap& welded, const ComponentMap& components,
                                  const Executor& executor) {
  std::vector<Shape> shapes(components.count());
  for_ranges(executor, components.count(), 64, [&](std::size_t begin, std::size_t end) {
    Scratch scratch;
    for (std::size_t c = begin; c < end; ++c)
      shapes[c] = measure_one(faces, welded, components, static_cast<Index>(c), scratch);
  });
  return shapes;
}

}  // namespace trimtack
