// SPDX-License-Identifier: MIT
// The least rectangle about points has a side on an edge of their convex hull (Freeman & Shapira 1975, "Determining the
// minimum-area encasing rectangle for an arbitrary closed curve"); the hull by monotone chains (Andrew 1979). In space
// the least box of those that lie flush with a face of the part.
#include "stages/find/calipers.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <span>

#include "core/area_vector.hpp"
#include "core/square_to.hpp"
#include "stages/find/lanes.hpp"

namespace trimtack {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();
// Moments that differ by less leave their axes open: sides that differ by 5 %.
constexpr double kOpen = 0.1;
// What is nowhere wider by more is round: an octagon's width differs by 8 % over its angles, a hexagon's by 15.
constexpr double kRound = 1.1;
constexpr std::size_t kFewPoints = 4000;
// Faces that look the same way to 2 degrees are one side. The largest of so many are tried.
constexpr double kSameSide = 0.9994;
constexpr std::size_t kMostSides = 64, kMostTried = 13;

struct Range {
  double low = kInfinity, high = -kInfinity;
  void add(double x) {
    low = x < low ? x : low;
    high = x > high ? x : high;
  }
  double width() const { return high - low; }
  double middle() const { return 0.5 * (high + low); }
};

/// Whether the points are about as wide in all the directions.
template <class L, std::size_t kFours>
TRIMTACK_INLINE bool nearly_even(std::span<const Vec3> positions, const IndexList& own,
                                 const std::array<Vec3, 4 * kFours>& directions) {
  std::array<Lanes3<L>, kFours> along;  // by the four, a lane each
  for (std::size_t i = 0; i < kFours; ++i) {
    const Vec3* const d = &directions[4 * i];
    along[i] = side_by_side(load<L>(d[0]), load<L>(d[1]), load<L>(d[2]), load<L>(d[3]));
  }
  std::array<L, kFours> low, high;
  low.fill(all_lanes<L>(kInfinity));
  high.fill(all_lanes<L>(-kInfinity));
  for (std::size_t r = 0; r < own.run_count(); ++r)
    for (Index v = own.first_of_run(r), end = own.end_of_run(r); v < end; ++v) {
      const Vec3& p = positions[v];
      const Lanes3<L> all{all_lanes<L>(p.x), all_lanes<L>(p.y), all_lanes<L>(p.z)};
      for (std::size_t i = 0; i < kFours; ++i) {
        const L at = dot(along[i], all);
        low[i] = least(low[i], at);
        high[i] = most(high[i], at);
      }
    }
  double narrowest = kInfinity, widest = 0;
  for (std::size_t i = 0; i < kFours; ++i)
    for (int lane = 0; lane < 4; ++lane) {
      const double width = high[i][lane] - low[i][lane];
      narrowest = std::min(narrowest, width);
      widest = std::max(widest, width);
    }
  return widest <= kRound * narrowest;
}

/// In a plane: directions 22.5 degrees apart.
template <class L>
TRIMTACK_INLINE bool is_round(std::span<const Vec3> positions, const IndexList& own, const Vec3& u, const Vec3& v) {
  constexpr double kCosine = 0.92387953251128674, kSine = 0.38268343236508978, kHalf = 0.70710678118654752;
  return nearly_even<L, 2>(positions, own,
                           {u, kCosine * u + kSine * v, kHalf * (u + v), kSine * u + kCosine * v, v,
                            kCosine * v - kSine * u, kHalf * (v - u), kSine * v - kCosine * u});
}

/// In space: through the faces, edges and corners of a cube.
template <class L>
TRIMTACK_INLINE bool is_round(std::span<const Vec3> positions, const IndexList& own) {
  constexpr double e = 0.70710678118654752, c = 0.57735026918962576;
  constexpr Vec3 x{1, 0, 0};
  return nearly_even<L, 4>(positions, own,
                           {x,
                            {0, 1, 0},
                            {0, 0, 1},
                            {e, e, 0},
                            {e, -e, 0},
                            {0, e, e},
                            {0, e, -e},
                            {e, 0, e},
                            {-e, 0, e},
                            {c, c, c},
                            {c, c, -c},
                            {c, -c, c},
                            {c, -c, -c},
                            x,
                            x,
                            x});
}

/// @param open  the axes that the moments leave open: all three, or the plane of the two
template <class L>
TRIMTACK_INLINE bool is_round_along(std::span<const Vec3> positions, const IndexList& own, std::span<const Vec3> open) {
  return open.size() == 3 ? is_round<L>(positions, own) : is_round<L>(positions, own, open[0], open[1]);
}

bool round_baseline(std::span<const Vec3> positions, const IndexList& own, std::span<const Vec3> open) {
  return is_round_along<LanePair>(positions, own, open);
}

#if defined(__x86_64__) && defined(__GNUC__)
/// Four lanes to a register; no fused operations, so the same bits.
__attribute__((target("avx2"))) bool round_wide(std::span<const Vec3> positions, const IndexList& own,
                                                std::span<const Vec3> open) {
  return is_round_along<WideLanes>(positions, own, open);
}
auto round_here() { return __builtin_cpu_supports("avx2") ? &round_wide : &round_baseline; }
#else
auto round_here() { return &round_baseline; }
#endif

/// The normals of the sides of a body, the largest first.
std::vector<Vec3> sides_of(const FaceView& faces, const IndexList& own) {
  struct Side {
    Vec3 normal;
    double area = 0;
  };
  std::vector<Side> sides;
  for (const Index f : own) {
    const Vec3 n = area_vector(faces.positions, faces.face(f));
    const double area = length(n);
    if (!(area > 0) || !std::isfinite(area)) continue;
    const auto same = std::find_if(sides.begin(), sides.end(),
                                   [&](const Side& s) { return std::abs(dot(s.normal, n)) > kSameSide * area; });
    if (same != sides.end()) {
      same->area += area;
    } else if (sides.size() < kMostSides) {
      sides.push_back({(1 / area) * n, area});
    }
  }
  std::stable_sort(sides.begin(), sides.end(), [](const Side& a, const Side& b) { return a.area > b.area; });
  std::vector<Vec3> normals;
  for (std::size_t i = 0; i < std::min(sides.size(), kMostTried); ++i) normals.push_back(sides[i].normal);
  return normals;
}

/// The axes in their new order and the extents along them. @param first, count  those that may change places: the
/// longest comes first
void set_axes(Shape& shape, std::array<Vec3, 3> axes, std::size_t first, std::size_t count,
              std::span<const Vec3> points) {
  std::array<std::pair<Range, Vec3>, 3> along;
  for (std::size_t k = 0; k < 3; ++k) along[k].second = axes[k];
  for (const Vec3& p : points)
    for (auto& [range, axis] : along) range.add(dot(axis, p));
  const auto begin = along.begin() + static_cast<std::ptrdiff_t>(first);
  std::stable_sort(begin, begin + static_cast<std::ptrdiff_t>(count),
                   [](const auto& a, const auto& b) { return a.first.width() > b.first.width(); });
  const Vec3 last = cross(along[0].second, along[1].second);
  shape.axes = from_columns(along[0].second, along[1].second, last);
  for (std::size_t k = 0; k < 3; ++k) {
    shape.extents[k] = along[k].first.width();
    shape.extent_mids[k] = along[k].first.middle();
  }
  if (dot(last, along[2].second) < 0) shape.extent_mids[2] = -shape.extent_mids[2];
}

}  // namespace

void Calipers::list_points(const FaceView& faces, const IndexList& vertices, const Vec3& origin, std::size_t step) {
  points_.clear();
  for (std::size_t r = 0, left = 0; r < vertices.run_count(); ++r) {
    const Index end = vertices.end_of_run(r);
    std::size_t v = vertices.first_of_run(r) + left;
    for (; v < end; v += step)
      if (const Vec3 p = faces.positions[v] - origin; is_finite(p)) points_.push_back(p);
    left = v - end;
  }
}

void Calipers::project(const Vec3& u, const Vec3& v) {
  flat_.clear();
  for (const Vec3& p : points_) flat_.push_back({dot(u, p), dot(v, p)});
}

void Calipers::make_hull() {
  std::sort(flat_.begin(), flat_.end(),
            [](const Point2& p, const Point2& q) { return p.x != q.x ? p.x < q.x : p.y < q.y; });
  hull_.clear();
  const auto turns_left = [](const Point2& a, const Point2& b, const Point2& c) {
    return (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x) > 0;
  };
  const auto add = [&](const Point2& p, std::size_t keep) {
    while (hull_.size() > keep && !turns_left(hull_[hull_.size() - 2], hull_.back(), p)) hull_.pop_back();
    hull_.push_back(p);
  };
  for (const Point2& p : flat_) add(p, 1);
  const std::size_t lower = hull_.size();
  for (std::size_t i = flat_.size(); i-- > 0;) add(flat_[i], lower);
}

Calipers::Rectangle Calipers::least_rectangle() {
  make_hull();
  Rectangle best{{1, 0}, kInfinity};
  for (std::size_t i = 0; i + 1 < hull_.size(); ++i) {
    const double x = hull_[i + 1].x - hull_[i].x, y = hull_[i + 1].y - hull_[i].y;
    const double edge = std::sqrt(x * x + y * y);
    if (!(edge > 0)) continue;
    const Point2 side{x / edge, y / edge};
    Range along, across;
    for (const Point2& p : hull_) {
      along.add(side.x * p.x + side.y * p.y);
      across.add(side.x * p.y - side.y * p.x);
    }
    const double area = along.width() * across.width();
    if (area < best.area) best = {side, area};
  }
  return best;
}

bool Calipers::turn_in_space(std::span<const Vec3> sides, std::array<Vec3, 3>& axes) {
  double least = kInfinity;
  for (const Vec3& side : sides) {
    const Vec3 u = square_to(side), v = cross(side, u);
    project(u, v);
    const Rectangle box = least_rectangle();
    Range height;
    for (const Vec3& p : points_) height.add(dot(side, p));
    if (!(box.area * height.width() < least)) continue;
    least = box.area * height.width();
    const Vec3 along = box.side.x * u + box.side.y * v;
    axes = {along, cross(side, along), side};
  }
  return least < kInfinity;
}

void Calipers::turn_in_plane(Vec3& u, Vec3& v) {
  project(u, v);
  const Point2 side = least_rectangle().side;
  const Vec3 along = side.x * u + side.y * v;
  v = side.x * v - side.y * u;
  u = along;
}

void Calipers::turn(const FaceView& faces, const ComponentMap& components, Index component, Shape& shape) {
  static const auto round_best = round_here();
  const auto open = [&](std::size_t k) { return shape.moments[k] - shape.moments[k + 1] < kOpen * shape.moments[k]; };
  const bool upper = open(0), lower = open(1);
  if (!upper && !lower) return;
  std::array<Vec3, 3> axes{shape.axes.column(0), shape.axes.column(1), shape.axes.column(2)};
  const std::size_t first = upper ? 0 : 1, count = upper && lower ? 3 : 2;  // the open ones
  const IndexList vertices = components.vertices_of(component);
  if (round_best(faces.positions, vertices, std::span(axes).subspan(first, count))) return;
  list_points(faces, vertices, shape.centroid, 1 + vertices.size() / kFewPoints);
  if (count == 2) {
    turn_in_plane(axes[first], axes[first + 1]);
  } else if (!turn_in_space(sides_of(faces, components.faces_of(component)), axes)) {
    return;
  }
  if (vertices.size() >= kFewPoints) list_points(faces, vertices, shape.centroid, 1);
  set_axes(shape, axes, first, count, points_);
}

}  // namespace trimtack
