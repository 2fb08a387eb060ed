// SPDX-License-Identifier: MIT
/// An executor of plain threads, started for each call. Tasks are taken one by one.
#pragma once

#include <algorithm>
#include <atomic>
#include <cstddef>
#include <thread>
#include <vector>

#include "trimtack/parallel.hpp"

namespace trimtack::test {

class Threads {
 public:
  explicit Threads(std::size_t width) : width_(std::max<std::size_t>(width, 1)) {}
  /// Refers to this object, which must outlive it.
  Executor executor() {
    if (width_ == 1) return {};
    return {&run, this, width_};
  }

 private:
  static void run(void* self, std::size_t count, Executor::Task task, void* context) {
    std::atomic<std::size_t> next{0};
    const auto work = [&] {
      for (std::size_t i = next++; i < count; i = next++) task(context, i);
    };
    std::vector<std::thread> threads;
    const std::size_t width = std::min(static_cast<Threads*>(self)->width_, count);
    for (std::size_t t = 1; t < width; ++t) threads.emplace_back(work);
    work();
    for (std::thread& thread : threads) thread.join();
  }
  std::size_t width_;
};

}  // namespace trimtack::test
