// SPDX-License-Identifier: MIT
// A tree of boxes finds the cloth near a trim; then triangles are tested.
#include "stages/fit/fit_contact.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "stages/bind/trim_collisions.hpp"

namespace trimtack {
namespace {

constexpr std::size_t kTrimsPerRange = 16;
// Cloth within this share of a trim's height from its top or underside lies on that side of it.
constexpr double kOutermost = 0.1;

/// Where a point of triangle `from` is once that triangle is `to`.
Vec3 carried(const Vec3& point, const std::array<Vec3, 3>& from, const std::array<Vec3, 3>& to) {
  const Vec3 normal = cross(from[1] - from[0], from[2] - from[0]);
  const double squared = squared_length(normal);
  if (!(squared > 0)) return (1.0 / 3) * (to[0] + to[1] + to[2]);
  const double second = dot(cross(from[2] - point, from[0] - point), normal) / squared,
               third = dot(cross(from[0] - point, from[1] - point), normal) / squared;
  return to[0] + second * (to[1] - to[0]) + third * (to[2] - to[0]);
}

/// Cloth of one component that looks one way, where it meets a trim; in the trim's rest coordinates.
struct Meeting {
  Vec3 normal, point, rest;  ///< sums; rest: where at rest the cloth was that is met now
  std::vector<Vec3> points;  ///< where they meet
  double across = 0;         ///< how far that cloth has moved along its own normal since rest
  Index component = kNone;
};

/// How far the trim would have to move along the cloth's normal to be free of it: back to the side of it on which that
/// cloth was at rest, where it lay over or beneath the trim; else to the nearer side.
double depth_across(const Meeting& m, std::span<const Vec3> vertices, double size) {
  const Vec3 n = normalized(m.normal);
  if (squared_length(n) == 0) return 0;
  const Extent e = extent(vertices, n);
  const double share = 1.0 / static_cast<double>(m.points.size());
  const Vec3 point = share * m.point, rest = share * m.rest;
  const double at = dot(n, point), before = dot(n, rest), edge = kOutermost * (e.high - e.low);
  const double up = std::max(0.0, e.high - at), down = std::max(0.0, at - e.low);
  const double aside = length(rest - point - (before - at) * n);
  if (aside > 0.5 * size) return std::min(up, down);
  return before > e.high - edge ? up : before < e.low + edge ? down : std::min(up, down);
}

/// How far cloth that came from outside the trim would have to go back the way it came.
double way_back(const Meeting& m, std::span<const Vec3> vertices) {
  const Vec3 way = normalized(m.point - m.rest);
  const Extent trim = extent(vertices, way);
  return std::max(0.0, extent(m.points, way).high - trim.low);
}

class RunInWorker {
 public:
  RunInWorker(const FitModel& model, const BoxTree& tree, std::span<const Vec3> deformed)
      : model_(model), tree_(tree), deformed_(deformed) {}

  RunIn measure(std::size_t t, const Pose& pose) {
    RunIn run;
    const auto vertices = vertices_of(*model_.trims, t);
    if (vertices.empty()) return run;
    look_round(t, pose);
    const FitPlace& place = model_.places[t];
    const std::span<const FitModel::Within> within{model_.within.data() + place.first_within, place.within_count};
    for (const Meeting& m : met_) {
      double depth = depth_across(m, vertices, size_);
      const auto before = std::find_if(within.begin(), within.end(),
                                       [&](const FitModel::Within& w) { return w.component == m.component; });
      // What lay in the trim may slide along in it, as a strap does in its ring.
      depth =
          before == within.end() ? std::min(depth, way_back(m, vertices)) : std::min(depth - before->depth, m.across);
      if (depth > run.depth) run = {depth, m.component};
    }
    return run;
  }

  /// @pre the cloth and its tree are at rest
  std::vector<FitModel::Within> within(std::size_t t) {
    std::vector<FitModel::Within> out;
    const auto vertices = vertices_of(*model_.trims, t);
    if (vertices.empty()) return out;
    look_round(t, Pose{});
    const ClothMesh& cloth = *model_.cloth;
    const Pose& to_place = model_.places[t].to_place;
    Box extents{apply(to_place, vertices[0]), apply(to_place, vertices[0])};
    for (const Vec3& v : vertices) {
      const Vec3 p = apply(to_place, v);
      for (int k = 0; k < 3; ++k)
        extents.min[k] = std::min(extents.min[k], p[k]), extents.max[k] = std::max(extents.max[k], p[k]);
    }
    for (const Index i : near_) {
      const auto c = corners(cloth.positions, cloth.triangles.triangles[i]);
      const Index component = cloth.component_of_face[cloth.triangles.face[i]];
      const auto known = [&](const FitModel::Within& w) { return w.component == component; };
      if (std::any_of(out.begin(), out.end(), known)) continue;
      if (overlap(box_of(apply(to_place, c[0]), apply(to_place, c[1]), apply(to_place, c[2])), extents))
        out.push_back({component, 0});
    }
    for (FitModel::Within& w : out)
      for (const Meeting& m : met_)
        if (m.component == w.component) w.depth = std::max(w.depth, depth_across(m, vertices, size_));
    return out;
  }

 private:
  /// Fills near_ with the cloth about a trim, its own patch left out, and met_ with where that meets it.
  void look_round(std::size_t t, const Pose& pose) {
    const ClothMesh& cloth = *model_.cloth;
    const Box rest = bounds(vertices_of(*model_.trims, t));
    size_ = length(rest.max - rest.min);
    overlapping(tree_, posed(rest, pose), deformed_, cloth.triangles.triangles, stack_, near_);
    const FitPlace& place = model_.places[t];
    const auto own = model_.source_triangle.begin() + place.first_triangle;
    std::erase_if(near_, [&](Index i) { return std::binary_search(own, own + place.triangle_count, i); });
    const Pose back = inverse(pose);
    met_.clear();
    for (const Index i : near_) {
      const Tri& v = cloth.triangles.triangles[i];
      const std::array<Vec3, 3> c{apply(back, deformed_[v[0]]), apply(back, deformed_[v[1]]),
                                  apply(back, deformed_[v[2]])};
      const Box box = box_of(c);
      if (overlap(box, rest)) meet(i, c, box, t, rest);
    }
  }

  /// Notes where cloth triangle i, in the trim's rest coordinates, meets the trim. The two faces of thick cloth look
  /// opposite ways and are met apart.
  void meet(Index i, const std::array<Vec3, 3>& c, const Box& box, std::size_t trim, const Box& trim_box) {
    const auto vertices = vertices_of(*model_.trims, trim);
    Vec3 point, rest_sum;
    double across = 0;  // where it meets the trim: what is farther off may have moved more
    const ClothMesh& cloth = *model_.cloth;
    const std::array<Vec3, 3> at_rest = corners(cloth.positions, cloth.triangles.triangles[i]);
    const Vec3 normal = cross(c[1] - c[0], c[2] - c[0]), unit = normalized(normal);
    points_.clear();
    for (const Tri& t : triangles_of(*model_.trims, trim)) {
      const auto corner = corners(vertices, t);
      if (!overlap(box, box_of(corner)) || !common_point(c, corner, point)) continue;
      const Vec3 before = carried(point, c, at_rest);
      rest_sum += before;
      points_.push_back(point);
      across = std::max(across, std::abs(dot(unit, point - before)));
    }
    if (points_.empty()) return;
    for (std::size_t k = 0; k < 3; ++k)
      if (overlap(trim_box, {c[k], c[k]})) across = std::max(across, std::abs(dot(unit, c[k] - at_rest[k])));
    const Index component = cloth.component_of_face[cloth.triangles.face[i]];
    auto at = std::find_if(met_.begin(), met_.end(),
                           [&](const Meeting& m) { return m.component == component && dot(m.normal, normal) >= 0; });
    if (at == met_.end()) {
      met_.push_back({});
      at = met_.end() - 1;
      at->component = component;
    }
    at->across = std::max(at->across, across);
    at->normal += normal;
    at->rest += rest_sum;
    for (const Vec3& p : points_) at->point += p;
    at->points.insert(at->points.end(), points_.begin(), points_.end());
  }

  const FitModel& model_;
  const BoxTree& tree_;
  std::span<const Vec3> deformed_;
  std::vector<Index> stack_, near_;
  std::vector<Vec3> points_;
  std::vector<Meeting> met_;
  double size_ = 0;  ///< of the trim looked at
};

}  // namespace

void find_within(FitModel& model, const Executor& executor) {
  const std::size_t count = model.trims->id.size();
  std::vector<std::vector<FitModel::Within>> found(count);
  for_ranges(executor, count, kTrimsPerRange, [&](std::size_t begin, std::size_t end) {
    RunInWorker worker(model, *model.tree, model.cloth->positions);
    for (std::size_t t = begin; t < end; ++t) {
      if (model.trims->role[t] == Role::Trim) found[t] = worker.within(t);
    }
  });
  for (std::size_t t = 0; t < count; ++t) {
    model.places[t].first_within = static_cast<Index>(model.within.size());
    model.places[t].within_count = static_cast<Index>(found[t].size());
    model.within.insert(model.within.end(), found[t].begin(), found[t].end());
  }
}

void measure_run_in(const FitModel& model, const BoxTree& tree, std::span<const Vec3> deformed,
                    std::span<const Pose> poses, const Executor& executor,
                    const std::function<void(std::size_t, const RunIn&)>& found) {
  for_ranges(executor, poses.size(), kTrimsPerRange, [&](std::size_t begin, std::size_t end) {
    RunInWorker worker(model, tree, deformed);
    for (std::size_t t = begin; t < end; ++t) {
      if (model.trims->role[t] == Role::Trim) found(t, worker.measure(t, poses[t]));
    }
  });
}

}  // namespace trimtack
