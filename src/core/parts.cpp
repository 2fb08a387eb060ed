// SPDX-License-Identifier: MIT
#include "trimtack/parts.hpp"

namespace trimtack {

const char* to_text(Role role) {
  switch (role) {
    case Role::Cloth:
      return "cloth";
    case Role::Trim:
      return "trim";
    case Role::Stitching:
      break;
  }
  return "stitching";
}

}  // namespace trimtack
