// SPDX-License-Identifier: MIT
// The soft half of a made-up garment.
#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "support/garment_maker.hpp"

namespace trimtack::testing {
namespace {

constexpr double kPi = std::numbers::pi;

Surface3 cylinder(double radius, double start) {
  return [=](Vec2 p) {
    const double a = (p.x + start) / radius;
    return Vec3{radius * std::sin(a), p.y, radius * std::cos(a)};
  };
}
Surface3 placed(const Surface3& s, const Pose& pose) {
  return [=](Vec2 p) { return apply(pose, s(p)); };
}
Surface3 plane() {
  return [](Vec2 p) { return Vec3{p.x, p.y, 0}; };
}
/// A piece laid on another surface, `at` its corner, `lift` above it.
Surface3 laid_on(const Surface3& s, Vec2 at, double turn, double lift) {
  return [=](Vec2 p) {
    const Vec2 q{at.x + std::cos(turn) * p.x - std::sin(turn) * p.y,
                 at.y + std::sin(turn) * p.x + std::cos(turn) * p.y};
    return s(q) + lift * normal_at(s, q);
  };
}

std::function<Vec2(Vec2)> outline_of(int kind, double w, double h) {
  switch (kind) {
    case 1:
      return [=](Vec2 p) { return Vec2{p.x + (0.5 * w - p.x) * 0.3 * p.y / h, p.y}; };
    case 2:
      return [=](Vec2 p) { return Vec2{p.x, p.y + 0.12 * h * std::sin(kPi * p.x / w) * (p.y / h)}; };
    case 3:  // pointed end
      return [=](Vec2 p) {
        return Vec2{p.x, p.y - 0.5 * w * std::abs(2 * p.x / w - 1) * std::max(0.0, 2 * p.y / h - 1)};
      };
    case 4:
      return [=](Vec2 p) { return Vec2{p.x + 0.15 * w * std::sin(kPi * p.y / h), p.y}; };
    default:
      return {};
  }
}

}  // namespace

GarmentMaker::GarmentMaker(std::uint64_t seed, const GarmentOptions& options) : options_(options), random_(seed) {
  out_.seed = seed;
  choose_style();
}

void GarmentMaker::choose_style() {
  body_ = random_.pick(8);
  size_ = random_.chance(0.15) ? random_.between(0.2, 0.45) : random_.between(0.6, 1.1);
  constexpr std::array<double, 5> spacings{20, 15, 10, 7, 5};
  spacing_ = spacings[static_cast<std::size_t>(random_.pick(5))];
  if (size_ < 0.5) spacing_ = random_.between(2.5, 6);
  if (random_.chance(0.06)) spacing_ = random_.between(40, 80);  // an artist's coarse mesh
  const int layers = random_.pick(10);
  if (layers >= 6) thickness_ = random_.between(0.4, 3) * std::max(size_, 0.4);
  walls_ = layers != 6;
  jitter_ = random_.chance(0.4) ? random_.between(0.1, 0.35) : 0;
  wrinkle_ = random_.chance(0.6) ? random_.between(0.5, 6) * size_ : 0;
  wave_ = random_.between(70, 200) * size_;
  phase_ = random_.between(0, 6);
  constexpr std::array<double, 3> gaps{0, 0.05, 0.8};
  seam_gap_ = gaps[static_cast<std::size_t>(random_.pick(3))];
  cord_radius_ = random_.between(1.2, 3);
  out_.story = "body " + std::to_string(body_) + ", size " + std::to_string(size_) + ", spacing " +
               std::to_string(spacing_) + ", thickness " + std::to_string(thickness_) + ", gap " +
               std::to_string(seam_gap_);
}

Surface3 GarmentMaker::draped(const Surface3& flat, double layer) const {
  const double amplitude = wrinkle_;
  const double k = 2 * kPi / wave_;
  const double phase = phase_;
  return [=](Vec2 p) {
    const Vec3 at = flat(p);
    const double w =
        amplitude * std::sin(k * (at.x + 0.4 * at.y) + phase) * std::sin(k * (0.7 * at.y - 0.5 * at.z) + 1.7 * phase);
    return at + (w + layer) * normal_at(flat, p);
  };
}

void GarmentMaker::add_cloth(Solid solid, const std::string& name) {
  add_piece(std::move(solid), Role::Cloth, kNone, name);
}

void GarmentMaker::add_piece(Solid solid, Role role, Index trim, const std::string& kind) {
  Piece& piece = pieces_.emplace_back();
  piece.solid = std::move(solid);
  piece.truth.role = role;
  piece.truth.trim = trim;
  piece.truth.kind = kind;
}

void GarmentMaker::add_panel(const std::string& name, const Surface3& surface, double width, double height, int outline,
                             double spacing_share) {
  SheetOptions options;
  options.spacing = spacing_ * spacing_share;
  options.thickness = thickness_;
  options.walls = walls_;
  options.jitter = jitter_;
  options.seed = random_.bits();
  add_cloth(sheet(surface, width, height, outline_of(outline, width, height), options), name);
}

void GarmentMaker::sew() {
  if (body_ == 6)
    sew_bag();
  else
    sew_body();
  if (body_ < 4) sew_sleeves();
  if (body_ < 5 || body_ == 6) {
    sew_small_parts();
    if (random_.chance(0.4)) sew_cords();
    if (random_.chance(0.4)) sew_belt_loops();
  }
}

void GarmentMaker::sew_body() {
  const double r = 160 * size_ * random_.between(0.8, 1.2);
  const double h = (body_ == 3 ? 350 : 600) * size_ * random_.between(0.8, 1.1);
  const double round = 2 * kPi * r;
  if (body_ == 4) {  // one flat piece
    const double w = 500 * size_;
    const Surface3 s = draped(plane(), 0);
    add_panel("cloth", s, w, 0.7 * w);
    sites_.push_back({s, w, 0.7 * w});
    return;
  }
  if (body_ == 5 || body_ == 7) {  // one closed tube, or a torso that bulges
    const double bulge = body_ == 7 ? 0.2 : 0;
    const Surface3 base = [=](Vec2 p) {
      const double k = 1 + bulge * std::sin(1.5 * kPi * p.y / h);
      const double a = std::fmod(p.x, round) / r;
      return Vec3{k * r * std::sin(a), p.y, k * 0.7 * r * std::cos(a)};
    };
    const Surface3 s = draped(base, 0);
    add_panel("torso", s, round, h);
    sites_.push_back({s, round, h});
    return;
  }
  // Front left, front right, back; the fronts overlap at a placket.
  const double lap = 30 * size_;
  const double gap = seam_gap_;
  const double front = 0.25 * round;
  const Surface3 left = draped(cylinder(r, 0), 0);
  const Surface3 right = draped(cylinder(r, -front), 2.0 + thickness_);
  const Surface3 back = draped(cylinder(r, front + gap), 0);
  const int shape = random_.pick(3);
  add_panel("front left", left, front, h, shape == 2 ? 2 : 0);
  add_panel("front right", right, front + lap, h, shape == 2 ? 2 : 0);
  add_panel("back", back, 0.5 * round - 2 * gap, h, shape == 1 ? 2 : 0);
  sites_.push_back({left, front, h});
  sites_.push_back({right, front + lap, h});
  sites_.push_back({back, 0.5 * round - 2 * gap, h});
  if (random_.chance(0.3)) {
    const Surface3 lining = draped(cylinder(r - 6, 0), 0);
    add_panel("lining", lining, 0.5 * round, 0.9 * h);
  }
}

void GarmentMaker::sew_sleeves() {
  const double r = 60 * size_;
  const double l = 450 * size_;
  const double x = 200 * size_;
  for (const double side : {-1.0, 1.0}) {
    const double c = std::cos(0.5);
    const double s = std::sin(0.5);
    Pose pose{Mat3{{c, side * s, 0, -side * s, c, 0, 0, 0, 1}}, {side * x, 120 * size_, 0}};
    const Surface3 tube = draped(placed(cylinder(r, 0), pose), 0);
    const double round = 2 * kPi * r;
    const Surface3 closed = [tube, round](Vec2 p) { return tube({std::fmod(p.x, round), p.y}); };
    const std::string which = side < 0 ? " left" : " right";
    add_panel("sleeve" + which, random_.chance(0.5) ? closed : tube, round - seam_gap_, l, 0);
    sites_.push_back({tube, round - seam_gap_, l});
    if (random_.chance(0.6)) {
      const Surface3 cuff =
          placed(cylinder(1.08 * r, 0), {pose.rotation, pose.translation + pose.rotation * Vec3{0, -0.5 * r, 0}});
      add_panel("cuff" + which, cuff, 2 * kPi * 1.08 * r - 2 - seam_gap_, 55 * size_, 0);
      sites_.push_back({cuff, 2 * kPi * 1.08 * r - 2, 55 * size_});
    }
  }
}

void GarmentMaker::sew_bag() {
  const double w = 300 * size_;
  const Surface3 front = draped(plane(), 0);
  add_panel("bag front", front, w, 1.2 * w);
  sites_.push_back({front, w, 1.2 * w});
  const Surface3 back = draped(placed(plane(), {Mat3{}, {0, 0, -0.4 * w}}), 0);
  add_panel("bag back", back, w, 1.2 * w);
  for (int k = 0; k < 3; ++k) {
    const double width = random_.between(20, 40) * size_;
    const Surface3 strap = laid_on(front, {0.2 * w + 0.25 * w * k, 0.05 * w}, 0, 2 + thickness_);
    if (random_.chance(0.5)) {  // a coarse closed strap
      SheetOptions o;
      o.spacing = std::max(width, 0.12 * w);
      o.thickness = 2;
      add_cloth(sheet(strap, width, 1.1 * w, {}, o), "strap");
    } else {
      add_panel("strap", strap, width, 1.1 * w, 0, 0.8);
    }
    sites_.push_back({strap, width, 1.1 * w});
  }
}

void GarmentMaker::sew_small_parts() {
  const double k = size_;
  const auto on = [&](double w, double h, double lift, double turn) -> Surface3 {
    const Site& site = sites_[static_cast<std::size_t>(random_.pick(static_cast<int>(sites_.size())))];
    const double x = random_.between(0.05, 0.6) * site.width;
    const double y = random_.between(0.05, 0.7) * site.height;
    (void)w;
    (void)h;
    return laid_on(site.surface, {x, y}, turn, lift);
  };
  const double lift = 0.8 + 1.2 * thickness_;
  const int pockets = random_.pick(4);
  const double pw = random_.between(90, 150) * k;
  for (int i = 0; i < pockets; ++i) {
    const Surface3 s = on(pw, pw, lift, 0);
    add_panel("pocket", s, pw, 1.1 * pw, i == 0 ? 3 : 0);
    sites_.push_back({s, pw, 0.8 * pw});
    if (random_.chance(0.5)) add_panel("flap", laid_on(s, {0, 0.8 * pw}, 0, lift), pw, 0.35 * pw, 0);
  }
  if (random_.chance(0.5))
    add_panel("welt", on(0, 0, lift, 0.2), random_.between(100, 150) * k, random_.between(10, 18) * k);
  for (int i = random_.pick(3); i > 0; --i)
    add_panel("label", on(0, 0, -lift, random_.between(0, 1)), random_.between(20, 60) * k, random_.between(10, 30) * k,
              0, random_.chance(0.5) ? 1 : 0.4);
  if (random_.chance(0.3)) {
    const double w = random_.between(8, 13) * k;
    const double l = random_.between(45, 65) * k;
    for (int i = 0; i < 2; ++i) add_panel("collar stay", on(0, 0, lift, random_.between(0, 3)), w, l, 3, 0.7);
  }
  if (random_.chance(0.4)) {
    const double w = random_.between(8, 15) * k;
    for (int i = random_.whole(1, 4); i > 0; --i)
      add_panel("strap", on(0, 0, lift, random_.between(0, 3)), w, random_.between(60, 200) * k, 0,
                random_.chance(0.5) ? 1 : 0.5);
  }
  for (int i = random_.pick(5); i > 0; --i)
    add_panel("scrap", on(0, 0, lift, random_.between(0, 3)), random_.between(6, 40) * k, random_.between(6, 30) * k,
              random_.pick(5));
  if (random_.chance(0.4) && sites_.size() > 2)
    add_panel("placket", laid_on(sites_[1].surface, {sites_[1].width - 32 * k, 0}, 0, lift), 30 * k,
              0.95 * sites_[1].height);
  if (random_.chance(0.4)) {
    const Surface3 collar = [k](Vec2 p) {
      const double a = p.x / (75 * k);
      return Vec3{75 * k * std::sin(a), 640 * k + p.y * 0.95, 75 * k * std::cos(a)};
    };
    add_panel("collar", collar, 380 * k, 45 * k, 2);
    sites_.push_back({collar, 380 * k, 45 * k});
  }
}

void GarmentMaker::sew_cords() {
  const Site site = sites_[0];
  const int kind = random_.pick(4);
  const int count = random_.whole(1, 3);
  for (int i = 0; i < count; ++i) {
    const double x = site.width * random_.between(0.1, 0.9);
    const double y = site.height * random_.between(0.4, 0.8);
    const double l = random_.between(80, 300) * size_;
    std::vector<Vec3> path;
    const int steps = std::max(6, static_cast<int>(l / std::max(4.0, 0.6 * spacing_)));
    for (int k = 0; k <= steps; ++k) {
      const double t = static_cast<double>(k) / steps;
      const Vec2 p{x + 12 * std::sin(5 * t), y - l * t};
      path.push_back(site.surface(p) + (1.5 + cord_radius_) * normal_at(site.surface, p));
    }
    const double r = kind == 1 ? 0.5 * cord_radius_ : cord_radius_;
    const std::vector<double> radii(path.size(), r);
    add_cloth(swept(path, radii, kind == 2 ? 4 : 8, random_.chance(0.6) ? Ends::Flat : Ends::Open, kind == 2 ? 0.3 : 1),
              kind == 2 ? "lace" : "cord");
    const Vec3 tip = path.back();
    const Vec3 along = normalized(path.back() - path[path.size() - 2]);
    if (kind == 3)
      sew_tassel(
          {from_columns(normalized(cross(along, {0, 0, 1})), cross(along, normalized(cross(along, {0, 0, 1}))), along),
           tip});
    else
      cord_tips_.push_back({tip, along});
  }
}

void GarmentMaker::sew_tassel(const Pose& at) {
  const int strands = random_.whole(8, 24);
  const double l = random_.between(25, 60) * std::max(0.5, size_);
  for (int i = 0; i < strands; ++i) {
    const double a = 2 * kPi * i / strands;
    std::vector<Vec3> path;
    for (int k = 0; k <= 6; ++k) {
      const double t = k / 6.0;
      path.push_back(apply(at, {(1 + 4 * t) * std::cos(a + 0.3 * t), (1 + 4 * t) * std::sin(a + 0.3 * t), l * t}));
    }
    add_cloth(swept(path, std::vector<double>(path.size(), 0.6), 5, Ends::Flat), "tassel strand");
  }
}

void GarmentMaker::sew_belt_loops() {
  const Site site = sites_[0];
  const int count = random_.whole(2, 7);
  const double w = random_.between(8, 14) * size_;
  const double l = random_.between(40, 55) * size_;
  for (int i = 0; i < count; ++i) {
    const double x = site.width * (0.1 + 0.8 * i / count);
    const Surface3 base = laid_on(site.surface, {x, 0.85 * site.height}, 0, 0.6 + thickness_);
    const double rise = 4 * size_;
    const Surface3 arch = [=](Vec2 p) {
      return base(p) + rise * std::sin(kPi * std::clamp(p.y / l, 0.0, 1.0)) * normal_at(base, p);
    };
    add_panel("belt loop", arch, w, l, 0, random_.chance(0.5) ? 0.6 : 1);
  }
}

}  // namespace trimtack::testing
