// SPDX-License-Identifier: MIT
/// Runs the program as a user would and tells how it ended.
#pragma once

#include <fcntl.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cerrno>
#include <csignal>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <vector>

namespace trimtack::test {

struct Ran {
  int code = -1;           ///< exit code, -1 when a signal ended it
  int signal = 0;          ///< the signal that ended it, 0 for none
  double cpu_seconds = 0;  ///< processor time that it took
  std::string out, err;
};

struct RunOptions {
  std::filesystem::path folder;    ///< to run in; also takes the captured output
  unsigned cpu_seconds = 60;       ///< of processor time; more ends it with SIGXCPU, as an endless loop would
  std::uint64_t largest_file = 0;  ///< bytes; 0: no limit
  bool as_nobody = false;          ///< gives up the rights of root first, where there are any
  std::vector<std::string> environment;
};

namespace detail {

inline std::string text_of(const std::filesystem::path& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}

[[noreturn]] inline void become_program(const std::vector<std::string>& arguments, const RunOptions& options,
                                        const std::string& out, const std::string& err) {
  const int out_fd = ::open(out.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0666);
  const int err_fd = ::open(err.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0666);
  ::dup2(out_fd, STDOUT_FILENO);
  ::dup2(err_fd, STDERR_FILENO);
  const rlimit cpu{options.cpu_seconds, options.cpu_seconds};
  ::setrlimit(RLIMIT_CPU, &cpu);
  const rlimit no_core{0, 0};
  ::setrlimit(RLIMIT_CORE, &no_core);
  if (options.largest_file != 0) {
    const rlimit file{options.largest_file, options.largest_file};
    ::setrlimit(RLIMIT_FSIZE, &file);
  }
  if (::chdir(options.folder.c_str()) != 0) ::_exit(126);
  constexpr uid_t kNobody = 65534;
  if (options.as_nobody && ::geteuid() == 0 && (::setgid(kNobody) != 0 || ::setuid(kNobody) != 0)) ::_exit(126);
  for (const std::string& setting : options.environment) ::putenv(const_cast<char*>(setting.c_str()));
  std::vector<char*> argv{const_cast<char*>(TRIMTACK_PROGRAM)};
  for (const std::string& argument : arguments) argv.push_back(const_cast<char*>(argument.c_str()));
  argv.push_back(nullptr);
  ::execv(argv[0], argv.data());
  ::_exit(127);
}

}  // namespace detail

/// A run that has not ended yet.
class Running {
 public:
  Running(const std::vector<std::string>& arguments, const RunOptions& options) {
    static int number = 0;
    const std::string base = (options.folder / (".run_" + std::to_string(::getpid()) + "_" + std::to_string(++number)));
    out_ = base + ".out";
    err_ = base + ".err";
    // A signal to the new process must not meet the handlers of the test.
    sigset_t ours, before;
    ::sigemptyset(&ours);
    for (const int signal : {SIGINT, SIGTERM, SIGHUP}) ::sigaddset(&ours, signal);
    ::sigprocmask(SIG_BLOCK, &ours, &before);
    pid_ = ::fork();
    if (pid_ == 0) {
      for (const int signal : {SIGINT, SIGTERM, SIGHUP}) std::signal(signal, SIG_DFL);
      ::sigprocmask(SIG_SETMASK, &before, nullptr);
      detail::become_program(arguments, options, out_, err_);
    }
    ::sigprocmask(SIG_SETMASK, &before, nullptr);
  }
  pid_t pid() const { return pid_; }
  Ran wait() {
    int status = 0;
    rusage used{};
    while (::wait4(pid_, &status, 0, &used) < 0 && errno == EINTR) {
    }
    Ran ran;
    for (const timeval& time : {used.ru_utime, used.ru_stime}) {
      ran.cpu_seconds += static_cast<double>(time.tv_sec) + 1e-6 * static_cast<double>(time.tv_usec);
    }
    if (WIFEXITED(status)) ran.code = WEXITSTATUS(status);
    if (WIFSIGNALED(status)) ran.signal = WTERMSIG(status);
    ran.out = detail::text_of(out_);
    ran.err = detail::text_of(err_);
    std::error_code ignored;
    std::filesystem::remove(out_, ignored);
    std::filesystem::remove(err_, ignored);
    return ran;
  }

 private:
  pid_t pid_ = -1;
  std::string out_, err_;
};

inline Ran run_program(const std::vector<std::string>& arguments, const RunOptions& options) {
  return Running(arguments, options).wait();
}

}  // namespace trimtack::test
