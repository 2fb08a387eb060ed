// SPDX-License-Identifier: MIT
/// How the program ends.
#pragma once

namespace trimtack::cli {

inline constexpr int kDone = 0;
inline constexpr int kLimitExceeded = 1;  ///< done, but a limit set by the user is exceeded
inline constexpr int kUsage = 2;
inline constexpr int kBadInput = 3;
inline constexpr int kCannotWrite = 4;
inline constexpr int kInternal = 5;

}  // namespace trimtack::cli
