// SPDX-License-Identifier: MIT
// The choice of patch and order over a grid of meshes, bends and noise; laws of units, place, numbering and threads.
#include <catch2/catch.hpp>
#include <numeric>

#include "stages/bind/frame_fit.hpp"
#include "support/sheets.hpp"

using namespace trimtack;
using namespace trimtack::testing;

namespace {

/// Worst bend error over directions, together with the noise, for any weights on a flat jittered sheet: worked out from
/// the deformed positions themselves, not from the solver's prediction.
double total_error(const BindTable& table, const Patch& patch, const Pattern& pattern, double bend, double noise) {
  double bias = 0;
  if (bend > 0)
    for (int k = 0; k < 12; ++k) {
      const double angle = kPi * k / 12;
      const std::vector<Vec3> moved = shaped(pattern, [&](const Vec2& p) {
        return cylinder(bend, angle)({p.x - patch.origin.x, p.y - patch.origin.y});  // anchored where the trim sits
      });
      bias = std::max(bias, rotation_angle_deg(evaluate(table, patch, moved).rotation, Mat3{}));
    }
  double aa = 0, bb = 0, ab = 0;
  for (Index i = patch.first; i < patch.first + patch.count; ++i) {
    aa += table.a[i] * table.a[i];
    bb += table.b[i] * table.b[i];
    ab += table.a[i] * table.b[i];
  }
  const double jitter = std::sqrt(0.5 * (aa + bb) + std::hypot(0.5 * (aa - bb), ab)) * kDeg;
  return std::hypot(bias, noise * jitter);
}

/// The fixed peer: an affine least-squares frame of all vertices within 12 mm (equal weights), or none.
std::optional<double> fixed_patch_error(const Pattern& pattern, const Vec3& origin, double bend, double noise) {
  BindTable table;
  std::vector<std::array<double, 3>> rows;
  for (Index v = 0; v < pattern.flat.size(); ++v) {
    const double x = pattern.flat[v].x - origin.x, y = pattern.flat[v].y - origin.y;
    if (x * x + y * y > 144) continue;
    table.vertices.push_back(v);
    rows.push_back({1, x, y});
  }
  if (rows.size() < 3) return std::nullopt;
  double n = 0, sx = 0, sy = 0, xx = 0, xy = 0, yy = 0;
  for (const auto& r : rows) n += 1, sx += r[1], sy += r[2], xx += r[1] * r[1], xy += r[1] * r[2], yy += r[2] * r[2];
  const double cxx = xx - sx * sx / n, cxy = xy - sx * sy / n, cyy = yy - sy * sy / n, det = cxx * cyy - cxy * cxy;
  if (!(det > 1e-6 * (cxx + cyy) * (cxx + cyy))) return std::nullopt;
  for (const auto& r : rows) {
    const double x = r[1] - sx / n, y = r[2] - sy / n;
    table.c.push_back(1 / n);
    table.a.push_back((cyy * x - cxy * y) / det);
    table.b.push_back((cxx * y - cxy * x) / det);
  }
  Patch patch{0, static_cast<Index>(rows.size()), origin, {}};
  return total_error(table, patch, pattern, bend, noise);
}

Result<BindTable> bind_at(const Pattern& pattern, const Vec3& foot, const BindOptions& options) {
  const std::vector<Vec3> rest = shaped(pattern, flat_shape);
  const ClothMesh cloth = cloth_of(pattern, rest);
  const ClothIndex index(cloth);
  TrimShapes trims;
  const Solid s = disc(foot, {0, 0, 1}, 5.7, 3);
  append_trim(trims, "disc", s.vertices, s.triangles);
  Report report;
  return bind(index, trims, millimetres(), options, report);
}

}  // namespace

TEST_CASE("the chosen patch is never more than 10 % worse than the better of triangle and fixed 12 mm patch") {
  std::string grid = "\nstep  bend noise  place     chosen triangle fixed12  order vertices\n";
  for (const double step : {20.0, 10.0, 5.0, 3.0})
    for (const double bend : {0.0, 100.0, 30.0, 15.0})
      for (const double noise : {0.0, 0.02, 0.05, 0.1, 0.2})
        for (const bool border : {false, true}) {
          SheetOptions sheet{-60, 60, -60, 60, step, Cells::Mixed, 0.2, 51, 0};
          if (border) sheet.x0 = 0;
          const Pattern pattern = make_pattern(sheet);
          const Vec3 foot{border ? 3.0 : 1.3, 2.1, 0.1};
          BindOptions options;
          options.bend_radius_mm = bend;
          options.noise_mm = noise;
          const auto chosen = bind_at(pattern, foot, options);
          options.frame = FrameChoice::Triangle;
          const auto triangle = bind_at(pattern, foot, options);
          REQUIRE(chosen);
          const Patch& patch = chosen->patches[chosen->bindings[0].patch];
          const double error = total_error(*chosen, patch, pattern, bend, noise);
          const double facet =
              total_error(*triangle, triangle->patches[triangle->bindings[0].patch], pattern, bend, noise);
          const auto fixed = fixed_patch_error(pattern, patch.origin, bend, noise);
          const double best = std::min(facet, fixed.value_or(1e9));
          char line[160];
          std::snprintf(line, sizeof line, "%4.0f %5.0f %5.2f  %-8s %7.3f %8.3f %7.3f  %5d %8u\n", step, bend, noise,
                        border ? "border" : "interior", error, facet, fixed.value_or(std::nan("")),
                        chosen->bindings[0].order, patch.count);
          grid += line;
          INFO(line);
          CHECK(error <= 1.1 * best + 1e-4);
          // The prediction is honest: within a quarter (eight axes tried, twelve measured) of what the deformed cloth
          // really does.
          const Binding& b = chosen->bindings[0];
          CHECK(std::hypot(b.bias_deg, noise * b.jitter_deg_per_mm) == Approx(error).epsilon(0.25).margin(0.002));
        }
  WARN(grid);
}

TEST_CASE("bindings are the same in mm, cm, m and inch, near the origin and 10 km away") {
  const Pattern pattern = make_pattern({-60, 60, -60, 60, 5, Cells::Mixed, 0.2, 52, 0});
  const auto bound = [&](double mm_per_unit, const Vec3& shift_mm) {
    std::vector<Vec3> rest = shaped(pattern, cylinder(80));
    for (Vec3& p : rest) p = (1 / mm_per_unit) * (p + shift_mm);
    const ClothMesh cloth = cloth_of(pattern, rest);
    const ClothIndex index(cloth);
    TrimShapes trims;
    for (const Vec2& at : {Vec2{1.3, 2.1}, Vec2{-30.2, 58.7}}) {
      const Vec3 up = cylinder_rotation(80, at).column(2);
      Solid s = disc(cylinder(80)(at) + 0.3 * up, up, 5.7, 3);
      for (Vec3& p : s.vertices) p = (1 / mm_per_unit) * (p + shift_mm);
      append_trim(trims, "disc", s.vertices, s.triangles);
    }
    Unit unit;
    unit.mm_per_unit = mm_per_unit;
    Report report;
    auto table = bind(index, trims, unit, {}, report);
    REQUIRE(table);
    return *table;
  };
  const BindTable reference = bound(1, {});
  for (const auto& [scale, shift] : {std::pair{10.0, Vec3{}}, std::pair{1000.0, Vec3{}}, std::pair{25.4, Vec3{}},
                                     std::pair{1.0, Vec3{1e7, -1e7, 1e7}}}) {
    const BindTable other = bound(scale, shift);
    for (Index t = 0; t < 2; ++t) {
      const Binding &p = reference.bindings[t], &q = other.bindings[t];
      REQUIRE(p.anchor_triangle == q.anchor_triangle);
      REQUIRE(p.order == q.order);
      const Patch &a = reference.patches[p.patch], &b = other.patches[q.patch];
      REQUIRE(a.count == b.count);
      for (Index i = 0; i < a.count; ++i) {
        REQUIRE(reference.vertices[a.first + i] == other.vertices[b.first + i]);
        CHECK(other.c[b.first + i] == Approx(reference.c[a.first + i]).margin(1e-7));
        CHECK(other.a[b.first + i] / scale == Approx(reference.a[a.first + i]).margin(1e-7));
        CHECK(other.b[b.first + i] / scale == Approx(reference.b[a.first + i]).margin(1e-7));
      }
      CHECK(q.gap * scale == Approx(p.gap).margin(1e-6));
      CHECK(q.jitter_deg_per_mm == Approx(p.jitter_deg_per_mm).epsilon(1e-6));
      CHECK(q.bias_deg == Approx(p.bias_deg).epsilon(1e-6).margin(1e-6));
    }
  }
}

TEST_CASE("renumbering vertices and faces changes nothing but numbers") {
  const Pattern pattern = make_pattern({-60, 60, -60, 60, 5, Cells::Mixed, 0, 53, 0});  // regular: full of ties
  std::mt19937_64 random(54);
  std::vector<Index> vertex(pattern.flat.size()), face(pattern.component.size());
  std::iota(vertex.begin(), vertex.end(), Index{0});
  std::iota(face.begin(), face.end(), Index{0});
  std::shuffle(vertex.begin(), vertex.end(), random);
  std::shuffle(face.begin(), face.end(), random);
  Pattern shuffled;
  shuffled.flat.resize(pattern.flat.size());
  for (Index v = 0; v < vertex.size(); ++v) shuffled.flat[vertex[v]] = pattern.flat[v];
  for (const Index f : face) {
    for (Index c = pattern.offsets[f]; c < pattern.offsets[f + 1]; ++c)
      shuffled.corners.push_back(vertex[pattern.corners[c]]);
    shuffled.offsets.push_back(static_cast<Index>(shuffled.corners.size()));
    shuffled.component.push_back(0);
  }
  for (const Vec3& foot : {Vec3{0, 0, 0.1}, Vec3{2.5, 2.5, 0.1}, Vec3{60, 0, 0.1}, Vec3{12.3, -7.1, 0.1}}) {
    const auto p = bind_at(pattern, foot, {}), q = bind_at(shuffled, foot, {});
    const Patch &a = p->patches[p->bindings[0].patch], &b = q->patches[q->bindings[0].patch];
    REQUIRE(a.count == b.count);
    CHECK(length(a.origin - b.origin) < 1e-12);
    const std::vector<Vec3> first = shaped(pattern, cylinder(30, 0.4)), second = shaped(shuffled, cylinder(30, 0.4));
    const Pose x = evaluate(*p, 0, first), y = evaluate(*q, 0, second);
    CHECK(rotation_angle_deg(x.rotation, y.rotation) < 1e-9);
    CHECK(length(x.translation - y.translation) < 1e-9);
  }
}

TEST_CASE("a quad gives the same patch however its triangles are cut") {
  // The same vertices as quads and as two kinds of triangles: patches see polygons, so only connectivity may differ.
  const auto rest = make_pattern({-60, 60, -60, 60, 5, Cells::Quads, 0.2, 55, 0});
  ClothMesh cloth = cloth_of(rest, shaped(rest, flat_shape));
  ClothMesh flipped = cloth;
  for (std::size_t t = 0; t + 1 < flipped.triangles.triangles.size(); t += 2) {
    const auto f = flipped.triangles.face[t];
    const Index* c = flipped.face_corners.data() + flipped.face_offsets[f];
    Tri &p = flipped.triangles.triangles[t], &q = flipped.triangles.triangles[t + 1];
    const bool first_diagonal = (p[0] == c[0] && p[1] == c[1] && p[2] == c[2]) || q == Tri{c[0], c[2], c[3]};
    p = first_diagonal ? Tri{c[0], c[1], c[3]} : Tri{c[0], c[1], c[2]};
    q = first_diagonal ? Tri{c[1], c[2], c[3]} : Tri{c[0], c[2], c[3]};
  }
  TrimShapes trims;
  const Solid s = disc({1.4, 0.6, 0.1}, {0, 0, 1}, 5.7, 3);
  append_trim(trims, "disc", s.vertices, s.triangles);
  const ClothIndex one(cloth), two(flipped);
  Report report;
  BindOptions options;
  options.frame = FrameChoice::Patch;
  const auto p = bind(one, trims, millimetres(), options, report), q = bind(two, trims, millimetres(), options, report);
  const std::vector<Vec3> bent = shaped(rest, cylinder(30));
  CHECK(rotation_angle_deg(evaluate(*p, 0, bent).rotation, evaluate(*q, 0, bent).rotation) < 1e-9);
}

TEST_CASE("any executor gives the same table") {
  const Pattern pattern = make_pattern({-60, 60, -60, 60, 4, Cells::Mixed, 0.2, 56, 0});
  const ClothMesh cloth = cloth_of(pattern, shaped(pattern, cylinder(50)));
  const ClothIndex index(cloth);
  TrimShapes trims;
  std::mt19937_64 random(57);
  std::uniform_real_distribution<double> d(-58, 58);
  for (int k = 0; k < 700; ++k) {
    const Vec2 at{d(random), d(random)};
    const Vec3 up = cylinder_rotation(50, at).column(2);
    const Solid s = disc(cylinder(50)(at) + 0.1 * up, up, 1 + 0.01 * k, 1, 8);
    append_trim(trims, "disc", s.vertices, s.triangles, k % 5 == 0 ? Role::Stitching : Role::Trim);
  }
  BindOptions options;
  Report report;
  const auto plain = bind(index, trims, millimetres(), options, report);
  options.executor.run = [](void*, std::size_t count, Executor::Task task, void* context) {
    for (std::size_t i = count; i-- > 0;) task(context, i);  // backwards: as good as any thread's order
  };
  options.executor.width = 4;
  const auto other = bind(index, trims, millimetres(), options, report);
  REQUIRE(plain->vertices == other->vertices);
  REQUIRE(plain->a == other->a);
  REQUIRE(plain->b == other->b);
  REQUIRE(plain->c == other->c);
  for (std::size_t t = 0; t < plain->bindings.size(); ++t) {
    REQUIRE(plain->bindings[t].patch == other->bindings[t].patch);
    REQUIRE(plain->bindings[t].gap == other->bindings[t].gap);
    if (plain->bindings[t].role == Role::Stitching) REQUIRE(plain->patches[plain->bindings[t].patch].count <= 16);
  }
}
