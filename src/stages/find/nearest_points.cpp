// SPDX-License-Identifier: MIT
#include "stages/find/nearest_points.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <nanoflann.hpp>

namespace trimtack {
namespace {

struct Cloud {
  std::span<const Vec3> points;
  std::size_t kdtree_get_point_count() const { return points.size(); }
  double kdtree_get_pt(std::size_t i, std::size_t k) const { return points[i][static_cast<int>(k)]; }
  template <class B>
  bool kdtree_get_bbox(B& /*box*/) const {
    return false;
  }
};
using Tree = nanoflann::KDTreeSingleIndexAdaptor<nanoflann::L2_Simple_Adaptor<double, Cloud>, Cloud, 3, Index>;

/// nanoflann's result set, straight into the caller's list: sorted by distance, the earlier found first among equals.
struct Result {
  using DistanceType = double;
  using IndexType = Index;
  std::span<NearPoint> found;
  double beyond = std::numeric_limits<double>::infinity();  // nothing from there on is wanted
  std::size_t count = 0;
  std::size_t size() const { return count; }
  bool full() const { return count == found.size(); }
  // The names are the library's.  NOLINTBEGIN(readability-identifier-naming)
  double worstDist() const { return full() ? found.back().squared_distance : beyond; }
  bool addPoint(double squared, Index index) {
    if (full() && squared >= worstDist()) return true;
    std::size_t i = full() ? count - 1 : count;
    for (; i > 0 && found[i - 1].squared_distance > squared; --i) found[i] = found[i - 1];
    found[i] = {index, squared};
    if (!full()) ++count;
    return true;
  }
  // NOLINTEND(readability-identifier-naming)
};

}  // namespace

struct NearestPoints::Impl {
  Cloud cloud;
  Tree tree;
  explicit Impl(std::span<const Vec3> points)
      : cloud{points}, tree(3, cloud, nanoflann::KDTreeSingleIndexAdaptorParams(10)) {}
};

NearestPoints::NearestPoints(std::span<const Vec3> points) : impl_(std::make_unique<Impl>(points)) {}
NearestPoints::~NearestPoints() = default;
NearestPoints::NearestPoints(NearestPoints&&) noexcept = default;
NearestPoints& NearestPoints::operator=(NearestPoints&&) noexcept = default;

std::size_t NearestPoints::find(const Vec3& query, std::span<NearPoint> found, double within) const {
  if (found.empty() || impl_->cloud.points.empty()) return 0;
  const std::array<double, 3> at{query.x, query.y, query.z};
  constexpr double kSlack = 1 + 1e-9;  // for what the tree rounds
  constexpr double kFar = std::numeric_limits<double>::infinity();
  Result result{found.first(std::min(found.size(), impl_->cloud.points.size())),
                within >= 0 ? std::nextafter(kSlack * within, kFar) : kFar};
  impl_->tree.findNeighbors(result, at.data(), nanoflann::SearchParams());
  return result.count;
}

}  // namespace trimtack
