// SPDX-License-Identifier: MIT
/// What a fuzz target says when a law does not hold.
#pragma once

#include <cstdio>
#include <cstdlib>
#include <exception>
#include <string>

/// Ends the program when `holds` is false, so that fuzzer and replay both stop on this input.
inline void require_law(bool holds, const std::string& law) {
  if (holds) return;
  std::fprintf(stderr, "law broken: %s\n", law.c_str());
  std::terminate();
}
