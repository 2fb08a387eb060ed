// SPDX-License-Identifier: MIT
// Parts that were sewn or hung together stay one rigid unit through the whole flow.
#include <catch2/catch.hpp>
#include <cmath>
#include <map>
#include <set>
#include <string>

#include "support/coat_fit.hpp"

using namespace trimtack;
using namespace trimtack::test;

namespace {

/// Three vertices of every component of a trim, far enough apart to fix how it lies; fewer when it has fewer.
std::vector<std::vector<Index>> marks_of(const TrimShapes& trims, Index t) {
  std::map<Index, std::set<Index>> vertices;
  for (Index f = trims.triangle_offsets[t]; f < trims.triangle_offsets[t + 1]; ++f)
    for (const Index v : trims.triangles[f])
      vertices[trims.component_of_triangle[f]].insert(trims.vertex_offsets[t] + v);
  std::vector<std::vector<Index>> out;
  for (const auto& [component, own] : vertices) {
    const std::vector<Index> list(own.begin(), own.end());
    out.push_back({list.front(), list[list.size() / 3], list[2 * list.size() / 3]});
  }
  return out;
}

}  // namespace

TEST_CASE("G5 a button and its thread, a slider and its pull tab: bound as one unit, nothing moves between them") {
  const CoatFit coat = coat_fit({1, 6, false});
  std::map<std::string, std::size_t> units;  // trims of several components, by the kind that the coat calls them
  std::vector<std::vector<std::vector<Index>>> marks;
  for (Index t = 0; t < coat.trims.id.size(); ++t) {
    marks.push_back(marks_of(coat.trims, t));
    if (marks.back().size() < 2) continue;
    const Index face_owner = coat.trims.id[t];
    for (Index f = 0; f < coat.demo.truth.trim_of_face.size(); ++f) {
      if (coat.parts.components[coat.parts.component_of_face[f]].trim != face_owner) continue;
      const std::string& name = coat.demo.truth.trim_names[static_cast<std::size_t>(coat.demo.truth.trim_of_face[f])];
      for (const char* kind : {"button", "slider", "snap", "rivet"})
        if (name.find(kind) != std::string::npos) ++units[kind];
      break;
    }
  }
  CHECK(units["button"] >= 6);
  CHECK(units["slider"] == 1);
  for (std::size_t f = 0; f < coat.demo.frames.size(); ++f) {
    std::vector<PoseQuality> quality;
    const std::vector<Pose> poses = coat.poses(coat.cloth_frame(f), quality);
    REQUIRE(poses.size() == coat.trims.id.size());
    std::vector<Vec3> posed(coat.trims.vertices.size());
    bake(coat.trims, poses, posed);
    double worst = 0;
    for (const auto& trim : marks)
      for (std::size_t c = 1; c < trim.size(); ++c)
        for (const Index p : trim[0])
          for (const Index q : trim[c]) {
            const double was = length(coat.trims.vertices[p] - coat.trims.vertices[q]);
            worst = std::max(worst, std::abs(length(posed[p] - posed[q]) - was));
          }
    INFO("frame " << f + 1);
    CHECK(worst < 1e-9);
  }
}
