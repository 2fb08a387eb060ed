// SPDX-License-Identifier: MIT
/// Report: findings that do not stop the work. Typed, located, counted; repeats are merged.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "trimtack/types.hpp"

namespace trimtack {

enum class Severity : std::uint8_t { Note, Warning, Problem };

struct Finding {
  Severity severity = Severity::Note;
  std::string code;         ///< stable short name, for instance "obj-free-form" (kebab case)
  std::string message;      ///< one sentence: what was found, then what to do
  std::string subject;      ///< file, trim or component it was first found at
  std::uint64_t line = 0;   ///< 1-based line of the first one, 0 when it does not apply
  std::uint64_t count = 1;  ///< how often the same code was found
};

struct Report {
  std::vector<Finding> findings;
};

/// Adds a finding. One with the same code and severity already listed is counted instead, so that a
/// million repeats take the room of one. Cost: linear in the number of distinct codes.
void add(Report& report, Finding finding);
/// Adds every finding on its own line (per trim or per frame), without merging.
void add_separate(Report& report, Finding finding);
/// "warning: FILE:LINE: message (3 times)" in one line.
std::string to_text(const Finding& finding);

}  // namespace trimtack
