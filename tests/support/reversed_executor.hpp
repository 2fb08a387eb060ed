// SPDX-License-Identifier: MIT
/// An executor that runs the ranges last to first: results must not depend on the order.
#pragma once

#include "trimtack/parallel.hpp"

namespace trimtack::test {

inline Executor reversed_executor() {
  Executor executor;
  executor.run = [](void*, std::size_t count, Executor::Task task, void* context) {
    for (std::size_t i = count; i-- > 0;) task(context, i);
  };
  executor.width = 2;
  return executor;
}

}  // namespace trimtack::test
