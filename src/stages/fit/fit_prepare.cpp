// SPDX-License-Identifier: MIT
// Rest state of every trim's place: coordinates, patch, rest gaps, strain matrices. The patch is grown along the mesh
// (Dijkstra 1959 over edges from the triangles that the footprint faces), so that it never jumps to a layer beneath.
#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <queue>
#include <utility>
#include <vector>

#include "core/square_to.hpp"
#include "stages/bind/box_tree.hpp"
#include "stages/bind/triangle_distance.hpp"
#include "stages/fit/fit_clamp.hpp"
#include "stages/fit/fit_contact.hpp"
#include "stages/fit/fit_passed.hpp"
#include "stages/fit/fit_place.hpp"
#include "stages/fit/fit_rim.hpp"
#include "stages/fit/fit_touch.hpp"
#include "trimtack/fit.hpp"

namespace trimtack {
namespace {

constexpr std::size_t kTrimsPerRange = 1024;  // each range has arrays as long as the cloth
constexpr double kPatchEdges = 2.0;           // how far the patch reaches beyond the footprint, in cloth edges
constexpr double kPatchShare = 0.15;          // ... and in footprint widths; the larger one counts

/// Triangles around each welded vertex.
struct Around {
  std::vector<Index> offsets, triangles;
};

Around triangles_around(const ClothMesh& cloth) {
  Around around;
  const auto& triangles = cloth.triangles.triangles;
  around.offsets.assign(cloth.positions.size() + 1, 0);
  for (const Tri& t : triangles) {
    for (const Index v : t) ++around.offsets[cloth.welded[v] + 1];
  }
  for (std::size_t i = 1; i < around.offsets.size(); ++i) around.offsets[i] += around.offsets[i - 1];
  around.triangles.resize(3 * triangles.size());
  std::vector<Index> next(around.offsets.begin(), around.offsets.end() - 1);
  for (Index i = 0; i < triangles.size(); ++i) {
    for (const Index v : triangles[i]) around.triangles[next[cloth.welded[v]]++] = i;
  }
  return around;
}

/// What one range of places needs, and what it makes; appended in range order afterwards.
struct Worker {
  std::vector<double> distance;       // per cloth vertex (welded number), valid where stamped
  std::vector<Index> stamp, local;    // per cloth vertex
  std::vector<Index> triangle_stamp;  // per cloth triangle
  Index round = 0;
  std::vector<Index> reached, patch;
  PlaceScratch scratch;
};

double edge_length(const ClothMesh& cloth, Index t, int i) {
  const Tri& v = cloth.triangles.triangles[t];
  return length(cloth.positions[v[static_cast<std::size_t>(i)]] -
                cloth.positions[v[static_cast<std::size_t>((i + 1) % 3)]]);
}

double sliver_ratio(const ClothMesh& cloth, Index t) {
  const Tri& v = cloth.triangles.triangles[t];
  const double longest = std::max({edge_length(cloth, t, 0), edge_length(cloth, t, 1), edge_length(cloth, t, 2)});
  const double area2 =
      length(cross(cloth.positions[v[1]] - cloth.positions[v[0]], cloth.positions[v[2]] - cloth.positions[v[0]]));
  return area2 > 1e-6 * longest * longest ? longest * longest / area2 : 1e6;
}

/// Triangles within `reach` along the mesh of the seed triangles, ascending, into worker.patch.
void grow_patch(const ClothMesh& cloth, const Around& around, std::span<const Index> seeds, double reach,
                Worker& worker) {
  ++worker.round;
  worker.reached.clear();
  worker.patch.clear();
  using Entry = std::pair<double, Index>;
  std::priority_queue<Entry, std::vector<Entry>, std::greater<>> queue;
  const auto offer = [&](Index v, double d) {
    if (worker.stamp[v] == worker.round && worker.distance[v] <= d) return;
    if (worker.stamp[v] != worker.round) worker.reached.push_back(v);
    worker.stamp[v] = worker.round;
    worker.distance[v] = d;
    queue.emplace(d, v);
  };
  for (const Index t : seeds) {
    for (const Index v : cloth.triangles.triangles[t]) offer(cloth.welded[v], 0);
  }
  while (!queue.empty()) {
    const auto [d, v] = queue.top();
    queue.pop();
    if (d > worker.distance[v]) continue;
    for (Index k = around.offsets[v]; k < around.offsets[v + 1]; ++k) {
      const Index t = around.triangles[k];
      if (worker.triangle_stamp[t] != worker.round) {
        worker.triangle_stamp[t] = worker.round;
        worker.patch.push_back(t);
      }
      const Tri& corner = cloth.triangles.triangles[t];
      const std::size_t here = cloth.welded[corner[0]] == v ? 0 : (cloth.welded[corner[1]] == v ? 1 : 2);
      for (const Index w : corner) {
        const double to = d + length(cloth.positions[w] - cloth.positions[corner[here]]);
        if (to <= reach) offer(cloth.welded[w], to);
      }
    }
  }
  std::sort(worker.patch.begin(), worker.patch.end());
}

/// Eigenvectors of a symmetric 2x2 matrix: the direction of the larger eigenvalue.
Vec2 larger_axis(double xx, double xy, double yy) {
  const double angle = 0.5 * std::atan2(2 * xy, xx - yy);
  return {std::cos(angle), std::sin(angle)};
}

/// z along the layer's normal away from the cloth, x along the footprint's longer direction, origin in its middle.
/// A part on both faces of the cloth takes the side that weighs more.
Pose place_coordinates(const ClothMesh& cloth, std::span<const FootprintPoint> feet) {
  Vec3 centre, first_side, second_side, reference;
  double total = 0, first_share = 0, heaviest = 0;
  for (const FootprintPoint& f : feet) {
    if (f.weight > heaviest) heaviest = f.weight, reference = f.side * triangle_normal(cloth, f.surface.triangle);
  }
  for (const FootprintPoint& f : feet) {
    centre += f.weight * f.point, total += f.weight;
    const Vec3 away = f.side * triangle_normal(cloth, f.surface.triangle);
    const bool first = dot(away, reference) >= 0;
    (first ? first_side : second_side) += f.weight * away;
    if (first) first_share += f.weight;
  }
  centre = (1 / total) * centre;
  Vec3 z = normalized(2 * first_share >= total ? first_side : second_side);
  if (squared_length(z) == 0) z = {0, 0, 1};
  Vec3 x = -square_to(z);
  Vec3 y = cross(z, x);
  double xx = 0, xy = 0, yy = 0;
  for (const FootprintPoint& f : feet) {
    const double px = dot(x, f.point - centre), py = dot(y, f.point - centre);
    xx += f.weight * px * px, xy += f.weight * px * py, yy += f.weight * py * py;
  }
  const Vec2 axis = larger_axis(xx, xy, yy);
  const Vec3 u = normalized(axis.x * x + axis.y * y);
  const Vec3 v = cross(z, u);
  Pose pose;
  pose.rotation = transposed(from_columns(u, v, z));
  pose.translation = -(pose.rotation * centre);
  return pose;
}

/// The trim's own axis: normal of the plane through its footprint; z where the footprint is too narrow to tell.
Vec3 own_axis(const FitModel& model, const FitPlace& place) {
  double xx = 0, xy = 0, yy = 0, xz = 0, yz = 0;
  for (Index k = 0; k < place.point_count; ++k) {
    const Vec3& p = model.point[place.first_point + k];
    const double w = model.weight[place.first_point + k];
    xx += w * p.x * p.x, xy += w * p.x * p.y, yy += w * p.y * p.y, xz += w * p.x * p.z, yz += w * p.y * p.z;
  }
  const double det = xx * yy - xy * xy;
  if (!(det > 0.02 * xx * xx)) return {0, 0, 1};
  return normalized({-(yy * xz - xy * yz) / det, -(xx * yz - xy * xz) / det, 1});
}

class Preparer {
 public:
  Preparer(const ClothMesh& cloth, const TrimShapes& trims, double one_mm, const FitOptions& options)
      : cloth_(cloth), trims_(trims), options_(options), one_mm_(one_mm), around_(triangles_around(cloth)) {}

  /// Makes places for `count` footprints, in order, and appends them to the model.
  void append(FitModel& model, std::size_t count,
              const std::function<std::span<const FootprintPoint>(std::size_t)>& feet,
              const std::function<std::size_t(std::size_t)>& trim) {
    const std::size_t ranges = (count + kTrimsPerRange - 1) / kTrimsPerRange;
    std::vector<FitModel> piece(ranges);
    for_ranges(options_.executor, count, kTrimsPerRange, [&](std::size_t begin, std::size_t end) {
      Worker worker;
      worker.distance.resize(cloth_.positions.size());
      worker.stamp.assign(cloth_.positions.size(), 0);
      worker.local.resize(cloth_.positions.size());
      worker.triangle_stamp.assign(cloth_.triangles.triangles.size(), 0);
      FitModel& out = piece[begin / kTrimsPerRange];
      out.cloth = &cloth_;
      for (std::size_t i = begin; i < end; ++i) make_place(feet(i), trim(i), worker, out);
    });
    for (const FitModel& part : piece) join(model, part);
  }

 private:
  static void join(FitModel& model, const FitModel& part) {
    for (FitPlace place : part.places) {
      place.first_point += static_cast<Index>(model.point.size());
      place.first_vertex += static_cast<Index>(model.vertex.size());
      place.first_triangle += static_cast<Index>(model.triangle.size());
      place.first_under += static_cast<Index>(model.under.size());
      model.places.push_back(place);
    }
    const auto put = [](auto& to, const auto& from) { to.insert(to.end(), from.begin(), from.end()); };
    put(model.point, part.point), put(model.weight, part.weight), put(model.side, part.side);
    put(model.facing, part.facing), put(model.rest_gap, part.rest_gap), put(model.vertex, part.vertex);
    put(model.rest_xy, part.rest_xy), put(model.bent, part.bent), put(model.triangle, part.triangle);
    put(model.source_triangle, part.source_triangle), put(model.rest_facing, part.rest_facing);
    put(model.under, part.under);
  }

  void make_place(std::span<const FootprintPoint> given, std::size_t trim, Worker& worker, FitModel& out) const {
    FitPlace place;
    place.first_point = static_cast<Index>(out.point.size());
    place.first_vertex = static_cast<Index>(out.vertex.size());
    place.first_triangle = static_cast<Index>(out.triangle.size());
    place.first_under = static_cast<Index>(out.under.size());
    if (!given.empty()) {
      place.to_place = place_coordinates(cloth_, given);
      std::vector<FootprintPoint> feet(given.begin(), given.end());
      std::vector<std::int8_t> side;
      for (const FootprintPoint& f : given) side.push_back(side_of(place, f));
      add_rim(trims_, trim, place.to_place, given, side, standing_off(trim), feet);
      put_points(feet, place, out);
      put_patch(feet, worker, place, out);
      put_bend_weights(place, out);
      put_rest(feet, worker, place, out);
      double lowest = std::numeric_limits<double>::infinity();
      for (Index k = 0; k < place.point_count; ++k) {
        lowest = std::min(lowest, out.rest_gap[place.first_point + k]);
      }
      place.lift_below = lowest + standing_off(trim);
      place.mean_below = std::max(lowest, 0.0) + standing_off(trim);
      place.rest_gap_mean =
          mean_gap(out, place, std::span<const double>(out.rest_gap).subspan(place.first_point, place.point_count));
    }
    out.places.push_back(place);
  }

  /// How much higher than its lowest point a trim's underside still counts as standing on the cloth.
  double standing_off(std::size_t trim) const {
    const Index first = trims_.vertex_offsets[trim], end = trims_.vertex_offsets[trim + 1];
    const Box box = bounds({trims_.vertices.data() + first, end - first});
    return std::max(one_mm_, 0.05 * length(box.max - box.min));
  }

  /// +1 where the triangle faces along z, -1 against.
  std::int8_t facing_of(const FitPlace& place, const FootprintPoint& f) const {
    return (place.to_place.rotation * triangle_normal(cloth_, f.surface.triangle)).z >= 0 ? 1 : -1;
  }
  std::int8_t side_of(const FitPlace& place, const FootprintPoint& f) const {
    return static_cast<std::int8_t>(f.side > 0 ? facing_of(place, f) : -facing_of(place, f));
  }

  void put_points(std::span<const FootprintPoint> feet, FitPlace& place, FitModel& out) const {
    double total = 0;
    for (const FootprintPoint& f : feet) total += f.weight;
    Vec2 low{1e300, 1e300}, high{-1e300, -1e300};
    for (const FootprintPoint& f : feet) {
      const Vec3 p = apply(place.to_place, f.point);
      low = {std::min(low.x, p.x), std::min(low.y, p.y)}, high = {std::max(high.x, p.x), std::max(high.y, p.y)};
      out.point.push_back(p);
      out.weight.push_back(f.weight / total);
      out.facing.push_back(facing_of(place, f));
      out.side.push_back(side_of(place, f));
    }
    place.point_count = static_cast<Index>(feet.size());
    place.width = std::max(high.x - low.x, high.y - low.y);
    place.narrow = std::min(high.x - low.x, high.y - low.y);
  }

  void put_patch(std::span<const FootprintPoint> feet, Worker& worker, FitPlace& place, FitModel& out) const {
    std::vector<Index> seeds;
    for (const FootprintPoint& f : feet) seeds.push_back(f.surface.triangle);
    std::sort(seeds.begin(), seeds.end());
    seeds.erase(std::unique(seeds.begin(), seeds.end()), seeds.end());
    std::vector<double> edges;
    for (const Index t : seeds) {
      for (int i = 0; i < 3; ++i) edges.push_back(edge_length(cloth_, t, i));
    }
    std::nth_element(edges.begin(), edges.begin() + static_cast<std::ptrdiff_t>(edges.size() / 2), edges.end());
    place.edge = edges[edges.size() / 2];
    grow_patch(cloth_, around_, seeds, std::max(kPatchEdges * place.edge, kPatchShare * place.width), worker);
    ++worker.round;
    for (const Index t : worker.patch) {
      Tri local{};
      for (std::size_t i = 0; i < 3; ++i) {
        const Index v = cloth_.triangles.triangles[t][i];
        if (worker.stamp[v] != worker.round) {
          worker.stamp[v] = worker.round;
          worker.local[v] = static_cast<Index>(out.vertex.size()) - place.first_vertex;
          const Vec3 p = apply(place.to_place, cloth_.positions[v]);
          out.vertex.push_back(v);
          out.rest_xy.push_back({p.x, p.y});
        }
        local[i] = worker.local[v];
      }
      const double along = (place.to_place.rotation * triangle_normal(cloth_, t)).z;
      out.triangle.push_back(local);
      out.source_triangle.push_back(t);
      out.rest_facing.push_back(static_cast<std::int8_t>(along > 0.1 ? 1 : (along < -0.1 ? -1 : 0)));
    }
    place.vertex_count = static_cast<Index>(out.vertex.size()) - place.first_vertex;
    place.triangle_count = static_cast<Index>(worker.patch.size());
  }

  /// Rest gaps, the triangles under the footprint and their strain matrices.
  void put_rest(std::span<const FootprintPoint> feet, Worker& worker, FitPlace& place, FitModel& out) const {
    load_patch(out, place, cloth_.positions, Pose{}, worker.scratch);
    place.rest_normal = measure_gaps(out, place, worker.scratch);
    for (Index k = 0; k < place.point_count; ++k) {
      out.rest_gap.push_back(worker.scratch.gap[k]);
    }
    place.axis = own_axis(out, place);
    std::vector<double> share(place.triangle_count, 0);
    for (Index k = 0; k < place.point_count; ++k) {
      Index t = worker.scratch.hit[k];
      if (t == kNone) {
        const auto first = out.source_triangle.begin() + place.first_triangle;
        t = static_cast<Index>(std::lower_bound(first, out.source_triangle.end(), feet[k].surface.triangle) - first);
      }
      share[t] += out.weight[place.first_point + k];
    }
    for (Index t = 0; t < place.triangle_count; ++t) {
      if (share[t] > 0) out.under.push_back(strain_matrix(out, place, t, share[t], worker.scratch.local));
    }
    place.under_count = static_cast<Index>(out.under.size()) - place.first_under;
  }

  static FitModel::Under strain_matrix(const FitModel& out, const FitPlace& place, Index t, double share,
                                       std::span<const Vec3> local) {
    FitModel::Under under;
    under.triangle = t;
    under.weight = share;
    const Tri& v = out.triangle[place.first_triangle + t];
    const Vec3 e1 = local[v[1]] - local[v[0]], e2 = local[v[2]] - local[v[0]];
    const Vec3 n = normalized(cross(e1, e2));
    const Vec3 helper = std::abs(n.x) < 0.9 ? Vec3{1, 0, 0} : Vec3{0, 1, 0};
    const Vec3 t1 = normalized(helper - dot(helper, n) * n), t2 = cross(n, t1);
    const double a = dot(t1, e1), b = dot(t1, e2), c = dot(t2, e1), d = dot(t2, e2), det = a * d - b * c;
    const double longest = std::max({squared_length(e1), squared_length(e2), squared_length(e2 - e1)});
    // A triangle without area has no gradient; it counts as a sliver, not as strain.
    if (std::abs(det) > 1e-9 * longest) {
      under.to_rest = {d / det, -b / det, -c / det, a / det};
      under.rest_area = 0.5 * std::abs(det);
    }
    return under;
  }

  const ClothMesh& cloth_;
  const TrimShapes& trims_;
  const FitOptions& options_;
  double one_mm_;
  Around around_;
};

/// Distance of a triangle from the origin in x and y.
double distance_from_axis(const Vec3& a, const Vec3& b, const Vec3& c) {
  const auto flat = [](const Vec3& p) { return Vec3{p.x, p.y, 0}; };
  return std::sqrt(closest_on_triangle(flat(a), flat(b), flat(c)).squared_distance);
}

/// The thinnest triangle under the inner circle of the footprint.
double worst_sliver(const FitModel& model, const FitPlace& place) {
  const ClothMesh& cloth = *model.cloth;
  double worst = 0;
  for (Index i = 0; i < place.triangle_count; ++i) {
    const Index t = model.source_triangle[place.first_triangle + i];
    std::array<Vec3, 3> v;
    for (std::size_t k = 0; k < 3; ++k) {
      v[k] = apply(place.to_place, cloth.positions[cloth.triangles.triangles[t][k]]);
    }
    if (distance_from_axis(v[0], v[1], v[2]) <= 0.4 * place.narrow) worst = std::max(worst, sliver_ratio(cloth, t));
  }
  return worst;
}

/// Table order of the next trim of each row.
std::vector<Index> row_successors(const TrimShapes& trims, std::span<const Row> rows) {
  std::vector<Index> next(trims.id.size(), kNone);
  std::vector<std::pair<Index, Index>> by_id;
  for (Index i = 0; i < trims.id.size(); ++i) by_id.emplace_back(trims.id[i], i);
  std::sort(by_id.begin(), by_id.end());
  const auto find = [&](Index id) {
    const auto at = std::lower_bound(by_id.begin(), by_id.end(), std::pair<Index, Index>{id, 0});
    return at != by_id.end() && at->first == id ? at->second : kNone;
  };
  for (const Row& row : rows) {
    for (std::size_t i = 0; i + 1 < row.trims.size(); ++i) {
      const Index a = find(row.trims[i]), b = find(row.trims[i + 1]);
      if (a != kNone) next[a] = b;
    }
  }
  return next;
}

/// Triangle of the cloth that carries a binding, kNone when the binding has no place on it.
Index anchor_triangle(const ClothMesh& cloth, const Binding& binding) {
  const auto& face = cloth.triangles.face;
  Tri want = binding.anchor_triangle;
  std::sort(want.begin(), want.end());
  for (auto at = std::lower_bound(face.begin(), face.end(), binding.anchor_face);
       at != face.end() && *at == binding.anchor_face; ++at) {
    const auto i = static_cast<Index>(at - face.begin());
    Tri have = cloth.triangles.triangles[i];
    std::sort(have.begin(), have.end());
    if (have == want) return i;
  }
  return kNone;
}

/// The footprint as measured: that of the solver, or the anchor alone where there is none.
Footprints with_anchors(const ClothMesh& cloth, const BindTable& table, const Footprints& feet) {
  Footprints out;
  for (std::size_t t = 0; t < table.bindings.size(); ++t) {
    for (Index i = feet.offsets[t]; i < feet.offsets[t + 1]; ++i) {
      if (feet.points[i].surface.triangle != kNone && feet.points[i].weight > 0) out.points.push_back(feet.points[i]);
    }
    const Index anchor = anchor_triangle(cloth, table.bindings[t]);
    if (out.points.size() == out.offsets.back() && anchor != kNone) {
      Vec3 p;
      const Tri& v = cloth.triangles.triangles[anchor];
      for (std::size_t i = 0; i < 3; ++i) p += (1.0 / 3) * cloth.positions[v[i]];
      FootprintPoint foot;
      foot.point = p;
      foot.weight = 1;
      foot.surface.triangle = anchor;
      out.points.push_back(foot);
    }
    out.offsets.push_back(static_cast<Index>(out.points.size()));
  }
  return out;
}

/// How deep a trim is through its own layer, with most of itself, to lie on the next; 0 where that is no fault: a shank
/// or a prong that pokes through, what is crimped on (an element or a stop lies across its tape, and has the cloth
/// under the tape in it, too).
double depth_through(const FitModel& model, std::size_t t, const Touched& on, std::span<const FootprintPoint> feet) {
  constexpr double kCrimpedMm = 6;   // stops and nubs; narrower than any button that is sewn on
  constexpr double kSunkToo = -0.2;  // of the depth: so far in the next one it does not lie on that either
  const FitPlace& place = model.places[t];
  const double depth = -place.rest_gap_mean;
  if (on.component == kNone || depth <= 0 || on.gap < kSunkToo * depth) return 0;
  if (place.narrow * model.mm_per_unit < kCrimpedMm) return 0;
  if (keeps_to_one_sheet(*model.trims, t)) return 0;
  return sunk_share(*model.trims, t, place.to_place, feet) > 0.5 ? depth : 0;
}

void find_touched(FitModel& model, Preparer& preparer, const Footprints& feet, const Executor& executor) {
  const std::size_t count = feet.offsets.size() - 1;
  std::vector<Touched> on(count);
  for_ranges(executor, count, 64, [&](std::size_t begin, std::size_t end) {
    std::vector<Index> stack, found;
    for (std::size_t t = begin; t < end; ++t) {
      FitPlace& place = model.places[t];
      if (place.point_count == 0 || model.trims->role[t] != Role::Trim) continue;
      const std::span<const FootprintPoint> own{feet.points.data() + feet.offsets[t],
                                                feet.points.data() + feet.offsets[t + 1]};
      on[t] = touched_layer(model, place, own, stack, found);
      place.touched = on[t].component;
      place.sunk_through = depth_through(model, t, on[t], own);
    }
  });
  std::vector<std::size_t> with;
  for (std::size_t t = 0; t < count; ++t) {
    if (on[t].component == kNone) continue;
    model.places[t].touched_place = static_cast<Index>(count + with.size());
    with.push_back(t);
  }
  preparer.append(
      model, with.size(), [&](std::size_t i) { return std::span<const FootprintPoint>{on[with[i]].feet}; },
      [&](std::size_t i) { return with[i]; });
}

}  // namespace

FitModel prepare_fit(const ClothMesh& cloth, const TrimShapes& trims, const BindTable& table, const Footprints& feet,
                     std::span<const Row> rows, const FitOptions& options) {
  FitModel model;
  const Footprints measured = with_anchors(cloth, table, feet);
  Preparer preparer(cloth, trims, 1 / table.unit.mm_per_unit, options);
  preparer.append(
      model, table.bindings.size(),
      [&](std::size_t t) {
        return std::span<const FootprintPoint>{measured.points.data() + measured.offsets[t],
                                               measured.points.data() + measured.offsets[t + 1]};
      },
      [](std::size_t t) { return t; });
  model.cloth = &cloth, model.trims = &trims, model.table = &table;
  model.mm_per_unit = table.unit.mm_per_unit;
  model.next_in_row = row_successors(trims, rows);
  model.tree = std::make_shared<BoxTree>(build_box_tree(cloth.positions, cloth.triangles.triangles));
  for (std::size_t t = 0; t < table.bindings.size(); ++t) {
    FitPlace& place = model.places[t];
    const Index anchor = anchor_triangle(cloth, table.bindings[t]);
    place.layer = table.bindings[t].layer;
    place.sliver = std::max(worst_sliver(model, place), anchor == kNone ? 0 : sliver_ratio(cloth, anchor));
  }
  find_touched(model, preparer, measured, options.executor);
  find_clamps(model, options.executor);
  find_watched(model, options.executor);
  find_within(model, options.executor);
  return model;
}

}  // namespace trimtack
