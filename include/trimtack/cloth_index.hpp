// SPDX-License-Identifier: MIT
/// Closest points, layers and geodesic patches on the cloth. Immutable after build; const queries are safe to share.
#pragma once

#include <array>
#include <memory>
#include <span>
#include <vector>

#include "trimtack/cloth.hpp"
#include "trimtack/parallel.hpp"
#include "trimtack/types.hpp"

namespace trimtack {

/// A place on the cloth. `distance` is a plain length, kNone triangle = nothing within reach.
struct Surface {
  Index triangle = kNone;
  std::array<double, 3> bary{0, 0, 0};
  Vec3 point;
  double distance = 0;
};

class ClothIndex {
 public:
  /// Keeps a reference to the cloth, which must outlive it. The same tree for any executor.
  explicit ClothIndex(const ClothMesh& cloth, const Executor& executor = {});
  ~ClothIndex();
  ClothIndex(ClothIndex&&) noexcept;
  ClothIndex& operator=(ClothIndex&&) noexcept;
  const ClothMesh& cloth() const;

  /// Nearest point of the cloth for each query. Exact in double; ties go to the triangle that faces the query more
  /// squarely, then to the one whose centroid comes first, then to the smaller number. Non-finite queries and queries
  /// with nothing within max_distance get triangle kNone.
  /// Cost: O(log #T) a query; queries are put in order inside. Threads: ranges on the executor, the same bytes for any.
  void closest_points(std::span<const Vec3> queries, double max_distance, std::span<Surface> out,
                      const Executor& executor = {}) const;
  /// Every triangle within `radius` of p, as the nearest point on each, nearest first.
  std::vector<Surface> within(const Vec3& p, double radius) const;
  /// Every triangle whose box meets `box`, in no order; `out` is overwritten. No exact test: a superset of what is
  /// inside.
  void triangles_near(const Box& box, std::vector<Index>& out) const;
  std::size_t memory_bytes() const;  ///< of the tree, without the cloth itself

  /// Leaves the wider instructions of this machine unused. Answers do not change by a bit; for tests and benchmarks.
  void use_baseline_instructions();

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace trimtack
