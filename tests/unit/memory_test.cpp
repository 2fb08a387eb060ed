// SPDX-License-Identifier: MIT
#include "core/memory.hpp"

#include <catch2/catch.hpp>
#include <cstdint>
#include <numeric>

using namespace trimtack;

TEST_CASE("rounding to large pages never takes room away, and adds less than one large page") {
  for (const std::size_t items : {0U, 1U, 1000U, 87381U, 1000000U, 12345678U}) {
    for (const std::size_t bytes : {1U, 4U, 24U}) {
      const std::size_t rounded = round_to_large_pages(items, bytes);
      CHECK(rounded >= items);
      CHECK((rounded - items) * bytes <= std::size_t{1} << 21);
    }
  }
}

TEST_CASE("large lists hold what is put in, and keep it when they grow") {
  std::vector<std::uint32_t> list;
  reserve_large(list, 3000000);
  const std::uint32_t* const start = list.data();
  for (std::uint32_t i = 0; i < 3000000; ++i) list.push_back(i);
  CHECK(list.data() == start);
  reserve_large(list, 10);  // less than there is: nothing happens
  CHECK(list.data() == start);
  reserve_large(list, 6000000);
  CHECK(std::accumulate(list.begin(), list.end(), std::uint64_t{0}) == 4499998500000U);
  CHECK(filled_large(2000000, 7U) == std::vector<unsigned>(2000000, 7U));
}

TEST_CASE("large bytes are aligned and writable to the end") {
  for (const std::size_t bytes : {0U, 1U, 4096U, 9000001U}) {
    const auto block = allocate_large(bytes);
    REQUIRE(block != nullptr);
    const std::size_t alignment = bytes > 9000000 ? std::size_t{1} << 21 : 64;
    CHECK(reinterpret_cast<std::uintptr_t>(block.get()) % alignment == 0);
    if (bytes == 0) continue;
    block[0] = 'a';
    block[bytes - 1] = 'z';
    CHECK(block[bytes - 1] == 'z');
  }
}

TEST_CASE("a buffer grows, pads, appends and keeps its room when cleared") {
  Buffer<int> buffer;
  CHECK(buffer.empty());
  for (int i = 0; i < 1000; ++i) buffer.push(i);
  buffer.pad(1500, -1);
  buffer.pad(10, 5);  // already longer
  const int more[] = {7, 8};
  buffer.append(more, 2);
  buffer.append(nullptr, 0);
  REQUIRE(buffer.size == 1502);
  CHECK(buffer[999] == 999);
  CHECK(buffer[1499] == -1);
  CHECK(buffer[1501] == 8);
  const std::size_t capacity = buffer.capacity;
  buffer.clear();
  CHECK(buffer.empty());
  CHECK(buffer.begin() == buffer.end());
  CHECK(buffer.capacity == capacity);
  int* const room = buffer.room(100000);
  room[99999] = 3;
  buffer.size = 100000;
  CHECK(buffer[99999] == 3);
}
