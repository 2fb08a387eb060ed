// SPDX-License-Identifier: MIT
// Surface integrals: exact second moments of triangles (A/12 times the sum of p p^T over the corners and of s s^T for
// their sum s), volumes as sums of tetrahedra (Mirtich 1996). A polygon is taken as the fan around the mean of its
// corners, so that nothing depends on where its corner list starts.
#include "trimtack/features.hpp"

#include <algorithm>
#include <array>
#include <limits>

#include "core/memory.hpp"
#include "stages/find/alike_shapes.hpp"
#include "stages/find/calipers.hpp"
#include "stages/find/lanes.hpp"
#include "stages/find/shape_sums.hpp"

namespace trimtack {
namespace {

/// Sums over triangles. Four of them, a lane each, go through the arithmetic together and are added in their order.
template <class L>
struct Sums {
  L a{};  // area, volume, first moments x and y
  L b{};  // first moment z, second moments xx, yy, zz
  L c{};  // second moments xy, xz, yz
  TRIMTACK_INLINE SurfaceSums<double> total() const {
    return {a[0], a[1], a[2], a[3], b[0], b[1], b[2], b[3], c[0], c[1], c[2]};
  }
};

template <class L>
TRIMTACK_INLINE void add_triangles(Sums<L>& sums, const Lanes3<L>& p, const Lanes3<L>& q, const Lanes3<L>& r) {
  const SurfaceSums<L> own = sums_of(p, q, r);
  add_in_order(sums.a, own.area, own.volume, own.x, own.y);
  add_in_order(sums.b, own.z, own.xx, own.yy, own.zz);
  add_in_order(sums.c, own.xy, own.xz, own.yz, L{});
}

/// Triangles that wait until there are four.
template <class L>
struct Waiting {
  std::array<std::array<L, 4>, 3> at{};  // the first corners of all four, the second ones, the third ones
  std::size_t count = 0;

  TRIMTACK_INLINE void add(Sums<L>& sums, const L& p, const L& q, const L& r) {
    at[0][count] = p;
    at[1][count] = q;
    at[2][count] = r;
    if (++count == 4) flush(sums);
  }
  /// Those that are missing have no area.
  TRIMTACK_INLINE void flush(Sums<L>& sums) {
    if (count == 0) return;
    for (auto& corners : at)
      for (std::size_t i = count; i < 4; ++i) corners[i] = L{};
    const auto corner = [&](std::size_t k)
                            TRIMTACK_INLINED { return side_by_side(at[k][0], at[k][1], at[k][2], at[k][3]); };
    add_triangles(sums, corner(0), corner(1), corner(2));
    count = 0;
  }
};

bool usable(const FaceView& faces, std::span<const Index> corners) {
  if (corners.size() < 3) return false;
  return std::all_of(corners.begin(), corners.end(), [&](Index v) { return is_finite(faces.positions[v]); });
}

/// The fan around the mean of a quad's corners.
template <class L>
TRIMTACK_INLINE void add_quad(Sums<L>& sums, const L& a, const L& b, const L& c, const L& d) {
  const L m = (1.0 / 4.0) * (L{} + a + b + c + d);
  const Lanes3<L> middle{spread<0>(m), spread<1>(m), spread<2>(m)};
  const Lanes3<L> from = side_by_side(a, b, c, d);
  const Lanes3<L> to{next_lanes(from.x), next_lanes(from.y), next_lanes(from.z)};
  add_triangles(sums, middle, from, to);
}

/// @param all_finite  no vertex of the component needs to be looked at
template <class L>
TRIMTACK_INLINE void add_faces(Sums<L>& to, const FaceView& faces, Index begin, Index end, const Vec3& origin,
                               bool all_finite) {
  Sums<L> sums = to;
  Waiting<L> waiting;
  const L from = load<L>(origin);
  const auto at = [&](Index v) TRIMTACK_INLINED { return load<L>(faces.positions[v]) - from; };
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
    L middle{};
    for (const Index v : corners) middle += at(v);
    middle = (1.0 / static_cast<double>(corners.size())) * middle;
    for (std::size_t k = 0; k < corners.size(); ++k)
      waiting.add(sums, middle, at(corners[k]), at(corners[k + 1 < corners.size() ? k + 1 : 0]));
  }
  waiting.flush(sums);
  to = sums;
}

/// A component's vertices, at their places; fn(p) for each finite one.
struct Points {
  std::span<const Vec3> positions;
  IndexList own;
  bool all_finite = true;

  template <class L, class Fn>
  TRIMTACK_INLINE void each(Fn&& fn) const {
    for (std::size_t r = 0; r < own.run_count(); ++r)
      for (Index v = own.first_of_run(r), end = own.end_of_run(r); v < end; ++v)
        if (all_finite || is_finite(positions[v])) fn(load<L>(positions[v]));
  }
  /// four(p, q, r, s) where as many lie side by side, fn(p) for each of the others.
  template <class L, class Four, class Fn>
  TRIMTACK_INLINE void by_four(Four&& four, Fn&& fn) const {
    if (!all_finite) return each<L>(fn);
    for (std::size_t r = 0; r < own.run_count(); ++r) {
      Index v = own.first_of_run(r);
      const Index end = own.end_of_run(r);
      for (; end - v >= 4; v += 4)
        four(load<L>(positions[v]), load<L>(positions[v + 1]), load<L>(positions[v + 2]), load<L>(positions[v + 3]));
      for (; v < end; ++v) fn(load<L>(positions[v]));
    }
  }
};

/// Box of the finite vertices. @return how many there are
template <class L>
TRIMTACK_INLINE std::size_t set_box(Shape& shape, Points& points) {
  constexpr double inf = std::numeric_limits<double>::infinity();
  L low = all_lanes<L>(inf);
  L high = all_lanes<L>(-inf);
  std::size_t count = 0;
  const auto add = [&](const L& p) TRIMTACK_INLINED {
    low = least(low, p);
    high = most(high, p);
    ++count;
  };
  L nothing{};  // no number once a vertex is not finite
  points.each<L>([&](const L& p) TRIMTACK_INLINED {
    nothing += 0.0 * p;
    add(p);
  });
  points.all_finite = nothing[0] == 0 && nothing[1] == 0 && nothing[2] == 0;
  if (!points.all_finite) {
    low = all_lanes<L>(inf);
    high = all_lanes<L>(-inf);
    count = 0;
    points.each<L>(add);
  }
  if (count > 0) shape.box = {first_three(low), first_three(high)};
  return count;
}

/// @param origin  the middle of the box
template <class L>
TRIMTACK_INLINE void measure_spread(Shape& shape, const Points& points, std::size_t count, const Vec3& origin) {
  if (count == 0) return;
  const L from = load<L>(origin);
  L mean{};
  points.each<L>([&](const L& p) TRIMTACK_INLINED { mean += p - from; });
  mean = (1.0 / static_cast<double>(count)) * mean;
  L own{}, mixed{};  // xx, yy, zz; xy, xz, yz
  L largest{};
  double sum = 0;
  const auto add = [&](const L& p) TRIMTACK_INLINED {
    own += p * p;
    mixed += mixed_products(p);
  };
  points.by_four<L>(
      [&](const L& q0, const L& q1, const L& q2, const L& q3) TRIMTACK_INLINED {
        const L p0 = (q0 - from) - mean, p1 = (q1 - from) - mean;
        const L p2 = (q2 - from) - mean, p3 = (q3 - from) - mean;
        add(p0), add(p1), add(p2), add(p3);
        const Lanes3<L> p = side_by_side(p0, p1, p2, p3);
        const L squared = dot(p, p);
        const L distance = root(squared);
        sum = sum + distance[0] + distance[1] + distance[2] + distance[3];
        largest = most(largest, squared);
      },
      [&](const L& q) TRIMTACK_INLINED {
        const L p = (q - from) - mean;
        add(p);
        const double squared = squared_length(first_three(p));
        sum += std::sqrt(squared);
        largest = most(largest, all_lanes<L>(squared));
      });
  set_spread(shape, {{own[0], own[1], own[2], mixed[0], mixed[1], mixed[2]}, sum, most_of(largest)}, count);
}

/// @param middle  of the surface, relative to the origin
template <class L>
TRIMTACK_INLINE void measure_extents(Shape& shape, const Points& points, const Vec3& origin, const Vec3& middle) {
  constexpr double inf = std::numeric_limits<double>::infinity();
  L low = all_lanes<L>(inf);
  L high = all_lanes<L>(-inf);
  const Mat3& m = shape.axes;
  const L from = load<L>(origin), centre = load<L>(middle);
  const auto row = [&](int i) TRIMTACK_INLINED { return lanes<L>(m(i, 0), m(i, 1), m(i, 2), 0); };
  const L x = row(0), y = row(1), z = row(2);
  points.each<L>([&](const L& q) TRIMTACK_INLINED {
    const L p = (q - from) - centre;
    const L along = x * spread<0>(p) + y * spread<1>(p) + z * spread<2>(p);
    low = least(low, along);
    high = most(high, along);
  });
  set_extents(shape, first_three(low), first_three(high));
}

template <class L>
TRIMTACK_INLINE Shape measure_component(const FaceView& faces, const ComponentMap& components, Index c) {
  Shape shape;
  const IndexList own_faces = components.faces_of(c);
  Points points{faces.positions, components.vertices_of(c)};
  shape.face_count = static_cast<Index>(own_faces.size());
  shape.vertex_count = static_cast<Index>(points.own.size());
  const std::size_t count = set_box<L>(shape, points);
  const Vec3 origin = 0.5 * (shape.box.min + shape.box.max);
  measure_spread<L>(shape, points, count, origin);
  Sums<L> sums;
  for (std::size_t r = 0; r < own_faces.run_count(); ++r)
    add_faces(sums, faces, own_faces.first_of_run(r), own_faces.end_of_run(r), origin, points.all_finite);
  Vec3 middle;
  if (set_surface(shape, sums.total(), origin, middle)) measure_extents<L>(shape, points, origin, middle);
  return shape;
}

Shape measure_baseline(const FaceView& faces, const ComponentMap& components, Index c) {
  return measure_component<LanePair>(faces, components, c);
}

#if defined(__x86_64__) && defined(__GNUC__)
/// Four lanes to a register; no fused operations, so the same bits.
__attribute__((target("avx2"))) Shape measure_wide(const FaceView& faces, const ComponentMap& components, Index c) {
  return measure_component<WideLanes>(faces, components, c);
}

auto measure_here() { return __builtin_cpu_supports("avx2") ? &measure_wide : &measure_baseline; }
#else
auto measure_here() { return &measure_baseline; }
#endif

}  // namespace

Shape measure_shape(const FaceView& faces, const ComponentMap& components, Index component) {
  static const auto measure_best = measure_here();
  Shape shape = measure_best(faces, components, component);
  Calipers().turn(faces, components, component, shape);
  return shape;
}

void measure_shapes(const FaceView& faces, const ComponentMap& components, std::span<const Index> apart,
                    std::span<Shape> shapes, const Executor& executor) {
  static const auto measure_best = measure_here();
  for_ranges(executor, components.count(), 256, [&](std::size_t begin, std::size_t end) {
    const auto is_wanted = [&](std::size_t c) { return std::find(apart.begin(), apart.end(), c) == apart.end(); };
    AlikeShapes alike(faces, components, measure_best, shapes);
    for (std::size_t c = begin; c < end; ++c)
      if (is_wanted(c)) alike.add(static_cast<Index>(c));
    alike.finish();
    Calipers calipers;
    for (std::size_t c = begin; c < end; ++c)
      if (is_wanted(c)) calipers.turn(faces, components, static_cast<Index>(c), shapes[c]);
  });
}

std::vector<Shape> measure_shapes(const FaceView& faces, const ComponentMap& components, const Executor& executor) {
  std::vector<Shape> shapes;
  reserve_large(shapes, components.count());
  shapes.resize(components.count());
  measure_shapes(faces, components, {}, shapes, executor);
  return shapes;
}

}  // namespace trimtack
