// SPDX-License-Identifier: MIT
// Growing patches by unrolling the mesh into the anchor's tangent plane.
// Source: Schmidt, Grimm, Wyvill, "Interactive decal compositing with discrete exponential maps", SIGGRAPH 2006.
// Deviations: the queue is ordered by the unrolled distance itself (exact on flat and developable cloth), a step must
// lead outwards, and at seams with three or more faces only what does not lie over the patch so far is taken.
#include "stages/bind/patch.hpp"

#include <algorithm>
#include <cmath>

#include "core/memory.hpp"

namespace trimtack {
namespace {

// Normals further off than this (75 degrees) belong to a fold's other side or to the rim of thick cloth.
constexpr double kLeastNormalAgreement = 0.26;
// How far a step may lead back, as a share of its own length: irregular meshes need a little, going back under a patch
// pocket from its seam is nearly 1.
constexpr double kStepBack = 0.3;
// Above this many corners a face's own edges are its only links (a quadratic number of diagonals otherwise).
constexpr std::size_t kMostLinkedCorners = 8;

bool lexicographic_less(const Vec3& p, const Vec3& q) {
  if (p.x != q.x) return p.x < q.x;
  if (p.y != q.y) return p.y < q.y;
  return p.z < q.z;
}

/// Turns x by the smallest rotation that takes unit vector `from` to unit vector `to` (not opposite).
Vec3 carried(const Vec3& x, const Vec3& from, const Vec3& to) {
  const Vec3 axis = cross(from, to);
  const double c = dot(from, to);
  return c * x + cross(axis, x) + (dot(axis, x) / (1 + c)) * axis;
}

using Point2 = std::array<double, 2>;

bool inside(const Point2& p, std::span<const Point2> polygon) {
  bool in = false;
  for (std::size_t i = 0, j = polygon.size() - 1; i < polygon.size(); j = i++) {
    const Point2 &a = polygon[i], &b = polygon[j];
    if ((a[1] > p[1]) != (b[1] > p[1]) && p[0] < (b[0] - a[0]) * (p[1] - a[1]) / (b[1] - a[1]) + a[0]) in = !in;
  }
  return in;
}

Point2 middle(std::span<const Point2> polygon) {
  Point2 sum{0, 0};
  for (const Point2& p : polygon) sum = {sum[0] + p[0], sum[1] + p[1]};
  const auto n = static_cast<double>(polygon.size());
  return {sum[0] / n, sum[1] / n};
}

/// Steps from one vertex to some neighbours, side by side.
struct StepBatch {
  static constexpr std::size_t kMost = 16;
  std::size_t count = 0;
  std::array<double, kMost> x, y, z;         ///< the steps; zero beyond `count` to a multiple of eight
  std::array<double, kMost> u, v, distance;  ///< where they lead: the places, unrolled, and their distances
  std::array<std::uint8_t, kMost> inwards;   ///< leads back
};

/// The vertex that the steps begin at, and the anchor's axes carried to it.
struct StepStart {
  double u, v, distance;
  Vec3 axis_x, axis_y;
};

/// The steps' directions in the tangent plane, their full lengths. Whole groups of eight.
[[gnu::always_inline]] inline void unroll_all(const StepStart& from, StepBatch& batch) {
  const std::size_t groups = (batch.count + 7) / 8;
  for (std::size_t i = 0; i < 8 * groups; ++i) {
    const Vec3 step{batch.x[i], batch.y[i], batch.z[i]};
    const double x = dot(step, from.axis_x), y = dot(step, from.axis_y);
    const double flat = x * x + y * y, squared = squared_length(step);
    const double scale = flat > 0 ? std::sqrt(squared / flat) : 0;
    const double u = from.u + scale * x, v = from.v + scale * y, off = u * u + v * v;
    const double least = from.distance - kStepBack * std::sqrt(squared);
    batch.u[i] = u;
    batch.v[i] = v;
    batch.distance[i] = std::sqrt(off);
    batch.inwards[i] = ((least > 0) & (off < least * least)) ? 1 : 0;
  }
}

void unroll_baseline(const StepStart& from, StepBatch& batch) { unroll_all(from, batch); }

#if defined(__x86_64__) && defined(__GNUC__)
// More steps to a register; no fused operations, so the same bits.
__attribute__((target("avx2"))) void unroll_four(const StepStart& from, StepBatch& batch) { unroll_all(from, batch); }
__attribute__((target("avx512f"))) void unroll_eight(const StepStart& from, StepBatch& batch) {
  unroll_all(from, batch);
}
auto unroll_here() {
  if (__builtin_cpu_supports("avx512f")) return &unroll_eight;
  return __builtin_cpu_supports("avx2") ? &unroll_four : &unroll_baseline;
}
#else
auto unroll_here() { return &unroll_baseline; }
#endif

}  // namespace

AnchorFrame frame_about(const Vec3& origin, const Vec3& normal) {
  const double ax = std::abs(normal.x), ay = std::abs(normal.y), az = std::abs(normal.z);
  const Vec3 axis = ax <= ay && ax <= az ? Vec3{1, 0, 0} : (ay <= az ? Vec3{0, 1, 0} : Vec3{0, 0, 1});
  const Vec3 x = normalized(axis - dot(axis, normal) * normal);
  return {origin, x, cross(normal, x), normal};
}

PatchGrower::PatchGrower(const ClothTopology& topology)
    : topology_(&topology),
      slot_of_(filled_large<Index>(topology.welded_count, kNone)),
      active_(filled_large<std::uint8_t>(topology.face_normal.size(), 0)) {}

void PatchGrower::reset() {
  for (const GrownVertex& g : reached_) slot_of_[g.welded] = kNone;
  for (const Index f : active_faces_) active_[f] = 0;
  reached_.clear();
  normal_.clear();
  settled_.clear();
  active_faces_.clear();
  heap_.clear();
  settled_in_order_.clear();
}

bool PatchGrower::before(const GrownVertex& p, const GrownVertex& q) const {
  if (p.distance != q.distance) return p.distance < q.distance;
  const Vec3 &a = position(p.vertex), &b = position(q.vertex);
  if (lexicographic_less(a, b)) return true;
  if (lexicographic_less(b, a)) return false;
  return p.vertex < q.vertex;
}

/// The anchor's axes, turned by the smallest rotation that takes its normal to the slot's.
void PatchGrower::turn_axes(Index slot) {
  axis_x_ = carried(frame_.x, frame_.normal, normal_[slot]);
  axis_y_ = cross(normal_[slot], axis_x_);
}

void PatchGrower::add_reached(Index vertex, double u, double v, double distance, const Vec3& normal) {
  const Vec3 p = position(vertex) - frame_.origin;
  const Index welded = topology_->welded(vertex);
  slot_of_[welded] = static_cast<Index>(reached_.size());
  reached_.push_back({vertex, welded, u, v, distance, dot(p, frame_.x), dot(p, frame_.y), dot(p, frame_.normal)});
  normal_.push_back(normal);
  settled_.push_back(0);
}

void PatchGrower::reach(Index vertex, double u, double v, double distance, const Vec3& parent_normal) {
  const Index welded = topology_->welded(vertex);
  if (!std::isfinite(distance)) return;
  Index slot = slot_of_[welded];
  if (slot == kNone) {
    Vec3 normal = topology_->vertex_normal[welded];
    if (dot(normal, parent_normal) < -0.5) normal = -normal;  // a panel wound the other way round
    if (normal == Vec3{}) normal = parent_normal;
    if (dot(normal, frame_.normal) < kLeastNormalAgreement) return;
    slot = static_cast<Index>(reached_.size());
    add_reached(vertex, u, v, distance, normal);
  } else {
    GrownVertex& known = reached_[slot];
    if (settled_[slot] != 0 || !(distance < known.distance)) return;
    known.u = u;
    known.v = v;
    known.distance = distance;
  }
  heap_.push_back({distance, slot});
  std::push_heap(heap_.begin(), heap_.end(), [this](const Candidate& p, const Candidate& q) { return later(p, q); });
}

bool PatchGrower::faces_anchor(Index face) const {
  const Vec3& normal = topology_->face_normal[face];
  return normal == Vec3{} || std::abs(dot(normal, frame_.normal)) >= kLeastNormalAgreement;
}

/// Lists the corners of a face that a slot is to step to, each neighbour once in an expansion.
void PatchGrower::list_steps(Index slot, Index face) {
  if (active_[face] == 0) {
    active_[face] = 1;
    active_faces_.push_back(face);
  }
  const auto corners = topology_->face(face);
  const Index own = reached_[slot].welded;
  for (std::size_t i = 0; i < corners.size(); ++i) {
    const Index vertex = corners[i], welded = topology_->welded(vertex);
    if (welded == own) continue;
    const Index known = slot_of_[welded];
    if (known != kNone && settled_[known] != 0) continue;
    if (is_listed(welded)) continue;
    if (corners.size() > kMostLinkedCorners && topology_->welded(corners[(i + 1) % corners.size()]) != own &&
        topology_->welded(corners[(i + corners.size() - 1) % corners.size()]) != own)
      continue;
    steps_.push_back({vertex, welded});
    if (!listed_.empty()) listed_.insert(welded);
  }
}

/// Whether a step goes there already. The hub of a fan has thousands of neighbours.
bool PatchGrower::is_listed(Index welded) {
  constexpr std::size_t kFew = 64;
  if (steps_.size() < kFew)
    return std::any_of(steps_.begin(), steps_.end(), [&](const auto& s) { return s.welded == welded; });
  if (listed_.empty())
    for (const Neighbour& step : steps_) listed_.insert(step.welded);
  return listed_.contains(welded);
}

/// Takes the steps listed from number `first` on. @pre turn_axes(slot)
void PatchGrower::take_steps(Index slot, std::size_t first) {
  static const auto unroll_best = unroll_here();
  const Vec3 normal = normal_[slot], own = position(reached_[slot].vertex);
  const StepStart from{reached_[slot].u, reached_[slot].v, reached_[slot].distance, axis_x_, axis_y_};
  StepBatch batch;
  for (; first < steps_.size(); first += StepBatch::kMost) {
    batch.count = std::min(StepBatch::kMost, steps_.size() - first);
    for (std::size_t i = 0; i < batch.count; ++i) {
      const Vec3 step = position(steps_[first + i].vertex) - own;
      batch.x[i] = step.x, batch.y[i] = step.y, batch.z[i] = step.z;
    }
    for (std::size_t i = batch.count; i % 8 != 0; ++i) batch.x[i] = batch.y[i] = batch.z[i] = 0;
    unroll_best(from, batch);
    for (std::size_t i = 0; i < batch.count; ++i)
      if (batch.inwards[i] == 0) reach(steps_[first + i].vertex, batch.u[i], batch.v[i], batch.distance[i], normal);
  }
}

bool PatchGrower::overlaps_active(Index slot, Index face) const {
  std::vector<Point2> polygon, other;
  const GrownVertex& own = reached_[slot];
  for (const Index v : topology_->face(face)) {
    const Vec3 step = position(v) - position(own.vertex);
    StepBatch one{1, {step.x}, {step.y}, {step.z}, {}, {}, {}, {}};
    unroll_baseline({own.u, own.v, own.distance, axis_x_, axis_y_}, one);
    polygon.push_back({one.u[0], one.v[0]});
  }
  const Point2 centre = middle(polygon);
  for (const Index f : active_faces_) {
    if (f == face) continue;
    other.clear();
    for (const Index v : topology_->face(f)) {
      const Index known = slot_of_[topology_->welded(v)];
      if (known == kNone) break;
      other.push_back({reached_[known].u, reached_[known].v});
    }
    if (other.size() != topology_->face(f).size() || other.size() < 3) continue;
    if (inside(centre, other) || inside(middle(other), polygon)) return true;
  }
  return false;
}

/// At a vertex where three or more faces share an edge: first the rest of the fan that the patch came in on, then what
/// does not lie over it, the flattest continuation first.
void PatchGrower::activate_branching(Index slot) {
  const Index own = reached_[slot].welded;
  const auto ring = topology_->ring(own);
  const auto has_corner = [&](Index face, Index welded) {
    const auto corners = topology_->face(face);
    return std::any_of(corners.begin(), corners.end(), [&](Index v) { return topology_->welded(v) == welded; });
  };
  for (bool grown = true; grown;) {
    grown = false;
    for (const Index f : ring) {
      if (active_[f] != 0 || !faces_anchor(f)) continue;
      const auto corners = topology_->face(f);
      for (std::size_t i = 0; i < corners.size() && active_[f] == 0; ++i) {
        const Index p = topology_->welded(corners[i]), q = topology_->welded(corners[(i + 1) % corners.size()]);
        if ((p == own) == (q == own)) continue;
        const Index end = p == own ? q : p;
        Index users = 0, active_users = 0;
        for (const Index g : ring)
          if (has_corner(g, end)) {
            ++users;
            active_users += active_[g];
          }
        if (users != 2 || active_users != 1) continue;
        active_[f] = 1;
        active_faces_.push_back(f);
        grown = true;
      }
    }
  }
  std::vector<std::pair<double, Index>> others;
  for (const Index f : ring) {
    if (active_[f] != 0) {
      activate(slot, f);
    } else if (faces_anchor(f)) {
      Vec3 centre;
      for (const Index v : topology_->face(f)) centre += position(v) - position(reached_[slot].vertex);
      others.emplace_back(std::abs(dot(normalized(centre), normal_[slot])), f);
    }
  }
  std::sort(others.begin(), others.end());
  for (const auto& [slope, f] : others)
    if (!overlaps_active(slot, f)) activate(slot, f);
}

void PatchGrower::activate(Index slot, Index face) {
  const std::size_t first = steps_.size();
  list_steps(slot, face);
  take_steps(slot, first);
}

void PatchGrower::expand(Index slot) {
  const Index welded = reached_[slot].welded;
  turn_axes(slot);
  steps_.clear();
  listed_.clear();
  if (topology_->branching[welded] != 0) {
    activate_branching(slot);
    return;
  }
  for (const Index f : topology_->ring(welded))
    if ((active_[f] != 0 && seeds_face_anchor_) || faces_anchor(f)) list_steps(slot, f);
  take_steps(slot, 0);
}

void PatchGrower::seed(const PatchSeed& seed) {
  Vec3 normal = topology_->face_normal[seed.face];
  if (dot(normal, frame_.normal) < 0) normal = -normal;
  if (normal == Vec3{}) normal = frame_.normal;
  if (active_[seed.face] == 0) {
    active_[seed.face] = 1;
    active_faces_.push_back(seed.face);
  }
  const Vec3 start = seed.point - frame_.origin;
  for (const Index v : topology_->face(seed.face)) {
    const Vec3 step = position(v) - seed.point;
    const Vec3 flat = step - dot(step, frame_.normal) * frame_.normal;
    const double l = length(flat);
    const Vec3 place = start + (l > 0 ? (length(step) / l) * flat : Vec3{});
    const double u = dot(place, frame_.x), w = dot(place, frame_.y);
    const double distance = std::sqrt(u * u + w * w);
    reach(v, u, w, distance, normal);
    // A corner whose own normal looks away (a border rolled over) still belongs to the anchor's face.
    if (slot_of_[topology_->welded(v)] == kNone && is_finite(place)) add_reached(v, u, w, distance, frame_.normal);
  }
}

std::span<const GrownVertex> PatchGrower::grow(const AnchorFrame& frame, std::span<const PatchSeed> seeds,
                                               Index max_count, double max_distance, Index enough_count) {
  reset();
  frame_ = frame;
  for (const PatchSeed& s : seeds) seed(s);
  seeds_face_anchor_ =
      std::all_of(seeds.begin(), seeds.end(), [&](const PatchSeed& s) { return faces_anchor(s.face); });
  seed_slots_ = static_cast<Index>(reached_.size());
  return grow_on(max_count, max_distance, enough_count);
}

std::span<const GrownVertex> PatchGrower::grow_on(Index max_count, double max_distance, Index enough_count) {
  const auto in_order = [this](const Candidate& p, const Candidate& q) { return later(p, q); };
  while (!heap_.empty() && settled_in_order_.size() < max_count) {
    const Candidate next = heap_.front();
    const bool outdated = settled_[next.slot] != 0 || next.distance != reached_[next.slot].distance;
    if (!outdated && next.distance > max_distance && settled_in_order_.size() >= enough_count) break;
    std::pop_heap(heap_.begin(), heap_.end(), in_order);
    heap_.pop_back();
    if (outdated) continue;
    settled_[next.slot] = 1;
    settled_in_order_.push_back(reached_[next.slot]);
    expand(next.slot);
  }
  out_ = settled_in_order_;
  for (Index slot = 0; slot < seed_slots_; ++slot)
    if (settled_[slot] == 0) out_.push_back(reached_[slot]);
  const auto nearer = [this](const GrownVertex& p, const GrownVertex& q) { return before(p, q); };
  if (!std::is_sorted(out_.begin(), out_.end(), nearer)) std::sort(out_.begin(), out_.end(), nearer);
  return out_;
}

}  // namespace trimtack
