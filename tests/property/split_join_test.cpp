// SPDX-License-Identifier: MIT
// Laws of the split on random garments of awkward features. Seeds are printed on failure.
#include <algorithm>
#include <catch2/catch.hpp>
#include <numeric>
#include <random>

#include "support/random_obj.hpp"
#include "trimtack/io/obj.hpp"
#include "trimtack/split.hpp"

using namespace trimtack;
using test::RandomObj;

namespace {

constexpr std::uint64_t kSeeds = 400;

SourceMesh parsed(std::string text) {
  Report report;
  Result<SourceMesh> mesh = parse_obj(std::move(text), "coat.obj", {}, report);
  if (!mesh) FAIL(to_text(mesh.error()));
  return std::move(*mesh);
}

/// Connected components with roles drawn from the seed.
Parts random_parts(const SourceMesh& mesh, std::uint64_t seed) {
  std::vector<Index> root(mesh.positions.size());
  std::iota(root.begin(), root.end(), 0U);
  const auto find = [&](Index v) {
    while (root[v] != v) v = root[v];
    return v;
  };
  for (Index f = 0; f < mesh.face_count(); ++f) {
    for (const Index v : mesh.face(f)) root[find(v)] = find(mesh.face(f)[0]);
  }
  std::mt19937_64 random(seed);
  Parts parts;
  std::vector<Index> component_of(mesh.positions.size(), kNone);
  for (Index f = 0; f < mesh.face_count(); ++f) {
    Index& component = component_of[find(mesh.face(f)[0])];
    if (component == kNone) {
      component = static_cast<Index>(parts.components.size());
      parts.components.emplace_back();
      parts.components.back().role = static_cast<Role>(random() % 3);
    }
    parts.component_of_face.push_back(component);
  }
  return parts;
}

bool ascending(const std::vector<Index>& list) {
  return std::adjacent_find(list.begin(), list.end(), std::greater_equal<>()) == list.end();
}

struct Case {
  SourceMesh mesh;
  SplitMaps maps;
  Report report;
  SourceMesh cloth, trims, stitching;
};

Case split_case(std::uint64_t seed) {
  Case c;
  c.mesh = parsed(RandomObj(seed, {}).make());
  c.maps = split(c.mesh, random_parts(c.mesh, seed), c.report);
  c.cloth = extract(c.mesh, c.maps.cloth);
  c.trims = extract(c.mesh, c.maps.trims);
  c.stitching = extract(c.mesh, c.maps.stitching);
  return c;
}

}  // namespace

TEST_CASE("joining the outputs gives the combined mesh back exactly, in memory and through files") {
  std::size_t spanning = 0;
  for (std::uint64_t seed = 1; seed <= kSeeds; ++seed) {
    INFO("seed " << seed);
    const Case c = split_case(seed);
    spanning += c.maps.spanning.size();
    std::string where;
    Result<SourceMesh> joined = join(c.cloth, c.trims, c.stitching, c.maps);
    if (!joined) FAIL(to_text(joined.error()));
    CHECK(same_content(c.mesh, *joined, &where));
    CHECK(where.empty());
    for (const bool splice : {true, false}) {
      ObjWriteOptions options;
      options.splice = splice;
      const auto written = [&](const SubsetMap& map, const SourceMesh& output) {
        options.part = &map;
        std::string text = write_obj(c.mesh, options);
        options.part = nullptr;
        if (!splice) CHECK(text == write_obj(output, options));
        return text;
      };
      joined = join(parsed(written(c.maps.cloth, c.cloth)), parsed(written(c.maps.trims, c.trims)),
                    parsed(written(c.maps.stitching, c.stitching)), c.maps);
      if (!joined) FAIL(to_text(joined.error()));
      CHECK(same_content(c.mesh, *joined, &where));
      CHECK(where.empty());
    }
  }
  CHECK(spanning > 20);  // the hard case did occur
}

TEST_CASE("every face and position is in exactly one map, maps ascend, spanning elements are reported") {
  for (std::uint64_t seed = 1; seed <= kSeeds; ++seed) {
    INFO("seed " << seed);
    const Case c = split_case(seed);
    std::vector<int> face_seen(c.mesh.face_count());
    std::vector<int> position_seen(c.mesh.positions.size());
    std::vector<int> texcoord_seen(c.mesh.texcoords.size());
    std::vector<int> loose_seen(c.mesh.loose.size());
    for (const SubsetMap* map : {&c.maps.cloth, &c.maps.trims, &c.maps.stitching}) {
      for (const auto* list : {&map->positions, &map->texcoords, &map->normals, &map->faces, &map->loose}) {
        CHECK(ascending(*list));
      }
      for (const Index i : map->faces) ++face_seen[i];
      for (const Index i : map->positions) ++position_seen[i];
      for (const Index i : map->texcoords) ++texcoord_seen[i];
      for (const Index i : map->loose) ++loose_seen[i];
    }
    for (const SpanningElement& element : c.maps.spanning) ++loose_seen[element.loose];
    const auto is_one = [](int n) { return n == 1; };
    CHECK(std::all_of(face_seen.begin(), face_seen.end(), is_one));
    CHECK(std::all_of(position_seen.begin(), position_seen.end(), is_one));
    CHECK(std::all_of(loose_seen.begin(), loose_seen.end(), is_one));
    CHECK(std::all_of(texcoord_seen.begin(), texcoord_seen.end(), [](int n) { return n >= 1; }));
    std::uint64_t reported = 0;
    for (const Finding& finding : c.report.findings) reported += finding.count;
    CHECK(reported == c.maps.spanning.size());
  }
}
