// SPDX-License-Identifier: MIT
// The hard half of a made-up garment.
#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "support/garment_maker.hpp"

namespace trimtack::testing {
namespace {

constexpr double kPi = std::numbers::pi;

Pose lifted(const Pose& pose, double by) { return {pose.rotation, pose.translation + by * pose.rotation.column(2)}; }
Mat3 turn_z(double a) { return Mat3{{std::cos(a), -std::sin(a), 0, std::sin(a), std::cos(a), 0, 0, 0, 1}}; }

}  // namespace

bool GarmentMaker::place_free(const Vec3& at, double radius) {
  for (const Taken& t : taken_)
    if (length(t.at - at) < t.radius + radius + 1.5) return false;
  taken_.push_back({at, radius});
  return true;
}

bool GarmentMaker::random_place(double radius, Site& site, Vec2& uv) {
  for (int tries = 0; tries < 30; ++tries) {
    site = sites_[static_cast<std::size_t>(random_.pick(static_cast<int>(sites_.size())))];
    uv = {site.width * random_.between(0.06, 0.94), site.height * random_.between(0.06, 0.94)};
    if (place_free(site.surface(uv), radius)) return true;
  }
  return false;
}

void GarmentMaker::put(const TrimModel& model, Index shape, const Pose& pose, bool mirrored, double scale) {
  const Index trim = static_cast<Index>(out_.trims.size());
  out_.trims.push_back({Role::Trim, shape, mirrored, scale});
  Mat3 linear = pose.rotation;
  for (double& x : linear.m) x *= scale;
  if (mirrored) linear = linear * Mat3{{-1, 0, 0, 0, 1, 0, 0, 0, 1}};
  for (const Solid& part : model.parts) add_piece(moved(part, linear, pose.translation), Role::Trim, trim, model.kind);
}

void GarmentMaker::add_trims() {
  const std::size_t before = out_.trims.size();
  // Sometimes only one kind, sometimes a single trim.
  const int only = random_.chance(0.25) ? random_.pick(8) : -1;
  const auto wanted = [&](int kind, double chance) { return only >= 0 ? only == kind : random_.chance(chance); };
  if (wanted(0, 0.7)) add_buttons();
  if (wanted(1, 0.3)) add_scattered(make_snap(random_, thickness_), random_.whole(1, 8));
  if (wanted(1, 0.2)) add_scattered(make_rivet(random_, thickness_), random_.whole(1, 10));
  if (wanted(2, 0.3)) add_scattered(make_eyelet(random_, thickness_), random_.whole(1, 10));
  if (wanted(3, 0.35)) add_zipper();
  if (wanted(4, 0.25)) add_hooks();
  if (wanted(5, 0.3)) add_embellishment();
  if (wanted(6, 0.3)) add_buckles();
  if (only < 0 && random_.chance(0.15)) add_scattered(make_badge(random_), 1);
  if (only < 0 && random_.chance(0.2)) add_scattered(make_toggle(random_), random_.whole(1, 4));
  if (only < 0 && random_.chance(0.06)) add_fine_trim();
  if (!cord_tips_.empty() && only < 0 && random_.chance(0.7)) {
    const TrimModel model = make_cord_end(random_, cord_radius_);
    const Index shape = new_shape();
    for (const auto& tip : cord_tips_) {
      const Vec3 u = normalized(cross(tip[1], std::abs(tip[1].z) < 0.9 ? Vec3{0, 0, 1} : Vec3{1, 0, 0}));
      put(model, shape, {from_columns(u, cross(tip[1], u), tip[1]), tip[0] - 6 * tip[1]});
    }
  }
  if (wanted(7, 0.45)) add_stitches();
  if (out_.trims.size() == before) add_buttons();
}

void GarmentMaker::add_buttons() {
  constexpr std::array<double, 7> lignes{14, 16, 18, 20, 24, 32, 40};
  const double d =
      0.635 * lignes[static_cast<std::size_t>(random_.pick(size_ < 0.5 ? 3 : 7))] * (size_ < 0.5 ? 0.6 : 1);
  const int holes = 2 * random_.pick(3);
  const bool shank = random_.chance(0.15);
  const bool thread = random_.chance(0.6);
  const TrimModel model = shank ? make_shank_button(random_, d) : make_button(random_, d, holes, thread);
  const Index shape = new_shape();
  const Site site = sites_[static_cast<std::size_t>(random_.pick(static_cast<int>(sites_.size())))];
  const int count = random_.whole(1, 9);
  const double lift = 0.5 * thickness_ + (random_.chance(0.3) ? random_.between(-1, 1.5) : 0.1);
  const double x = random_.between(0.1, 0.9) * site.width;
  const bool lined_up = random_.chance(0.6);
  for (int i = 0; i < count; ++i) {
    const Vec2 uv{x, site.height * (0.08 + 0.84 * i / std::max(1, count - 1))};
    if (!place_free(site.surface(uv), model.reach)) continue;
    put(model, shape, frame_at(site.surface, uv, lift, lined_up ? 0 : random_.between(0, 6.28)));
  }
  if (random_.chance(0.35)) {  // near copies: 0.5 mm larger across, or another number of holes
    Random again(random_.bits());
    const bool wider = shank || random_.chance(0.5);
    TrimModel near = model;
    if (wider) {
      const double k = (d + 0.5) / d;
      for (Solid& s : near.parts) s = moved(s, Mat3{{k, 0, 0, 0, k, 0, 0, 0, 1}}, {});
    } else {
      near = make_button(again, d, holes == 4 ? 2 : 4, thread);
    }
    const Index other = new_shape();
    Site at;
    Vec2 uv;
    for (int i = random_.whole(1, 3); i > 0; --i)
      if (random_place(model.reach, at, uv)) put(near, other, frame_at(at.surface, uv, lift, 0));
  }
  if (random_.chance(0.2)) {  // the same button at another size, exactly scaled
    const double scale = random_.between(0.6, 0.85);
    Site at;
    Vec2 uv;
    for (int i = random_.whole(1, 4); i > 0; --i)
      if (random_place(model.reach, at, uv)) put(model, shape, frame_at(at.surface, uv, lift, 0), false, scale);
  }
  if (random_.chance(0.2)) {  // two close together
    Site at;
    Vec2 uv;
    if (random_place(2 * model.reach, at, uv)) {
      put(model, shape, frame_at(at.surface, uv, lift, 0));
      const Vec2 next{uv.x, uv.y + 2 * model.reach + random_.between(0.4, 2)};
      put(model, shape, frame_at(at.surface, next, lift, 0));
    }
  }
}

void GarmentMaker::add_scattered(const TrimModel& model, int count) {
  const Index shape = new_shape();
  const double lift = model.kind == "badge" || model.kind == "toggle" ? 0.5 * thickness_ : 0.0;
  for (int i = 0; i < count; ++i) {
    Site site;
    Vec2 uv;
    if (random_place(model.reach, site, uv))
      put(model, shape, frame_at(site.surface, uv, lift, random_.between(0, 6.28)));
  }
}

void GarmentMaker::add_zipper() {
  constexpr std::array<double, 4> gauges{3, 4.5, 5, 8};
  const double gauge = gauges[static_cast<std::size_t>(random_.pick(4))];
  const TrimModel element = make_zipper_element(random_, gauge);
  const TrimModel slider = make_slider(random_, gauge);
  const Site site = sites_[static_cast<std::size_t>(random_.pick(static_cast<int>(sites_.size())))];
  const double pitch = random_.between(0.6, 0.95) * gauge;
  const double run = std::min(0.85 * site.height, random_.between(60, 250));
  const double x = random_.between(0.2, 0.8) * site.width;
  const double y = 0.08 * site.height;
  const double lift = 0.5 * thickness_ + 0.3 * gauge;
  if (random_.chance(0.6)) {
    const double above = 0.4 + 0.5 * thickness_;
    for (const double side : {-1.0, 1.0}) {
      const Surface3 tape = [=](Vec2 p) {
        const Vec2 q{x + side * (0.3 * gauge + p.x), y + (side < 0 ? p.y : run - p.y)};
        return site.surface(q) + above * normal_at(site.surface, q);
      };
      SheetOptions o;
      o.spacing = spacing_ * (random_.chance(0.5) ? 1 : 0.5);
      o.thickness = thickness_ > 0 ? 0.6 : 0;
      add_cloth(sheet(tape, 12, run, {}, o), "zipper tape");
    }
  }
  const Index shape = new_shape();
  const int n = static_cast<int>(run / pitch);
  const double slider_at = y + run * random_.between(0.5, 0.9);
  const double open = random_.chance(0.4) ? 0.35 : 0.0;
  const double reach = 0.16 * gauge;
  const bool flip = random_.chance(0.5);
  for (int i = 0; i < n; ++i)
    for (const double side : {-1.0, 1.0}) {
      const double v = y + pitch * (i + (side > 0 ? 0.5 : 0.0));
      const double spread = v > slider_at ? open * (v - slider_at) : 0.0;
      const Vec2 uv{x + side * (reach + spread), v};
      Pose pose = frame_at(site.surface, uv, lift, side < 0 ? 0 : kPi);
      if (flip && side > 0) {  // the other side is the mirror image
        pose = frame_at(site.surface, uv, lift, 0);
        put(element, shape, pose, true);
      } else {
        put(element, shape, pose);
      }
    }
  taken_.push_back({site.surface({x, y}), gauge});
  for (double v = y; v < y + run; v += gauge) taken_.push_back({site.surface({x, v}), 2 * gauge});
  put(slider, new_shape(), frame_at(site.surface, {x, slider_at}, lift, 0));
  if (random_.chance(0.6)) {
    const TrimModel stop = make_zipper_stop(random_, gauge);
    put(stop, new_shape(), frame_at(site.surface, {x, y - 1.2 * gauge}, lift, 0));
  }
}

void GarmentMaker::add_hooks() {
  const TrimModel hook = make_hook(random_);
  const TrimModel eye = make_eye(random_);
  const Index a = new_shape();
  const Index b = new_shape();
  const int count = random_.whole(1, 6);
  const double lift = 0.5 * thickness_;
  for (int i = 0; i < count; ++i) {
    Site site;
    Vec2 uv;
    if (random_place(hook.reach + eye.reach, site, uv)) {
      put(hook, a, frame_at(site.surface, uv, lift, 0), i % 2 == 1 && random_.chance(0.5));
      const Vec2 other{uv.x + hook.reach + eye.reach + 1, uv.y};
      put(eye, b, frame_at(site.surface, other, lift, 0));
    }
  }
}

void GarmentMaker::add_embellishment() {
  const int kind = random_.pick(3);
  const TrimModel model =
      kind == 0 ? make_bead(random_) : (kind == 1 ? make_sequin(random_) : make_rhinestone(random_));
  const Index shape = new_shape();
  const Site site = sites_[static_cast<std::size_t>(random_.pick(static_cast<int>(sites_.size())))];
  const double lift = 0.5 * thickness_;
  const double pitch = 2 * model.reach * random_.between(1.02, 1.8);
  const Vec2 from{random_.between(0.1, 0.6) * site.width, random_.between(0.1, 0.6) * site.height};
  const int across = random_.whole(1, 12);
  const int along = random_.whole(3, 14);
  for (int i = 0; i < along; ++i)
    for (int j = 0; j < across; ++j) {
      const Vec2 uv{from.x + pitch * j, from.y + pitch * i};
      if (uv.x > site.width || uv.y > site.height || !place_free(site.surface(uv), 0.1 * model.reach)) continue;
      put(model, shape, frame_at(site.surface, uv, lift, random_.between(0, 6.28)));
    }
}

void GarmentMaker::add_buckles() {
  const TrimModel model = random_.chance(0.6) ? make_buckle(random_) : make_d_ring(random_);
  const Index shape = new_shape();
  const int count = random_.whole(1, 3);
  for (int i = 0; i < count; ++i) {
    Site site;
    Vec2 uv;
    if (random_place(model.reach, site, uv))
      put(model, shape, frame_at(site.surface, uv, 0.5 * thickness_, random_.between(0, 6.28)),
          i == 1 && random_.chance(0.4));
  }
}

void GarmentMaker::add_fine_trim() {
  TrimModel model{"fine button", {ball(9, 250, 200)}, 9};
  model.parts[0] = moved(model.parts[0], Mat3{{1, 0, 0, 0, 1, 0, 0, 0, 0.4}}, {0, 0, 3.4});
  add_scattered(model, random_.whole(1, 2));
}

void GarmentMaker::add_stitches() {
  const int style = random_.pick(kStitchStyles);
  const double l = random_.between(1.5, 4.2);
  const double r = random_.between(0.15, 0.45);
  const double pitch = l * random_.between(1.02, 1.6);
  const bool bent = random_.chance(0.35);
  const bool zigzag = random_.chance(0.15);
  const Solid model = make_stitch(style, l, r);
  const Index shape = bent ? kNone : new_shape();
  int left = options_.large ? 6000 : random_.whole(40, 500);
  const double lift = 0.5 * thickness_ + random_.between(0.0, 0.4) + (style == 1 ? 0.3 * r : 0);
  for (int line = 0; line < 60 && left > 0; ++line) {
    const Site site = sites_[static_cast<std::size_t>(random_.pick(static_cast<int>(sites_.size())))];
    const bool up = random_.chance(0.5);
    const double inset = random_.between(3, 12);
    const double other =
        up ? (random_.chance(0.5) ? inset : site.width - inset) : (random_.chance(0.5) ? inset : site.height - inset);
    const double run = up ? site.height : site.width;
    for (double s = 4; s < run - 4 && left > 0; s += pitch * (zigzag ? 0.7 : 1), --left) {
      const Vec2 uv = up ? Vec2{other, s} : Vec2{s, other};
      const double slant = zigzag ? (left % 2 == 0 ? 0.7 : -0.7) : 0;
      const Index trim = static_cast<Index>(out_.trims.size());
      out_.trims.push_back({Role::Stitching, shape, false, 1});
      Solid piece;
      if (bent) {
        piece = model;
        const Mat3 turn = turn_z((up ? 0.5 * kPi : 0) + slant);
        for (Vec3& p : piece.vertices) {
          const Vec3 q = turn * p;
          const Vec2 at{uv.x + q.x, uv.y + q.y};
          p = site.surface(at) + (lift + q.z) * normal_at(site.surface, at);
        }
      } else {
        const Pose pose = lifted(frame_at(site.surface, uv, lift, (up ? 0.5 * kPi : 0) + slant), 0);
        piece = moved(model, pose.rotation, pose.translation);
      }
      add_piece(std::move(piece), Role::Stitching, trim, "stitch");
    }
  }
}

}  // namespace trimtack::testing
