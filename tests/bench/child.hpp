// SPDX-License-Identifier: MIT
/// Programs run as a user runs them, with the time and memory that they took.
#pragma once

#include <fcntl.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cstdio>
#include <cstdlib>
#include <string>
#include <vector>

#include "bench/bench.hpp"

namespace bench {

struct ChildRun {
  double ms = 0, processor_ms = 0, peak_mib = 0;
};

/// Runs a program with its output thrown away; ends this one when it fails, for then nothing can be compared.
inline ChildRun run_child(const std::vector<std::string>& words) {
  std::vector<char*> arguments;
  for (const std::string& word : words) arguments.push_back(const_cast<char*>(word.c_str()));
  arguments.push_back(nullptr);
  const double start = now_ms();
  int status = -1;
  rusage usage{};
  // fork, not vfork: the peak of a child that shares this process's memory until it starts would include this one's
  // peak.
  const pid_t child = fork();
  if (child == 0) {
    const int nowhere = open("/dev/null", O_WRONLY);
    if (nowhere >= 0) dup2(nowhere, STDOUT_FILENO);
    execv(arguments[0], arguments.data());
    _exit(127);
  }
  if (child > 0) wait4(child, &status, 0, &usage);
  const double took = now_ms() - start;
  if (status != 0) {
    std::fprintf(stderr, "%s %s failed\n", words[0].c_str(), words.size() > 1 ? words[1].c_str() : "");
    std::exit(2);
  }
  const auto ms = [](const timeval& t) {
    return 1e3 * static_cast<double>(t.tv_sec) + 1e-3 * static_cast<double>(t.tv_usec);
  };
  return {took, ms(usage.ru_utime) + ms(usage.ru_stime), static_cast<double>(usage.ru_maxrss) / 1024.0};
}

}  // namespace bench
