// SPDX-License-Identifier: MIT
#include "cli/limits.hpp"

#include <sys/resource.h>  // defines __GLIBC__ where it applies
#if defined(__linux__)
#include <sys/prctl.h>
#endif
#if defined(__GLIBC__)
#include <malloc.h>
#endif

#include "cli/common.hpp"

namespace trimtack::cli {
namespace {

// Sanitizers reserve far more memory than they use.
#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
constexpr bool kSanitized = true;
#elif defined(__has_feature)
constexpr bool kSanitized = __has_feature(address_sanitizer) || __has_feature(thread_sanitizer);
#else
constexpr bool kSanitized = false;
#endif

}  // namespace

void keep_freed_memory() {
#if defined(__GLIBC__)
  constexpr int kLargestKept = 32 << 20, kMostKept = 128 << 20;
  ::mallopt(M_MMAP_THRESHOLD, kLargestKept);
  ::mallopt(M_TRIM_THRESHOLD, kMostKept);
#endif
}

void give_back_freed_memory() {
#if defined(__GLIBC__)
  ::malloc_trim(0);
#endif
}

void stop_large_pages() {
#if defined(__linux__)
  ::prctl(PR_SET_THP_DISABLE, 1UL, 0UL, 0UL, 0UL);
#endif
}

void limit_memory(const CommonOptions& options) {
  rlimit limit{};
  const std::uint64_t most = memory_limit(options);
  if (kSanitized || most == 0 || ::getrlimit(RLIMIT_DATA, &limit) != 0) return;
  limit.rlim_cur = most < limit.rlim_max ? most : limit.rlim_max;
  ::setrlimit(RLIMIT_DATA, &limit);
}

}  // namespace trimtack::cli
