// SPDX-License-Identifier: MIT
// Pieces come in order whatever the executor does, and the end comes whatever goes wrong.
#include "io/ordered_pieces.hpp"

#include <catch2/catch.hpp>
#include <chrono>
#include <exception>
#include <mutex>
#include <stdexcept>
#include <string>
#include <thread>
#include <vector>

#include "support/thread_executor.hpp"

using namespace trimtack;

namespace {

using Numbers = std::vector<std::size_t>;

Executor backwards() {
  return {[](void*, std::size_t count, Executor::Task task, void* context) {
            for (std::size_t i = count; i-- > 0;) task(context, i);
          },
          nullptr, 4};
}

/// Threads whose first exception reaches the caller, as in a program.
struct Throwing {
  test::Threads threads{4};
  std::mutex mutex;
  std::exception_ptr first;

  static void run(void* self, std::size_t count, Executor::Task task, void* context) {
    auto& own = *static_cast<Throwing*>(self);
    const Executor inner = own.threads.executor();
    for_ranges(inner, count, 1, [&](std::size_t i, std::size_t) {
      try {
        task(context, i);
      } catch (...) {
        const std::lock_guard lock(own.mutex);
        if (!own.first) own.first = std::current_exception();
      }
    });
    if (own.first) std::rethrow_exception(own.first);
  }
  Executor executor() { return {&run, this, 4}; }
};

/// What was taken of `count` pieces, each twice its number; the one at `bad` is refused.
Numbers taken_of(const Executor& executor, std::size_t count, std::size_t bad, Result<void>& result) {
  ScratchPool<std::size_t> pool;
  Numbers taken;
  result = make_in_order(
      executor, count, pool,
      [](std::size_t i, std::size_t& piece) {
        // Some take longer than those after them.
        if (i % 7 == 0) std::this_thread::sleep_for(std::chrono::microseconds(300));
        piece = 2 * i;
      },
      [&](std::size_t piece) -> Result<void> {
        if (piece == 2 * bad) return Error{ErrorCode::BadInput, "refused", "", 0};
        taken.push_back(piece);
        return {};
      });
  return taken;
}

Numbers evens(std::size_t count) {
  Numbers list(count);
  for (std::size_t i = 0; i < count; ++i) list[i] = 2 * i;
  return list;
}

constexpr std::size_t kNoneRefused = 1'000'000;

}  // namespace

TEST_CASE("pieces are taken in order on any executor") {
  test::Threads two(2), eight(8);
  for (const Executor& executor : {Executor{}, backwards(), two.executor(), eight.executor()}) {
    for (const std::size_t count : {0, 1, 2, 500}) {
      Result<void> result;
      CHECK(taken_of(executor, count, kNoneRefused, result) == evens(count));
      CHECK(result);
    }
  }
}

TEST_CASE("after the first piece that is refused nothing is taken, and the caller hears of it") {
  test::Threads four(4);
  for (const Executor& executor : {Executor{}, backwards(), four.executor()}) {
    for (const std::size_t bad : {0, 1, 77, 199}) {
      Result<void> result;
      CHECK(taken_of(executor, 200, bad, result) == evens(bad));
      REQUIRE_FALSE(result);
      CHECK(result.error().message == "refused");
    }
  }
}

TEST_CASE("an exception ends all, also of those who wait for their turn") {
  for (const bool in_take : {false, true}) {
    Throwing executor;
    ScratchPool<std::size_t> pool;
    Numbers taken;
    const auto work = [&] {
      return make_in_order(
          executor.executor(), 300, pool,
          [&](std::size_t i, std::size_t& piece) {
            if (!in_take && i == 50) throw std::runtime_error("no memory");
            piece = 2 * i;
          },
          [&](std::size_t piece) -> Result<void> {
            if (in_take && piece == 100) throw std::runtime_error("no memory");
            taken.push_back(piece);
            return {};
          });
    };
    CHECK_THROWS_AS(work(), std::runtime_error);
    CHECK(taken.size() <= 50);
    CHECK(taken == evens(taken.size()));
  }
}
