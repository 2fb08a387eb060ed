// SPDX-License-Identifier: MIT
// Contacts of small parts against what their construction says: boxes that lie over each other or apart, a plate under
// stones, and heaps in which all touch all.
#include "stages/find/contacts.hpp"

#include <catch2/catch.hpp>
#include <map>
#include <random>

#include "trimtack/components.hpp"
#include "trimtack/mesh.hpp"
#include "trimtack/weld.hpp"

using namespace trimtack;

namespace {

using Pairs = std::vector<std::array<Index, 2>>;

/// Boxes, each a component of its own.
struct Boxes {
  SourceMesh mesh;

  void add(const Vec3& middle, const Vec3& half) {
    const auto base = static_cast<Index>(mesh.positions.size());
    for (int k = 0; k < 8; ++k) {
      mesh.positions.push_back(middle +
                               Vec3{k & 1 ? half.x : -half.x, k & 2 ? half.y : -half.y, k & 4 ? half.z : -half.z});
    }
    constexpr Index kSides[6][4] = {{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}};
    for (const auto& side : kSides) {
      for (const Index corner : side) mesh.corner_position.push_back(base + corner);
      mesh.face_offsets.push_back(static_cast<Index>(mesh.corner_position.size()));
    }
  }

  Pairs contacts(double reach, const std::vector<std::uint8_t>& camps = {}, const PairLimit& limit = {}) const {
    const FaceView faces = view(mesh);
    const ComponentMap components = find_components(faces, weld(mesh.positions));
    const std::vector<Shape> shapes = measure_shapes(faces, components);
    std::vector<Index> all;
    for (Index c = 0; c < shapes.size(); ++c) all.push_back(c);
    return find_contacts(faces, components, shapes, all, reach, camps, {}, limit);
  }
};

/// A heap of `count` boxes of about 2 by 2 by 2, the middle of each within all others.
Boxes heap_of(int count) {
  Boxes heap;
  std::mt19937 random(11);
  std::uniform_real_distribution<double> shift(-0.4, 0.4), half(0.9, 1.1);
  for (int i = 0; i < count; ++i)
    heap.add({shift(random), shift(random), shift(random)}, {half(random), half(random), half(random)});
  return heap;
}

}  // namespace

TEST_CASE("boxes touch when they overlap or come within reach of the smaller one's length") {
  Boxes boxes;
  boxes.add({0, 0, 0}, {1, 1, 1});
  boxes.add({1.5, 0.1, 0.2}, {1, 1, 1});  // through the first
  boxes.add({3.6, 0, 0}, {1, 1, 1});      // 0.1 from the second
  boxes.add({0, 30, 0}, {10, 10, 10});    // 19 from all others
  CHECK(boxes.contacts(0.01) == Pairs{{0, 1}});
  CHECK(boxes.contacts(0.06) == Pairs{{0, 1}, {1, 2}});
}

TEST_CASE("parts of one camp are no pair, but for those of camp 0") {
  Boxes boxes;
  for (int i = 0; i < 6; ++i) boxes.add({0.1 * i, 0.11 * i, 0.12 * i}, {1, 1, 1});
  const std::vector<std::uint8_t> camps{0, 0, 1, 1, 2, 2};
  Pairs expected;
  for (Index a = 0; a < 6; ++a)
    for (Index b = a + 1; b < 6; ++b)
      if (camps[a] != camps[b] || camps[a] == 0) expected.push_back({a, b});
  CHECK(boxes.contacts(0.01, camps) == expected);
  CHECK(boxes.contacts(0.01, {2, 2, 2, 2, 2, 2}).empty());
  CHECK(boxes.contacts(0.01, {0, 0, 0, 0, 0, 0}).size() == 15);
}

TEST_CASE("a limit narrows the reach of single pairs, and leaves pairs out") {
  Boxes boxes;
  boxes.add({0, 0, 0}, {1, 1, 1});
  boxes.add({2.1, 0, 0}, {1, 1, 1});
  boxes.add({0, 2.1, 0}, {1, 1, 1});
  boxes.add({0, 0.5, 0.3}, {1, 1, 1});
  const auto limit = [](Index a, Index b) {
    if (a == 0 && b == 1) return 0.05;
    return b == 3 ? -1.0 : 0.2;
  };
  CHECK(boxes.contacts(0.06) == Pairs{{0, 1}, {0, 2}, {0, 3}, {1, 3}, {2, 3}});
  CHECK(boxes.contacts(0.06, {}, limit) == Pairs{{0, 2}});
}

TEST_CASE("a plate meets each of a thousand stones on it") {
  Boxes boxes;
  boxes.add({0, 0, 0}, {40, 40, 0.5});
  for (int i = 0; i < 32; ++i)
    for (int j = 0; j < 32; ++j) boxes.add({2.4 * i - 37, 2.4 * j - 37, 0.9}, {0.9, 0.9, 0.5});
  CHECK(boxes.contacts(0.01).size() == 32 * 32);
}

TEST_CASE("in a heap each part is compared with many others, but not with all") {
  const auto degrees = [](const Pairs& contacts) {
    std::map<Index, std::size_t> count;
    for (const auto& [a, b] : contacts) ++count[a], ++count[b];
    return count;
  };
  CHECK(heap_of(60).contacts(0.5).size() == 60 * 59 / 2);
  const int many = 1500;
  const Pairs contacts = heap_of(many).contacts(0.5);
  CHECK(contacts.size() < 70 * many);
  const auto count = degrees(contacts);
  REQUIRE(count.size() == many);
  for (const auto& [part, degree] : count) CHECK(degree >= 50);
}
