// SPDX-License-Identifier: MIT
// The generator behind the benchmarks makes what it says: counts, sound meshes, the same bytes, and parts that the
// search finds.
#include "bench/stress_export.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <map>

#include "trimtack/identify.hpp"

using namespace trimtack;

TEST_CASE("stress export: the wished-for number of faces, for several mixtures", "[stress]") {
  for (const auto& [faces, trims, stitches] :
       {std::tuple{10'000U, 40U, 0U}, {30'000U, 300U, 400U}, {60'000U, 0U, 3'000U}}) {
    const bench::StressExport made = bench::make_stress({faces, trims, stitches, 3});
    INFO(faces << " faces, " << trims << " trims, " << stitches << " stitches");
    CHECK(std::abs(static_cast<double>(made.mesh.face_count()) - faces) <= 2);
    CHECK(made.trims == trims);
    CHECK(made.stitches == stitches);
    const bench::StressExport again = bench::make_stress({faces, trims, stitches, 3});
    CHECK(same_content(made.mesh, again.mesh));
    // Inner edges of the refined cloth meet two faces, in opposite directions.
    std::map<std::pair<Index, Index>, int> edges;
    for (Index f = 0; f < made.cloth_faces; ++f) {
      const auto face = made.mesh.face(f);
      for (std::size_t k = 0; k < face.size(); ++k) ++edges[{face[k], face[(k + 1) % face.size()]}];
    }
    std::size_t twice = 0, border = 0;
    for (const auto& [edge, count] : edges) {
      twice += count != 1;
      border += edges.count({edge.second, edge.first}) == 0;
    }
    CHECK(twice == 0);
    CHECK(border < edges.size() / 10);
  }
}

TEST_CASE("stress export: its parts are found", "[stress]") {
  const bench::StressExport made = bench::make_stress({40'000, 600, 500, 8});
  Report report;
  const auto parts = identify(made.mesh, {}, report);
  REQUIRE(parts);
  std::size_t wrong = 0;
  for (Index f = 0; f < made.mesh.face_count(); ++f) {
    const Role role = parts->components[parts->component_of_face[f]].role;
    wrong += (role == Role::Cloth) != (f < made.cloth_faces);
  }
  CHECK(wrong == 0);
}
