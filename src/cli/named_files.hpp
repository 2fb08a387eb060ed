// SPDX-License-Identifier: MIT
/// Files that a run writes one by one, where the author says: pictures, reports, tables of verdicts.
#pragma once

#include <span>
#include <string>

#include "trimtack/result.hpp"

namespace trimtack::cli {

struct NamedFile {
  const char* option;  ///< "--report"
  std::string path;    ///< empty: not asked for
};

/// To be asked before the work begins. What trimtack did not write is never written over: a slip of the finger must not
/// cost an export, and a garment's texture often has the garment's name.
/// @error Usage when two options name one file; CannotWrite when a file stands there that no run wrote.
Result<void> check_named_files(std::span<const NamedFile> files);

}  // namespace trimtack::cli
