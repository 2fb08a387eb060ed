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

void advise_large_pages(void* start, std::size_t bytes) {
#if defined(__linux__) && defined(MADV_HUGEPAGE)
  if (bytes < kWorthACall) return;
  const bool large = bytes >= kWorthIt;
  // The page in front, with the bookkeeping of malloc, is included: without it the first large page would be lost.
  const std::size_t into_page = reinterpret_cast<std::uintptr_t>(start) % kSmallPage;
  char* const first = static_cast<char*>(start) - into_page;
  bytes = (bytes + into_page + kSmallPage - 1) / kSmallPage * kSmallPage;
  if (large) madvise(first, bytes, MADV_HUGEPAGE);
#if defined(MADV_POPULATE_WRITE)
  // The bookkeeping has touched the first large page already, so it stays in small ones. Those, and all where there are
  // too few for a large page, come in one call.
  const std::size_t to_large = kLargePage - reinterpret_cast<std::uintptr_t>(first) % kLargePage;
  madvise(first, large ? std::min(bytes, to_large) : bytes, MADV_POPULATE_WRITE);
#endif
#else
  static_cast<void>(start);
  static_cast<void>(bytes);
#endif
}

void touch_ahead(void* start, std::size_t bytes) {
#if defined(__linux__) && defined(MADV_POPULATE_WRITE)
  constexpr std::size_t kFewPages = 4 * kSmallPage;
  if (bytes < kFewPages) return;
  advise_large_pages(start, bytes);
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
  advise_large_pages(start, bytes);
  return std::unique_ptr<char[], LargeDeleter>(start, LargeDeleter{alignment});
}

std::size_t round_to_large_pages(std::size_t items, std::size_t item_bytes) {
  constexpr std::size_t kBookkeeping = 64;  // more than any malloc puts in front
  const std::size_t bytes = items * item_bytes + kBookkeeping;
  if (bytes < kWorthIt) return items;
  return ((bytes + kLargePage - 1) / kLargePage * kLargePage - kBookkeeping) / item_bytes;
}

}  // namespace trimtack
