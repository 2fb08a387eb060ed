// SPDX-License-Identifier: MIT
#include "core/memory.hpp"

#include <algorithm>
#include <cstdint>
#include <new>

#if defined(__linux__)
#include <sys/mman.h>
#endif

namespace trimtack {
namespace {

constexpr std::size_t kLargePage = std::size_t{1} << 21;
constexpr std::size_t kSmallPage = std::size_t{1} << 12;
constexpr std::size_t kCacheLine = 64;
constexpr std::size_t kWorthIt = kLargePage;
constexpr std::size_t kWorthACall = 16 * kSmallPage;

}  // namespace

void advise_large_pages(void* start, std::size_t bytes, std::size_t used) {
#if defined(__linux__) && defined(MADV_HUGEPAGE)
  if (bytes < kWorthACall) return;
  // Addresses, and whole pages: the page in front, with the bookkeeping of malloc, is included, for without it the
  // first large page would be lost.
  const auto address = reinterpret_cast<std::uintptr_t>(start);
  const auto up_to = [](std::uintptr_t at, std::size_t page) { return (at + page - 1) / page * page; };
  const std::uintptr_t first = address / kSmallPage * kSmallPage;
  const std::uintptr_t end = up_to(address + bytes, kSmallPage), used_end = up_to(address + used, kSmallPage);
  const auto advise = [&](std::uintptr_t from, std::uintptr_t to, int advice) {
    if (from < to) madvise(static_cast<char*>(start) + static_cast<std::ptrdiff_t>(from - address), to - from, advice);
  };
  const bool large = bytes >= kWorthIt;
  if (large) advise(first, end, MADV_HUGEPAGE);
#if defined(MADV_POPULATE_WRITE)
  // The bookkeeping has touched the first large page already, so it stays in small ones; so does what is no whole large
  // page at the end.
  const std::uintptr_t large_from = large ? up_to(first + 1, kLargePage) : end;
  const std::uintptr_t large_to = std::max(large_from, end / kLargePage * kLargePage);
  advise(first, std::min(large_from, used_end), MADV_POPULATE_WRITE);
  advise(large_to, used_end, MADV_POPULATE_WRITE);
#endif
#else
  static_cast<void>(start);
  static_cast<void>(bytes);
  static_cast<void>(used);
#endif
}

void touch_ahead(void* start, std::size_t bytes) {
#if defined(__linux__) && defined(MADV_POPULATE_WRITE)
  constexpr std::size_t kFewPages = 4 * kSmallPage;
  if (bytes < kFewPages) return;
  advise_large_pages(start, bytes, 0);
  char* const first = static_cast<char*>(start);
  const std::size_t to_page = (kSmallPage - reinterpret_cast<std::uintptr_t>(first) % kSmallPage) % kSmallPage;
  const std::size_t pages = (bytes - to_page) / kSmallPage;
  madvise(first + to_page, pages * kSmallPage, MADV_POPULATE_WRITE);
#else
  static_cast<void>(start);
  static_cast<void>(bytes);
#endif
}

void LargeDeleter::operator()(char* bytes) const { ::operator delete[](bytes, std::align_val_t{alignment}); }

std::unique_ptr<char[], LargeDeleter> allocate_large(std::size_t bytes) {
  const std::size_t alignment = bytes < kWorthIt ? kCacheLine : kLargePage;
  auto* const start =
      static_cast<char*>(::operator new[](std::max<std::size_t>(bytes, 1), std::align_val_t{alignment}));
  advise_large_pages(start, bytes, bytes);
  return std::unique_ptr<char[], LargeDeleter>(start, LargeDeleter{alignment});
}

std::size_t round_to_large_pages(std::size_t items, std::size_t item_bytes) {
  constexpr std::size_t kBookkeeping = 64;  // more than any malloc puts in front
  const std::size_t bytes = items * item_bytes + kBookkeeping;
  if (bytes < kWorthIt) return items;
  return ((bytes + kLargePage - 1) / kLargePage * kLargePage - kBookkeeping) / item_bytes;
}

}  // namespace trimtack
