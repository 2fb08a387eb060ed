// SPDX-License-Identifier: MIT
/// Work split by ranges on an executor of the caller's. The library starts no thread.
#pragma once

#include <algorithm>
#include <cstddef>

namespace trimtack {

/// Runs task(context, i) for i in [0, count), in any order, on any thread, and returns when all are done.
/// The default runs them one after the other on the calling thread.
struct Executor {
  using Task = void (*)(void* context, std::size_t index);
  void (*run)(void* self, std::size_t count, Task task, void* context) = nullptr;
  void* self = nullptr;
  std::size_t width = 1;  ///< how many tasks may run at a time (a hint, never a result)
};

/// fn(begin, end) over consecutive ranges of [0, count) of at most `grain` items. Ranges do not depend on
/// the executor, so that per-range results merged in order are the same for any thread count.
template <class Fn>
void for_ranges(const Executor& executor, std::size_t count, std::size_t grain, Fn&& fn) {
  if (count == 0) return;
  grain = std::max<std::size_t>(grain, 1);
  const std::size_t ranges = (count + grain - 1) / grain;
  struct Context {
    Fn* fn;
    std::size_t count, grain;
  } context{&fn, count, grain};
  const Executor::Task task = [](void* raw, std::size_t i) {
    auto& c = *static_cast<Context*>(raw);
    (*c.fn)(i * c.grain, std::min(c.count, (i + 1) * c.grain));
  };
  if (executor.run == nullptr || ranges == 1) {
    for (std::size_t i = 0; i < ranges; ++i) task(&context, i);
  } else {
    executor.run(executor.self, ranges, task, &context);
  }
}

}  // namespace trimtack
