// SPDX-License-Identifier: MIT
#include "demo/trims.hpp"

namespace trimtack::coat {
namespace {

std::string numbered(const std::string& stem, std::size_t i, int digits) {
  std::string number = std::to_string(i);
  while (static_cast<int>(number.size()) < digits) number.insert(number.begin(), '0');
  return stem + "_" + number;
}

/// Stands at `place`, local z along the cloth's normal and local x as near to `direction` as that allows.
Fitted stand(const Place& place, const Vec3& direction, double lift, std::vector<Solid> parts) {
  Fitted fitted;
  const Vec3 n = place.normal, x = normalized(direction - dot(direction, n) * n);
  fitted.axes = from_columns(x, cross(n, x), n);
  fitted.origin = place.point + lift * n;
  fitted.parts = std::move(parts);
  return fitted;
}

struct Fitter {
  const Coat& coat;
  std::vector<Fitted> out;

  void add(Fitted fitted, std::string name, std::string object, std::string group) {
    fitted.name = std::move(name);
    fitted.object = std::move(object);
    fitted.group = std::move(group);
    out.push_back(std::move(fitted));
  }

  /// Stitches along a line on a piece, one pitch apart as measured on the worn cloth.
  void stitch(const std::string& panel, const std::vector<Vec2>& corners) {
    const PanelFinder finder(coat.panel(panel));
    std::vector<Vec2> line;
    for (std::size_t k = 0; k + 1 < corners.size(); ++k) {
      const double span = std::hypot(corners[k + 1].x - corners[k].x, corners[k + 1].y - corners[k].y);
      const int steps = std::max(1, static_cast<int>(std::lround(span / 2)));
      for (int i = k == 0 ? 0 : 1; i <= steps; ++i)
        line.push_back(mix(corners[k], corners[k + 1], static_cast<double>(i) / steps));
    }
    double whole = 0;
    Vec3 before = finder.at(line.front()).point;
    for (const Vec2& p : line) {
      const Vec3 here = finder.at(p).point;
      whole += length(here - before);
      before = here;
    }
    const int count = static_cast<int>(whole / kStitchPitch);
    // Twice as many stops as stitches: every other one is a middle, its neighbours give the direction.
    const auto stops = resample(line, 2 * count, [&](Vec2 p) { return finder.at(p).point; });
    const Solid solid = make_stitch(0.84 * kStitchPitch);
    for (int i = 0; i < count; ++i) {
      const auto k = 2 * static_cast<std::size_t>(i);
      const Vec3 ahead = finder.at(stops[k + 2]).point - finder.at(stops[k]).point;
      add(stand(finder.at(stops[k + 1]), ahead, 0, {solid}), numbered("stitch", ++stitches, 4), "edge_stitching",
          "thread");
    }
  }
  std::size_t stitches = 0;
};

/// Line 2.5 mm inside a pocket's sides and bottom, with its cut-off corners.
std::vector<Vec2> pocket_seam(double side, Vec2 low, Vec2 high, double corner) {
  constexpr double kIn = 2.5;
  const double c = corner + 1;
  return {{side * (low.x + kIn), high.y - 3}, {side * (low.x + kIn), low.y + c},  {side * (low.x + c), low.y + kIn},
          {side * (high.x - c), low.y + kIn}, {side * (high.x - kIn), low.y + c}, {side * (high.x - kIn), high.y - 3}};
}

void fit_buttons(Fitter& fitter, Random& random, int wrong_layer_button) {
  constexpr double kStand = 1.2, kThick = 3.2;
  constexpr double kSunk = 0.15;  // the wrong one, its back over the under front
  const PanelFinder over(fitter.coat.panel("front_left")), under(fitter.coat.panel("front_right"));
  std::vector<Solid> parts{make_button(24 * kLigne, kThick, 4, 1.9, 2.4, kStand)};
  for (Solid& thread : make_button_threads(kThick, 4, 2.4, kStand)) parts.push_back(std::move(thread));
  for (int i = 0; i < 6; ++i) {
    const double spin = random.between(-0.6, 0.6);
    const bool wrong = i == wrong_layer_button;
    const Place place = (wrong ? under : over).at({0, 1392.0 - 92.0 * i});
    const Vec3 direction = turned(place.along, place.normal, spin);
    fitter.add(stand(place, direction, wrong ? kSunk - kStand : 0.0, parts),
               numbered("button", static_cast<std::size_t>(i) + 1, 1),
               numbered("front_button", static_cast<std::size_t>(i) + 1, 1), "buttons");
  }
  std::vector<Solid> small{make_button(20 * kLigne, 2.8, 2, 1.8, 1.7, 1.0)};
  for (Solid& thread : make_button_threads(2.8, 2, 1.7, 1.0)) small.push_back(std::move(thread));
  for (const bool left : {true, false}) {
    const PanelFinder cuff(fitter.coat.panel(left ? "cuff_left" : "cuff_right"));
    const Place place = cuff.at({62, -make_arm(left).reach - 36});
    const std::string name = left ? "cuff_button_left" : "cuff_button_right";
    fitter.add(stand(place, turned(place.along, place.normal, random.between(-0.6, 0.6)), 0, small), name, name,
               "buttons");
  }
}

void fit_snaps_and_rivets(Fitter& fitter, Random& random) {
  std::size_t rivets = 0;
  for (const double side : {1.0, -1.0}) {
    const std::string where = side > 0 ? "_left" : "_right";
    const PanelFinder flap(fitter.coat.panel("chest_flap" + where)), pocket(fitter.coat.panel("hip_pocket" + where));
    const Place at = flap.at({side * left_snap_place().x, left_snap_place().y});
    fitter.add(stand(at, turned(at.along, at.normal, random.between(0, 6)), 0, make_snap(20 * kLigne)), "snap" + where,
               "pocket_snap" + where, "snaps");
    for (const double x : {74.5, sliver_rivet_place().x}) {
      ++rivets;
      const Place corner = pocket.at({side * x, sliver_rivet_place().y});
      fitter.add(stand(corner, turned(corner.along, corner.normal, random.between(0, 6)), 0, make_rivet(9, 8, 2.4)),
                 numbered("rivet", rivets, 1), numbered("pocket_rivet", rivets, 1), "rivets");
    }
  }
}

void fit_zipper(Fitter& fitter) {
  constexpr double kPitch = 2.5, kFirst = 99, kCount = 49, kMiddle = 1138, kEdge = 0.5;
  const PanelFinder lower(fitter.coat.panel("zip_tape_lower")), upper(fitter.coat.panel("zip_tape_upper"));
  for (int i = 0; i < kCount; ++i)
    for (const bool low : {true, false}) {
      const double x = kFirst + kPitch * (i + (low ? 0.0 : 0.5));
      const Place at = (low ? lower : upper).at({x, kMiddle + (low ? -kEdge : kEdge)});
      fitter.add(stand(at, low ? at.up : -at.up, 0, {make_zip_element()}),
                 numbered("zip_element", 2 * static_cast<std::size_t>(i) + (low ? 1 : 2), 3),
                 low ? "zip_chain_lower" : "zip_chain_upper", "zipper");
    }
  const Place top = lower.at({kFirst + kPitch * kCount + 6.5, kMiddle}), bottom = lower.at({95.5, kMiddle});
  // The slider's pull hangs back over the closed chain: local y points away from it.
  fitter.add(stand(top, top.up, 0, make_zip_slider()), "zip_slider", "zip_slider", "zipper");
  fitter.add(stand(bottom, bottom.up, 0, {make_zip_stop(5.2)}), "zip_stop_bottom", "zip_stops", "zipper");
  for (const bool low : {true, false}) {
    const Place at = (low ? lower : upper).at({243, kMiddle + (low ? -1.7 : 1.7)});
    fitter.add(stand(at, at.up, 0, {make_zip_stop(2.0)}), low ? "zip_stop_lower" : "zip_stop_upper", "zip_stops",
               "zipper");
  }
}

}  // namespace

Vec2 sliver_rivet_place() { return {229.5, 1044}; }
Vec2 left_snap_place() { return {114, 1253}; }

std::vector<Fitted> fit_trims(const Coat& coat, std::uint64_t seed, int wrong_layer_button, bool elbow_bar) {
  Fitter fitter{coat, {}, 0};
  Random random{seed * 101 + 3};
  fit_buttons(fitter, random, wrong_layer_button);
  fit_snaps_and_rivets(fitter, random);
  fit_zipper(fitter);
  if (elbow_bar) {
    const PanelFinder sleeve(coat.panel("sleeve_left"));
    const Place at = sleeve.at({66 * std::numbers::pi / 2, -318});
    fitter.add(stand(at, at.up, 0, {make_bar(76, 24, 2.5)}), "elbow_bar", "elbow_bar", "bars");
  }
  for (const double side : {1.0, -1.0}) {
    const std::string where = side > 0 ? "_left" : "_right";
    fitter.stitch("chest_pocket" + where, pocket_seam(side, {58, 1158}, {170, 1288}, 18));
    fitter.stitch("chest_flap" + where, {{side * 57.5, 1301}, {side * 170.5, 1301}});
    fitter.stitch("hip_pocket" + where, pocket_seam(side, {66, 866}, {238, 1052}, 26));
  }
  fitter.stitch("front_left", {{-14, 825}, {-14, 1425}});
  return std::move(fitter.out);
}

}  // namespace trimtack::coat
