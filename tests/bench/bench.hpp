// SPDX-License-Identifier: MIT
/// Common ground of the benchmarks: contenders run interleaved in one process, results are medians and ratios of
/// medians (absolute times drift between runs), bars say what is demanded and whether it was met.
#pragma once

#include <cstddef>  // defines __GLIBC__ where it applies
#if defined(__GLIBC__)
#include <malloc.h>
#endif
#include <sys/resource.h>
#include <time.h>

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <functional>
#include <iterator>
#include <string>
#include <vector>

#include "core/memory.hpp"
#include "support/thread_executor.hpp"

namespace bench {

/// Keeps a result alive, so that the work behind it is not optimised away.
template <class T>
inline void keep(const T& value) {
  asm volatile("" : : "r"(&value) : "memory");
}

inline double now_ms() {
  using Clock = std::chrono::steady_clock;
  return std::chrono::duration<double, std::milli>(Clock::now().time_since_epoch()).count();
}

inline double peak_memory_mib() {
  rusage usage{};
  getrusage(RUSAGE_SELF, &usage);
  return static_cast<double>(usage.ru_maxrss) / 1024.0;
}

using trimtack::test::Threads;

/// Processor time of this process on all its threads.
inline double processor_ms() {
  timespec time{};
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &time);
  return 1e3 * static_cast<double>(time.tv_sec) + 1e-6 * static_cast<double>(time.tv_nsec);
}

/// The value below which `fraction` of the values lie.
inline double quantile(std::vector<double> values, double fraction) {
  std::sort(values.begin(), values.end());
  return values[static_cast<std::size_t>(fraction * static_cast<double>(values.size() - 1))];
}

struct Contender {
  std::string name;
  std::function<void()> work;
  std::function<void()> prepare{};  ///< before every round, not timed
  std::vector<double> ms{}, processor{};

  double at(double fraction) const { return quantile(ms, fraction); }
  double median() const { return at(0.5); }
  double processor_median() const { return quantile(processor, 0.5); }
};

/// Puts memory into the state that a new process finds: what a contender left in malloc's lists goes back to the
/// system, and the system's free memory is gathered into large pages again. Otherwise each would pay for the one
/// before.
inline void tidy_memory() {
#if defined(__GLIBC__)
  malloc_trim(0);
#endif
  constexpr std::size_t kBytes = std::size_t{384} << 20;
  const auto block = trimtack::allocate_large(kBytes);
  for (std::size_t i = 0; i < kBytes; i += 4096) block[i] = 1;
  keep(block);
}

/// Looks at every page of a list, so that what it costs the machine to bring one back is not timed: a floor that works
/// on memory at hand would else cost twenty times as much in some rounds.
template <class List>
inline void bring_back(const List& list) {
  constexpr std::size_t kPage = 4096;
  const auto* const bytes = reinterpret_cast<const volatile char*>(std::data(list));
  for (std::size_t i = 0; i < std::size(list) * sizeof(*std::data(list)); i += kPage) static_cast<void>(bytes[i]);
}

/// What a contender finds: memory as a new process does, or what its own run just before has left (its pages and what
/// it reads in the caches), as where a measurement is a loop.
enum class Memory { OfNewProcess, AtHand };

/// Runs every contender once per round, in order, after one round that is not counted.
inline void interleave(std::vector<Contender>& contenders, int rounds, Memory memory = Memory::OfNewProcess) {
  for (int round = -1; round < rounds; ++round) {
    for (Contender& contender : contenders) {
      if (memory == Memory::OfNewProcess) tidy_memory();
      if (contender.prepare) contender.prepare();
      if (memory == Memory::AtHand) contender.work();
      const double start = now_ms();
      const double processor_start = processor_ms();
      contender.work();
      const double processor_took = processor_ms() - processor_start;
      const double took = now_ms() - start;
      if (round < 0) continue;
      contender.ms.push_back(took);
      contender.processor.push_back(processor_took);
    }
  }
}

/// Prints name, min, median and max of the elapsed time, the median of the processor time (which a busy machine
/// disturbs less), and ns of elapsed time for each of `items`, when not 0.
inline void print_table(const char* title, const std::vector<Contender>& contenders, double items = 0) {
  std::printf("\n%s\n  %-44s %10s %10s %10s%s\n", title, "", "min ms", "median", "max", items > 0 ? "    ns/item" : "");
  for (const Contender& c : contenders) {
    std::printf("  %-44s %10.2f %10.2f %10.2f %10.2f", c.name.c_str(), c.at(0), c.median(), c.at(1),
                c.processor_median());
    if (items > 0) std::printf(" %10.2f", 1e6 * c.median() / items);
    std::printf("\n");
  }
}

inline const Contender& find(const std::vector<Contender>& contenders, const std::string& name) {
  return *std::find_if(contenders.begin(), contenders.end(), [&](const Contender& c) { return c.name == name; });
}

/// One demand: ratio of medians `a / b`, which must be at most (or at least) `bar`. Returns whether it is met.
inline bool print_bar(const char* what, double ratio, bool at_most, double bar) {
  const bool met = at_most ? ratio <= bar : ratio >= bar;
  std::printf("  %-58s %7.2f  (%s %.2f)  %s\n", what, ratio, at_most ? "at most" : "at least", bar,
              met ? "met" : "NOT MET");
  return met;
}

}  // namespace bench
