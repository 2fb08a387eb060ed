// SPDX-License-Identifier: MIT
// Where cloth and trim cross, fit_contact finds it; once the cloth is through there is nothing left to cross. So the
// height of cloth near the trim, in the trim's own coordinates, is compared with its sign at rest. Cloth that goes away
// may come back on the other side by a way round; therefore a place counts only while it has stayed near the trim.
// Sheets that reach from one side of a trim to the other at rest (a strap in its ring) may do so later elsewhere.
#include "stages/fit/fit_passed.hpp"

#include <algorithm>

#include "core/union_find.hpp"
#include "stages/bind/height_at.hpp"
#include "stages/fit/fit_lines.hpp"

namespace trimtack {
namespace {

constexpr std::size_t kTrimsPerRange = 32;
constexpr int kLinesAlong = 7;
// Cloth is watched this far beside a trim (mm), for it slides while it goes through, and as far over and beneath it as
// the trim is wide, at least as far: a flap over what it covers.
constexpr double kReach = 5;

/// Local sheets: which triangles near a trim hang together there, at welded vertices.
class Sheets {
 public:
  void join(const ClothMesh& cloth, std::span<const Index> near) {
    near_ = near;
    joined_ = UnionFind(static_cast<Index>(near.size()));
    corner_.clear();
    for (Index i = 0; i < near.size(); ++i) {
      for (const Index v : cloth.triangles.triangles[near[i]]) corner_.emplace_back(cloth.welded[v], i);
    }
    std::sort(corner_.begin(), corner_.end());
    for (std::size_t k = 1; k < corner_.size(); ++k) {
      if (corner_[k].first == corner_[k - 1].first) joined_.join(corner_[k].second, corner_[k - 1].second);
    }
  }
  bool are_one() {
    for (Index i = 1; i < near_.size(); ++i) {
      if (joined_.find(i) != joined_.find(0)) return false;
    }
    return true;
  }
  /// @pre the triangle is near
  Index of(Index triangle) {
    return joined_.find(static_cast<Index>(std::lower_bound(near_.begin(), near_.end(), triangle) - near_.begin()));
  }

 private:
  std::span<const Index> near_;
  UnionFind joined_{0};
  std::vector<std::pair<Index, Index>> corner_;
};

constexpr std::uint8_t kBetween = 2;

/// Side of a trim that a height lies on: 0 between its top and its bottom.
int side_of(const Box& trim, double z) { return z > trim.max.z ? 1 : (z < trim.min.z ? -1 : 0); }

std::vector<FitModel::Watch> watched_by(const FitModel& model, const FitLines& found, Sheets& sheets) {
  const ClothMesh& cloth = *model.cloth;
  std::vector<FitModel::Watch> out;
  // Where each sheet is seen: bits for above, beneath and between, that is in the trim or in its way; not beside it.
  // The trim's own sheet is in its way.
  std::vector<std::uint8_t> seen(found.near.size(), 0);
  const auto bit = [&](double z) {
    return static_cast<std::uint8_t>(1U << static_cast<unsigned>(1 + side_of(found.trim, z)));
  };
  for (const FitLine& line : found.lines) {
    for (const LineHit& hit : line.own) seen[sheets.of(hit.triangle)] |= kBetween;
    for (const LineHit& hit : line.other) {
      const bool beside = side_of(found.trim, hit.z) == 0 && line.trim.empty();
      if (!beside) seen[sheets.of(hit.triangle)] |= bit(hit.z);
    }
  }
  for (const FitLine& line : found.lines) {
    for (const LineHit& hit : line.other) {
      const int side = side_of(found.trim, hit.z);
      if (side == 0 || seen[sheets.of(hit.triangle)] != bit(hit.z)) continue;
      out.push_back({cloth.triangles.triangles[hit.triangle], hit.bary, static_cast<std::int8_t>(side),
                     cloth.component_of_face[cloth.triangles.face[hit.triangle]]});
    }
  }
  return out;
}

/// Whether the trim is seen at (x, y), along its axis.
bool is_seen(const FitModel& model, std::size_t t, double x, double y) {
  const TrimShapes& trims = *model.trims;
  const Pose& to_place = model.places[t].to_place;
  for (Index k = trims.triangle_offsets[t]; k < trims.triangle_offsets[t + 1]; ++k) {
    std::array<Vec3, 3> c;
    for (std::size_t i = 0; i < 3; ++i) {
      c[i] = apply(to_place, trims.vertices[trims.vertex_offsets[t] + trims.triangles[k][i]]);
    }
    double z = 0;
    if (height_at(c, x, y, z)) return true;
  }
  return false;
}

double reach_of(const FitModel& model, const FitPlace& place) {
  return std::max(place.width, kReach / model.mm_per_unit);
}

bool inside(const Box& box, const Vec3& p) {
  return p.x >= box.min.x && p.x <= box.max.x && p.y >= box.min.y && p.y <= box.max.y && p.z >= box.min.z &&
         p.z <= box.max.z;
}

}  // namespace

void find_watched(FitModel& model, const Executor& executor) {
  const std::size_t count = model.trims->id.size();
  std::vector<std::vector<FitModel::Watch>> found(count);
  for_ranges(executor, count, kTrimsPerRange, [&](std::size_t begin, std::size_t end) {
    std::vector<Index> stack;
    FitLines lines;
    Sheets sheets;
    for (std::size_t t = begin; t < end; ++t) {
      FitPlace& place = model.places[t];
      if (model.trims->role[t] != Role::Trim || place.point_count == 0) continue;
      look_near(model, t, kReach / model.mm_per_unit, reach_of(model, place), stack, lines);
      sheets.join(*model.cloth, lines.near);
      if (sheets.are_one()) continue;
      lay_lines(model, t, kLinesAlong, lines);
      place.trim = lines.trim, place.around = lines.seen;
      found[t] = watched_by(model, lines, sheets);
    }
  });
  for (std::size_t t = 0; t < count; ++t) {
    model.places[t].first_watch = static_cast<Index>(model.watch.size());
    model.places[t].watch_count = static_cast<Index>(found[t].size());
    model.watch.insert(model.watch.end(), found[t].begin(), found[t].end());
  }
}

Passed measure_passed(const FitModel& model, std::size_t trim, std::span<const Vec3> deformed, const Pose& pose,
                      std::span<std::uint8_t> watched) {
  Passed passed;
  const FitPlace& place = model.places[trim];
  const Mat3 turn = place.to_place.rotation * transposed(pose.rotation);
  for (Index k = place.first_watch; k < place.first_watch + place.watch_count; ++k) {
    const FitModel::Watch& watch = model.watch[k];
    Vec3 now;
    for (std::size_t i = 0; i < 3; ++i) now += watch.bary[i] * deformed[watch.corners[i]];
    const Vec3 p = turn * (now - pose.translation) + place.to_place.translation;
    if (!inside(place.around, p)) {
      watched[k] = 0;
      continue;
    }
    const int side = side_of(place.trim, p.z);
    if (side == watch.side) watched[k] = 1;
    if (side != -watch.side || watched[k] == 0) continue;
    const double depth = side < 0 ? place.trim.max.z - p.z : p.z - place.trim.min.z;
    if (depth > passed.depth && is_seen(model, trim, p.x, p.y)) passed = {depth, watch.component};
  }
  return passed;
}

}  // namespace trimtack
