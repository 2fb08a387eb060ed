// SPDX-License-Identifier: MIT
// The stem's end is followed back towards the trim's body along the cloth's normal. Where it meets no cloth at the
// height of that on which the body lies, although this lies all round it, there is an opening: a buttonhole.
#include "stages/bind/stems.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <string>
#include <tuple>

#include "core/square_to.hpp"
#include "stages/bind/height_at.hpp"

namespace trimtack {
namespace {

// Cloth within this height (mm) of the foot's plane is the cloth that the trim lies on; more beside it, for cloth
// bends (to a radius of 30 mm).
constexpr double kLevelMm = 0.3, kBendMm = 30;
// What lies as deep as the deepest vertex but for a tenth is the stem's end; wider than this share of the trim it is no
// stem but a half or a plate.
constexpr double kTip = 0.1, kSlender = 0.4;
// A stem stands on cloth that it comes as near to as this (mm).
constexpr double kReachMm = 0.5;
// Of eight directions round a stem so many show the cloth that the trim lies on: a slot leaves out two at most.
constexpr int kRound = 8, kRoundLeast = 6;
constexpr double kRoundRadius = 0.28;  // of the trim's size: within the rim of a round one

bool lexicographic_less(const Vec3& p, const Vec3& q) { return std::tie(p.x, p.y, p.z) < std::tie(q.x, q.y, q.z); }

}  // namespace

/// The trim's farthest vertices beyond the cloth, if they are slender.
bool StemFinder::find_tips(std::span<const Vec3> vertices, const TrimSampler& shape, const Standing& standing) {
  const Ground ground = ground_under(standing, *topology_);
  foot_ = ground.foot;
  n_ = ground.normal;
  if (n_ == Vec3{}) return false;
  const Vec3 half = 0.5 * (shape.box().max - shape.box().min);
  const double below = std::abs(n_.x) * half.x + std::abs(n_.y) * half.y + std::abs(n_.z) * half.z;
  if (dot(shape.box().min + half - foot_, n_) - below > -kLevelMm * mm_) return false;
  lowest_ = 0;
  for (const Vec3& p : vertices) lowest_ = std::min(lowest_, dot(p - foot_, n_));
  if (lowest_ > -kLevelMm * mm_) return false;
  u_ = -square_to(n_);
  v_ = cross(n_, u_);
  tips_.clear();
  for (const Vec3& p : vertices) {
    const Vec3 from = p - foot_;
    const double height = dot(from, n_);
    if (height <= (1 - kTip) * lowest_) tips_.push_back({dot(from, u_), dot(from, v_), height});
  }
  const Box box = bounds(tips_);
  return std::hypot(box.max.x - box.min.x, box.max.y - box.min.y) <= kSlender * shape.size();
}

/// Cloth about the trim, in the coordinates of its foot.
void StemFinder::gather_cloth(const Box& box) {
  const ClothMesh& cloth = index_->cloth();
  const Vec3 reach{mm_, mm_, mm_};
  index_->triangles_near({box.min - reach, box.max + reach}, triangles_);
  near_.clear();
  for (const Index t : triangles_) {
    Near near;
    near.triangle = t;
    for (std::size_t k = 0; k < 3; ++k) {
      const Vec3 from = cloth.positions[cloth.triangles.triangles[t][k]] - foot_;
      near.corner[k] = {dot(from, u_), dot(from, v_), dot(from, n_)};
    }
    near_.push_back(near);
  }
}

/// Heights up to which cloth counts as that which the trim lies on: it bends, but not half way to the stem's end.
double StemFinder::level_at(double x, double y) const {
  const double level = kLevelMm * mm_;
  return std::max(level, std::min(level + (x * x + y * y) / (2 * kBendMm * mm_), -0.5 * lowest_));
}

/// Whether the cloth that the trim lies on is there.
bool StemFinder::lies_at(double x, double y) const {
  const double level = level_at(x, y);
  return std::any_of(near_.begin(), near_.end(), [&](const Near& t) {
    double z = 0;
    return height_at(t.corner, x, y, z) && std::abs(z) <= level;
  });
}

bool StemFinder::lies_all_round(double radius) const {
  Vec3 middle;
  for (const Vec3& tip : tips_) middle += (1.0 / static_cast<double>(tips_.size())) * tip;
  int seen = 0;
  for (int k = 0; k < kRound; ++k) {
    const double angle = 2 * std::numbers::pi * k / kRound;
    seen += lies_at(middle.x + radius * std::cos(angle), middle.y + radius * std::sin(angle)) ? 1 : 0;
  }
  return seen >= kRoundLeast;
}

/// The first face beyond the trim's cloth on the way to a tip or a little farther, of other components than one.
Index StemFinder::next_cloth(const Vec3& tip, Index but) const {
  const ClothMesh& cloth = index_->cloth();
  const double level = level_at(tip.x, tip.y);
  double highest = -std::numeric_limits<double>::infinity();
  Index found = kNone;
  for (const Near& t : near_) {
    double z = 0;
    if (!height_at(t.corner, tip.x, tip.y, z) || z >= -level || z < tip.z - kReachMm * mm_) continue;
    const Index face = cloth.triangles.face[t.triangle];
    if (cloth.component_of_face[face] == but || z < highest || (z == highest && face > found)) continue;
    highest = z;
    found = face;
  }
  return found;
}

Stem StemFinder::find(std::span<const Vec3> vertices, const TrimSampler& shape, const Standing& standing) {
  Stem stem;
  if (vertices.empty() || standing.feet.size() != 1 || !find_tips(vertices, shape, standing)) return stem;
  gather_cloth(shape.box());
  std::sort(tips_.begin(), tips_.end(), lexicographic_less);
  stem.lies_on = standing.layer;
  const bool pierces = std::any_of(tips_.begin(), tips_.end(), [&](const Vec3& tip) { return lies_at(tip.x, tip.y); });
  stem.opening = !pierces && lies_all_round(kRoundRadius * shape.size());
  if (!pierces && !stem.opening) return stem;  // past its border: a frame that is wider than its strap
  // Of cloth that it pierces the back belongs to it; through an opening the next is what holds it.
  const Index pierced = stem.opening ? kNone : standing.layer;
  std::size_t reaches = 0;
  for (const Vec3& tip : tips_) {
    const Index face = next_cloth(tip, pierced);
    if (face != kNone && reaches++ == 0) stem.face = face;
  }
  if (2 * reaches <= tips_.size()) stem.face = kNone;
  return stem;
}

void note_stem(const Stem& stem, const ClothMesh& cloth, Binding& binding, Report& report) {
  if (stem.face == kNone) return;
  if (stem.opening) {
    binding.runner_up = stem.lies_on;
    binding.notes.emplace_back("its stem stands on this layer, through an opening of the one that it lies on");
    return;
  }
  const Index beneath = cloth.component_of_face[stem.face];
  if (beneath == binding.layer) return;
  binding.runner_up = beneath;
  const std::string text = "its stem goes through the cloth that it follows, component " +
                           std::to_string(binding.layer) + ", and on to component " + std::to_string(beneath) +
                           "; if it is sewn to that and only buttoned through, bind --layer " +
                           std::to_string(binding.trim) + "=" + std::to_string(beneath);
  binding.notes.push_back(text);
  add(report, {Severity::Note, "stem-through-layers", text, binding.name, 0, 1});
}

}  // namespace trimtack
