// SPDX-License-Identifier: MIT
/// How staged files come into the target folder, and how that is finished after a kill.
#pragma once

#include <filesystem>

#include "io/work_folder.hpp"

namespace trimtack {

inline constexpr const char* kJournalName = "journal";
inline constexpr const char* kExchangeName = "exchange";

/// Completes a journal, tidies up after an exchange, or drops unfinished staging, and empties `work`.
/// @pre the caller holds the lock of `work`. False when the system refuses.
bool finish_leftover(const std::filesystem::path& target, const std::filesystem::path& work);

}  // namespace trimtack
