// SPDX-License-Identifier: MIT
/// Whether the program is built with sanitizers or without optimisation, and takes many times as long.
#pragma once

#if defined(__has_feature)
#if __has_feature(address_sanitizer) || __has_feature(thread_sanitizer)
#define TRIMTACK_SLOW_BUILD 1
#endif
#endif
#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__) || !defined(NDEBUG)
#define TRIMTACK_SLOW_BUILD 1
#endif
#ifndef TRIMTACK_SLOW_BUILD
#define TRIMTACK_SLOW_BUILD 0
#endif

namespace trimtack::test {

inline constexpr bool kSlowBuild = TRIMTACK_SLOW_BUILD != 0;

}  // namespace trimtack::test
