// SPDX-License-Identifier: MIT
// Layers that a trim clamps, and cloth that has gone through a trim, against closed forms: layers that are moved
// against one another by a known way, and shapes under which they keep together (parallel cylinders, shear, stretch).
#include <catch2/catch.hpp>

#include "support/fit_scene.hpp"
#include "trimtack/fit.hpp"

using namespace trimtack;
using namespace trimtack::test;

namespace {

/// Layers of cloth at the heights given, each a component.
Scene layers_at(const std::vector<double>& heights, double step) {
  Scene scene;
  for (std::size_t i = 0; i < heights.size(); ++i) {
    const double z = heights[i];
    const auto flat = [z](double u, double v) { return Vec3{u, v, z}; };
    add_grid(scene.sheet, 40, 40, step, flat, static_cast<Index>(i), static_cast<unsigned>(3 + i));
  }
  complete_cloth(scene.sheet.cloth);
  return scene;
}

/// Cap over the first layer and stud beneath the last one, one trim.
void add_snap(Scene& scene, double top, double bottom) {
  add_trim(scene, "snap", disc(0, 0, 15), top + 0.05, 2.5);
  add_trim(scene, "stud", disc(0, 0, 13), bottom - 2.05, 2.0);
  make_one_trim(scene.trims);
  scene.feet.offsets.pop_back();
  scene.feet.points.resize(scene.feet.offsets.back());
  scene.table.bindings.pop_back();
}

using Move = std::function<Vec3(const Vec3& rest, Index component)>;

std::vector<Vec3> moved(const Scene& scene, const Move& move) {
  const ClothMesh& cloth = scene.sheet.cloth;
  std::vector<Vec3> out = cloth.positions;
  for (Index f = 0; f + 1 < cloth.face_offsets.size(); ++f) {
    for (Index k = cloth.face_offsets[f]; k < cloth.face_offsets[f + 1]; ++k) {
      const Index v = cloth.face_corners[k];
      out[v] = move(cloth.positions[v], cloth.component_of_face[f]);
    }
  }
  return out;
}

FitMeasures one_frame(const Scene& scene, const Move& move, const Pose& pose = {}) {
  return measure(scene, {moved(scene, move)}, {{pose}}).frames[0][0];
}

}  // namespace

TEST_CASE("A snap on two layers says how far the second one slips or parts from under it, and which it is") {
  const Pose ride = about(rotation_about({1, 2, 3}, 1.1), {1, 2, 3}, {50, -20, 8});
  for (const double step : {3.0, 8.0, 20.0}) {
    Scene scene = layers_at({0, -1.2}, step);
    add_snap(scene, 0, -1.2);
    for (const Vec3& way : {Vec3{2, 0, 0}, Vec3{0, 0, -3}, Vec3{-1, 2, -2}, Vec3{0, 0.5, 0}, Vec3{}}) {
      const FitMeasures m = one_frame(
          scene, [&](const Vec3& p, Index c) { return apply(ride, c == 1 ? p + way : p); }, ride);
      CHECK(m[Measure::Clamped] == Approx(length(way)).margin(1e-5));
      if (length(way) > 0) CHECK(m.clamped_layer == 1);
    }
    const Measured m = measure(scene,
                               {moved(scene,
                                      [](const Vec3& p, Index c) {
                                        return p + c * Vec3{4, 0, 0};
                                      })},
                               {{{}}});
    CHECK(m.summary.trims[0].cause == Measure::Clamped);
    CHECK(m.summary.trims[0].clamped_layer == 1);
    CHECK(m.summary.trims[0].advice.find("clamps as well") != std::string::npos);
  }
}

TEST_CASE("Layers that bend, shear and stretch together under a snap have not slipped, nor has a pose that is off") {
  for (const double step : {2.0, 4.0}) {
    for (const double apart : {0.4, 1.2, 3.0}) {
      Scene scene = layers_at({0, -apart}, step);
      add_snap(scene, 0, -apart);
      for (const double r : {30.0, -30.0}) {
        const FitMeasures bent = one_frame(scene, [r](const Vec3& p, Index) {
          return Vec3{(r + p.z) * std::sin(p.x / r), p.y, (r + p.z) * std::cos(p.x / r) - r};
        });
        CHECK(bent[Measure::Clamped] < 0.15F);
      }
      CHECK(one_frame(scene, [](const Vec3& p, Index) { return p + Vec3{0.3 * p.y, 0, 0}; })[Measure::Clamped] < 1e-5F);
      CHECK(one_frame(scene, [](const Vec3& p, Index) {
              return Vec3{1.2 * p.x, 0.9 * p.y, p.z};
            })[Measure::Clamped] < 1e-5F);
      CHECK(one_frame(scene, [](const Vec3& p, Index) { return p; }, {Mat3{}, {1, 2, 3}})[Measure::Clamped] < 1e-5F);
    }
  }
}

TEST_CASE(
    "A stud whose rim sinks into the layer over it on a bend is as deep in it as the rim sinks, not as it is thick") {
  for (const double step : {2.0, 4.0, 8.0}) {
    Scene scene = layers_at({0, -1.2}, step);
    add_snap(scene, 0, -1.2);
    const FitMeasures bent = one_frame(scene, [](const Vec3& p, Index) {
      return Vec3{(30 + p.z) * std::sin(p.x / 30), p.y, (30 + p.z) * std::cos(p.x / 30) - 30};
    });
    const double inner = 30 - 1.2, rim = 7.5;
    CHECK(bent[Measure::OtherLayer] < inner - std::sqrt(inner * inner - rim * rim) + 0.1);
  }
}

TEST_CASE("Each of three layers under a snap is watched; what lies loose over it is not") {
  Scene scene = layers_at({0, -1, -2, 4}, 4);
  add_snap(scene, 0, -2);
  for (const Index slips : {1U, 2U}) {
    const FitMeasures m = one_frame(scene, [slips](const Vec3& p, Index c) {
      return c == slips ? p + Vec3{2, 0, 0} : p;
    });
    CHECK(m[Measure::Clamped] == Approx(2).margin(1e-5));
    CHECK(m.clamped_layer == slips);
  }
  CHECK(one_frame(scene, [](const Vec3& p, Index c) {
          return c == 3 ? p + Vec3{20, 0, 3} : p;
        })[Measure::Clamped] < 1e-5F);
}

TEST_CASE("A trim on one side of its cloth, and one that is sunk through it, clamp nothing") {
  for (const double bottom : {0.0, -1.5}) {
    Scene scene = layers_at({0, -1}, 4);
    add_trim(scene, "button", disc(0, 0, 15), bottom, 3.0);
    const FitMeasures m = one_frame(scene, [](const Vec3& p, Index c) { return c == 1 ? p + Vec3{5, 0, 0} : p; });
    CHECK(m[Measure::Clamped] == 0);
  }
}

TEST_CASE(
    "A flap that slides into a trim from the side is as deep in it as it is to go, back or off; a strap slides on") {
  for (const double step : {2.0, 5.0}) {
    Scene scene = layers_at({0}, step);
    const auto beside = [](double u, double v) { return Vec3{u + 30, v, 1.2}; };
    add_grid(scene.sheet, 20, 20, step, beside, 1);
    add_grid(
        scene.sheet, 60, 4, step,
        [](double u, double v) {
          return Vec3{u, v, 0.9};
        },
        2);
    complete_cloth(scene.sheet.cloth);
    add_trim(scene, "button", disc(0, 0, 15), 0.05, 2.5);
    const auto slid = [&](Index layer, const Vec3& way) {
      return one_frame(scene, [&](const Vec3& p, Index c) { return c == layer ? p + way : p; });
    };
    const FitMeasures deep = slid(1, {-20, 0, 0});
    CHECK(deep[Measure::OtherLayer] == Approx(1.15).margin(1e-4));
    CHECK(deep.other_layer == 1);
    CHECK(slid(1, {-2.7, 0, 0})[Measure::OtherLayer] < 0.21F);
    CHECK(slid(1, {-2, 0, 0})[Measure::OtherLayer] == 0);
    CHECK(slid(2, {-15, 0, 0})[Measure::OtherLayer] == 0);
  }
}

TEST_CASE("A stem that goes through both layers says when they slip or part; one that ends between them does not") {
  for (const double bottom : {-1.5, -0.8}) {
    for (const double step : {3.0, 8.0}) {
      Scene scene = layers_at({0, -1.2}, step);
      add_trim(scene, "button", disc(0, 0, 15), 0.3, 2.5);
      add_trim(scene, "shank", disc(0, 0, 3), bottom, 1 - bottom);
      make_one_trim(scene.trims);
      scene.feet.offsets.pop_back();
      scene.feet.points.resize(scene.feet.offsets.back());
      scene.table.bindings.pop_back();
      for (const Vec3& way : {Vec3{4, 0, 0}, Vec3{0, 1, -3}, Vec3{}}) {
        const FitMeasures m = one_frame(scene, [&](const Vec3& p, Index c) { return c == 1 ? p + way : p; });
        CHECK(m[Measure::Clamped] == Approx(bottom < -1.2 ? length(way) : 0).margin(1e-5));
      }
    }
  }
}

TEST_CASE("A button that stands through one layer on the next does not follow the wrong one") {
  for (const bool stands : {true, false}) {
    Scene scene = layers_at({0, -1.2}, 4);
    add_trim(scene, "button", disc(0, 0, 15), 0.05, 2.5, 1);
    for (std::size_t k = 0; stands && k < 8; ++k) {
      FootprintPoint foot = scene.feet.points[0];
      foot.point = {std::cos(0.25 * kPi * static_cast<double>(k)), std::sin(0.25 * kPi * static_cast<double>(k)),
                    -1.15};
      scene.feet.points.push_back(foot);
    }
    scene.feet.offsets.back() = static_cast<Index>(scene.feet.points.size());
    const FitMeasures m = one_frame(scene, [](const Vec3& p, Index c) { return c == 0 ? p + Vec3{9, 0, 3} : p; });
    CHECK((m[Measure::WrongLayer] > 1) != stands);
  }
}

TEST_CASE("Layers of which one ends under a snap are told apart by what they belong to, not by their order") {
  Scene scene = layers_at({0, -1.2}, 4);
  add_grid(
      scene.sheet, 20, 40, 4,
      [](double u, double v) {
        return Vec3{u - 20, v, -0.6};
      },
      0);
  complete_cloth(scene.sheet.cloth);
  add_snap(scene, 0, -1.2);
  const FitMeasures m = one_frame(scene, [](const Vec3& p, Index c) { return c == 1 ? p + Vec3{3, 0, 0} : p; });
  CHECK(m[Measure::Clamped] == Approx(3).margin(1e-5));
  CHECK(m.clamped_layer == 1);
}

TEST_CASE("The rim of a trim that hangs over the edge of a thick strap is not measured down to the foot of its wall") {
  Scene scene;
  const auto side = [](double z) { return [z](double u, double v) { return Vec3{u, v, z}; }; };
  add_grid(scene.sheet, 6, 20, 2, side(0), 0);
  const auto back = [](double u, double v) { return Vec3{v, u, -4}; };
  add_grid(scene.sheet, 20, 6, 2, back, 1);
  const auto wall = [](double u, double v) { return Vec3{6, u, v - 2}; };
  add_grid(scene.sheet, 20, 2, 2, wall, 1);
  complete_cloth(scene.sheet.cloth);
  add_trim(scene, "button", disc(3, 0, 6.8), 0.05, 2);
  const auto leaning = [](const Vec3& p, Index) { return p + Vec3{-0.15 * p.z, 0, 0}; };
  const FitMeasures m = one_frame(scene, leaning);
  CHECK(m[Measure::Lift] < 0.01F);
  CHECK(m[Measure::Sink] < 0.01F);
}

TEST_CASE("A thick layer that cuts through a trim is measured by its face, though its two faces look opposite ways") {
  for (const double step : {3.0, 8.0}) {
    Scene scene = layers_at({0, -1.5}, step);
    const auto back = [](double u, double v) { return Vec3{v, u, -2.7}; };
    add_grid(scene.sheet, 40, 40, step, back, 1, 4);
    complete_cloth(scene.sheet.cloth);
    add_trim(scene, "button", disc(0, 0, 15), 0.05, 2.5);
    const FitMeasures m = one_frame(scene, [](const Vec3& p, Index c) { return c == 1 ? p + Vec3{0, 0, 3.3} : p; });
    CHECK(m[Measure::OtherLayer] == Approx(1.75).margin(1e-4));
    CHECK(m.other_layer == 1);
  }
}

TEST_CASE("Cloth that ends a frame on the other side of a trim has gone through it, though nothing crosses any more") {
  const Pose ride = about(rotation_about({1, 2, 3}, 1.1), {1, 2, 3}, {50, -20, 8});
  for (const double step : {3.0, 8.0, 20.0}) {
    Scene scene = layers_at({0, 4, -1}, step);
    add_trim(scene, "button", disc(1, 2, 15), 0.0, 2.5);
    const auto after = [&](Index layer, const Vec3& way) {
      return one_frame(
          scene, [&](const Vec3& p, Index c) { return apply(ride, c == layer ? p + way : p); }, ride);
    };
    // From 4 over the cloth to 1.5 beneath it; back to the top of the button it is 4.
    const FitMeasures over = after(1, {2, 1, -5.5});
    CHECK(over[Measure::OtherLayer] == Approx(4).margin(1e-5));
    CHECK(over.other_layer == 1);
    // The layer beneath it, from -1 to 3.5; down to the button's underside it is 3.5.
    const FitMeasures under = after(2, {-1, 1, 4.5});
    CHECK(under[Measure::OtherLayer] == Approx(3.5).margin(1e-5));
    CHECK(under.other_layer == 2);
    CHECK(after(1, {20, 0, 0})[Measure::OtherLayer] == 0);
    CHECK(after(1, {0, 0, 15})[Measure::OtherLayer] == 0);
    CHECK(after(1, {3, 3, -1.2})[Measure::OtherLayer] == 0);
    CHECK(after(2, {0, 0, -6})[Measure::OtherLayer] == 0);
  }
}

TEST_CASE("Cloth that goes away and comes back beneath has not gone through; neither has a strap round its bar") {
  Scene scene = layers_at({0, 4}, 5);
  add_trim(scene, "button", disc(1, 2, 15), 0.0, 2.5);
  std::vector<std::vector<Vec3>> cloths;
  for (const Vec3& way : {Vec3{0, 0, 30}, Vec3{90, 0, 30}, Vec3{90, 0, -9}, Vec3{0, 0, -9}}) {
    cloths.push_back(moved(scene, [&](const Vec3& p, Index c) { return c == 1 ? p + way : p; }));
  }
  const Measured round = measure(scene, cloths, std::vector<std::vector<Pose>>(4, {Pose{}}));
  CHECK(round.summary.trims[0][Measure::OtherLayer].value == 0);
  CHECK(measure(scene, {cloths[3]}, {{{}}}).summary.trims[0][Measure::OtherLayer].value > 7);

  // A strap comes over the bar, turns round it and goes back beneath; it is pulled by 4 mm a frame.
  const auto strap = [](double pulled) {
    return [pulled](double u, double v) {
      const double s = u + pulled, r = 3.5, quarter = 0.5 * kPi * r;
      if (s < -quarter) return Vec3{s + quarter, v, 2 * r - 2};
      if (s > quarter) return Vec3{quarter - s, v, -2};
      return Vec3{r * std::cos(s / r), v, r - 2 - r * std::sin(s / r)};
    };
  };
  Scene buckle;
  add_grid(
      buckle.sheet, 40, 40, 4,
      [](double u, double v) {
        return Vec3{u, v, 0};
      },
      0);
  const std::size_t first = buckle.sheet.flat.size();
  add_grid(buckle.sheet, 40, 8, 1, strap(0), 1);
  complete_cloth(buckle.sheet.cloth);
  add_trim(buckle, "bar", bar(0, 0, 3, 20), 0.0, 3.0);
  cloths.clear();
  for (int f = 0; f < 6; ++f) {
    cloths.push_back(buckle.sheet.cloth.positions);
    for (std::size_t i = first; i < buckle.sheet.flat.size(); ++i) {
      cloths.back()[i] = strap(4.0 * f)(buckle.sheet.flat[i].x, buckle.sheet.flat[i].y);
    }
  }
  const Measured pulled = measure(buckle, cloths, std::vector<std::vector<Pose>>(6, {Pose{}}));
  CHECK(pulled.summary.trims[0][Measure::OtherLayer].value < 0.8F);
}
