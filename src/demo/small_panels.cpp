// SPDX-License-Identifier: MIT
// Pockets, flaps, tabs, label and the inside pocket: laid on the body pieces at small stand-offs.
#include "demo/panels.hpp"

namespace trimtack::coat {
namespace {

/// A piece laid on the body: u and v in [0, 1] give the pattern coordinates and the height over the cloth.
struct Patch {
  std::string name, group, material;
  Half half = Half::Front;
  int columns = 0, rows = 0;
  bool triangles = false;
  bool inward = false;  ///< lies on the inner side of the body, its right side facing the wearer
  double side = 1;      ///< -1 mirrors it to the wearer's right
  std::function<Vec2(double, double)> cut;
  std::function<double(double, double)> height;
};

Panel lay_on(const Body& body, const Patch& patch) {
  Panel panel;
  panel.name = patch.name;
  panel.group = patch.group;
  panel.material = patch.material;
  panel.columns = patch.columns;
  panel.rows = patch.rows;
  panel.triangles = patch.triangles;
  panel.flipped = (patch.side < 0) != patch.inward;
  if (patch.half == Half::Back) panel.flipped = !panel.flipped;
  for (int j = 0; j <= patch.rows; ++j)
    for (int i = 0; i <= patch.columns; ++i) {
      const double u = static_cast<double>(i) / patch.columns, v = static_cast<double>(j) / patch.rows;
      Vec2 p = patch.cut(u, v);
      p.x *= patch.side;
      panel.cut.push_back(p);
      panel.positions.push_back(body.offset(patch.half, p, patch.height(u, v)));
    }
  mesh_grid(panel);
  return panel;
}

double bulge(double u, double v) { return std::sin(std::numbers::pi * u) * std::sin(std::numbers::pi * v); }

/// A patch pocket with cut-off lower corners; `open` is how far its mouth stands off.
Patch pocket(const std::string& name, double side, Vec2 low, Vec2 high, double corner, double open) {
  Patch patch;
  patch.name = name;
  patch.group = "pockets";
  patch.material = "canvas_indigo_light";
  patch.side = side;
  patch.columns = static_cast<int>(std::lround((high.x - low.x) / 10));
  patch.rows = static_cast<int>(std::lround((high.y - low.y) / 10));
  patch.cut = [=](double u, double v) -> Vec2 {
    const double x = mix(low.x, high.x, u);
    const double lift = corner * std::max(0.0, 1 - std::min(x - low.x, high.x - x) / corner);
    return {x, mix(low.y + lift, high.y, v)};
  };
  patch.height = [=](double u, double v) {
    return 1.3 + 2.0 * bulge(u, v) + open * std::sin(std::numbers::pi * u) * ramp(0.75, 1.0, v);
  };
  return patch;
}

/// A pocket flap with a blunt point; stands further off than the pocket beneath it.
Patch flap(const std::string& name, double side, Vec2 low, Vec2 high) {
  Patch patch;
  patch.name = name;
  patch.group = "pockets";
  patch.material = "canvas_indigo_light";
  patch.side = side;
  patch.columns = static_cast<int>(std::lround((high.x - low.x) / 10));
  patch.rows = static_cast<int>(std::lround((high.y - low.y + 14) / 9));
  patch.triangles = true;
  patch.cut = [=](double u, double v) -> Vec2 {
    const double point = 14.0 * (1 - std::abs(2 * u - 1));
    return {mix(low.x, high.x, u), mix(low.y - point, high.y, v)};
  };
  patch.height = [=](double u, double v) {
    return 1.3 + 4.2 * ramp(1.0, 0.55, v) + 2.6 * std::sin(std::numbers::pi * u) * ramp(1.0, 0.3, v);
  };
  return patch;
}

/// A strip sewn down at both ends and standing off in between, like a belt loop (10 x 45 mm is the usual size).
Patch tab(const std::string& name, Half half, Vec2 centre, double width, double long_way) {
  Patch patch;
  patch.name = name;
  patch.group = "tabs";
  patch.material = "canvas_indigo_light";
  patch.half = half;
  patch.columns = std::max(2, static_cast<int>(std::lround(width / 6)));
  patch.rows = std::max(6, static_cast<int>(std::lround(long_way / 6)));
  patch.cut = [=](double u, double v) -> Vec2 {
    return {centre.x + width * (u - 0.5), centre.y + long_way * (v - 0.5)};
  };
  patch.height = [](double, double v) { return 0.9 + 3.4 * ramp(0.08, 0.35, v) * ramp(0.92, 0.65, v); };
  return patch;
}

Patch flat_patch(const std::string& name, const std::string& material, Vec2 low, Vec2 high, double height,
                 double edge) {
  Patch patch;
  patch.name = name;
  patch.material = material;
  patch.columns = std::max(1, static_cast<int>(std::lround((high.x - low.x) / edge)));
  patch.rows = std::max(1, static_cast<int>(std::lround((high.y - low.y) / edge)));
  patch.cut = [=](double u, double v) -> Vec2 { return {mix(low.x, high.x, u), mix(low.y, high.y, v)}; };
  patch.height = [=](double, double) { return height; };
  return patch;
}

}  // namespace

void add_small_panels(Coat& coat) {
  const auto add = [&](const Patch& patch) { coat.panels.push_back(lay_on(coat.body, patch)); };
  for (const double side : {1.0, -1.0}) {
    const std::string where = side > 0 ? "_left" : "_right";
    add(pocket("chest_pocket" + where, side, {58, 1158}, {170, 1288}, 18, 0.0));
    add(flap("chest_flap" + where, side, {55, 1256}, {173, 1304}));
    add(pocket("hip_pocket" + where, side, {66, 866}, {238, 1052}, 26, 3.0));
  }
  for (const double x : {-172.0, 0.0, 172.0})
    add(tab(x < 0 ? "loop_right" : (x > 0 ? "loop_left" : "loop_back"), Half::Back, {x, 1010}, 12, 54));

  Patch label = flat_patch("size_label", "twill_tape", {-30, 1400}, {30, 1430}, -1.5, 10);
  label.group = "inside";
  label.half = Half::Back;
  label.inward = true;
  add(label);

  // Inside the left front: a pocket bag, and above it the two tapes of its zipper, edge to edge with a 1 mm gap.
  Patch bag = flat_patch("inside_pocket", "lining_ticking", {92, 1050}, {242, 1138}, -1.5, 10);
  Patch lower = flat_patch("zip_tape_lower", "zip_tape", {88, 1124}, {248, 1137.5}, -6.0, 6.75);
  Patch upper = flat_patch("zip_tape_upper", "zip_tape", {88, 1138.5}, {248, 1152}, -6.0, 6.75);
  lower.columns = upper.columns = 16;
  lower.triangles = upper.triangles = true;
  for (Patch* patch : {&bag, &lower, &upper}) {
    patch->group = "inside";
    patch->inward = true;
    add(*patch);
  }
}

}  // namespace trimtack::coat
