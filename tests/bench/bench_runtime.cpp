// SPDX-License-Identifier: MIT
// The runtime on one core: bindings per second for triangles and twelve-vertex patches, and baking against memcpy.
#include <cmath>
#include <cstring>
#include <ctime>
#include <map>
#include <random>

#include "bench/bench.hpp"
#include "support/table_cases.hpp"
#include "trimtack/follow.hpp"
#include "trimtack/runtime.h"

using namespace trimtack;

namespace {

constexpr Index kBindings = 20000;

/// Bindings with `count` vertices each (3: a triangle, else the triangle and its neighbourhood), no fallback.
std::vector<std::byte> table_of(const cases::Sheet& sheet, Index nx, Index count, bool fallback) {
  BindTable table;
  table.cloth_vertices = static_cast<Index>(sheet.rest.size());
  std::mt19937_64 random(5);
  for (Index i = 0; i < kBindings; ++i) {
    Binding binding;
    binding.trim = i;
    const Index x = 2 + random() % (nx - 6), y = 2 + random() % (nx - 6), v = y * nx + x;
    const Tri t{v, v + 1, v + nx + 1};
    const std::array<double, 3> w{0.25, 0.25, 0.5};
    const auto patch = [&](Index n) {
      if (n == 3) return cases::add_triangle_patch(table, sheet, t, w);
      // A 4 x 3 block of the sheet, weights of a least squares plane through it.
      cases::Sheet block;
      std::vector<Index> ids{t[0], t[1], t[2]};
      for (Index j = 0; j < 3; ++j)
        for (Index k = 0; k < 4; ++k) {
          const Index id = v - 1 + j * nx + k - nx;
          if (id != t[0] && id != t[1] && id != t[2] && ids.size() < n) ids.push_back(id);
        }
      for (const Index id : ids) block.rest.push_back(sheet.rest[id]);
      const Index made = cases::add_affine_patch(table, block, {0, 1, 2}, w, block.rest[0], 1e9);
      for (Index k = 0; k < n; ++k) table.vertices[table.patches[made].first + k] = ids[k];
      return made;
    };
    binding.patch = patch(count);
    if (fallback) binding.fallback = patch(12);
    table.bindings.push_back(binding);
  }
  (void)set_rest_frames(table, sheet.rest).has_value();
  return cases::bytes_of(table);
}

double cpu_ms() {
  timespec t{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
  return 1e3 * static_cast<double>(t.tv_sec) + 1e-6 * static_cast<double>(t.tv_nsec);
}

struct Opened {
  std::vector<std::byte> bytes;
  tt_table table{};
  explicit Opened(std::vector<std::byte> b) : bytes(std::move(b)) {
    if (tt_table_open(&table, bytes.data(), bytes.size()) != TT_OK) std::printf("table refused\n");
  }
};

}  // namespace

int main() {
  const Index nx = 200;
  const cases::Sheet sheet = cases::flat_sheet(nx, nx, 5, 0.2, 3);
  std::vector<double> cloth;
  std::vector<float> floats;
  for (const Vec3& p : sheet.rest)
    for (int k = 0; k < 3; ++k) {
      const Vec3 bent{p.x + 0.1 * p.y, p.y, 20 * std::sin(p.x / 40)};
      cloth.push_back(bent[k]);
      floats.push_back(static_cast<float>(bent[k]));
    }
  const std::size_t vertices = sheet.rest.size();
  const Opened triangles(table_of(sheet, nx, 3, false)), patches(table_of(sheet, nx, 12, false)),
      guarded(table_of(sheet, nx, 3, true));
  std::vector<tt_pose> singles(kBindings);
  std::vector<tt_pose_f64> doubles(kBindings);
  std::map<std::string, double> least_cpu_ms;
  const auto timed = [&](const std::string& name, auto work) {
    const double before = cpu_ms();
    work();
    const double took = cpu_ms() - before;
    const auto at = least_cpu_ms.try_emplace(name, took).first;
    at->second = std::min(at->second, took);
  };
  const auto run_f32 = [&](const std::string& name, const Opened& o) {
    timed(name, [&] { tt_evaluate(&o.table, floats.data(), vertices, 0, 0, kBindings, singles.data()); });
    bench::keep(singles[0]);
  };
  const auto run_f64 = [&](const std::string& name, const Opened& o) {
    timed(name, [&] { tt_evaluate_f64(&o.table, cloth.data(), vertices, 0, 0, kBindings, doubles.data()); });
    bench::keep(doubles[0]);
  };
  std::vector<bench::Contender> follow{
      {"triangle, float", [&] { run_f32("triangle, float", triangles); }},
      {"triangle, double", [&] { run_f64("triangle, double", triangles); }},
      {"triangle watched by its fallback, double",
       [&] { run_f64("triangle watched by its fallback, double", guarded); }},
      {"twelve vertices, float", [&] { run_f32("twelve vertices, float", patches); }},
      {"twelve vertices, double", [&] { run_f64("twelve vertices, double", patches); }}};
  bench::interleave(follow, 201);
  bench::print_table("evaluate, 20000 bindings, one thread", follow, kBindings);

  // 4 M points: larger than the caches, so that memcpy's bandwidth is that of memory.
  const std::size_t points = 4'000'000, per_trim = 400;
  std::vector<float> rest(3 * points, 1.5F), out(3 * points);
  std::vector<double> rest64(3 * points, 1.5), out64(3 * points);
  const tt_pose pose = singles[5];
  const tt_pose_f64 pose64 = doubles[5];
  std::vector<bench::Contender> bake{{"memcpy, float, trims of 400 points",
                                      [&] {
                                        for (std::size_t i = 0; i < points; i += per_trim)
                                          std::memcpy(&out[3 * i], &rest[3 * i], 12 * per_trim);
                                        bench::keep(out[0]);
                                      }},
                                     {"tt_apply, trims of 400 points",
                                      [&] {
                                        for (std::size_t i = 0; i < points; i += per_trim)
                                          tt_apply(&pose, &rest[3 * i], per_trim, 0, &out[3 * i], 0);
                                        bench::keep(out[0]);
                                      }},
                                     {"memcpy, double, trims of 400 points",
                                      [&] {
                                        for (std::size_t i = 0; i < points; i += per_trim)
                                          std::memcpy(&out64[3 * i], &rest64[3 * i], 24 * per_trim);
                                        bench::keep(out64[0]);
                                      }},
                                     {"tt_apply_f64, trims of 400 points", [&] {
                                        for (std::size_t i = 0; i < points; i += per_trim)
                                          tt_apply_f64(&pose64, &rest64[3 * i], per_trim, 0, &out64[3 * i], 0);
                                        bench::keep(out64[0]);
                                      }}};
  TrimShapes trims;
  std::vector<Pose> poses;
  for (std::size_t i = 0; i < points / per_trim; ++i) {
    trims.id.push_back(static_cast<Index>(i));
    trims.vertex_offsets.push_back(static_cast<Index>((i + 1) * per_trim));
    poses.push_back({cases::rotation_about({1, 2, 3}, 0.3), {1, 2, 3}});
  }
  trims.vertices.assign(points, Vec3{1, 2, 3});
  std::vector<Vec3> baked(points);
  bake.push_back({"bake, trims of 400 vertices", [&] {
                    ::trimtack::bake(trims, poses, baked);
                    bench::keep(baked[0]);
                  }});
  for (bench::Contender& c : bake) {
    c.prepare = [&] {
      bench::bring_back(rest);
      bench::bring_back(out);
      bench::bring_back(rest64);
      bench::bring_back(out64);
      bench::bring_back(trims.vertices);
      bench::bring_back(baked);
    };
  }
  bench::interleave(bake, 21);
  bench::print_table("apply, 4 M points, one thread", bake, static_cast<double>(points));

  std::printf("\n");
  // An absolute rate, so neither wall-clock time nor a median: processor time of the least disturbed round.
  const auto rate = [&](const char* name) { return kBindings / least_cpu_ms.at(name) / 1000; };
  const auto share = [&](const char* floor, const char* name) {
    return bench::find(bake, floor).median() / bench::find(bake, name).median();
  };
  bench::print_bar("million triangle bindings a second, float", rate("triangle, float"), false, 10);
  bench::print_bar("million triangle bindings a second, double", rate("triangle, double"), false, 10);
  bench::print_bar("million twelve-vertex patches a second, float", rate("twelve vertices, float"), false, 3);
  bench::print_bar("million twelve-vertex patches a second, double", rate("twelve vertices, double"), false, 3);
  bench::print_bar("tt_apply against memcpy",
                   share("memcpy, float, trims of 400 points", "tt_apply, trims of 400 points"), false, 0.85);
  bench::print_bar("tt_apply_f64 against memcpy",
                   share("memcpy, double, trims of 400 points", "tt_apply_f64, trims of 400 points"), false, 0.85);
  bench::print_bar("bake against memcpy", share("memcpy, double, trims of 400 points", "bake, trims of 400 vertices"),
                   false, 0.85);
  return 0;
}
