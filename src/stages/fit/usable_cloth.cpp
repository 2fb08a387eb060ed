// SPDX-License-Identifier: MIT
#include "stages/fit/usable_cloth.hpp"

#include "runtime/cloth_state.hpp"

namespace trimtack {

tt_cloth_state check_usable_cloth(const tt_table* table, const double* positions) {
  tt_cloth_state state{};
  view::look_at_cloth(view::load(table), view::Cloth<double>{positions, 3 * sizeof(double)}, state);
  return state;
}

}  // namespace trimtack
