// SPDX-License-Identifier: MIT
// 64 bytes are looked at together: one bit each tells where lines begin, and which of them are wanted.
#include "io/obj_lines.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cstring>

#if defined(__SSE2__)
#include <immintrin.h>
#endif

namespace trimtack::obj {
namespace {

constexpr std::size_t kStep = 64, kLookAhead = 2;

/// Line feeds, bit by bit: in front of wanted lines, and all.
struct Feeds {
  std::uint64_t wanted = 0, all = 0;
};

#if defined(__SSE2__)
__m128i equal(const char* p, char c) {
  return _mm_cmpeq_epi8(_mm_loadu_si128(reinterpret_cast<const __m128i*>(p)), _mm_set1_epi8(c));
}

std::uint64_t bits(__m128i bytes) { return static_cast<std::uint32_t>(_mm_movemask_epi8(bytes)); }

/// @param second  the second character of a wanted line
Feeds feeds_at(const char* p, char second) {
  Feeds feeds;
  for (std::size_t i = 0; i < kStep; i += sizeof(__m128i)) {
    const __m128i all = equal(p + i, '\n');
    feeds.wanted |= bits(_mm_and_si128(all, _mm_and_si128(equal(p + i + 1, 'v'), equal(p + i + 2, second)))) << i;
    feeds.all |= bits(all) << i;
  }
  return feeds;
}
#else
Feeds feeds_at(const char* p, char second) {
  Feeds feeds;
  for (std::size_t i = 0; i < kStep; ++i) {
    const std::uint64_t feed = p[i] == '\n' ? std::uint64_t{1} << i : 0;
    feeds.all |= feed;
    feeds.wanted |= p[i + 1] == 'v' && p[i + 2] == second ? feed : 0;
  }
  return feeds;
}
#endif

/// The bits of `mask` behind its bit `at`.
std::uint64_t behind(std::uint64_t mask, int at) { return mask & ~std::uint64_t{1} << at; }

/// Runs from the line feeds of one step after the other.
struct RunFinder {
  Buffer<LineRun>& runs;
  std::uint32_t begin = 0;
  bool open = false;

  void add(Feeds feeds, std::uint32_t base) {
    std::uint64_t others = feeds.all & ~feeds.wanted;
    while ((open ? others : feeds.wanted) != 0) {
      const int at = std::countr_zero(open ? others : feeds.wanted);
      const std::uint32_t line = base + static_cast<std::uint32_t>(at) + 1;
      if (open) {
        runs.push({begin, line});
      } else {
        begin = line;
      }
      open = !open;
      others = behind(others, at);
      feeds.wanted = behind(feeds.wanted, at);
    }
  }
};

}  // namespace

void find_line_runs(std::string_view text, std::size_t kind, Buffer<LineRun>& runs) {
  constexpr std::array<char, 3> kSecond{' ', 't', 'n'};
  const char second = kSecond[kind];
  const char* const start = text.data();
  runs.clear();
  RunFinder finder{runs};
  finder.open = text.size() > 1 && start[0] == 'v' && start[1] == second;
  std::size_t at = 0;
  for (; text.size() - at >= kStep + kLookAhead; at += kStep)
    finder.add(feeds_at(start + at, second), static_cast<std::uint32_t>(at));
  while (at < text.size()) {
    std::array<char, kStep + kLookAhead> rest{};
    std::memcpy(rest.data(), start + at, std::min(text.size() - at, rest.size()));
    finder.add(feeds_at(rest.data(), second), static_cast<std::uint32_t>(at));
    at += kStep;
  }
  if (finder.open) runs.push({finder.begin, static_cast<std::uint32_t>(text.size())});
}

const char* skip_lines(const char* p, const char* end, std::size_t& lines) {
  constexpr std::ptrdiff_t kBytes = 128;  // fewer than a byte can count
  for (; end - p >= kBytes && lines > 0; p += kBytes) {
    std::uint8_t feeds = 0;
    for (std::ptrdiff_t i = 0; i < kBytes; ++i)
      feeds = static_cast<std::uint8_t>(feeds + static_cast<std::uint8_t>(p[i] == '\n'));
    if (feeds >= lines) break;
    lines -= feeds;
  }
  for (; lines > 0 && p != end; --lines) {
    const void* const feed = std::memchr(p, '\n', static_cast<std::size_t>(end - p));
    p = feed == nullptr ? end : static_cast<const char*>(feed) + 1;
  }
  return p;
}

}  // namespace trimtack::obj
