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

/// By iteration, by place and by runs, which have to agree.
std::vector<Index> all_of(const IndexList& list) {
  const std::vector<Index> items(list.begin(), list.end());
  std::vector<Index> of_runs;
  list.each_run([&](Index first, Index end) {
    for (Index i = first; i < end; ++i) of_runs.push_back(i);
  });
  CHECK(of_runs == items);
  CHECK(list.size() == items.size());
  for (std::size_t i = 0; i < items.size(); ++i) CHECK(list[i] == items[i]);
  if (!items.empty()) {
    CHECK(list.front() == items.front());
    CHECK(list.back() == items.back());
  }
  return items;
}

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
  CHECK(all_of(map.faces_of(0)) == std::vector<Index>{0, 2});
  CHECK(all_of(map.faces_of(1)) == std::vector<Index>{1});
  CHECK(all_of(map.faces_of(2)) == std::vector<Index>{3});
  CHECK(all_of(map.vertices_of(0)) == std::vector<Index>{0, 1, 2, 8});
  CHECK(all_of(map.later_of(0)) == std::vector<Index>{7, 9});
  CHECK(all_of(map.later_of(1)).empty());
  for (Index c = 0; c < map.count(); ++c)
    for (const Index v : map.vertices_of(c)) CHECK(map.of_vertex[v] == c);
}

TEST_CASE("components: a vertex no face uses belongs to none") {
  Soup soup;
  soup.positions.push_back({9, 9, 9});
  soup.add({{0, 0, 0}, {1, 0, 0}, {0, 1, 0}});
  const ComponentMap map = soup.components();
  CHECK(map.count() == 1);
  CHECK(map.of_vertex[0] == kNone);
}
