// SPDX-License-Identifier: MIT
#include "cli/common.hpp"

#include <unistd.h>

#include <array>
#include <charconv>
#include <cstdio>
#include <cstdlib>

#include "cli/interrupt.hpp"

namespace trimtack::cli {
namespace {

/// Present and not empty (no-color.org).
bool is_set(const char* variable) {
  const char* const value = std::getenv(variable);
  return value != nullptr && *value != 0;
}

}  // namespace

void JsonObject::key(std::string_view name) {
  if (!body_.empty()) body_ += ", ";
  json_text::append_string(body_, name);
  body_ += ": ";
}
JsonObject& JsonObject::text(std::string_view name, std::string_view value) {
  key(name);
  json_text::append_string(body_, value);
  return *this;
}
JsonObject& JsonObject::number(std::string_view name, double value) {
  key(name);
  json_text::append_number(body_, value);
  return *this;
}
JsonObject& JsonObject::whole(std::string_view name, std::uint64_t value) {
  key(name);
  json_text::append_number(body_, value);
  return *this;
}
JsonObject& JsonObject::id(std::string_view name, Index value) {
  key(name);
  json_text::append_id(body_, value);
  return *this;
}
JsonObject& JsonObject::flag(std::string_view name, bool value) { return raw(name, value ? "true" : "false"); }
JsonObject& JsonObject::raw(std::string_view name, std::string_view json) {
  key(name);
  body_ += json;
  return *this;
}

std::string json_list(const std::vector<std::string>& items) {
  std::string out = "[";
  for (std::size_t i = 0; i < items.size(); ++i) {
    if (i != 0) out += ", ";
    out += items[i];
  }
  return out + "]";
}

std::string json_strings(const std::vector<std::string>& texts) {
  std::vector<std::string> items(texts.size());
  for (std::size_t i = 0; i < texts.size(); ++i) json_text::append_string(items[i], texts[i]);
  return json_list(items);
}

Session::Session(const char* command, const CommonOptions& options)
    : command_(command),
      options_(options),
      threads_(options.threads),
      begin_(std::chrono::steady_clock::now()),
      last_(begin_),
      terminal_(::isatty(STDERR_FILENO) != 0),
      colours_(::isatty(STDOUT_FILENO) != 0 && !is_set("NO_COLOR")) {}

void Session::progress(const std::string& what, std::uint64_t done, std::uint64_t of) {
  stop_if_asked();
  if (!terminal_ || options_.quiet) return;
  const auto now = std::chrono::steady_clock::now();
  if (now - begin_ < std::chrono::seconds(1) || now - last_ < std::chrono::milliseconds(100)) return;
  last_ = now;
  shown_ = true;
  if (of == 0) {
    std::fprintf(stderr, "\r\033[K%s ...", what.c_str());
  } else {
    constexpr int kWidth = 30;
    const int filled = static_cast<int>(kWidth * done / of);
    const std::string bar = std::string(static_cast<std::size_t>(filled), '#') +
                            std::string(static_cast<std::size_t>(kWidth - filled), '.');
    std::fprintf(stderr, "\r\033[K%s [%s] %llu of %llu", what.c_str(), bar.c_str(),
                 static_cast<unsigned long long>(done), static_cast<unsigned long long>(of));
  }
  std::fflush(stderr);
}

void Session::clear_progress() {
  if (shown_) std::fputs("\r\033[K", stderr);
  shown_ = false;
}

void Session::say(const std::string& line) const {
  if (!options_.json && !options_.quiet) std::printf("%s\n", line.c_str());
}

std::string Session::findings_json() const {
  static constexpr std::array kSeverities = {"note", "warning", "problem"};
  std::vector<std::string> items;
  for (const Finding& finding : report_.findings) {
    items.push_back(JsonObject()
                        .text("severity", kSeverities[static_cast<std::size_t>(finding.severity)])
                        .text("code", finding.code)
                        .text("message", finding.message)
                        .text("subject", finding.subject)
                        .whole("line", finding.line)
                        .whole("count", finding.count)
                        .done());
  }
  return json_list(items);
}

void Session::print_findings() const {
  constexpr std::size_t kMost = 20;
  std::size_t shown = 0, left = 0;
  // Problems first, then warnings, then notes; --quiet leaves the notes out.
  for (int severity = 2; severity >= (options_.quiet ? 1 : 0); --severity) {
    for (const Finding& finding : report_.findings) {
      if (static_cast<int>(finding.severity) != severity) continue;
      if (shown++ < kMost) {
        std::fprintf(stderr, "%s\n", to_text(finding).c_str());
      } else {
        ++left;
      }
    }
  }
  if (left != 0) std::fprintf(stderr, "and %zu more findings; --json lists all of them\n", left);
}

int Session::fail(const Error& error) {
  clear_progress();
  print_findings();
  std::fprintf(stderr, "trimtack %s: %s\n", command_, to_text(error).c_str());
  const int code = static_cast<int>(error.code);
  if (options_.json) {
    const std::string inner =
        JsonObject().text("message", error.message).text("subject", error.subject).whole("line", error.line).done();
    const std::string answer = JsonObject()
                                   .text("command", command_)
                                   .whole("exit_code", static_cast<std::uint64_t>(code))
                                   .raw("error", inner)
                                   .raw("findings", findings_json())
                                   .done();
    std::printf("%s\n", answer.c_str());
  }
  return code;
}

int Session::finish(JsonObject answer, int code) {
  clear_progress();
  print_findings();
  if (options_.json) {
    answer.text("command", command_)
        .whole("exit_code", static_cast<std::uint64_t>(code))
        .raw("findings", findings_json());
    std::printf("%s\n", answer.done().c_str());
  }
  if (std::fflush(stdout) != 0) {
    std::fprintf(stderr, "trimtack %s: cannot write the answer to stdout\n", command_);
    return kCannotWrite;
  }
  return code;
}

std::optional<Unit> declared_unit(const CommonOptions& options) {
  for (const auto& [name, mm] : {std::pair{"mm", 1.0}, {"cm", 10.0}, {"m", 1000.0}, {"in", 25.4}}) {
    if (options.unit == name) return Unit{mm, name, 1.0, {"declared with --unit"}};
  }
  return std::nullopt;
}

std::optional<UpAxis> declared_up(const CommonOptions& options) {
  if (options.up.empty()) return std::nullopt;
  return options.up == "z" ? UpAxis::Z : UpAxis::Y;
}

PipelineOptions pipeline_options(const CommonOptions& common, const SelectorOptions& selectors,
                                 const Executor& executor) {
  PipelineOptions options;
  options.identify.unit = declared_unit(common);
  options.identify.up = declared_up(common);
  options.identify.use_names = !selectors.ignore_names;
  options.identify.overrides = selectors.overrides;
  options.identify.executor = executor;
  options.bind.executor = executor;
  options.cut = selectors.cut;
  if (selectors.stitching == "cloth") options.stitching = StitchingChoice::Cloth;
  if (selectors.stitching == "drop") options.stitching = StitchingChoice::Drop;
  return options;
}

std::string files_json(const FileSet& files) {
  std::vector<std::string> items;
  for (const FileSet::Entry& entry : files.entries()) {
    items.push_back(JsonObject().text("name", entry.name).whole("bytes", entry.bytes).done());
  }
  return json_list(items);
}

std::string plural(std::uint64_t count, const char* one, const char* many) {
  return std::to_string(count) + " " + (count == 1 ? one : many);
}

std::string fixed(double value, int decimals) {
  std::array<char, 400> text{};
  const auto end = std::to_chars(text.data(), text.data() + text.size(), value, std::chars_format::fixed, decimals).ptr;
  return {text.data(), end};
}

std::uint64_t memory_limit(const CommonOptions& options) {
  if (options.max_memory != 0) return options.max_memory;
  const long pages = ::sysconf(_SC_PHYS_PAGES), page = ::sysconf(_SC_PAGE_SIZE);
  if (pages <= 0 || page <= 0) return 0;
  return static_cast<std::uint64_t>(pages) * static_cast<std::uint64_t>(page) / 10 * 9;
}

}  // namespace trimtack::cli
