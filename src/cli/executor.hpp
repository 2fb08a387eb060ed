// SPDX-License-Identifier: MIT
/// The program's threads.
#pragma once

#include <memory>

#include "trimtack/parallel.hpp"

namespace trimtack::cli {

/// A fixed number of threads; 0: as many as the machine has. Ends between two tasks when the run is interrupted.
class Threads {
 public:
  explicit Threads(int count);
  ~Threads();
  Executor executor() const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace trimtack::cli
