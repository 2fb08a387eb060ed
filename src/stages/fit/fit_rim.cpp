// SPDX-License-Identifier: MIT
#include "stages/fit/fit_rim.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>

namespace trimtack {
namespace {

constexpr int kColumns = 20;  // along the longer side of the trim seen from above

struct Columns {
  double x = 0, y = 0, cell = 1;
  std::array<Index, kColumns * kColumns> lowest;  ///< vertex next to the cloth, per column
  std::array<double, kColumns * kColumns> height;
};

/// Per column the vertex next to the cloth, seen from one side (+1: the trim is above). A part with both sides keeps
/// to the vertices on that side of the middle plane.
Columns lowest_vertices(std::span<const Vec3> local, int side, bool two_sided) {
  Columns columns;
  double x1 = -1e300, y1 = -1e300;
  columns.x = columns.y = 1e300;
  for (const Vec3& p : local) {
    columns.x = std::min(columns.x, p.x), columns.y = std::min(columns.y, p.y);
    x1 = std::max(x1, p.x), y1 = std::max(y1, p.y);
  }
  columns.cell = std::max(x1 - columns.x, y1 - columns.y) / kColumns;
  columns.lowest.fill(kNone);
  columns.height.fill(std::numeric_limits<double>::infinity());
  if (!(columns.cell > 0)) columns.cell = 1;
  for (Index v = 0; v < local.size(); ++v) {
    const double height = side * local[v].z;
    if (two_sided && height < 0) continue;
    const int i = std::min(kColumns - 1, static_cast<int>((local[v].x - columns.x) / columns.cell));
    const int j = std::min(kColumns - 1, static_cast<int>((local[v].y - columns.y) / columns.cell));
    const auto at = static_cast<std::size_t>(j) * kColumns + static_cast<std::size_t>(i);
    if (height < columns.height[at]) columns.height[at] = height, columns.lowest[at] = v;
  }
  return columns;
}

const FootprintPoint* nearest_foot(std::span<const FootprintPoint> feet, std::span<const std::int8_t> side,
                                   std::int8_t wanted, const Vec3& p) {
  const FootprintPoint* best = nullptr;
  double nearest = std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < feet.size(); ++i) {
    const double d = squared_length(feet[i].point - p);
    if (side[i] == wanted && d < nearest) nearest = d, best = &feet[i];
  }
  return best;
}

/// The outermost vertices in evenly spread directions, among those nearly as low as the lowest: the lower rim of a
/// button, not the widest part of a bead.
std::vector<Index> outline(const Columns& columns, std::span<const Vec3> local, double reach, int directions) {
  const double low = *std::min_element(columns.height.begin(), columns.height.end());
  std::vector<Index> taken;
  for (int k = 0; k < directions; ++k) {
    const double angle = 2 * std::numbers::pi * k / directions, cx = std::cos(angle), cy = std::sin(angle);
    double farthest = -std::numeric_limits<double>::infinity();
    Index best = kNone;
    for (std::size_t at = 0; at < columns.lowest.size(); ++at) {
      const Index v = columns.lowest[at];
      if (v == kNone || columns.height[at] > low + reach) continue;
      const double along = cx * local[v].x + cy * local[v].y;
      if (along > farthest) farthest = along, best = v;
    }
    if (best != kNone) taken.push_back(best);
  }
  std::sort(taken.begin(), taken.end());
  taken.erase(std::unique(taken.begin(), taken.end()), taken.end());
  return taken;
}

}  // namespace

void add_rim(const TrimShapes& trims, std::size_t trim, const Pose& to_place, std::span<const FootprintPoint> feet,
             std::span<const std::int8_t> side, double reach, std::vector<FootprintPoint>& out) {
  const Index first = trims.vertex_offsets[trim], count = trims.vertex_offsets[trim + 1] - first;
  std::vector<Vec3> local(count);
  for (Index i = 0; i < count; ++i) local[i] = apply(to_place, trims.vertices[first + i]);
  const int directions = trims.role[trim] == Role::Stitching ? 8 : 24;
  const bool both =
      std::find(side.begin(), side.end(), 1) != side.end() && std::find(side.begin(), side.end(), -1) != side.end();
  for (const std::int8_t s : {std::int8_t{1}, std::int8_t{-1}}) {
    if (count == 0 || std::find(side.begin(), side.end(), s) == side.end()) continue;
    for (const Index v : outline(lowest_vertices(local, s, both), local, reach, directions)) {
      FootprintPoint rim = *nearest_foot(feet, side, s, trims.vertices[first + v]);
      rim.point = trims.vertices[first + v];
      rim.weight = 0;
      out.push_back(rim);
    }
  }
}

double sunk_share(const TrimShapes& trims, std::size_t trim, const Pose& to_place,
                  std::span<const FootprintPoint> feet) {
  const Index first = trims.vertex_offsets[trim], count = trims.vertex_offsets[trim + 1] - first;
  if (count == 0 || feet.empty()) return 0;
  std::vector<Vec3> local(count);
  for (Index i = 0; i < count; ++i) local[i] = apply(to_place, trims.vertices[first + i]);
  const std::vector<std::int8_t> side(feet.size(), 1);
  const Columns columns = lowest_vertices(local, 1, false);
  int all = 0, sunk = 0;
  for (const Index v : columns.lowest) {
    if (v == kNone) continue;
    const FootprintPoint& foot = *nearest_foot(feet, side, 1, trims.vertices[first + v]);
    const double cloth = apply(to_place, foot.point).z - foot.side * foot.distance;
    ++all;
    sunk += local[v].z < cloth ? 1 : 0;
  }
  return static_cast<double>(sunk) / all;
}

}  // namespace trimtack
