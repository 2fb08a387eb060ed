// SPDX-License-Identifier: MIT
/// Scratch that is dear to make (arrays as long as the cloth) and lent to one range of work after the other.
#pragma once

#include <memory>
#include <mutex>
#include <utility>
#include <vector>

namespace trimtack {

/// Hands out objects that nobody uses at the moment, made by `make()` when there is none. What a range leaves behind in
/// one must not change what the next one answers.
template <class T>
class ScratchPool {
 public:
  /// fn(scratch) with an object of its own. Threads: any number at a time.
  template <class Make, class Fn>
  void with(Make&& make, Fn&& fn) {
    std::unique_ptr<T> scratch;
    {
      const std::lock_guard lock(mutex_);
      if (!free_.empty()) {
        scratch = std::move(free_.back());
        free_.pop_back();
      }
    }
    if (scratch == nullptr) scratch = make();
    fn(*scratch);
    const std::lock_guard lock(mutex_);
    free_.push_back(std::move(scratch));
  }

 private:
  std::mutex mutex_;
  std::vector<std::unique_ptr<T>> free_;
};

}  // namespace trimtack
