// SPDX-License-Identifier: MIT
// Open addressing with linear probing (Knuth, The Art of Computer Programming vol. 3, section 6.4), keyed by the
// bits of the coordinates. Vertices enter in file order, so the result does not depend on the table's layout.
#include "trimtack/weld.hpp"

#include <array>
#include <bit>
#include <cstdint>

#include "core/memory.hpp"

namespace trimtack {
namespace {

std::uint64_t mix(std::uint64_t h) {
  h *= 0x9fb21c651e98df25ULL;
  return h ^ (h >> 32U);
}

std::uint64_t hash_of(const Vec3& p) {
  // Adding +0 turns -0 into +0, so that equal coordinates have equal bits.
  std::uint64_t h = mix(std::bit_cast<std::uint64_t>(p.x + 0.0) + 0x9e3779b97f4a7c15ULL);
  h = mix(h * 3 + std::bit_cast<std::uint64_t>(p.y + 0.0));
  return mix(h * 3 + std::bit_cast<std::uint64_t>(p.z + 0.0));
}

constexpr std::size_t kAhead = 16;  // places are asked for from memory before they are needed

}  // namespace

WeldMap weld(std::span<const Vec3> positions, std::span<const Index> groups) {
  WeldMap map;
  const std::size_t n = positions.size();
  map.to_welded = filled_large<Index>(n, 0);
  reserve_large(map.representative, n);
  const std::size_t slots = std::bit_ceil(n + n / 4 + 1);
  const std::size_t mask = slots - 1;
  // Half of the hash beside the first vertex: other positions are seldom looked at in vain.
  std::vector<std::uint64_t> table = filled_large<std::uint64_t>(slots, kNone);
  std::array<std::uint64_t, kAhead> hashes{};
  const auto prepare = [&](std::size_t i) {
    if (i >= n) return;
    const std::uint64_t h = hash_of(positions[i]);
    hashes[i % kAhead] = h;
    __builtin_prefetch(&table[h & mask], 1);
  };
  for (std::size_t i = 0; i < kAhead; ++i) prepare(i);
  for (std::size_t i = 0; i < n; ++i) {
    const std::uint64_t h = hashes[i % kAhead];
    prepare(i + kAhead);
    const Vec3& p = positions[i];
    const auto vertex = static_cast<Index>(i);
    if (!is_finite(p)) {
      map.to_welded[i] = map.count();
      map.representative.push_back(vertex);
      continue;
    }
    const std::uint64_t entry = (h & ~std::uint64_t{kNone}) | vertex;
    std::size_t slot = h & mask;
    const auto differs = [&](std::uint64_t there) {
      if ((there ^ entry) >> 32U != 0) return true;
      const auto first = static_cast<Index>(there);
      return !(positions[first] == p) || (!groups.empty() && groups[first] != groups[i]);
    };
    while (static_cast<Index>(table[slot]) != kNone && differs(table[slot])) slot = (slot + 1) & mask;
    if (static_cast<Index>(table[slot]) == kNone) {
      table[slot] = entry;
      map.to_welded[i] = map.count();
      map.representative.push_back(vertex);
    } else {
      map.to_welded[i] = map.to_welded[static_cast<Index>(table[slot])];
    }
  }
  return map;
}

}  // namespace trimtack
