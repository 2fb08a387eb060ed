// SPDX-License-Identifier: MIT
#include "cli/named_files.hpp"

#include <algorithm>
#include <array>
#include <filesystem>
#include <fstream>
#include <string_view>

namespace trimtack::cli {
namespace {

namespace fs = std::filesystem;
using namespace std::string_view_literals;

/// What stands near the beginning of everything that check_named_files() is asked about.
constexpr std::array kSigns{"Software\0trimtack"sv, "<!-- drawn by trimtack -->"sv,
                            "<meta name=\"generator\" content=\"trimtack\">"sv,
                            "trim,name,verdict,cause,value,limit,frame"sv};

bool is_ours(const fs::path& path) {
  std::string head(1024, '\0');
  std::ifstream file(path, std::ios::binary);
  file.read(head.data(), static_cast<std::streamsize>(head.size()));
  head.resize(static_cast<std::size_t>(std::max<std::streamsize>(file.gcount(), 0)));
  return std::any_of(kSigns.begin(), kSigns.end(),
                     [&](std::string_view sign) { return head.find(sign) != std::string::npos; });
}

/// Pipes and devices may be named more than once.
bool is_file_or_none(const fs::path& path) {
  std::error_code ignored;
  return !fs::exists(path, ignored) || fs::is_regular_file(path, ignored);
}

bool same_place(const std::string& a, const std::string& b) {
  std::error_code ignored;
  return fs::weakly_canonical(fs::absolute(a, ignored), ignored) ==
         fs::weakly_canonical(fs::absolute(b, ignored), ignored);
}

}  // namespace

Result<void> check_named_files(std::span<const NamedFile> files) {
  for (std::size_t i = 0; i < files.size(); ++i) {
    const NamedFile& file = files[i];
    if (file.path.empty()) continue;
    std::error_code error;
    const bool something = fs::is_regular_file(file.path, error) && fs::file_size(file.path, error) > 0 && !error;
    if (something && !is_ours(file.path))
      return Error{ErrorCode::CannotWrite,
                   std::string(file.option) + ": this file was not written by trimtack; name another one, or remove it",
                   file.path, 0};
    for (std::size_t k = 0; k < i; ++k)
      if (!files[k].path.empty() && is_file_or_none(file.path) && same_place(file.path, files[k].path))
        return Error{ErrorCode::Usage,
                     std::string(files[k].option) + " and " + file.option + " name one file; give each its own",
                     file.path, 0};
  }
  return {};
}

}  // namespace trimtack::cli
