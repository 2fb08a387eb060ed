// SPDX-License-Identifier: MIT
// A cord is told by its run: within the trim in every direction square to it, beyond the trim at both ends, and on the
// trim's side of the cloth that the trim lies on (a lace through an eyelet goes on to the other side of that).
#include "stages/bind/cords.hpp"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <string>

#include "core/square_to.hpp"

namespace trimtack {
namespace {

// What only grazes the trim's box, by less than this share of it, does not run through.
constexpr double kInner = 0.1;
// A trim lies on cloth that it dips into by no more than this (mm, or share of the trim).
constexpr double kDipMm = 1, kDip = 0.1;
// It is held by cloth that it comes as near to as this (mm), as a stem is.
constexpr double kReachMm = 0.5;
constexpr std::size_t kMostTriangles = 4000;  // a cord has fewer about a trim
constexpr int kDirections = 8;

struct Range {
  double low = std::numeric_limits<double>::infinity(), high = -low;
  void add(double x) { low = std::min(low, x), high = std::max(high, x); }
};

Vec3 longest_axis(std::span<const Vec3> points, const Vec3& mean) {
  Eigen::Matrix3d spread = Eigen::Matrix3d::Zero();
  for (const Vec3& p : points) {
    const Eigen::Vector3d d(p.x - mean.x, p.y - mean.y, p.z - mean.z);
    spread += d * d.transpose();
  }
  const Eigen::Vector3d axis = Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d>(spread).eigenvectors().col(2);
  return {axis.x(), axis.y(), axis.z()};
}

}  // namespace

bool CordFinder::lies_on_one_side(std::span<const Vec3> vertices, const Standing& standing, double size) {
  const Ground ground = ground_under(standing, *topology_);
  foot_ = ground.foot;
  n_ = ground.normal;
  const double dip = -std::max(kDipMm * mm_, kDip * size);
  return n_ != Vec3{} &&
         std::none_of(vertices.begin(), vertices.end(), [&](const Vec3& p) { return dot(p - foot_, n_) < dip; });
}

/// Vertices of the component's triangles about the trim. @return false when it is no cord, for there are too many
bool CordFinder::gather_piece(Index component) {
  const ClothMesh& cloth = index_->cloth();
  piece_.clear();
  for (const Index t : triangles_) {
    if (cloth.component_of_face[cloth.triangles.face[t]] != component) continue;
    if (piece_.size() >= 3 * kMostTriangles) return false;
    for (const Index v : cloth.triangles.triangles[t]) piece_.push_back(cloth.positions[v]);
  }
  std::sort(piece_.begin(), piece_.end(),
            [](const Vec3& p, const Vec3& q) { return p.x != q.x ? p.x < q.x : (p.y != q.y ? p.y < q.y : p.z < q.z); });
  piece_.erase(std::unique(piece_.begin(), piece_.end()), piece_.end());
  return piece_.size() >= 3;
}

bool CordFinder::runs_through(std::span<const Vec3> vertices) const {
  Vec3 mean;
  for (const Vec3& p : piece_) mean += (1.0 / static_cast<double>(piece_.size())) * p;
  const Vec3 axis = longest_axis(piece_, mean);
  Range trim;
  for (const Vec3& p : vertices) trim.add(dot(p - mean, axis));
  // Heights beyond either end of the trim.
  double before = 0, behind = 0;
  std::size_t count_before = 0, count_behind = 0;
  const Vec3 u = square_to(axis), v = cross(axis, u);
  std::array<Range, kDirections / 2> cord_across, trim_across;
  std::array<Vec3, kDirections / 2> across;
  for (std::size_t k = 0; k < across.size(); ++k) {
    const double angle = 2 * std::numbers::pi * static_cast<double>(k) / kDirections;
    across[k] = std::cos(angle) * u + std::sin(angle) * v;
    for (const Vec3& p : vertices) trim_across[k].add(dot(p - mean, across[k]));
  }
  for (const Vec3& p : piece_) {
    const double along = dot(p - mean, axis), height = dot(p - foot_, n_);
    if (along < trim.low) before += height, ++count_before;
    if (along > trim.high) behind += height, ++count_behind;
    for (std::size_t k = 0; k < across.size(); ++k) cord_across[k].add(dot(p - mean, across[k]));
  }
  if (count_before == 0 || count_behind == 0 || before < 0 || behind < 0) return false;
  for (std::size_t k = 0; k < across.size(); ++k) {
    if (cord_across[k].low < trim_across[k].low || cord_across[k].high > trim_across[k].high) return false;
  }
  return true;
}

Cord CordFinder::find(std::span<const Vec3> vertices, const TrimSampler& shape, const Standing& standing) {
  Cord cord;
  if (standing.feet.size() != 1) return cord;
  const ClothMesh& cloth = index_->cloth();
  const Box box = shape.box();
  const Vec3 inner = kInner * (box.max - box.min);
  index_->triangles_near({box.min + inner, box.max - inner}, triangles_);
  components_.clear();
  for (const Index t : triangles_) {
    const Index component = cloth.component_of_face[cloth.triangles.face[t]];
    if (component != standing.layer) components_.push_back(component);
  }
  if (components_.empty() || !lies_on_one_side(vertices, standing, shape.size())) return cord;
  std::sort(components_.begin(), components_.end());
  components_.erase(std::unique(components_.begin(), components_.end()), components_.end());
  const double about = 0.25 * shape.size();
  const Vec3 margin{about, about, about};
  index_->triangles_near({box.min - margin, box.max + margin}, triangles_);
  for (const Index component : components_) {
    if (!gather_piece(component) || !runs_through(vertices)) continue;
    cord.component = component;
    cord.lies_on = standing.layer;
    cord.carries = standing.gap > kReachMm * mm_;
    return cord;
  }
  return cord;
}

void note_cord(const Cord& cord, Binding& binding, Report& report) {
  if (cord.component == kNone) return;
  if (cord.carries) {
    binding.runner_up = cord.lies_on;
    binding.notes.emplace_back("this layer runs through it, and it stands off the one that it lies over");
    return;
  }
  binding.runner_up = cord.component;
  const std::string text = "component " + std::to_string(cord.component) +
                           " runs through it as a cord does, and it lies on component " + std::to_string(cord.lies_on) +
                           ", which it follows; if the cord holds it, bind --layer " + std::to_string(binding.trim) +
                           "=" + std::to_string(cord.component);
  binding.notes.push_back(text);
  add(report, {Severity::Note, "cord-through", text, binding.name, 0, 1});
}

}  // namespace trimtack
