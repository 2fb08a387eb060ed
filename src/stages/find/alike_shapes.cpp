// SPDX-License-Identifier: MIT
#include "stages/find/alike_shapes.hpp"

#include <limits>

#include "stages/find/shape_sums.hpp"

namespace trimtack {
namespace {

constexpr std::size_t kMostVertices = 256;
constexpr Index kVerticesPerFetch = 2;  // no more than lie in a line of the cache

/// Faces and vertices of a component, each one run.
struct Layout {
  const Index* offsets;
  const Index* corners;
  Index faces, vertices;
  Index first_vertex;
  Index corner_count() const { return offsets[faces] - offsets[0]; }
};

Layout layout_of(const FaceView& faces, const ComponentMap& components, Index c) {
  const IndexList own = components.faces_of(c), vertices = components.vertices_of(c);
  const Index* const offsets = faces.offsets.data() + own.front();
  return {offsets, faces.corners.data() + *offsets, static_cast<Index>(own.size()), static_cast<Index>(vertices.size()),
          vertices.front()};
}

/// Whether all of n items of the one list are as far from the other's.
bool all_apart(const Index* a, const Index* b, Index n, Index apart) {
  Index differ = 0;
  for (Index i = 0; i < n; ++i) differ |= (a[i] - b[i]) ^ apart;
  return differ == 0;
}

bool same_layout(const Layout& a, const Layout& b) {
  return a.faces == b.faces && a.vertices == b.vertices && a.corner_count() == b.corner_count() &&
         all_apart(a.corners, b.corners, a.corner_count(), a.first_vertex - b.first_vertex) &&
         all_apart(a.offsets, b.offsets, a.faces, a.offsets[0] - b.offsets[0]);
}

using FourPoints = std::array<const Vec3*, 4>;  // the first vertices of four components
using FourShapes = std::array<Shape, 4>;

/// One point in each lane.
template <class L>
TRIMTACK_INLINE Lanes3<L> across(const Vec3& p, const Vec3& q, const Vec3& r, const Vec3& s) {
  return side_by_side(load<L>(p), load<L>(q), load<L>(r), load<L>(s));
}

template <class L>
TRIMTACK_INLINE Vec3 one_of(const Lanes3<L>& p, std::size_t lane) {
  const int i = static_cast<int>(lane);
  return {p.x[i], p.y[i], p.z[i]};
}

template <class L>
TRIMTACK_INLINE void widen(Lanes3<L>& low, Lanes3<L>& high, const Lanes3<L>& p) {
  low = {least(low.x, p.x), least(low.y, p.y), least(low.z, p.z)};
  high = {most(high.x, p.x), most(high.y, p.y), most(high.z, p.z)};
}

template <class L>
struct Four {
  Layout layout;
  std::array<Lanes3<L>, kMostVertices> points;  // of all four, from the middles of their boxes once these are known

  /// @return whether all vertices are finite
  TRIMTACK_INLINE bool set_boxes(const FourPoints& first, FourShapes& shapes) {
    constexpr double inf = std::numeric_limits<double>::infinity();
    const L least_yet = all_lanes<L>(inf), most_yet = all_lanes<L>(-inf);
    Lanes3<L> low{least_yet, least_yet, least_yet}, high{most_yet, most_yet, most_yet};
    L nothing{};  // no number once a vertex is not finite
    for (Index v = 0; v < layout.vertices; ++v) {
      const Lanes3<L> p = across<L>(first[0][v], first[1][v], first[2][v], first[3][v]);
      points[v] = p;
      widen(low, high, p);
      nothing += 0.0 * p.x + 0.0 * p.y + 0.0 * p.z;
    }
    for (std::size_t i = 0; i < 4; ++i) shapes[i].box = {one_of(low, i), one_of(high, i)};
    return nothing[0] == 0 && nothing[1] == 0 && nothing[2] == 0 && nothing[3] == 0;
  }

  TRIMTACK_INLINE void set_spreads(const Lanes3<L>& origin, FourShapes& shapes) {
    Lanes3<L> mean{};
    for (Index v = 0; v < layout.vertices; ++v) {
      points[v] = points[v] - origin;
      mean = mean + points[v];
    }
    const double share = 1.0 / static_cast<double>(layout.vertices);
    mean = {share * mean.x, share * mean.y, share * mean.z};
    Lanes3<L> own{}, mixed{};
    L distances{}, largest{};
    for (Index v = 0; v < layout.vertices; ++v) {
      const Lanes3<L> p = points[v] - mean;
      const Lanes3<L> squares{p.x * p.x, p.y * p.y, p.z * p.z};
      own = own + squares;
      mixed = mixed + Lanes3<L>{p.x * p.y, p.x * p.z, p.y * p.z};
      const L squared = squares.x + squares.y + squares.z;
      distances += root(squared);
      largest = most(largest, squared);
    }
    for (std::size_t i = 0; i < 4; ++i) {
      const Vec3 a = one_of(own, i), b = one_of(mixed, i);
      const int lane = static_cast<int>(i);
      set_spread(shapes[i], {{a.x, a.y, a.z, b.x, b.y, b.z}, distances[lane], largest[lane]}, layout.vertices);
    }
  }

  TRIMTACK_INLINE const Lanes3<L>& at(Index corner) const {
    return points[layout.corners[corner] - layout.first_vertex];
  }

  TRIMTACK_INLINE static void add(SurfaceSums<L>& to, const SurfaceSums<L>& sums) {
    to.area += sums.area, to.volume += sums.volume;
    to.x += sums.x, to.y += sums.y, to.z += sums.z;
    to.xx += sums.xx, to.yy += sums.yy, to.zz += sums.zz;
    to.xy += sums.xy, to.xz += sums.xz, to.yz += sums.yz;
  }

  TRIMTACK_INLINE SurfaceSums<L> sum_surfaces() const {
    SurfaceSums<L> sums;
    for (Index f = 0; f < layout.faces; ++f) {
      const Index begin = layout.offsets[f] - layout.offsets[0], end = layout.offsets[f + 1] - layout.offsets[0];
      if (end - begin < 3) continue;
      if (end - begin == 3) {
        add(sums, sums_of(at(begin), at(begin + 1), at(begin + 2)));
        continue;
      }
      Lanes3<L> middle{};
      for (Index k = begin; k < end; ++k) middle = middle + at(k);
      const double share = 1.0 / static_cast<double>(end - begin);
      middle = {share * middle.x, share * middle.y, share * middle.z};
      for (Index k = begin; k < end; ++k) add(sums, sums_of(middle, at(k), at(k + 1 < end ? k + 1 : begin)));
    }
    return sums;
  }

  TRIMTACK_INLINE void set_surfaces(const std::array<Vec3, 4>& origins, FourShapes& shapes) const {
    const SurfaceSums<L> sums = sum_surfaces();
    std::array<bool, 4> real{};
    std::array<Vec3, 4> middles;
    for (std::size_t i = 0; i < 4; ++i) {
      const auto of = [&](const L& sum) TRIMTACK_INLINED { return sum[static_cast<int>(i)]; };
      real[i] = set_surface(shapes[i],
                            {of(sums.area), of(sums.volume), of(sums.x), of(sums.y), of(sums.z), of(sums.xx),
                             of(sums.yy), of(sums.zz), of(sums.xy), of(sums.xz), of(sums.yz)},
                            origins[i], middles[i]);
    }
    const auto column = [&](int k) TRIMTACK_INLINED {
      return across<L>(shapes[0].axes.column(k), shapes[1].axes.column(k), shapes[2].axes.column(k),
                       shapes[3].axes.column(k));
    };
    const Lanes3<L> centre = across<L>(middles[0], middles[1], middles[2], middles[3]);
    const Lanes3<L> a = column(0), b = column(1), c = column(2);
    constexpr double inf = std::numeric_limits<double>::infinity();
    const L least_yet = all_lanes<L>(inf), most_yet = all_lanes<L>(-inf);
    Lanes3<L> low{least_yet, least_yet, least_yet}, high{most_yet, most_yet, most_yet};
    for (Index v = 0; v < layout.vertices; ++v) {
      const Lanes3<L> p = points[v] - centre;
      widen(low, high, Lanes3<L>{dot(a, p), dot(b, p), dot(c, p)});
    }
    for (std::size_t i = 0; i < 4; ++i)
      if (real[i]) set_extents(shapes[i], one_of(low, i), one_of(high, i));
  }

  TRIMTACK_INLINE bool measure(const FourPoints& first, FourShapes& shapes) {
    if (!set_boxes(first, shapes)) return false;
    std::array<Vec3, 4> origins;
    for (std::size_t i = 0; i < 4; ++i) origins[i] = 0.5 * (shapes[i].box.min + shapes[i].box.max);
    set_spreads(across<L>(origins[0], origins[1], origins[2], origins[3]), shapes);
    set_surfaces(origins, shapes);
    return true;
  }
};

template <class L>
TRIMTACK_INLINE bool measure_four(const Layout& layout, const FourPoints& first, FourShapes& shapes) {
  Four<L> four;
  four.layout = layout;
  return four.measure(first, shapes);
}

bool measure_baseline(const Layout& layout, const FourPoints& first, FourShapes& shapes) {
  return measure_four<LanePair>(layout, first, shapes);
}

#if defined(__x86_64__) && defined(__GNUC__)
/// Four lanes to a register; no fused operations, so the same bits.
__attribute__((target("avx2"))) bool measure_wide(const Layout& layout, const FourPoints& first, FourShapes& shapes) {
  return measure_four<WideLanes>(layout, first, shapes);
}

auto measure_here() { return __builtin_cpu_supports("avx2") ? &measure_wide : &measure_baseline; }
#else
auto measure_here() { return &measure_baseline; }
#endif

}  // namespace

void AlikeShapes::add(Index component) {
  const IndexList faces = components_.faces_of(component), vertices = components_.vertices_of(component);
  if (!faces.is_one_run() || !vertices.is_one_run() || !components_.later_of(component).empty() ||
      vertices.size() > kMostVertices) {
    out_[component] = alone_(faces_, components_, component);
    return;
  }
  const Layout own = layout_of(faces_, components_, component);
  for (Index v = 0; v < own.vertices; v += kVerticesPerFetch)
    __builtin_prefetch(&faces_.positions[own.first_vertex + v]);
  for (Group& group : groups_) {
    if (group.count == 0 || !same_layout(own, layout_of(faces_, components_, group.components[0]))) continue;
    group.components[group.count++] = component;
    if (group.count == kSide) measure(group);
    return;
  }
  Group& group = groups_[next_++ % kKinds];
  measure(group);
  group.components[group.count++] = component;
}

void AlikeShapes::finish() {
  for (Group& group : groups_) measure(group);
}

void AlikeShapes::measure(Group& group) {
  if (group.count == 0) return;
  static const auto measure_best = measure_here();
  const Layout layout = layout_of(faces_, components_, group.components[0]);
  FourPoints first{};
  for (std::size_t i = 0; i < kSide; ++i)
    first[i] = &faces_.positions[components_.vertices_of(group.components[i < group.count ? i : 0]).front()];
  FourShapes shapes;
  const bool finite = measure_best(layout, first, shapes);
  for (std::size_t i = 0; i < group.count; ++i) {
    const Index c = group.components[i];
    shapes[i].face_count = layout.faces;
    shapes[i].vertex_count = layout.vertices;
    out_[c] = finite ? shapes[i] : alone_(faces_, components_, c);
  }
  group.count = 0;
}

}  // namespace trimtack
