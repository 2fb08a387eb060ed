// SPDX-License-Identifier: MIT
// What find_components promises: maximal sets of faces that share welded vertices, numbered by their first faces.
#include "trimtack/components.hpp"

#include <catch2/catch.hpp>

using namespace trimtack;

namespace {

struct Soup {
  std::vector<Vec3> positions;
  std::vector<Index> offsets{0}, corners;
  void add(std::initializer_list<Vec3> face) {
    for (const Vec3& p : face) {
      corners.push_back(static_cast<Index>(positions.size()));
      positions.push_back(p);
    }
    offsets.push_back(static_cast<Index>(corners.size()));
  }
  ComponentMap components() const { return find_components({positions, offsets, corners}, weld(positions)); }
};

}  // namespace

TEST_CASE("components: fully split vertices are joined by position, touching without a common vertex is not") {
  Soup soup;
  soup.add({{0, 0, 0}, {1, 0, 0}, {0, 1, 0}});
  soup.add({{5, 0, 0}, {6, 0, 0}, {5, 1, 0}, {5, 0.5, 0}});
  soup.add({{1, 0, 0}, {1, 1, 0}, {0, 1, 0}});
  soup.add({{0.25, 0.25, 0}, {0.5, 0.25, 0}, {0.25, 0.5, 0}});  // lies on the first at distance 0
  const ComponentMap map = soup.components();
  CHECK(map.count() == 3);
  CHECK(map.of_face == std::vector<Index>{0, 1, 0, 2});
  CHECK(map.faces == std::vector<Index>{0, 2, 1, 3});
  CHECK(map.face_offsets == std::vector<Index>{0, 2, 3, 4});
  CHECK(map.vertices_of(0).size() == 4);
  for (Index c = 0; c < map.count(); ++c)
    for (Index i = 0; i < map.vertices_of(c).size(); ++i) {
      CHECK(map.of_welded[map.vertices_of(c)[i]] == c);
      CHECK(map.rank_of_welded[map.vertices_of(c)[i]] == i);
    }
}

TEST_CASE("components: a vertex no face uses belongs to none") {
  Soup soup;
  soup.positions.push_back({9, 9, 9});
  soup.add({{0, 0, 0}, {1, 0, 0}, {0, 1, 0}});
  const ComponentMap map = soup.components();
  CHECK(map.count() == 1);
  CHECK(map.of_welded[0] == kNone);
}
