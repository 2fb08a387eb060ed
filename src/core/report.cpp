// SPDX-License-Identifier: MIT
#include "trimtack/report.hpp"

#include <utility>

#include "trimtack/result.hpp"

namespace trimtack {
namespace {

std::string located(const std::string& subject, std::uint64_t line) {
  std::string text = subject;
  if (line != 0) text += (text.empty() ? "line " : ":") + std::to_string(line);
  if (!text.empty()) text += ": ";
  return text;
}

}  // namespace

void add(Report& report, Finding finding) {
  for (Finding& known : report.findings) {
    if (known.code == finding.code && known.severity == finding.severity) {
      known.count += finding.count;
      return;
    }
  }
  report.findings.push_back(std::move(finding));
}

void add_separate(Report& report, Finding finding) { report.findings.push_back(std::move(finding)); }

std::string to_text(const Finding& finding) {
  static constexpr const char* kWords[] = {"note: ", "warning: ", "problem: "};
  std::string text = kWords[static_cast<int>(finding.severity)];
  text += located(finding.subject, finding.line) + finding.message;
  if (finding.count > 1) text += " (" + std::to_string(finding.count) + " times)";
  return text;
}

std::string to_text(const Error& error) { return located(error.subject, error.line) + error.message; }

}  // namespace trimtack
