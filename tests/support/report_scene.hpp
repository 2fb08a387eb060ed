// SPDX-License-Identifier: MIT
/// A made-up check of any size, for tests of the report page.
#pragma once

#include <cmath>
#include <random>
#include <string>
#include <vector>

#include "trimtack/io/report_html.hpp"

namespace trimtack::test {

/// A tube of cloth with rows of stitches and, every 50th trim, a button. Values are random but fixed.
struct ReportScene {
  FitSummary fit;
  Parts parts;
  std::vector<std::string> names;
  std::vector<Role> roles;
  std::vector<Index> ids, layers, vertex_offsets{0}, triangle_offsets{0}, component;
  std::vector<Vec3> vertices, cloth;
  std::vector<Tri> triangles, cloth_triangles;
  std::size_t frames;

  ReportScene(Index trims, std::size_t frame_count, Index grid) : frames(frame_count) {
    make_cloth(grid);
    parts.unit.mm_per_unit = 1;
    parts.prototypes.resize(2);
    parts.prototypes[0] = {"button", kNone, 0, {15.24, 15.24, 3}, "24L", 0.9, 0};
    parts.prototypes[1] = {"stitch", kNone, 0, {2.5, 0.4, 0.4}, "", 0, 0};
    std::mt19937 random(7);
    std::uniform_real_distribution<float> value(0, 0.9F);
    fit.trims.resize(trims);
    fit.layer_name = {"tube"};
    for (Index t = 0; t < trims; ++t) add_trim(t, random, value);
    for (std::size_t f = 0; f < frames; ++f) {
      FrameFit frame;
      frame.number = f + 1;
      for (Worst& w : frame.worst) w = {value(random), 0};
      fit.frames.push_back(frame);
    }
    fit.series.buckets = fit.series.capacity = frames;
    fit.series.value.resize(trims * FitSeries::kShown.size() * frames);
    for (auto& v : fit.series.value) v = static_cast<std::uint16_t>(100 * value(random));
  }

  ReportInput input() const {
    ReportInput in;
    in.title = "Tube";
    in.fit = &fit, in.parts = &parts;
    in.trim_names = names, in.trim_roles = roles, in.trim_ids = ids, in.trim_layers = layers;
    in.trim_vertex_offsets = vertex_offsets, in.trim_triangle_offsets = triangle_offsets;
    in.trim_vertices = vertices, in.trim_triangles = triangles;
    in.cloth_triangles = cloth_triangles, in.component_of_triangle = component;
    for (std::size_t s = 0; s < 5; ++s) {
      ReportShot shot{s, cloth, std::vector<Pose>(names.size())};
      for (Vec3& p : shot.cloth) p.x *= 1 + 0.05 * static_cast<double>(s);
      for (std::size_t t = 0; t < names.size(); ++t) {
        shot.poses[t].translation.x = 0.05 * static_cast<double>(s) * fit.trims[t].centre.x;
      }
      in.shots.push_back(std::move(shot));
    }
    in.settings = {{"frames", std::to_string(frames)}, {"seating", "off"}};
    return in;
  }

 private:
  static Vec3 tube(double around, double up) { return {200 * std::sin(around), 700 * up, 120 * std::cos(around)}; }

  void make_cloth(Index grid) {
    for (Index j = 0; j <= grid; ++j) {
      for (Index i = 0; i < grid; ++i) cloth.push_back(tube(2 * 3.14159265 * i / grid, 1.0 * j / grid));
    }
    for (Index j = 0; j < grid; ++j) {
      for (Index i = 0; i < grid; ++i) {
        const Index a = j * grid + i, b = j * grid + (i + 1) % grid;
        cloth_triangles.push_back({a, b, b + grid});
        cloth_triangles.push_back({a, b + grid, a + grid});
      }
    }
    component.assign(cloth_triangles.size(), 0);
  }

  void add_trim(Index t, std::mt19937& random, std::uniform_real_distribution<float>& value) {
    const bool button = t % 50 == 0;
    const Index prototype = button ? 0 : 1;
    const double around = 0.001 * t + (button ? 0 : 0.002 * (t % 7)), up = std::fmod(0.000731 * t, 1.0);
    const Vec3 n = normalized(Vec3{std::sin(around) / 200, 0, std::cos(around) / 120}), centre = tube(around, up);
    Trim trim;
    trim.prototype = prototype;
    trim.role = button ? Role::Trim : Role::Stitching;
    const Vec3 u{0, 1, 0}, v = cross(n, u);
    trim.placement = {from_columns(u, v, n), centre};
    parts.trims.push_back(trim);
    if (parts.prototypes[prototype].trim == kNone) parts.prototypes[prototype].trim = t;
    ++parts.prototypes[prototype].count;
    const double r = button ? 7.62 : 1.25, w = button ? 7.62 : 0.2, h = button ? 3 : 0.4;
    const int corners = button ? 48 : 6;
    for (const double z : {0.0, h}) {
      for (int i = 0; i < corners; ++i) {
        const double a = 2 * 3.14159265 * i / corners;
        vertices.push_back(apply(trim.placement, {r * std::cos(a), w * std::sin(a), z}));
      }
    }
    const auto c = static_cast<Index>(corners);
    for (Index i = 0; i < c; ++i) {
      const Index k = (i + 1) % c;
      triangles.push_back({i, k, c + k});
      triangles.push_back({i, c + k, c + i});
      if (i > 1) triangles.push_back({0, i, i - 1}), triangles.push_back({c, c + i - 1, c + i});
    }
    vertex_offsets.push_back(static_cast<Index>(vertices.size()));
    triangle_offsets.push_back(static_cast<Index>(triangles.size()));
    names.push_back((button ? "button " : "stitch ") + std::to_string(button ? t / 50 : t));
    roles.push_back(trim.role);
    ids.push_back(t);
    layers.push_back(0);
    TrimFit& out = fit.trims[t];
    for (std::size_t m = 0; m < kMeasureCount; ++m) {
      out.worst[m] = {static_cast<float>(value(random) * fit.limits.value[m]), 1 + t % frames};
    }
    out.centre = centre, out.outward = n, out.lift_at = centre + r * u, out.sink_at = centre - r * u;
    out.footprint_mm = static_cast<float>(2 * r), out.footprint_narrow_mm = static_cast<float>(2 * w);
    out.cloth_edge_mm = 8;
    out.verdict = t % 997 == 0 ? Verdict::Fault : (t % 499 == 0 ? Verdict::Close : Verdict::Good);
    if (out.verdict != Verdict::Good) {
      out.worst[0].value *= out.verdict == Verdict::Fault ? 3 : 1;
      out.advice = "It floats above its cloth; seat it (follow --seat).";
    }
  }
};

}  // namespace trimtack::test
