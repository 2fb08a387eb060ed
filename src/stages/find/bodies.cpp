// SPDX-License-Identifier: MIT
#include "stages/find/bodies.hpp"

#include <algorithm>

#include "stages/find/lanes.hpp"

namespace trimtack {
namespace {

void add_part(const RoleInput& in, Index c, TrimBody& body) {
  body.faces += in.shapes[c].face_count;
  in.components->vertices_of(c).each_run([&](Index first, Index end) {
    body.vertices.insert(body.vertices.end(), in.mesh->positions.begin() + first, in.mesh->positions.begin() + end);
  });
}

/// Those with more vertices first.
void add_parts(const RoleInput& in, std::span<const Index> parts, TrimBody& body) {
  std::vector<Index> order(parts.begin(), parts.end());
  std::sort(order.begin(), order.end(), [&](Index a, Index b) {
    const Shape& x = in.shapes[a];
    const Shape& y = in.shapes[b];
    if (x.vertex_count != y.vertex_count) return x.vertex_count > y.vertex_count;
    return a < b;
  });
  for (const Index c : order) add_part(in, c, body);
}

/// Sums about the first vertex: garments may stand far from the origin.
Vec3 mean_of(std::span<const Vec3> points) {
  const Vec3 origin = points.front();
  Vec3 sum;
  for (const Vec3& p : points) sum += p - origin;
  return origin + (1.0 / static_cast<double>(points.size())) * sum;
}

template <class L>
TRIMTACK_INLINE void measure_body(TrimBody& body) {
  const double count = static_cast<double>(body.vertices.size());
  const L n = all_lanes<L>(count), centre = load<L>(body.centre);
  double squares = 0;
  double mean = 0;
  L radius{};
  Vec3* const points = body.vertices.data();
  const std::size_t size = body.vertices.size();
  for (std::size_t i = 0; i < size; i += 4) {
    const auto move = [&](std::size_t k) TRIMTACK_INLINED {
      if (i + k >= size) return L{};
      const L p = load<L>(points[i + k]) - centre;
      points[i + k] = first_three(p);
      return p;
    };
    const L p0 = move(0), p1 = move(1), p2 = move(2), p3 = move(3);
    const Lanes3<L> p = side_by_side(p0, p1, p2, p3);
    const L squared = dot(p, p);
    const L distance = root(squared);
    const L share = distance / n;
    squares = squares + squared[0] + squared[1] + squared[2] + squared[3];
    mean = mean + share[0] + share[1] + share[2] + share[3];
    radius = most(radius, distance);
  }
  body.mean = mean;
  body.radius = most_of(radius);
  body.rms = std::sqrt(squares / count);
}

void measure_baseline(TrimBody& body) { measure_body<LanePair>(body); }

#if defined(__x86_64__) && defined(__GNUC__)
/// Four lanes to a register; no fused operations, so the same bits.
__attribute__((target("avx2"))) void measure_wide(TrimBody& body) { measure_body<WideLanes>(body); }

auto measure_here() { return __builtin_cpu_supports("avx2") ? &measure_wide : &measure_baseline; }
#else
auto measure_here() { return &measure_baseline; }
#endif

}  // namespace

void fetch_body(const RoleInput& in, std::span<const Index> parts) {
  constexpr Index kVerticesPerLine = 2, kMostVertices = 256;  // of the cache, which is wanted for others, too
  const IndexList own = in.components->vertices_of(parts[0]);
  const Index first = own.front(), end = std::min(own.end_of_run(0), first + kMostVertices);
  for (Index v = first; v < end; v += kVerticesPerLine) __builtin_prefetch(&in.mesh->positions[v]);
}

void fill_body(const RoleInput& in, std::span<const Index> parts, TrimBody& body) {
  static const auto measure_best = measure_here();
  body.vertices.clear();
  body.faces = 0;
  body.whole_faces = kNone;
  body.rms = body.mean = body.radius = 0;
  body.parts = static_cast<Index>(parts.size());
  if (parts.size() == 1)
    add_part(in, parts[0], body);
  else
    add_parts(in, parts, body);
  if (body.vertices.empty()) return;
  body.centre = mean_of(body.vertices);
  if (!is_finite(body.centre)) {  // one of them, or only the sum, is not
    std::erase_if(body.vertices, [](const Vec3& p) { return !is_finite(p); });
    if (body.vertices.empty()) return;
    body.centre = mean_of(body.vertices);
  }
  measure_best(body);
}

}  // namespace trimtack
