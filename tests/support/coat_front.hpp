// SPDX-License-Identifier: MIT
/// A small coat front whose truth is known, for one hard case at a time.
#pragma once

#include <catch2/catch.hpp>
#include <cmath>
#include <utility>
#include <vector>

#include "support/haberdashery.hpp"
#include "trimtack/identify.hpp"

namespace trimtack::testing {

/// A front and a back, and what is sewn to them.
struct CoatFront {
  SourceMesh mesh;
  std::vector<Role> truth;  // per piece, in the order of the components
  std::vector<Index> trim_of;
  double thickness = 0;
  double scale = 1;  // of everything: a doll's coat
  double mm_per_unit = 1;
  bool split = false;
  Index trims = 0;
  Random random{7};

  explicit CoatFront(double thick = 0, double size = 1, double unit = 1, bool split_vertices = false)
      : thickness(thick), scale(size), mm_per_unit(unit), split(split_vertices) {
    mesh.file = "coat front";
    cloth(sheet(front(), 300, 550, {}, weave(10)));
    cloth(sheet([f = front()](Vec2 p) { return f(p) + Vec3{0, 0, -220}; }, 300, 550, {}, weave(10)));
  }
  static Surface3 front() {
    return [](Vec2 p) { return Vec3{160 * std::sin(p.x / 160), p.y, 160 * std::cos(p.x / 160)}; };
  }
  SheetOptions weave(double spacing) const {
    SheetOptions o;
    o.spacing = spacing;
    o.thickness = thickness;
    return o;
  }
  /// A surface lying on the front, its corner at `at`.
  static Surface3 on_front(Vec2 at, double lift) {
    return [=](Vec2 p) {
      const Vec2 q{at.x + p.x, at.y + p.y};
      return front()(q) + lift * normal_at(front(), q);
    };
  }
  void add(const Solid& solid, Role role, Index trim, const char* material = nullptr) {
    FaceState state;
    if (material != nullptr) {
      state.material = static_cast<Index>(mesh.materials.size());
      mesh.materials.emplace_back(material);
    }
    mesh.states.push_back({mesh.face_count(), state});
    const auto base = static_cast<Index>(mesh.positions.size());
    const double k = scale / mm_per_unit;
    if (!split)
      for (const Vec3& p : solid.vertices) mesh.positions.push_back(k * p);
    for (const Index v : solid.corners) {
      mesh.corner_position.push_back(split ? static_cast<Index>(mesh.positions.size()) : base + v);
      if (split) mesh.positions.push_back(k * solid.vertices[v]);
    }
    for (Index f = 0; f < solid.face_count(); ++f)
      mesh.face_offsets.push_back(mesh.face_offsets.back() + solid.offsets[f + 1] - solid.offsets[f]);
    truth.push_back(role);
    trim_of.push_back(trim);
  }
  void cloth(const Solid& solid, const char* material = nullptr) { add(solid, Role::Cloth, kNone, material); }
  void trim(const TrimModel& model, Vec2 at, double turn = 0, double lift = 0.05) {
    const Pose pose = frame_at(front(), at, lift + 0.5 * thickness, turn);
    for (const Solid& part : model.parts) add(moved(part, pose.rotation, pose.translation), Role::Trim, trims);
    ++trims;
  }
  Parts parts(Report* report = nullptr) const {
    Report own;
    Result<Parts> found = identify(mesh, {}, report != nullptr ? *report : own);
    REQUIRE(found);
    return std::move(*found);
  }
  /// Roles as they should be, nothing silently wrong, and trims joined as they should be.
  Parts check() const {
    Parts found = parts();
    REQUIRE(found.components.size() == truth.size());
    for (std::size_t c = 0; c < truth.size(); ++c) {
      CAPTURE(c, found.components[c].confidence, found.components[c].reasons);
      CHECK(found.components[c].role == truth[c]);
    }
    for (std::size_t a = 0; a < truth.size(); ++a)
      for (std::size_t b = 0; b < a; ++b) {
        if (truth[a] != Role::Trim || truth[b] != Role::Trim) continue;
        CAPTURE(a, b);
        CHECK((found.components[a].trim == found.components[b].trim) == (trim_of[a] == trim_of[b]));
      }
    return found;
  }
};

}  // namespace trimtack::testing
