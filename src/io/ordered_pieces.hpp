// SPDX-License-Identifier: MIT
/// Pieces of a file, made on an executor and handed on in order.
#pragma once

#include <atomic>
#include <cstddef>
#include <memory>

#include "core/scratch_pool.hpp"
#include "trimtack/parallel.hpp"
#include "trimtack/result.hpp"

namespace trimtack {

/// Whose turn it is, from 0 on. Threads: all.
class Turns {
 public:
  /// @return whether it is the turn of `piece`; not, when the turns have ended
  bool wait_for(std::size_t piece) const {
    std::size_t now = now_.load(std::memory_order_acquire);
    for (; now != piece && now != kEnded; now = now_.load(std::memory_order_acquire)) now_.wait(now);
    return now == piece;
  }
  bool ended() const { return now_.load(std::memory_order_acquire) == kEnded; }
  /// To the next; whose turn it is calls it.
  void pass(std::size_t piece) {
    if (now_.compare_exchange_strong(piece, piece + 1)) now_.notify_all();
  }
  /// Nobody's turn comes any more.
  void end() {
    now_.store(kEnded);
    now_.notify_all();
  }

 private:
  static constexpr std::size_t kEnded = ~std::size_t{0};
  std::atomic<std::size_t> now_{0};
};

/// make(i, piece) for i in [0, count), in any order, and take(piece) in order, by the thread that has made it, for whom
/// it is in the cache. As many pieces are in memory as are made at a time; their memory is used again.
/// Who waits for his turn holds his thread, and only for pieces that others have begun: so neither make nor take may
/// use the executor.
/// @error the first of take(), after which nothing more is taken
template <class Piece, class Make, class Take>
Result<void> make_in_order(const Executor& executor, std::size_t count, ScratchPool<Piece>& pool, Make make,
                           Take take) {
  /// Ends the turns when make or take throws.
  struct Guard {
    Turns& turns;
    bool passed = false;
    ~Guard() {
      if (!passed) turns.end();
    }
  };
  Result<void> taken;
  Turns turns;
  std::atomic<std::size_t> begun{0};
  for_ranges(executor, count, 1, [&](std::size_t, std::size_t) {
    const std::size_t i = begun.fetch_add(1);  // in the order in which threads come, whatever the executor's
    if (turns.ended()) return;
    Guard guard{turns};
    pool.with([] { return std::make_unique<Piece>(); },
              [&](Piece& piece) {
                make(i, piece);
                if (!turns.wait_for(i)) return;
                taken = take(piece);
                if (!taken) return;
                guard.passed = true;
                turns.pass(i);
              });
  });
  return taken;
}

}  // namespace trimtack
