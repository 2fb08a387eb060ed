// SPDX-License-Identifier: MIT
// Cloth under a trim is cut into sheets (connected, without folds); the sheet that touches most of the trim, on the
// side that the trim's bulk is on, carries it. Nothing here depends on the order of faces.
#include "stages/bind/layer.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <limits>

#include "core/memory.hpp"
#include "stages/bind/triangle_distance.hpp"

namespace trimtack {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();
// A sheet ends where the cloth has turned by 72 degrees from where it was entered, or by 60 from face to face.
constexpr double kSheetNormals = 0.3, kNeighbourNormals = 0.5;
// Only this many sheets are compared for one trim; the rest touch it least.
constexpr std::size_t kMostSheets = 6;
// Another sheet is a rival from this share of the winner's contact.
constexpr double kRivalContact = 0.3;
// A trim on the back of a cloth is possible but rarer: contact there counts a little less.
constexpr double kBackSide = 0.85;
// Two panels are bridged when both are the nearest cloth for this share of the trim, they overlap less than this, and
// the one has nearly as much of the trim over it as the other: a zipper element that reaches over the tape across
// stays with its own.
constexpr double kBridgeShare = 0.15, kBridgeOverlap = 0.3, kBridgeBalance = 0.6;

// Two-sided: of what is level to the cloth this share looks at it from either side. A half may be let into the cloth by
// so much of the trim's size, at most a millimetre: cloth is meshed coarsely, and what clamps it presses it.
constexpr double kTwoSided = 0.12, kLetIn = 0.05, kMostLetInMm = 1;
// Surfaces that turn less than this (cosine) towards the cloth are walls and face nothing.
constexpr double kWall = 0.4;
// Points fainter than exp(-7), a thousandth, are left out of the footprint.
constexpr double kTooFarOff = 7;
// Columns are shifted off a symmetric trim's planes, so that rounding does not decide which column a point is in.
constexpr double kColumnShift = 0.437;

bool lexicographic_less(const Vec3& p, const Vec3& q) {
  if (p.x != q.x) return p.x < q.x;
  if (p.y != q.y) return p.y < q.y;
  return p.z < q.z;
}

/// Rather along the normal from one another than beside: layers, not panels that meet.
bool one_behind_the_other(const Vec3& p, const Vec3& q, const Vec3& normal) {
  const double along = dot(q - p, normal);
  return 2 * along * along >= squared_length(q - p);
}

/// What of a trim lies level on one side of its cloth. Heights count towards that side.
struct Half {
  double looks = 0;                           ///< at the cloth
  double away = 0;                            ///< from it
  double let_in = 0, sunk = 0, looks_at = 0;  ///< looks at the cloth from just within; moments of heights of both

  void add(double height, double facing, double weight, double slack) {
    const double looking = weight * std::abs(facing);
    if (facing < -0.5 && height > 0) looks += looking, looks_at += looking * height;
    if (facing > 0.5 && height > 0) away += looking;
    if (is_let_in(height, facing, slack)) let_in += looking, sunk += looking * height;
  }
  static bool is_let_in(double height, double facing, double slack) {
    return facing < -0.5 && height <= 0 && height > -slack;
  }
  /// Whether this half is let into cloth that the other half looks at, and lies on its own side of the other's surface.
  bool is_let_in_against(const Half& other, double least) const {
    return other.looks > least && looks + let_in > least && let_in > 0 && away > least &&
           sunk / let_in + other.looks_at / other.looks > 0;
  }
};

/// Mean height over the cloth of what comes as near as `below`. A large dome weighs more than the thin loop that it
/// stands on, for all its height: it is left out.
double mean_gap(std::span<const FootprintPoint> footprint, double below) {
  double standing = 0, sum = 0, all = 0;
  for (const FootprintPoint& p : footprint) {
    const double height = p.side * p.distance;
    all += p.weight * height;
    if (height <= below) standing += p.weight, sum += p.weight * height;
  }
  return standing > 0 ? sum / standing : all;
}

}  // namespace

Vec3 smooth_normal(const ClothTopology& topology, const Surface& surface) {
  const ClothMesh& cloth = *topology.cloth;
  const Vec3 flat = topology.face_normal[cloth.triangles.face[surface.triangle]];
  const Tri& corners = cloth.triangles.triangles[surface.triangle];
  Vec3 sum;
  for (std::size_t k = 0; k < 3; ++k) {
    const Vec3 n = topology.vertex_normal[topology.welded(corners[k])];
    sum += surface.bary[k] * (dot(n, flat) < 0 ? -n : n);
  }
  const Vec3 smooth = normalized(sum);
  return dot(smooth, flat) > 0.5 || flat == Vec3{} ? smooth : flat;
}

Ground ground_under(const Standing& standing, const ClothTopology& topology) {
  Ground ground;
  for (const FootprintPoint& p : standing.footprint) {
    const Index face = topology.cloth->triangles.face[p.surface.triangle];
    ground.normal += p.weight * p.side * topology.face_normal[face];
    ground.foot += p.weight * p.surface.point;
  }
  ground.normal = normalized(ground.normal);
  return ground;
}

LayerFinder::LayerFinder(const ClothIndex& index, const ClothTopology& topology, double mm_per_unit)
    : index_(&index),
      topology_(&topology),
      mm_(1 / mm_per_unit),
      cloth_box_(bounds(topology.cloth->positions)),
      local_(filled_large<std::uint8_t>(topology.face_normal.size(), 0)),
      exhausted_(filled_large<Index>(topology.welded_count, 0)) {}

/// Marks the faces near a box; with a component, only its faces. @return whether there are any.
bool LayerFinder::collect_local(const Box& box, double reach, Index component) {
  for (const Index f : local_faces_) local_[f] = 0;
  local_faces_.clear();
  const Vec3 r{reach, reach, reach};
  index_->triangles_near({box.min - r, box.max + r}, triangles_);
  const ClothMesh& cloth = *topology_->cloth;
  for (const Index t : triangles_) {
    const Index f = cloth.triangles.face[t];
    if (local_[f] != 0 || (component != kNone && cloth.component_of_face[f] != component)) continue;
    local_[f] = 1;
    local_faces_.push_back(f);
  }
  left_ = local_faces_.size();
  return !local_faces_.empty();
}

/// Fills a sheet with the near faces that hang together with the seed without a fold between.
void LayerFinder::flood(Index seed, Sheet& sheet) {
  const ClothMesh& cloth = *topology_->cloth;
  sheet.seed = seed;
  sheet.normal = topology_->face_normal[seed];
  std::vector<Index>& faces = sheet.faces;
  faces.assign(1, seed);
  local_[seed] = 2;
  --left_;
  ++floods_;
  for (std::size_t i = 0; i < faces.size() && left_ > 0; ++i) {
    const Vec3& normal = topology_->face_normal[faces[i]];
    for (const Index v : topology_->face(faces[i])) {
      const Index w = topology_->welded(v);
      if (exhausted_[w] == floods_) continue;
      bool left = false;
      for (const Index g : topology_->ring(w)) {
        if (local_[g] != 1) continue;
        const Vec3& other = topology_->face_normal[g];
        const bool flat = other == Vec3{} || normal == Vec3{} ||
                          (dot(other, normal) > kNeighbourNormals && dot(other, sheet.normal) > kSheetNormals);
        if (!flat || cloth.component_of_face[g] != cloth.component_of_face[seed]) {
          left = true;
          continue;
        }
        local_[g] = 2;
        --left_;
        faces.push_back(g);
      }
      if (!left) exhausted_[w] = floods_;
    }
  }
}

/// Starts a sheet at a near face, unless one has it already.
void LayerFinder::add_sheet(Index face) {
  if (local_[face] != 1) return;
  if (spare_.empty()) {
    sheets_.emplace_back();
  } else {
    sheets_.push_back(std::move(spare_.back()));
    spare_.pop_back();
  }
  Sheet& sheet = sheets_.back();
  sheet.contact = sheet.cover = sheet.nearest = sheet.mean_height = 0;
  flood(face, sheet);
}

void LayerFinder::find_sheets(const LayerWish& wish) {
  const ClothMesh& cloth = *topology_->cloth;
  std::move(sheets_.begin(), sheets_.end(), std::back_inserter(spare_));
  sheets_.clear();
  if (wish.face != kNone) add_sheet(wish.face);
  // Seeds in the order of their distance from the trim; equal ones by position.
  const auto nearer = [&](std::size_t i, std::size_t j) {
    if (nearest_[i].distance != nearest_[j].distance) return nearest_[i].distance < nearest_[j].distance;
    if (lexicographic_less(nearest_[i].point, nearest_[j].point)) return true;
    if (lexicographic_less(nearest_[j].point, nearest_[i].point)) return false;
    return i < j;
  };
  order_.clear();
  for (std::size_t i = 0; i < nearest_.size(); ++i)
    if (nearest_[i].triangle != kNone) order_.push_back(i);
  // Most often all samples are over the sheet of the nearest one, and the order of the others does not matter.
  const auto face_of = [&](std::size_t i) { return cloth.triangles.face[nearest_[i].triangle]; };
  if (!order_.empty()) add_sheet(face_of(*std::min_element(order_.begin(), order_.end(), nearer)));
  if (std::any_of(order_.begin(), order_.end(), [&](std::size_t i) { return local_[face_of(i)] == 1; })) {
    std::sort(order_.begin(), order_.end(), nearer);
    for (const std::size_t i : order_) add_sheet(face_of(i));
  }
  if (wish.component == kNone) return;
  std::sort(local_faces_.begin(), local_faces_.end());
  for (const Index f : local_faces_) add_sheet(f);
}

Surface LayerFinder::closest_on(const Sheet& sheet, const Vec3& p) const {
  const ClothMesh& cloth = *topology_->cloth;
  Surface best;
  if (sheets_.size() == 1) {  // what is nearest of all and on the only sheet is nearest on it
    index_->closest_points({&p, 1}, kInfinity, {&best, 1});
    if (best.triangle != kNone && local_[cloth.triangles.face[best.triangle]] == 2) return best;
    best = {};
  }
  double squared = kInfinity, facing = 0;
  for (const Index f : sheet.faces)
    for (Index t = topology_->triangles_of_face[f]; t < topology_->triangles_of_face[f + 1]; ++t) {
      const Tri& c = cloth.triangles.triangles[t];
      const TrianglePoint hit =
          closest_on_triangle(cloth.positions[c[0]] - p, cloth.positions[c[1]] - p, cloth.positions[c[2]] - p);
      if (hit.squared_distance > squared) continue;
      const double squarely = std::abs(dot(topology_->face_normal[f], hit.offset));
      if (hit.squared_distance == squared && (squarely < facing || (squarely == facing && t > best.triangle))) continue;
      squared = hit.squared_distance;
      facing = squarely;
      best = {t, hit.bary, p + hit.offset, 0};
    }
  best.distance = std::sqrt(squared);
  return best;
}

/// Measures how a sheet meets the trim; how it compares with others only where there are any. @pre views hold the
/// surfaces.
void LayerFinder::look(std::span<const TrimSample> samples, double size, Sheet& sheet) const {
  const double scale = std::clamp(0.08 * size, 0.4 * mm_, 1.5 * mm_);
  const bool alone = sheets_.size() == 1;
  for (std::size_t i = 0; i < samples.size(); ++i) {
    View& view = sheet.views[i];
    const Vec3 away = samples[i].point - view.surface.point;
    view.normal = smooth_normal(*topology_, view.surface);
    view.height = dot(away, view.normal);
    if (alone) continue;
    const double aside = length(away - view.height * view.normal);
    view.covered = aside <= 0.6 * view.surface.distance + 0.02 * size;
    view.over = aside <= 0.3 * view.surface.distance + 0.02 * size;
    const double ratio = view.surface.distance / scale;
    sheet.contact += samples[i].weight * (view.covered ? 1.0 : 0.25) / (1 + ratio * ratio);
    sheet.cover += view.covered ? samples[i].weight : 0;
    sheet.mean_height += samples[i].weight * view.height;
    if (view.surface.distance <= nearest_[i].distance) sheet.nearest += samples[i].weight;
  }
}

std::size_t LayerFinder::pick(const Vec3& centroid, const LayerWish& wish) const {
  if (wish.face != kNone || sheets_.size() == 1) return 0;
  const auto score = [&](const Sheet& s) { return s.contact * (s.mean_height >= 0 ? 1.0 : kBackSide); };
  std::size_t best = 0;
  for (std::size_t i = 1; i < sheets_.size(); ++i)
    if (score(sheets_[i]) > score(sheets_[best]) * (1 + 1e-9)) best = i;
  // A trim that is sunk through a layer into the next still belongs to the one it comes out of.
  for (std::size_t step = 0; step < sheets_.size(); ++step) {
    const Vec3 from = closest_on(sheets_[best], centroid).point;
    const Vec3 way = centroid - from;
    std::size_t next = best;
    for (std::size_t i = 0; i < sheets_.size(); ++i) {
      const Sheet& other = sheets_[i];
      if (i == best || other.contact < kRivalContact * sheets_[best].contact ||
          other.cover < 0.5 * sheets_[best].cover || std::abs(dot(other.normal, sheets_[best].normal)) < 0.5)
        continue;
      const Vec3 there = closest_on(other, centroid).point;
      if (dot(there - from, way) > 0 && dot(there - centroid, way) < 0 &&
          length(there - centroid) < (1 - 1e-9) * length(way) &&
          (next == best || length(there - centroid) < length(closest_on(sheets_[next], centroid).point - centroid)))
        next = i;
    }
    if (next == best) break;
    best = next;
  }
  return best;
}

/// The sheets that carry the trim together: the chosen one and those beside it (two tapes, two panels).
std::vector<std::size_t> LayerFinder::bridged(std::span<const TrimSample> samples, std::size_t chosen,
                                              double size) const {
  std::vector<std::size_t> out{chosen};
  const Sheet& first = sheets_[chosen];
  for (std::size_t i = 0; i < sheets_.size(); ++i) {
    const Sheet& other = sheets_[i];
    if (i == chosen || other.nearest < kBridgeShare || first.nearest < kBridgeShare) continue;
    if (std::abs(dot(other.normal, first.normal)) < 0.5) continue;
    double both = 0, own_height = 0, own = 0, first_height = 0, first_own = 0;
    for (std::size_t k = 0; k < samples.size(); ++k) {
      const View &p = first.views[k], &q = other.views[k];
      const double w = samples[k].weight;
      if (p.over && q.over && one_behind_the_other(p.surface.point, q.surface.point, p.normal)) both += w;
      if (q.over && !p.over) own += w, own_height += w * std::abs(q.height);
      if (p.over && !q.over) first_own += w, first_height += w * std::abs(p.height);
    }
    if (own < kBridgeShare || first_own < kBridgeShare) continue;
    if (std::min(own, first_own) < kBridgeBalance * std::max(own, first_own)) continue;
    if (both > kBridgeOverlap * (both + std::min(own, first_own))) continue;
    if (std::abs(own_height / own - first_height / first_own) > 0.25 * size) continue;
    out.push_back(i);
  }
  return out;
}

const Standing& LayerFinder::find(const TrimSampler& shape, const LayerWish& wish) {
  const std::span<const TrimSample> samples = shape.samples();
  Standing& out = standing_;
  out.feet.clear();
  out.footprint.clear();
  out.layer = out.runner_up = kNone;
  out.gap = 0;
  out.two_sided = out.same_cloth_contest = out.layer_missing = false;
  if (samples.empty()) return out;
  const ClothMesh& cloth = *topology_->cloth;
  queries_.clear();
  for (const TrimSample& s : samples) queries_.push_back(s.point);
  nearest_.resize(queries_.size());
  index_->closest_points(queries_, kInfinity, nearest_);
  double least = kInfinity;
  for (const Surface& s : nearest_) least = std::min(least, s.triangle == kNone ? kInfinity : s.distance);
  if (!std::isfinite(least)) return out;
  double reach = least + std::max(3 * mm_, 0.15 * shape.size());
  bool found = collect_local(shape.box(), reach, wish.component);
  const double farthest = length(cloth_box_.max - cloth_box_.min) + length(shape.centroid() - cloth_box_.min);
  while (!found && reach < farthest) {
    reach *= 2;
    found = collect_local(shape.box(), reach, wish.component);
  }
  if (!found) {  // the wished component is no cloth
    out.layer_missing = true;
    return out;
  }
  if (wish.face != kNone && local_[wish.face] == 0) {
    local_[wish.face] = 1;
    local_faces_.push_back(wish.face);
    ++left_;
  }
  find_sheets(wish);
  if (sheets_.size() > kMostSheets) sheets_.resize(kMostSheets);
  for (Sheet& sheet : sheets_) {
    sheet.views.resize(samples.size());
    for (std::size_t i = 0; i < samples.size(); ++i)
      sheet.views[i].surface = sheets_.size() == 1 && wish.component == kNone && wish.face == kNone
                                   ? nearest_[i]
                                   : closest_on(sheet, samples[i].point);
    look(samples, shape.size(), sheet);
  }
  const std::size_t chosen = pick(shape.centroid(), wish);
  const std::vector<std::size_t> carriers =
      wish.one_sheet ? std::vector<std::size_t>{chosen} : bridged(samples, chosen, shape.size());
  out.layer = cloth.component_of_face[sheets_[chosen].seed];
  double rival = kRivalContact * sheets_[chosen].contact;
  for (std::size_t i = 0; i < sheets_.size(); ++i) {
    if (std::find(carriers.begin(), carriers.end(), i) != carriers.end() || sheets_[i].contact < rival) continue;
    rival = sheets_[i].contact;
    out.runner_up = cloth.component_of_face[sheets_[i].seed];
  }
  make_footprint(samples, carriers, shape, out);
  make_feet(carriers, shape.size(), out);
  if (out.runner_up == kNone) out.runner_up = layer_beneath(out);
  out.same_cloth_contest = out.runner_up == out.layer && out.layer != kNone;
  return out;
}

/// How every sample is seen from the carriers: fills facing_, tells whether the trim clamps its cloth, and which way
/// the cloth under it looks.
Vec3 LayerFinder::look_from(std::span<const TrimSample> samples, std::span<const std::size_t> carriers, double size,
                            Standing& out) {
  const Sheet& main = sheets_[carriers.front()];
  Vec3 mean;
  double level = 0, height = 0;
  const double slack = std::min(kLetIn * size, kMostLetInMm * mm_);
  Half front, back;
  facing_.clear();
  for (std::size_t i = 0; i < samples.size(); ++i) {
    const View* view = &main.views[i];
    for (const std::size_t k : carriers)
      if (sheets_[k].views[i].surface.distance < view->surface.distance) view = &sheets_[k].views[i];
    const double facing = samples[i].normal == Vec3{} ? 1 : dot(samples[i].normal, view->normal);
    facing_.push_back({view, 1, facing, 0});
    mean += samples[i].weight * (dot(view->normal, main.normal) < 0 ? -view->normal : view->normal);
    height += samples[i].weight * view->height;
    level += samples[i].weight * std::abs(facing);
    front.add(view->height, facing, samples[i].weight, slack);
    back.add(-view->height, -facing, samples[i].weight, slack);
  }
  const double least = kTwoSided * level;
  const bool strictly = std::min(front.looks, back.looks) > least;
  const bool front_let_in = !strictly && front.is_let_in_against(back, least);
  const bool back_let_in = !strictly && !front_let_in && back.is_let_in_against(front, least);
  out.two_sided = strictly || front_let_in || back_let_in;
  for (Facing& f : facing_) {
    const double own = f.view->height;
    if (front_let_in && Half::is_let_in(own, f.facing, slack))
      f.side = 1;
    else if (back_let_in && Half::is_let_in(-own, -f.facing, slack))
      f.side = -1;
    else
      f.side = (out.two_sided ? own : height) >= 0 ? 1 : -1;
    // The halves of a two-sided part look at the cloth; what looks away from it is their outside.
    const double towards = -f.side * f.facing;
    f.looks = towards > 0;
    f.facing = out.two_sided ? towards : std::abs(towards);
  }
  mean = normalized(mean);
  if (mean == Vec3{}) mean = main.normal == Vec3{} ? Vec3{0, 0, 1} : main.normal;
  return mean;
}

/// Keeps what faces the cloth, weighted by area and by how near it comes: what has nothing beneath it in its column
/// along the layer's normal, and what looks at the cloth little above a lower foot. For the middle all counts that
/// looks at it: columns lie askew, and a button whose threads reach into the cloth would else stand beside its middle.
void LayerFinder::make_footprint(std::span<const TrimSample> samples, std::span<const std::size_t> carriers,
                                 const TrimSampler& shape, Standing& out) {
  const double size = shape.size();
  const Vec3 mean = look_from(samples, carriers, size, out);
  const Vec3 axis = std::abs(mean.x) < 0.6 ? Vec3{1, 0, 0} : Vec3{0, 1, 0};
  const Vec3 u = normalized(axis - dot(axis, mean) * mean), v = cross(mean, u);
  // Wider than a sample cell, so that no column misses the underside: at most 5 off the first sample's.
  const double width = std::max(size / 4.5, 4.0 / 3 * shape.cell());
  constexpr std::size_t kSpan = 13;
  const auto step = [&](double along) {
    const double at = width > 0 ? along / width : 0;  // a trim may be a point
    return static_cast<std::size_t>(std::clamp(std::floor(at + kColumnShift) + 6, 0.0, kSpan - 1.0));
  };
  std::array<double, 2 * kSpan * kSpan> lowest_in;
  lowest_in.fill(kInfinity);
  double most_facing = 0;
  for (std::size_t i = 0; i < samples.size(); ++i) {
    const Vec3 from = samples[i].point - samples[0].point;
    facing_[i].column = (step(dot(from, u)) * kSpan + step(dot(from, v))) * 2 + (facing_[i].side > 0 ? 1 : 0);
    most_facing = std::max(most_facing, facing_[i].facing);
  }
  const double least_facing = std::min(kWall, most_facing);
  for (const Facing& f : facing_)
    if (f.facing >= least_facing) lowest_in[f.column] = std::min(lowest_in[f.column], f.above());
  double lowest = kInfinity;
  const double stands_off = std::max(mm_, size / 20);  // beyond that by design: a shank button's body
  for (Facing& f : facing_) {
    const double off = f.above() - lowest_in[f.column];
    if (f.facing < least_facing) continue;
    f.kept = off <= (f.looks ? stands_off : 0.02 * size);
    f.in_middle = f.kept || f.looks;
    lowest = std::min(lowest, f.above());
  }
  // Points half a millimetre (or 3 % of the trim) further off than the nearest weigh a third: the foot of a shank, not
  // the underside of its button, says where it stands.
  const double fade = std::max(0.5 * mm_, 0.03 * size);
  double total = 0, middle_total = 0;
  middle_ = {};
  const auto add = [&](std::size_t i, double weight, bool kept) {
    const Facing& f = facing_[i];
    middle_ += weight * ((carriers.size() > 1 ? samples[i].point : f.view->surface.point) - samples[0].point);
    middle_total += weight;
    if (!kept) return;
    total += weight;
    out.footprint.push_back({samples[i].point, weight, f.view->surface, f.view->height, f.side});
  };
  for (std::size_t i = 0; i < samples.size(); ++i) {
    const double off = (facing_[i].above() - lowest) / fade;
    if (!facing_[i].in_middle || off > kTooFarOff) continue;
    add(i, samples[i].weight * facing_[i].facing * std::exp(-off), facing_[i].kept);
  }
  if (!(total > 0)) {  // walls only, or nothing that looks at the cloth: all of it
    out.footprint.clear();
    total = middle_total = 0;
    middle_ = {};
    for (std::size_t i = 0; i < samples.size(); ++i) add(i, samples[i].weight, true);
  }
  middle_ = samples[0].point + (1 / middle_total) * middle_;
  for (FootprintPoint& p : out.footprint) p.weight /= total;
  out.gap = mean_gap(out.footprint, std::max(lowest, 0.0) + stands_off);
}

/// A layer that no sample is nearest to, yet within 3 mm of where the trim stands: kNone when there is none.
Index LayerFinder::layer_beneath(Standing& standing) {
  if (left_ == 0) return kNone;
  const ClothMesh& cloth = *topology_->cloth;
  const Vec3 foot = standing.feet.front().surface.point;
  double nearest = 9 * mm_ * mm_;
  Index layer = kNone;
  for (const Index f : local_faces_) {
    if (local_[f] != 1 || std::abs(dot(topology_->face_normal[f], sheets_.front().normal)) < kNeighbourNormals)
      continue;
    for (Index t = topology_->triangles_of_face[f]; t < topology_->triangles_of_face[f + 1]; ++t) {
      const Tri& c = cloth.triangles.triangles[t];
      const double d =
          closest_on_triangle(cloth.positions[c[0]] - foot, cloth.positions[c[1]] - foot, cloth.positions[c[2]] - foot)
              .squared_distance;
      const Index component = cloth.component_of_face[f];
      if (d > nearest || (d == nearest && component >= layer)) continue;
      nearest = d;
      layer = component;
    }
  }
  return layer;
}

/// Anchors: on each carrying sheet the point nearest to the middle of the footprint; two share by the lever rule, as if
/// each held the trim a quarter of its size further out than there.
void LayerFinder::make_feet(std::span<const std::size_t> carriers, double size, Standing& out) const {
  for (const std::size_t k : carriers) out.feet.push_back({closest_on(sheets_[k], middle_), 1});
  if (out.feet.size() == 1) return;
  if (out.feet.size() == 2) {
    const Vec3 way = out.feet[1].surface.point - out.feet[0].surface.point;
    const double between = length(way), held = 0.25 * size;
    const double from_first = between > 0 ? dot(middle_ - out.feet[0].surface.point, way) / between : 0;
    const double share = (from_first + held) / (between + 2 * held);
    out.feet[1].share = between + held > 0 ? std::clamp(share, 0.1, 0.9) : 0.5;
    out.feet[0].share = 1 - out.feet[1].share;
    return;
  }
  for (Foot& foot : out.feet) foot.share = 1.0 / static_cast<double>(out.feet.size());
}

}  // namespace trimtack
