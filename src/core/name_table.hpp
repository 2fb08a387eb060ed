// SPDX-License-Identifier: MIT
/// A table of names in order of first use.
#pragma once

#include <string>
#include <unordered_map>
#include <utility>
#include <vector>

#include "trimtack/types.hpp"

namespace trimtack {

struct NameTable {
  std::vector<std::string>& names;
  std::unordered_map<std::string, Index> known;
  Index last = kNone;  ///< given out last: exporters say the same material again for every part

  explicit NameTable(std::vector<std::string>& table) : names(table) {}

  /// Number of a name, new or known.
  Index add(std::string name) {
    if (last != kNone && names[last] == name) return last;
    const auto [at, is_new] = known.try_emplace(std::move(name), static_cast<Index>(names.size()));
    if (is_new) names.push_back(at->first);
    last = at->second;
    return last;
  }
};

}  // namespace trimtack
