// SPDX-License-Identifier: MIT
// Open addressing with linear probing (Knuth, The Art of Computer Programming vol. 3, section 6.4), keyed by the
// bits of the coordinates, in parts that fit the cache. Vertices enter in file order, so the result does not depend on
// the tables' layout.
#include "trimtack/weld.hpp"

#include <algorithm>
#include <bit>
#include <cstdint>
#include <numeric>

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

// So many vertices share a table: it stays in the processor's cache.
constexpr std::size_t kPerTable = 32768;
constexpr int kMostTableBits = 10;

/// Finite vertices by the uppermost bits of their hash, ascending within each part. An entry is the upper half of the
/// hash above the vertex.
struct Parted {
  std::vector<std::size_t> first;  ///< of each part, and the end
  std::vector<std::uint64_t> entries;
};

Parted part_by_hash(std::span<const Vec3> positions) {
  const std::size_t n = positions.size();
  const int bits = std::min<int>(std::bit_width(n / kPerTable), kMostTableBits);
  const auto part_of = [bits](std::uint64_t hash) { return bits == 0 ? 0 : hash >> (64 - bits); };
  std::vector<std::uint64_t> hashes = filled_large<std::uint64_t>(n, 0);
  Parted out;
  out.first.assign((std::size_t{1} << bits) + 1, 0);
  for (std::size_t i = 0; i < n; ++i) {
    hashes[i] = (hash_of(positions[i]) & ~std::uint64_t{kNone}) | i;
    if (is_finite(positions[i])) ++out.first[part_of(hashes[i]) + 1];
  }
  std::partial_sum(out.first.begin(), out.first.end(), out.first.begin());
  out.entries = filled_large<std::uint64_t>(out.first.back(), 0);
  std::vector<std::size_t> next(out.first.begin(), out.first.end() - 1);
  for (const std::uint64_t entry : hashes)
    if (is_finite(positions[static_cast<Index>(entry)])) out.entries[next[part_of(entry)]++] = entry;
  return out;
}

/// Finds the first vertex at the place of each vertex of a part.
/// @param table  scratch, used again
void find_first(std::span<const std::uint64_t> entries, std::span<const Vec3> positions, std::span<const Index> groups,
                std::vector<std::uint64_t>& table, std::span<Index> first_of) {
  const std::size_t mask = std::bit_ceil(entries.size() + entries.size() / 4 + 1) - 1;
  table.assign(mask + 1, kNone);
  for (const std::uint64_t entry : entries) {
    const auto vertex = static_cast<Index>(entry);
    const auto differs = [&](std::uint64_t there) {
      if ((there ^ entry) >> 32U != 0) return true;
      const auto first = static_cast<Index>(there);
      return !(positions[first] == positions[vertex]) || (!groups.empty() && groups[first] != groups[vertex]);
    };
    std::size_t slot = (entry >> 32U) & mask;
    while (static_cast<Index>(table[slot]) != kNone && differs(table[slot])) slot = (slot + 1) & mask;
    if (static_cast<Index>(table[slot]) == kNone) table[slot] = entry;
    first_of[vertex] = static_cast<Index>(table[slot]);
  }
}

}  // namespace

WeldMap weld(std::span<const Vec3> positions, std::span<const Index> groups) {
  WeldMap map;
  const auto n = static_cast<Index>(positions.size());
  map.to_welded = filled_large<Index>(n, 0);  // the first vertex at the same place, later its number
  std::iota(map.to_welded.begin(), map.to_welded.end(), Index{0});
  {
    const Parted parted = part_by_hash(positions);
    std::vector<std::uint64_t> table;
    for (std::size_t part = 0; part + 1 < parted.first.size(); ++part)
      find_first(std::span(parted.entries).subspan(parted.first[part], parted.first[part + 1] - parted.first[part]),
                 positions, groups, table, map.to_welded);
  }
  reserve_large(map.representative, n);
  for (Index v = 0; v < n; ++v) {
    const Index first = map.to_welded[v];
    map.to_welded[v] = first == v ? map.count() : map.to_welded[first];
    if (first == v) map.representative.push_back(v);
  }
  return map;
}

}  // namespace trimtack
