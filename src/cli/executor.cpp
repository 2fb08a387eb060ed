// SPDX-License-Identifier: MIT
#include "cli/executor.hpp"

#include <tbb/global_control.h>
#include <tbb/parallel_for.h>
#include <tbb/task_arena.h>

#include <atomic>

#include "cli/interrupt.hpp"

namespace trimtack::cli {
namespace {

/// What was done before this object's end is seen by who looks at the count later.
struct WhenEnded {
  std::atomic<std::size_t>& count;
  ~WhenEnded() { count.fetch_add(1, std::memory_order_release); }
};
struct WhenAllEnded {
  std::atomic<std::size_t>& count;
  ~WhenAllEnded() { static_cast<void>(count.load(std::memory_order_acquire)); }
};

}  // namespace

struct Threads::Impl {
  explicit Impl(int count)
      : width(count > 0 ? count : tbb::this_task_arena::max_concurrency()),
        limit(tbb::global_control::max_allowed_parallelism, static_cast<std::size_t>(width)),
        arena(width) {}

  static void run(void* self, std::size_t count, Executor::Task task, void* context) {
    auto& impl = *static_cast<Impl*>(self);
    // The pool orders begin, tasks and end by itself, also when one throws; a race detector that does not see into it
    // is told so here.
    std::atomic<bool> begun{false};
    std::atomic<std::size_t> ended{0};
    const WhenAllEnded all{ended};
    begun.store(true, std::memory_order_release);
    impl.arena.execute([&] {
      tbb::parallel_for(
          tbb::blocked_range<std::size_t>(0, count, 1),
          [&](const tbb::blocked_range<std::size_t>& range) {
            for (std::size_t i = range.begin(); i < range.end(); ++i) {
              stop_if_asked();
              static_cast<void>(begun.load(std::memory_order_acquire));
              const WhenEnded one{ended};
              task(context, i);
            }
          },
          tbb::simple_partitioner());
    });
  }

  static void run_in_turn(void*, std::size_t count, Executor::Task task, void* context) {
    for (std::size_t i = 0; i < count; ++i) {
      stop_if_asked();
      task(context, i);
    }
  }

  int width;
  tbb::global_control limit;
  tbb::task_arena arena;
};

Threads::Threads(int count) : impl_(std::make_unique<Impl>(count)) {}
Threads::~Threads() = default;

Executor Threads::executor() const {
  const auto width = static_cast<std::size_t>(impl_->width);
  return {width > 1 ? &Impl::run : &Impl::run_in_turn, impl_.get(), width};
}

}  // namespace trimtack::cli
