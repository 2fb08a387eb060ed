// SPDX-License-Identifier: MIT
// The gap is read along the trim's axis, not to the closest point: the stand-off of a disc on a bend is then the
// sagitta R - sqrt(R^2 - d^2/4) of elementary geometry. The patch is brought into the coordinates of the trim at rest,
// where it is a height field and the footprint does not move.
// Strain: Ogden, "Non-linear elastic deformations": C = G^T G, principal stretches = square roots of its eigenvalues.
// The cloth's turn is the polar rotation of its gradient (Higham 1986), so that shear and stretch do not count as turn.
#include "stages/fit/fit_place.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "runtime/frame.hpp"
#include "stages/bind/frame_fit.hpp"
#include "stages/bind/height_at.hpp"
#include "stages/bind/triangle_distance.hpp"

namespace trimtack {
namespace {

constexpr double kDegrees = 180.0 / std::numbers::pi;
/// Height of the cloth for a point that hangs over the patch's border: that of the closest point.
double height_beyond(const FitModel& model, const FitPlace& place, const PlaceScratch& scratch, const Vec3& p) {
  double nearest = std::numeric_limits<double>::infinity(), z = p.z;
  for (Index i = 0; i < place.triangle_count; ++i) {
    const Tri& t = model.triangle[place.first_triangle + i];
    const TrianglePoint q =
        closest_on_triangle(scratch.local[t[0]] - p, scratch.local[t[1]] - p, scratch.local[t[2]] - p);
    if (q.squared_distance < nearest) nearest = q.squared_distance, z = p.z + q.offset.z;
  }
  return z;
}

void patch_normals(const FitModel& model, const FitPlace& place, PlaceScratch& scratch) {
  scratch.normal.assign(place.vertex_count, Vec3{});
  for (Index i = 0; i < place.triangle_count; ++i) {
    const Tri& t = model.triangle[place.first_triangle + i];
    const Vec3 n = cross(scratch.local[t[1]] - scratch.local[t[0]], scratch.local[t[2]] - scratch.local[t[0]]);
    for (const Index v : t) scratch.normal[v] += n;
  }
  for (Vec3& n : scratch.normal) n = normalized(n);
}

}  // namespace

void load_patch(const FitModel& model, const FitPlace& place, std::span<const Vec3> deformed, const Pose& pose,
                PlaceScratch& scratch) {
  const Mat3 turn = place.to_place.rotation * transposed(pose.rotation);
  scratch.local.resize(place.vertex_count);
  for (Index i = 0; i < place.vertex_count; ++i) {
    const Vec3& q = deformed[model.vertex[place.first_vertex + i]];
    scratch.local[i] = turn * (q - pose.translation) + place.to_place.translation;
  }
}

Vec3 measure_gaps(const FitModel& model, const FitPlace& place, PlaceScratch& scratch) {
  const Index n = place.point_count;
  scratch.gap.assign(n, std::numeric_limits<double>::infinity());
  scratch.hit.assign(n, kNone);
  patch_normals(model, place, scratch);
  std::vector<Vec3>& local = scratch.local;
  Vec3 sum, any;
  std::array<double, 3> bary{};
  std::vector<Vec3>& normal_at = scratch.normal_at;
  normal_at.resize(n);
  for (Index i = 0; i < place.triangle_count; ++i) {
    const Tri& t = model.triangle[place.first_triangle + i];
    const Vec3 &a = local[t[0]], &b = local[t[1]], &c = local[t[2]];
    any += cross(b - a, c - a);
    const double area2 = (b.x - a.x) * (c.y - a.y) - (c.x - a.x) * (b.y - a.y);
    if (area2 == 0) continue;
    const double low_x = std::min({a.x, b.x, c.x}), high_x = std::max({a.x, b.x, c.x});
    const double low_y = std::min({a.y, b.y, c.y}), high_y = std::max({a.y, b.y, c.y});
    const std::int8_t facing = area2 > 0 ? 1 : -1;
    if (facing != model.rest_facing[place.first_triangle + i]) continue;  // a wall of thick cloth, or folded over
    for (Index k = 0; k < n; ++k) {
      const Vec3& p = model.point[place.first_point + k];
      if (p.x < low_x || p.x > high_x || p.y < low_y || p.y > high_y) continue;
      if (facing != model.facing[place.first_point + k]) continue;
      if (!hit_triangle(a, b, c, area2, p.x, p.y, bary)) continue;
      const double z = bary[0] * a.z + bary[1] * b.z + bary[2] * c.z;
      const double gap = model.side[place.first_point + k] * (p.z - z);
      if (!(std::abs(gap) < std::abs(scratch.gap[k]))) continue;
      scratch.gap[k] = gap;
      scratch.hit[k] = i;
      normal_at[k] =
          normalized(bary[0] * scratch.normal[t[0]] + bary[1] * scratch.normal[t[1]] + bary[2] * scratch.normal[t[2]]);
    }
  }
  for (Index k = 0; k < n; ++k) {
    const std::size_t at = place.first_point + k;
    if (scratch.hit[k] == kNone) {
      scratch.gap[k] = model.side[at] * (model.point[at].z - height_beyond(model, place, scratch, model.point[at]));
    } else {
      sum += (model.weight[at] * model.facing[at]) * normal_at[k];
    }
  }
  const Vec3 normal = normalized(sum);
  return squared_length(normal) > 0 ? normal : normalized(any);
}

double mean_gap(const FitModel& model, const FitPlace& place, std::span<const double> gap) {
  double standing = 0, sum = 0, all = 0;
  for (Index k = 0; k < place.point_count; ++k) {
    const double weight = model.weight[place.first_point + k];
    all += weight * gap[k];
    if (model.rest_gap[place.first_point + k] <= place.mean_below) standing += weight, sum += weight * gap[k];
  }
  return standing > 0 ? sum / standing : all;
}

GapChange gap_change(const FitModel& model, const FitPlace& place, std::span<const double> gap) {
  GapChange change;
  change.min = std::numeric_limits<double>::infinity();
  change.max = -change.min;
  double least = change.min, most = change.max;
  for (Index k = 0; k < place.point_count; ++k) {
    const double now = gap[k], rest = model.rest_gap[place.first_point + k];
    least = std::min(least, now - rest), most = std::max(most, now - rest);
    change.min = std::min(change.min, now);
    if (rest <= place.lift_below) change.max = std::max(change.max, now);
    if (rest <= place.lift_below && now - rest > change.lift) change.lift = now - rest, change.lift_point = k;
    const double deeper = std::max(0.0, -now) - std::max(0.0, -rest);
    if (deeper > change.sink) change.sink = deeper, change.sink_point = k;
  }
  if (place.point_count == 0) change.min = change.max = most = least = 0;
  change.mean = mean_gap(model, place, gap);
  change.spread = most - least;
  return change;
}

Strain measure_strain(const FitModel& model, const FitPlace& place, double collapse_ratio,
                      const PlaceScratch& scratch) {
  Strain strain;
  double c11 = 0, c12 = 0, c22 = 0, total = 0;
  for (Index i = 0; i < place.under_count; ++i) {
    const FitModel::Under& under = model.under[place.first_under + i];
    const std::size_t at = place.first_triangle + under.triangle;
    const Tri& t = model.triangle[at];
    const Vec3 &a = scratch.local[t[0]], &b = scratch.local[t[1]], &c = scratch.local[t[2]];
    const Vec3 e1 = b - a, e2 = c - a;
    const double facing_area = e1.x * e2.y - e1.y * e2.x;
    const double area = 0.5 * length(cross(e1, e2));
    // Written so that a vertex that is no number counts as collapsed.
    if (!(area >= collapse_ratio * under.rest_area) || facing_area * model.rest_facing[at] < 0) {
      ++strain.collapsed;
      if (strain.first_collapsed == kNone) strain.first_collapsed = model.source_triangle[at];
    }
    if (under.rest_area <= 0 || !std::isfinite(area)) continue;
    const Vec3 g1 = under.to_rest[0] * e1 + under.to_rest[2] * e2;
    const Vec3 g2 = under.to_rest[1] * e1 + under.to_rest[3] * e2;
    c11 += under.weight * dot(g1, g1);
    c12 += under.weight * dot(g1, g2);
    c22 += under.weight * dot(g2, g2);
    total += under.weight;
  }
  if (total <= 0) return strain;
  const double mean = 0.5 * (c11 + c22) / total;
  const double spread = std::hypot(0.5 * (c11 - c22), c12) / total;
  strain.stretch = std::max(0.0, std::sqrt(mean + spread) - 1);
  strain.squeeze = std::max(0.0, 1 - std::sqrt(std::max(0.0, mean - spread)));
  strain.shear_deg = mean > 0 ? kDegrees * std::asin(std::min(1.0, spread / mean)) : 0.0;
  return strain;
}

namespace {

/// The turn of a patch whose slopes are t and b.
bool turn_of(const Vec3& t, const Vec3& b, Mat3& turn) {
  const double along_x[3] = {t.x, t.y, t.z}, along_y[3] = {b.x, b.y, b.z};
  return frame::polar_frame(along_x, along_y, turn.m.data()) == frame::FrameStatus::Good;
}

}  // namespace

bool patch_motion(const FitModel& model, const FitPlace& place, const PlaceScratch& scratch, Mat3& turn, Vec3& move) {
  double x = 0, y = 0;
  Vec3 mean;
  const Index n = place.vertex_count;
  if (n < 3) return false;
  const Vec2* rest = model.rest_xy.data() + place.first_vertex;
  for (Index i = 0; i < n; ++i) {
    x += rest[i].x, y += rest[i].y;
    mean += scratch.local[i];
  }
  x /= n, y /= n;
  mean = (1.0 / n) * mean;
  double mxx = 0, mxy = 0, myy = 0;
  Vec3 sx, sy;
  for (Index i = 0; i < n; ++i) {
    const double dx = rest[i].x - x, dy = rest[i].y - y;
    mxx += dx * dx, mxy += dx * dy, myy += dy * dy;
    sx += dx * scratch.local[i], sy += dy * scratch.local[i];
  }
  const double det = mxx * myy - mxy * mxy;
  if (!(det > 1e-9 * mxx * myy)) return false;
  const Vec3 t = (1 / det) * (myy * sx - mxy * sy), b = (1 / det) * (mxx * sy - mxy * sx);
  move = mean - x * t - y * b;
  return turn_of(t, b, turn);
}

void put_bend_weights(const FitPlace& place, FitModel& model) {
  std::vector<FitPoint> points;
  for (Index i = 0; i < place.vertex_count; ++i) {
    const Vec2& p = model.rest_xy[place.first_vertex + i];
    points.push_back({p.x, p.y, 0});
  }
  std::array<std::vector<double>, 3> weights;
  for (std::vector<double>& w : weights) w.resize(points.size());
  const bool fitted = fit_place(points, weights[0], weights[1], weights[2]);
  for (std::size_t i = 0; i < points.size(); ++i) {
    model.bent.push_back(fitted ? std::array{weights[0][i], weights[1][i], weights[2][i]} : std::array<double, 3>{});
  }
}

bool bent_patch_motion(const FitModel& model, const FitPlace& place, const PlaceScratch& scratch, Mat3& turn,
                       Vec3& move) {
  Vec3 at, t, b;
  for (Index i = 0; i < place.vertex_count; ++i) {
    const std::array<double, 3>& weight = model.bent[place.first_vertex + i];
    at += weight[0] * scratch.local[i], t += weight[1] * scratch.local[i], b += weight[2] * scratch.local[i];
  }
  move = at;
  return turn_of(t, b, turn);
}

Vec3 place_gaps(const FitModel& model, const FitPlace& place, std::span<const Vec3> deformed, const Pose& pose,
                std::span<double> gaps) {
  PlaceScratch scratch;
  load_patch(model, place, deformed, pose, scratch);
  const Vec3 normal = measure_gaps(model, place, scratch);
  std::copy(scratch.gap.begin(), scratch.gap.end(), gaps.begin());
  return normal;
}

}  // namespace trimtack
