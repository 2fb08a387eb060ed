// SPDX-License-Identifier: MIT
// Hardly any vertices coincide in most exports. So a bit for each of many hash values is set first (Bloom 1970): only
// vertices that find theirs set, and those that share it, can coincide. They go through open addressing with
// linear probing (Knuth, The Art of Computer Programming vol. 3, section 6.4), in parts that fit the cache. Vertices
// enter in file order, so the result does not depend on the tables' layout.
#include "trimtack/weld.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cstdint>
#include <numeric>

#include "core/memory.hpp"

namespace trimtack {
namespace {

using Words = std::array<std::uint64_t, 3>;

/// Adding +0 turns -0 into +0, so that equal coordinates have equal bits.
Words words_of(const Vec3& p) {
  return {std::bit_cast<std::uint64_t>(p.x + 0.0), std::bit_cast<std::uint64_t>(p.y + 0.0),
          std::bit_cast<std::uint64_t>(p.z + 0.0)};
}

/// Cheap; the upper half is the best.
std::uint64_t rough_hash(const Vec3& p) {
  const Words w = words_of(p);
  return (w[0] + std::rotl(w[1], 21) + std::rotl(w[2], 42)) * 0x9fb21c651e98df25ULL;
}

std::uint64_t mix(std::uint64_t h) {
  h *= 0x9fb21c651e98df25ULL;
  return h ^ (h >> 32U);
}

std::uint64_t hash_of(const Vec3& p) {
  const Words w = words_of(p);
  return mix(mix(mix(w[0] + 0x9e3779b97f4a7c15ULL) * 3 + w[1]) * 3 + w[2]);
}

/// One bit for each value of a part of a hash.
class Bits {
 public:
  explicit Bits(std::size_t words) : mask_(words - 1), words_(filled_large<std::uint64_t>(words, 0)) {}
  void fetch(std::uint64_t hash) const { __builtin_prefetch(&words_[hash >> 32U & mask_], 1); }
  bool has(std::uint64_t hash) const { return (words_[hash >> 32U & mask_] & bit_of(hash)) != 0; }
  /// @return whether it was set before
  bool set(std::uint64_t hash) {
    std::uint64_t& word = words_[hash >> 32U & mask_];
    const bool was = (word & bit_of(hash)) != 0;
    word |= bit_of(hash);
    return was;
  }

 private:
  static std::uint64_t bit_of(std::uint64_t hash) { return std::uint64_t{1} << (hash >> 26U & 63U); }
  std::size_t mask_;
  std::vector<std::uint64_t> words_;
};

/// Hashes of vertices whose bit an earlier one has set already.
std::vector<std::uint64_t> list_late(std::span<const Vec3> positions) {
  constexpr std::size_t kAhead = 128;                 // asked for together, for the bits lie anywhere
  Bits met(std::bit_ceil(positions.size() / 4 + 1));  // 16 to 32 bits a vertex
  std::array<std::uint64_t, kAhead> hashes;
  std::vector<std::uint64_t> late;
  reserve_large(late, positions.size() / 16);
  for (std::size_t begin = 0; begin < positions.size(); begin += kAhead) {
    const std::size_t count = std::min(kAhead, positions.size() - begin);
    for (std::size_t i = 0; i < count; ++i) {
      hashes[i] = rough_hash(positions[begin + i]);
      met.fetch(hashes[i]);
    }
    for (std::size_t i = 0; i < count; ++i)
      if (met.set(hashes[i])) late.push_back(hashes[i]);
  }
  return late;
}

/// An entry is the upper half of a hash above the vertex.
using Entries = std::vector<std::uint64_t>;

/// Finite vertices that may coincide with another one, ascending: all that do, and few more.
Entries list_suspects(std::span<const Vec3> positions) {
  const std::vector<std::uint64_t> late = list_late(positions);
  Entries suspects;
  if (late.empty()) return suspects;
  reserve_large(suspects, positions.size() / 8);
  Bits shared(std::bit_ceil(late.size() / 2 + 1));  // at least 32 bits for each
  for (const std::uint64_t hash : late) shared.set(hash);
  for (std::size_t i = 0; i < positions.size(); ++i)
    if (shared.has(rough_hash(positions[i])) && is_finite(positions[i]))
      suspects.push_back((hash_of(positions[i]) & ~std::uint64_t{kNone}) | i);
  return suspects;
}

// So many vertices share a table: it stays in the processor's cache.
constexpr std::size_t kPerTable = 32768;
constexpr int kMostTableBits = 10;

/// Entries by the uppermost bits of their hash, ascending by vertex within each part.
struct Parted {
  std::vector<std::size_t> first{0};  ///< of each part, and the end
  Entries entries;
};

Parted part_by_hash(Entries&& entries) {
  Parted out;
  const int bits = std::min<int>(std::bit_width(entries.size() / kPerTable), kMostTableBits);
  if (bits == 0) {
    out.first.push_back(entries.size());
    out.entries = std::move(entries);
    return out;
  }
  const auto part_of = [bits](std::uint64_t hash) { return hash >> (64 - bits); };
  out.first.assign((std::size_t{1} << bits) + 1, 0);
  for (const std::uint64_t entry : entries) ++out.first[part_of(entry) + 1];
  std::partial_sum(out.first.begin(), out.first.end(), out.first.begin());
  out.entries = filled_large<std::uint64_t>(entries.size(), 0);
  std::vector<std::size_t> next(out.first.begin(), out.first.end() - 1);
  for (const std::uint64_t entry : entries) out.entries[next[part_of(entry)]++] = entry;
  return out;
}

/// found(vertex, first) for each vertex of a part that coincides with an earlier one.
/// @param table  scratch, used again
template <class Found>
void find_first(std::span<const std::uint64_t> entries, std::span<const Vec3> positions, std::span<const Index> groups,
                Entries& table, Found&& found) {
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
    if (static_cast<Index>(table[slot]) == kNone)
      table[slot] = entry;
    else
      found(vertex, static_cast<Index>(table[slot]));
  }
}

/// Ascending lists from the pairs found, in any order.
void list_few(std::vector<std::array<Index, 2>>& pairs, WeldMap& map) {
  std::sort(pairs.begin(), pairs.end());
  for (const auto& [vertex, first] : pairs) {
    map.later.push_back(vertex);
    map.first.push_back(first);
  }
}

void list_many(WeldMap& map) {
  for (Index v = 0; v < map.first_at.size(); ++v) {
    if (map.first_at[v] == v) continue;
    map.later.push_back(v);
    map.first.push_back(map.first_at[v]);
  }
}

}  // namespace

WeldMap weld(std::span<const Vec3> positions, std::span<const Index> groups) {
  WeldMap map;
  const Parted parted = part_by_hash(list_suspects(positions));
  const bool many = parted.entries.size() > positions.size() / 8;
  if (many) {
    map.first_at = filled_large<Index>(positions.size(), 0);
    std::iota(map.first_at.begin(), map.first_at.end(), Index{0});
  }
  std::vector<std::array<Index, 2>> pairs;
  Entries table;
  for (std::size_t part = 0; part + 1 < parted.first.size(); ++part)
    find_first(std::span(parted.entries).subspan(parted.first[part], parted.first[part + 1] - parted.first[part]),
               positions, groups, table, [&](Index vertex, Index first) {
                 if (many)
                   map.first_at[vertex] = first;
                 else
                   pairs.push_back({vertex, first});
               });
  if (many)
    list_many(map);
  else
    list_few(pairs, map);
  map.places = static_cast<Index>(positions.size() - map.later.size());
  return map;
}

std::vector<Index> place_numbers(const WeldMap& map, std::size_t vertices) {
  std::vector<Index> number = filled_large<Index>(vertices, 0);
  Index next = 0;
  std::size_t at = 0;
  for (Index v = 0; v < vertices; ++v)
    number[v] = at < map.later.size() && map.later[at] == v ? number[map.first[at++]] : next++;
  return number;
}

}  // namespace trimtack
