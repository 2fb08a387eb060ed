// SPDX-License-Identifier: MIT
#include "stages/bind/samples.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>

namespace trimtack {
namespace {

struct Piece {
  Vec3 a, b, c;
};

// Symmetric trims are full of exact ties. They are broken by axis and corner order with this much slack, and cells are
// shifted off the symmetry planes, so that rounding (another unit, a garment far from the origin) decides nothing.
constexpr double kTie = 1 + 1e-7, kCellShift = 0.31;
// Surfaces that look the same way in one cell are kept apart when they are this share of a cell apart: the underside of
// a thin cap and the outer face of its stud.
constexpr double kSheet = 0.125;
constexpr Index kSheets = 32;

Index main_direction(const Vec3& v) {
  const double x = std::abs(v.x), y = std::abs(v.y), z = std::abs(v.z);
  if (x * kTie >= y && x * kTie >= z) return v.x >= 0 ? 0 : 1;
  if (y * kTie >= z) return v.y >= 0 ? 2 : 3;
  return v.z >= 0 ? 4 : 5;
}

// So many sampled shapes are kept at hand; a garment has a few dozen.
constexpr std::size_t kMostModels = 512;

// A cell's worth of bisections of the box's diagonal is at most about 16 deep; the limit only bounds the stack.
constexpr std::size_t kMostPieces = 64;

}  // namespace

void TrimSampler::add_piece(const Vec3& a, const Vec3& b, const Vec3& c) {
  const Vec3 area_vector = 0.5 * cross(b - a, c - a);
  const double area = length(area_vector);
  if (!(area > 0)) return;
  const Vec3 middle = (1.0 / 3) * (a + b + c);
  const auto cell = [&](double v, double low) {
    const double k = std::floor((v - low) / cell_ + kCellShift);
    return static_cast<Index>(std::clamp(k, 0.0, static_cast<double>(cells_ + 1)));
  };
  const Index n = cells_ + 2;
  const Index x = cell(middle.x, box_.min.x), y = cell(middle.y, box_.min.y), z = cell(middle.z, box_.min.z);
  const Vec3 corner = box_.min + cell_ * Vec3{static_cast<double>(x), static_cast<double>(y), static_cast<double>(z)};
  const double off = dot(area_vector, middle - corner) / area;
  const auto sheet = static_cast<Index>(
      std::clamp(std::floor(off / (kSheet * cell_) + 0.5 * kSheets + kCellShift), 0.0, kSheets - 1.0));
  const Index key = (((x * n + y) * n + z) * 6 + main_direction(area_vector)) * kSheets + sheet;
  Index& slot = slot_of_[key];
  if (slot == kNone) {
    slot = static_cast<Index>(sums_.size());
    sums_.emplace_back();
    sums_.back().key = key;
  }
  Sum& sum = sums_[slot];
  sum.moment += area * (middle - box_.min);
  sum.area_vector += area_vector;
  sum.area += area;
}

/// A trim without area still stands somewhere: the middle of its vertices.
std::span<const TrimSample> TrimSampler::single_point(std::span<const Vec3> vertices) {
  std::vector<Vec3> finite;
  std::copy_if(vertices.begin(), vertices.end(), std::back_inserter(finite), is_finite);
  if (finite.empty()) return {};
  box_ = bounds(finite);
  centroid_ = 0.5 * (box_.min + box_.max);
  size_ = length(box_.max - box_.min);
  samples_.push_back({centroid_, {}, 1});
  return samples_;
}

std::span<const TrimSample> TrimSampler::sample(std::span<const Vec3> vertices, std::span<const Tri> triangles,
                                                Index cells) {
  for (const Sum& s : sums_) slot_of_[s.key] = kNone;
  sums_.clear();
  samples_.clear();
  size_ = cell_ = 0;
  box_ = {};
  const auto usable = [&](const Tri& t) {
    return is_finite(vertices[t[0]]) && is_finite(vertices[t[1]]) && is_finite(vertices[t[2]]);
  };
  bool first = true;
  for (const Tri& t : triangles) {
    if (!usable(t)) continue;
    for (const Index v : t) {
      const Vec3& p = vertices[v];
      if (first) box_ = {p, p};
      first = false;
      box_.min = {std::min(box_.min.x, p.x), std::min(box_.min.y, p.y), std::min(box_.min.z, p.z)};
      box_.max = {std::max(box_.max.x, p.x), std::max(box_.max.y, p.y), std::max(box_.max.z, p.z)};
    }
  }
  const Vec3 extent = box_.max - box_.min;
  const double longest = std::max({extent.x, extent.y, extent.z});
  size_ = length(extent);
  centroid_ = 0.5 * (box_.min + box_.max);
  if (!(longest > 0) || !std::isfinite(size_)) return single_point(vertices);
  cells_ = cells;
  cell_ = longest / cells;
  const std::size_t keys = static_cast<std::size_t>(cells + 2) * (cells + 2) * (cells + 2) * 6 * kSheets;
  if (slot_of_.size() < keys) slot_of_.resize(keys, kNone);

  const double squared_cell = cell_ * cell_;
  double volume = 0;
  std::array<Piece, kMostPieces> stack;
  for (const Tri& t : triangles) {
    if (!usable(t)) continue;
    std::size_t depth = 0;
    stack[depth++] = {vertices[t[0]], vertices[t[1]], vertices[t[2]]};
    volume += dot(stack[0].a - centroid_, cross(stack[0].b - centroid_, stack[0].c - centroid_));
    while (depth > 0) {
      const Piece p = stack[--depth];
      const double ab = squared_length(p.b - p.a), bc = squared_length(p.c - p.b), ca = squared_length(p.a - p.c);
      if (std::max({ab, bc, ca}) <= squared_cell * kTie || depth + 2 > kMostPieces) {
        add_piece(p.a, p.b, p.c);
      } else if (ab * kTie >= bc && ab * kTie >= ca) {
        const Vec3 m = 0.5 * (p.a + p.b);
        stack[depth++] = {p.a, m, p.c};
        stack[depth++] = {m, p.b, p.c};
      } else if (bc * kTie >= ca) {
        const Vec3 m = 0.5 * (p.b + p.c);
        stack[depth++] = {p.a, p.b, m};
        stack[depth++] = {p.a, m, p.c};
      } else {
        const Vec3 m = 0.5 * (p.c + p.a);
        stack[depth++] = {p.a, p.b, m};
        stack[depth++] = {m, p.b, p.c};
      }
    }
  }
  std::sort(sums_.begin(), sums_.end(), [](const Sum& p, const Sum& q) { return p.key < q.key; });
  double area = 0;
  Vec3 moment;
  for (const Sum& s : sums_) {
    area += s.area;
    moment += s.moment;
  }
  if (!(area > 0)) return single_point(vertices);
  centroid_ = box_.min + (1 / area) * moment;
  // Faces wound inside out (a negative volume) are turned; an open shell of little volume is taken as written.
  const double turn = volume / 6 < -0.01 * area * size_ ? -1 : 1;
  for (const Sum& s : sums_)
    samples_.push_back({box_.min + (1 / s.area) * s.moment, turn * normalized(s.area_vector), s.area / area});
  return samples_;
}

std::span<const TrimSample> TrimSampler::move(const TrimSampler& shared, const Pose& motion,
                                              std::span<const Vec3> vertices) {
  box_ = bounds(vertices);
  size_ = shared.size_;
  cell_ = shared.cell_;
  centroid_ = apply(motion, shared.centroid_);
  samples_.clear();
  for (const TrimSample& s : shared.samples_)
    samples_.push_back({apply(motion, s.point), motion.rotation * s.normal, s.weight});
  return samples_;
}

SharedShapes::SharedShapes(const TrimShapes& trims) : model_(trims.model), has_copies_(trims.id.size(), 0) {
  if (model_.empty()) {
    std::vector<Index> triangles(trims.id.size());
    for (std::size_t t = 0; t < triangles.size(); ++t)
      triangles[t] = trims.triangle_offsets[t + 1] - trims.triangle_offsets[t];
    model_ = likely_models(trims, triangles);
  }
  for (Index t = 0; t < model_.size(); ++t)
    if (model_[t] != t) has_copies_[model_[t]] = 1;
}

const TrimSampler& ShapeSampler::sample(const SharedShapes& shared, const TrimShapes& trims, Index t,
                                        double mm_per_unit) {
  const Index model = shared.model_of(t);
  if (model == t && !shared.has_copies(t)) {
    sample_trim(own_, trims, t, mm_per_unit);
    return own_;
  }
  if (models_.size() > kMostModels) models_.clear();
  const auto [at, fresh] = models_.try_emplace(model);
  if (fresh) {
    sample_trim(at->second, trims, model, mm_per_unit);
    at->second.forget_scratch();
  }
  const TrimSampler& sampled = at->second;
  if (model == t) return sampled;
  if (trims.model.empty() && !fits_model(trims, model, t, sampled.size())) {
    sample_trim(own_, trims, t, mm_per_unit);
    return own_;
  }
  own_.move(sampled, motion_between(trims, model, t), vertices_of(trims, t));
  return own_;
}

std::span<const TrimSample> sample_trim(TrimSampler& sampler, const TrimShapes& trims, Index t, double mm_per_unit) {
  const Index v = trims.vertex_offsets[t], f = trims.triangle_offsets[t];
  const std::span<const Vec3> vertices(trims.vertices.data() + v, trims.vertex_offsets[t + 1] - v);
  const std::span<const Tri> triangles(trims.triangles.data() + f, trims.triangle_offsets[t + 1] - f);
  Index cells = 3;
  if (trims.role[t] != Role::Stitching) {
    const Box box = bounds(vertices);
    cells = length(box.max - box.min) * mm_per_unit < kTinyTrimMm ? 3 : 6;
  }
  return sampler.sample(vertices, triangles, cells);
}

}  // namespace trimtack
