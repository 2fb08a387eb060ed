// SPDX-License-Identifier: MIT
/// What all commands share: threads, findings, progress, and how a run ends.
#pragma once

#include <chrono>
#include <string>
#include <string_view>
#include <vector>

#include "cli/commands.hpp"
#include "cli/executor.hpp"
#include "cli/exit_codes.hpp"
#include "io/json_text.hpp"
#include "trimtack/io/file_set.hpp"
#include "trimtack/report.hpp"
#include "trimtack/result.hpp"

namespace trimtack::cli {

/// A JSON object written key by key, for the answer of --json.
class JsonObject {
 public:
  JsonObject& text(std::string_view key, std::string_view value);
  JsonObject& number(std::string_view key, double value);
  JsonObject& whole(std::string_view key, std::uint64_t value);
  JsonObject& id(std::string_view key, Index value);  ///< null for kNone
  JsonObject& flag(std::string_view key, bool value);
  JsonObject& raw(std::string_view key, std::string_view json);
  std::string done() const { return "{" + body_ + "}"; }

 private:
  void key(std::string_view name);
  std::string body_;
};
/// "[item, item]" of JSON texts.
std::string json_list(const std::vector<std::string>& items);
std::string json_strings(const std::vector<std::string>& texts);

/// One run of a command.
class Session {
 public:
  Session(const char* command, const CommonOptions& options);
  Executor executor() const { return threads_.executor(); }
  Report& report() { return report_; }
  const CommonOptions& options() const { return options_; }

  /// Shows on a terminal what takes longer than a second: "reading coat.obj" or "frame 7 of 24". A step between two
  /// calls is also where a run ends that was interrupted.
  void progress(const std::string& what, std::uint64_t done = 0, std::uint64_t of = 0);
  /// A line for people on stdout (not with --json or --quiet).
  void say(const std::string& line) const;
  /// Ends with an error: one line on stderr, and the answer with --json.
  int fail(const Error& error);
  /// Ends well: findings on stderr, the answer on stdout with --json.
  int finish(JsonObject answer, int code = kDone);
  bool colours() const { return colours_; }  ///< stdout is a terminal and NO_COLOR is not set

 private:
  void clear_progress();
  void print_findings() const;
  std::string findings_json() const;

  const char* command_;
  CommonOptions options_;
  Threads threads_;
  Report report_;
  std::chrono::steady_clock::time_point begin_, last_;
  bool terminal_ = false, colours_ = false, shown_ = false;
};

/// The declared unit or up axis; nothing when the user left it open.
std::optional<Unit> declared_unit(const CommonOptions& options);
std::optional<UpAxis> declared_up(const CommonOptions& options);
PipelineOptions pipeline_options(const CommonOptions& common, const SelectorOptions& selectors,
                                 const Executor& executor);

/// Files of a set as a JSON list of {"name", "bytes"}, and as lines for people.
std::string files_json(const FileSet& files);
std::string plural(std::uint64_t count, const char* one, const char* many);
/// "1.5" with as many decimals as asked, "C" locale.
std::string fixed(double value, int decimals);

/// --max-memory, or most of the machine's memory.
std::uint64_t memory_limit(const CommonOptions& options);

}  // namespace trimtack::cli
