// SPDX-License-Identifier: MIT
// Open addressing with linear probing (Knuth, The Art of Computer Programming vol. 3, section 6.4), keyed by the
// bits of the coordinates. Vertices enter in file order, so the result does not depend on the table's layout.
#include "trimtack/weld.hpp"

#include <bit>
#include <cstdint>

namespace trimtack {
namespace {

std::uint64_t mix(std::uint64_t h) {
  h ^= h >> 32U;
  h *= 0x9fb21c651e98df25ULL;
  h ^= h >> 29U;
  return h;
}

std::uint64_t hash_of(const Vec3& p) {
  // Adding +0 turns -0 into +0, so that equal coordinates have equal bits.
  std::uint64_t h = mix(std::bit_cast<std::uint64_t>(p.x + 0.0) + 0x9e3779b97f4a7c15ULL);
  h = mix(h * 3 + std::bit_cast<std::uint64_t>(p.y + 0.0));
  return mix(h * 3 + std::bit_cast<std::uint64_t>(p.z + 0.0));
}

}  // namespace

WeldMap weld(std::span<const Vec3> positions, std::span<const Index> groups) {
  WeldMap map;
  map.to_welded.resize(positions.size());
  map.representative.reserve(positions.size());
  const std::size_t slots = std::bit_ceil(positions.size() * 2 + 1);
  const std::size_t mask = slots - 1;
  std::vector<Index> table(slots, kNone);
  for (std::size_t i = 0; i < positions.size(); ++i) {
    const Vec3& p = positions[i];
    const auto vertex = static_cast<Index>(i);
    if (!is_finite(p)) {
      map.to_welded[i] = map.count();
      map.representative.push_back(vertex);
      continue;
    }
    std::size_t slot = hash_of(p) & mask;
    const auto other = [&](Index first) {
      return !(positions[first] == p) || (!groups.empty() && groups[first] != groups[i]);
    };
    while (table[slot] != kNone && other(map.representative[table[slot]])) slot = (slot + 1) & mask;
    if (table[slot] == kNone) {
      table[slot] = map.count();
      map.representative.push_back(vertex);
    }
    map.to_welded[i] = table[slot];
  }
  return map;
}

}  // namespace trimtack
