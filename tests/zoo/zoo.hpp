// SPDX-License-Identifier: MIT
/// Awkward exports, built by code: each with what the program must answer.
#pragma once

#include <string>
#include <vector>

namespace trimtack::zoo {

struct Animal {
  std::string name;
  std::string obj;   ///< the text of the combined export
  int inspect = 0;   ///< exit code of inspect and split
  int bind = 0;      ///< exit code of bind; 0: the folder can be followed, checked and exported, too
  std::string says;  ///< words that inspect or bind must say on stderr; empty: nothing in particular
};

std::vector<Animal> all_animals();

}  // namespace trimtack::zoo
