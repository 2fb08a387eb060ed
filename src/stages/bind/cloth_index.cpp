// SPDX-License-Identifier: MIT
// Closest points by a tree of boxes, sixteen to a node, over leaves of sixteen triangles: single precision finds what
// may be nearest, double decides. Sources: Ericson, Real-Time Collision Detection (2005), section 5.1.5 (triangle);
// Wald, Benthin, Boulos 2008 (wide nodes); Morton 1966 (order of queries).
//
// Single precision only prunes: bounds of boxes are rounded so that they are never too large, distances come with a
// bound of their error, and everything that may be as near as the best is decided in double. Results are therefore the
// same to the bit with any instruction set and in any order of the queries.
#include "trimtack/cloth_index.hpp"

#include <algorithm>
#include <bit>
#include <limits>
#include <numeric>

#include "stages/bind/triangle_distance.hpp"
#include "stages/bind/wide_tree.hpp"

// The traversal is compiled for the baseline and for vectors of 256 and 512 bits; which one is chosen at run time.
#if defined(__x86_64__) && defined(__GNUC__)
#define TRIMTACK_X86 1
#include <immintrin.h>
#else
#define TRIMTACK_X86 0
#endif

namespace trimtack {
namespace {

constexpr Index kWidth = WideNode::kWidth;
constexpr std::size_t kQueriesPerRange = 8192, kLeastSorted = 1024;
// So many neighbours are answered together; for less than the smaller number it is not worth it.
constexpr std::size_t kGroup = 32, kLeastNarrowed = 6;
// At most 15 entries stay behind per level, and eight levels reach 2^32 triangles.
constexpr std::size_t kStackSize = 16 * 9;

bool lexicographic_less(const Vec3& p, const Vec3& q) {
  if (p.x != q.x) return p.x < q.x;
  if (p.y != q.y) return p.y < q.y;
  return p.z < q.z;
}

/// The best triangle so far for one query.
struct Best {
  Index triangle = kNone;
  TrianglePoint hit;
  double squared_distance = 0;
};

/// Children still to be looked at, with the bounds of their squared distances. Room for a whole vector is left behind.
struct Stack {
  float bound[kStackSize + kWidth];
  Index child[kStackSize + kWidth];
  std::size_t size = 0;
  void push(float at, Index number) {
    bound[size] = at;
    child[size++] = number;
  }
};

/// Squares of floats that were rounded a few times.
constexpr float kFloatSlack = 1 + 1e-5F;

/// A leaf that may hold the nearest triangle.
struct alignas(64) Measured {
  float squared[WideLeaf::kWidth];  ///< distances in single precision
  float error;                      ///< of the distances
  Index leaf;
};

/// What the bounds of boxes are compared with: below the least normal float they may be rounded to anything tiny.
float squared_limit(float distance) { return distance * distance * kFloatSlack + 1e-37F; }

/// What is known about one query so far.
struct Search {
  static constexpr std::size_t kMost = 32;
  Vec3 query;
  Best best;
  Index leaf = kNone;          ///< of the best; before the search one to begin with
  float upper = 0, limit = 0;  ///< the nearest is no farther; its square, as bounds of boxes are compared with
  std::size_t count = 0;
  std::array<Measured, kMost> measured;

  void narrow(float distance) {
    if (!(distance < upper)) return;
    upper = distance;
    limit = squared_limit(upper);
  }
  void start(const Vec3& at, double max_distance) {
    query = at;
    best = {};
    best.squared_distance = max_distance * max_distance;
    upper = limit = std::numeric_limits<float>::infinity();
    narrow(static_cast<float>(max_distance) * kFloatSlack + 1e-37F);
  }
};

/// No less than the error of a distance that is measured in single precision. Rounded corners and edges move a surface
/// by some units of what is subtracted (m below), and the point on the plane by 4 m^2 / height of them, which counts
/// less the farther off the plane is; both with a factor of 8 for what was not thought of.
inline float leaf_error(const WideLeaf& leaf, const float* p) {
  constexpr float kUnit = 0x1p-24F;
  const float m = leaf.reach + std::abs(p[0]) + std::abs(p[1]) + std::abs(p[2]);
  return kUnit * m * (64 + 32 * m * leaf.inverse_height);
}

/// No less than the error of how far boxes are apart, for corners, boxes and leaves not farther than `size` from each
/// other: each is rounded by a unit of what it is, and their differences are; with a factor of 4 to spare.
inline float box_slack(float size) { return 32 * 0x1p-24F * size + 1e-37F; }

/// Triangles near a group of queries, side by side as in the leaves.
struct Pack {
  static constexpr unsigned kMost = 3, kMostLeaves = 8;
  std::array<WideLeaf, kMost> leaves;  ///< all with the same reach and height
  unsigned count = 0, last = 0;        ///< leaves in use; triangles in the last of them
  Vec3 middle;

  /// @return false when there is no room left
  bool take(const WideLeaf& from, unsigned lane, const float* shift) {
    if (count == 0 || last == WideLeaf::kWidth) {
      if (count == kMost) return false;
      ++count;
      last = 0;
    }
    WideLeaf& leaf = leaves[count - 1];
    for (int k = 0; k < 3; ++k) {
      leaf.a[k][last] = from.a[k][lane] + shift[k];
      leaf.ab[k][last] = from.ab[k][lane];
      leaf.ac[k][last] = from.ac[k][lane];
    }
    leaf.triangle[last++] = from.triangle[lane];
    return true;
  }
  /// Repeats the last triangle where there is none. @pre there is one
  void fill_up(float reach, float inverse_height) {
    WideLeaf& leaf = leaves[count - 1];
    for (int k = 0; k < 3; ++k)
      for (unsigned i = last; i < WideLeaf::kWidth; ++i) {
        leaf.a[k][i] = leaf.a[k][last - 1];
        leaf.ab[k][i] = leaf.ab[k][last - 1];
        leaf.ac[k][i] = leaf.ac[k][last - 1];
      }
    leaves[0].reach = reach;
    leaves[0].inverse_height = inverse_height;
  }
};
// Triangles that are thinner, or farther off, are not packed: single precision would tell little.
constexpr float kWorstPacked = 1e12F, kFarthestPacked = 1e12F;

}  // namespace

namespace {

constexpr WideNode empty_node() {
  WideNode node{};
  for (Index i = 0; i < kWidth; ++i) {
    for (int k = 0; k < 3; ++k) {
      node.low[k][i] = std::numeric_limits<float>::infinity();
      node.high[k][i] = -std::numeric_limits<float>::infinity();
    }
    node.child[i] = kNone;
  }
  return node;
}
constexpr WideNode kEmptyNode = empty_node();

/// Queries in the order in which they are answered.
struct Batch {
  std::span<const Vec3> queries;
  std::span<const std::uint64_t> order;  ///< the query in the lower half; none: as they came
  double max_distance;
  std::span<Surface> out;

  std::size_t at(std::size_t k) const { return order.empty() ? k : static_cast<std::uint32_t>(order[k]); }
  /// The box of the finite queries of a group, and the largest distance of one of them from a point. @pre there is one
  float reach_of(std::size_t first, std::size_t last, const Vec3& point, Box& box) const {
    box = {{1e300, 1e300, 1e300}, {-1e300, -1e300, -1e300}};
    double farthest = 0;
    for (std::size_t k = first; k < last; ++k) {
      const Vec3& p = queries[at(k)];
      if (!is_finite(p)) continue;
      box.min = {std::min(box.min.x, p.x), std::min(box.min.y, p.y), std::min(box.min.z, p.z)};
      box.max = {std::max(box.max.x, p.x), std::max(box.max.y, p.y), std::max(box.max.z, p.z)};
      farthest = std::max(farthest, squared_length(p - point));
    }
    return static_cast<float>(std::sqrt(farthest)) * kFloatSlack + 1e-37F;
  }
};

Surface surface_of(const Search& search) {
  Surface out;
  const Best& best = search.best;
  if (best.triangle == kNone) return out;
  out.triangle = best.triangle;
  out.bary = best.hit.bary;
  out.point = search.query + best.hit.offset;
  out.distance = std::sqrt(best.squared_distance);
  return out;
}

}  // namespace

struct ClothIndex::Impl {
  const ClothMesh* cloth = nullptr;
  WideTree tree;
  void (*answer)(const Impl& impl, const Batch& batch, std::size_t begin, std::size_t end) = nullptr;
  void (*collect)(const Impl& impl, const Box& box, std::vector<Index>& out) = nullptr;

  const Vec3& corner(Index triangle, std::size_t k) const {
    return cloth->positions[cloth->triangles.triangles[triangle][k]];
  }
  Vec3 centroid(Index t) const { return (1.0 / 3) * (corner(t, 0) + corner(t, 1) + corner(t, 2)); }
  bool wins_tie(const Vec3& query, Index challenger, Index holder) const;
  /// Whether the box of a triangle meets a box.
  bool meets(Index triangle, const Box& box) const;
  /// Lets a triangle compete. @return whether it is the best now
  bool offer(const Vec3& query, Index triangle, Best& best) const;
};

/// Of two triangles at exactly the same distance the one that faces the query more squarely wins, then the one
/// whose centroid comes first, then the smaller number.
bool ClothIndex::Impl::wins_tie(const Vec3& query, Index challenger, Index holder) const {
  const auto facing = [&](Index t) {
    const Vec3 a = corner(t, 0);
    const Vec3 n = normalized(cross(corner(t, 1) - a, corner(t, 2) - a));
    return std::abs(dot(n, query - a));  // distance of the query from the triangle's plane
  };
  const double f = facing(challenger), g = facing(holder);
  if (f != g) return f > g;
  const Vec3 p = centroid(challenger), q = centroid(holder);
  if (lexicographic_less(p, q)) return true;
  if (lexicographic_less(q, p)) return false;
  return challenger < holder;
}

bool ClothIndex::Impl::meets(Index triangle, const Box& box) const {
  for (int k = 0; k < 3; ++k) {
    const double a = corner(triangle, 0)[k], b = corner(triangle, 1)[k], c = corner(triangle, 2)[k];
    if (!(std::min({a, b, c}) <= box.max[k] && std::max({a, b, c}) >= box.min[k])) return false;
  }
  return true;
}

bool ClothIndex::Impl::offer(const Vec3& query, Index triangle, Best& best) const {
  const TrianglePoint hit =
      closest_on_triangle(corner(triangle, 0) - query, corner(triangle, 1) - query, corner(triangle, 2) - query);
  if (hit.squared_distance > best.squared_distance) return false;
  if (hit.squared_distance == best.squared_distance && best.triangle != kNone &&
      (triangle == best.triangle || !wins_tie(query, triangle, best.triangle)))
    return false;
  best = {triangle, hit, hit.squared_distance};
  return true;
}

namespace {

namespace baseline {
#define TRIMTACK_TARGET
#if TRIMTACK_X86
#define TRIMTACK_VECTOR_WIDTH 4
#else
#define TRIMTACK_VECTOR_WIDTH 1
#endif
#include "stages/bind/wide_traverse.inc"
#undef TRIMTACK_VECTOR_WIDTH
#undef TRIMTACK_TARGET
}  // namespace baseline

#if TRIMTACK_X86
namespace avx512 {
#define TRIMTACK_TARGET __attribute__((target("avx512f")))
#define TRIMTACK_VECTOR_WIDTH 16
#include "stages/bind/wide_traverse.inc"
#undef TRIMTACK_VECTOR_WIDTH
#undef TRIMTACK_TARGET
}  // namespace avx512

namespace avx2 {
#define TRIMTACK_TARGET __attribute__((target("avx2")))
#define TRIMTACK_VECTOR_WIDTH 8
#include "stages/bind/wide_traverse.inc"
#undef TRIMTACK_VECTOR_WIDTH
#undef TRIMTACK_TARGET
}  // namespace avx2
#endif

/// Whether neighbours in the list are neighbours in space: steps as short as those of a curve that fills the box.
bool in_order_already(std::span<const Vec3> queries, const Vec3& size) {
  double way = 0;
  std::size_t steps = 0;
  for (std::size_t i = 1; i < queries.size(); ++i) {
    const double step = length(queries[i] - queries[i - 1]);
    if (!std::isfinite(step)) continue;
    way += step;
    ++steps;
  }
  return way / std::sqrt(static_cast<double>(steps + 1)) < 8 * length(size);
}

/// Order of queries along a Morton curve through their own box, so that neighbours follow each other; left empty when
/// they do already.
void morton_order(std::span<const Vec3> queries, std::vector<std::uint64_t>& order) {
  Vec3 low{1e300, 1e300, 1e300}, high = -low;
  for (const Vec3& p : queries) {
    if (!is_finite(p)) continue;
    low = {std::min(low.x, p.x), std::min(low.y, p.y), std::min(low.z, p.z)};
    high = {std::max(high.x, p.x), std::max(high.y, p.y), std::max(high.z, p.z)};
  }
  const Vec3 size = high - low;
  order.clear();
  if (in_order_already(queries, size)) return;
  const double longest = std::max({size.x, size.y, size.z, 1e-300});
  const double scale = 1023.999 / longest;
  const auto spread = [](std::uint32_t v) {
    v = (v | (v << 16)) & 0x030000ffU;
    v = (v | (v << 8)) & 0x0300f00fU;
    v = (v | (v << 4)) & 0x030c30c3U;
    return (v | (v << 2)) & 0x09249249U;
  };
  order.resize(queries.size());
  for (std::size_t i = 0; i < queries.size(); ++i) {
    std::uint64_t code = 0;
    if (is_finite(queries[i])) {
      const Vec3 p = scale * (queries[i] - low);
      code = spread(static_cast<std::uint32_t>(p.x)) | (spread(static_cast<std::uint32_t>(p.y)) << 1) |
             (spread(static_cast<std::uint32_t>(p.z)) << 2);
    }
    order[i] = (code << 32) | i;
  }
  // Radix sort by the 30 bits of the code; stable, so equal codes keep their order.
  std::vector<std::uint64_t> other(order.size());
  constexpr int kBits = 10;
  for (int pass = 0; pass < 3; ++pass) {
    const int shift = 32 + pass * kBits;
    std::array<Index, (1U << kBits) + 1> start{};
    for (const std::uint64_t v : order) ++start[((v >> shift) & ((1U << kBits) - 1)) + 1];
    std::partial_sum(start.begin(), start.end(), start.begin());
    for (const std::uint64_t v : order) other[start[(v >> shift) & ((1U << kBits) - 1)]++] = v;
    order.swap(other);
  }
}

}  // namespace

ClothIndex::ClothIndex(const ClothMesh& cloth, const Executor& executor) : impl_(std::make_unique<Impl>()) {
  impl_->cloth = &cloth;
  impl_->tree.build(cloth.positions, cloth.triangles.triangles, executor);
  use_baseline_instructions();
#if TRIMTACK_X86
  if (__builtin_cpu_supports("avx512f")) {
    impl_->answer = &avx512::answer<Impl>;
    impl_->collect = &avx512::collect<Impl>;
  } else if (__builtin_cpu_supports("avx2")) {
    impl_->answer = &avx2::answer<Impl>;
    impl_->collect = &avx2::collect<Impl>;
  }
#endif
}
ClothIndex::~ClothIndex() = default;
ClothIndex::ClothIndex(ClothIndex&&) noexcept = default;
ClothIndex& ClothIndex::operator=(ClothIndex&&) noexcept = default;
const ClothMesh& ClothIndex::cloth() const { return *impl_->cloth; }

std::size_t ClothIndex::memory_bytes() const {
  return impl_->tree.room_of_nodes.bytes() + impl_->tree.room_of_leaves.bytes();
}

void ClothIndex::use_baseline_instructions() {
  impl_->answer = &baseline::answer<Impl>;
  impl_->collect = &baseline::collect<Impl>;
}

void ClothIndex::closest_points(std::span<const Vec3> queries, double max_distance, std::span<Surface> out,
                                const Executor& executor) const {
  const Impl& impl = *impl_;
  if (impl.tree.nodes.empty()) {
    std::fill(out.begin(), out.end(), Surface{});
    return;
  }
  // A handful is looked up in the order it came; sorting would cost more than it gains.
  std::vector<std::uint64_t> order;
  if (queries.size() >= kLeastSorted) morton_order(queries, order);
  const Batch batch{queries, order, max_distance, out};
  for_ranges(executor, queries.size(), kQueriesPerRange,
             [&](std::size_t begin, std::size_t end) { impl.answer(impl, batch, begin, end); });
}

void ClothIndex::triangles_near(const Box& box, std::vector<Index>& out) const {
  out.clear();
  if (impl_->tree.nodes.empty()) return;
  impl_->collect(*impl_, box, out);
}

std::vector<Surface> ClothIndex::within(const Vec3& p, double radius) const {
  std::vector<Surface> out;
  const Impl& impl = *impl_;
  if (!is_finite(p) || !(radius >= 0)) return out;
  const double farthest = std::max({std::abs(p.x), std::abs(p.y), std::abs(p.z)});
  const double wider = radius * (1 + 1e-9) + 1e-15 * farthest;  // than what the sums below may lose
  const Vec3 reach{wider, wider, wider};
  std::vector<Index> near;
  triangles_near({p - reach, p + reach}, near);
  for (const Index t : near) {
    const TrianglePoint hit = closest_on_triangle(impl.corner(t, 0) - p, impl.corner(t, 1) - p, impl.corner(t, 2) - p);
    if (hit.squared_distance <= radius * radius)
      out.push_back({t, hit.bary, p + hit.offset, std::sqrt(hit.squared_distance)});
  }
  std::sort(out.begin(), out.end(), [&](const Surface& s, const Surface& t) {
    if (s.distance != t.distance) return s.distance < t.distance;
    return s.triangle != t.triangle && impl.wins_tie(p, s.triangle, t.triangle);
  });
  return out;
}

}  // namespace trimtack
