// SPDX-License-Identifier: MIT
#include "io/manifest.hpp"

#include <fcntl.h>
#include <sys/stat.h>

#include <array>
#include <nlohmann/json.hpp>

#include "io/posix_file.hpp"
#include "trimtack/io/file_set.hpp"

namespace trimtack {
namespace {

constexpr const char* kFormat = "trimtack-manifest";
constexpr std::uint64_t kLargestManifest = 256ULL << 20U;
constexpr const char* kPrefix = "crc64:";

std::string to_hex(std::uint64_t value) {
  static constexpr const char* kDigits = "0123456789abcdef";
  std::string text(16, '0');
  for (std::size_t i = 0; i < 16; ++i) text[15 - i] = kDigits[(value >> (4 * i)) & 15U];
  return text;
}

bool from_hex(std::string_view text, std::uint64_t& value) {
  if (text.size() != 16) return false;
  value = 0;
  for (const char ch : text) {
    const bool digit = ch >= '0' && ch <= '9';
    if (!digit && (ch < 'a' || ch > 'f')) return false;
    value = value << 4U | static_cast<std::uint64_t>(digit ? ch - '0' : ch - 'a' + 10);
  }
  return true;
}

bool read_entry(const nlohmann::json& item, ManifestEntry& entry) {
  if (!item.is_object()) return false;
  const auto name = item.find("name"), bytes = item.find("bytes"), checksum = item.find("checksum");
  if (name == item.end() || bytes == item.end() || checksum == item.end()) return false;
  if (!name->is_string() || !bytes->is_number_unsigned() || !checksum->is_string()) return false;
  entry.name = name->get<std::string>();
  entry.bytes = bytes->get<std::uint64_t>();
  const std::string text = checksum->get<std::string>();
  const std::string_view prefix = kPrefix;
  return is_safe_name(entry.name) && text.starts_with(prefix) && from_hex(text.substr(prefix.size()), entry.crc);
}

/// Length and checksum of a regular file; false when it cannot be read.
bool measure(const std::filesystem::path& path, std::uint64_t& bytes, std::uint64_t& crc) {
  const posix::Descriptor file(::open(path.c_str(), O_RDONLY | O_CLOEXEC));
  struct stat info {};
  if (!file || ::fstat(file.get(), &info) != 0 || !S_ISREG(info.st_mode)) return false;
  bytes = 0;
  crc = 0;
  std::vector<std::byte> block(std::size_t{1} << 18U);
  while (true) {
    const ssize_t got = ::read(file.get(), block.data(), block.size());
    if (got < 0 && errno == EINTR) continue;
    if (got <= 0) return got == 0;
    bytes += static_cast<std::uint64_t>(got);
    crc = crc64({block.data(), static_cast<std::size_t>(got)}, crc);
  }
}

}  // namespace

bool is_safe_name(std::string_view name) {
  if (name.empty() || name.size() > 4096) return false;
  std::size_t begin = 0;
  while (true) {
    const std::size_t end = std::min(name.find('/', begin), name.size());
    const std::string_view part = name.substr(begin, end - begin);
    if (part.empty() || part == "." || part == "..") return false;
    for (const char ch : part) {
      if (static_cast<unsigned char>(ch) < 32) return false;
    }
    if (end == name.size()) return true;
    begin = end + 1;
  }
}

std::string write_manifest(const std::vector<ManifestEntry>& entries) {
  nlohmann::ordered_json files = nlohmann::ordered_json::array();
  for (const ManifestEntry& entry : entries) {
    files.push_back({{"name", entry.name}, {"bytes", entry.bytes}, {"checksum", kPrefix + to_hex(entry.crc)}});
  }
  const nlohmann::ordered_json root = {{"format", kFormat}, {"version", 1}, {"files", std::move(files)}};
  return root.dump(1, ' ', false, nlohmann::ordered_json::error_handler_t::replace) + "\n";
}

Result<std::vector<ManifestEntry>> read_manifest(std::string_view text, const std::string& file) {
  const auto bad = [&](const std::string& what) {
    return Error{ErrorCode::BadInput, what + "; write the folder again", file, 0};
  };
  if (text.size() > kLargestManifest) return bad("the manifest is too large");
  // A manifest is four levels deep: deeper text is refused before it costs anything.
  bool too_deep = false;
  const nlohmann::json root = nlohmann::json::parse(
      text.begin(), text.end(),
      [&](int depth, nlohmann::json::parse_event_t, nlohmann::json&) {
        too_deep = too_deep || depth > 8;
        return !too_deep;
      },
      false);
  if (too_deep || root.is_discarded() || !root.is_object()) return bad("the manifest is not valid JSON");
  const auto format = root.find("format"), version = root.find("version"), files = root.find("files");
  if (format == root.end() || *format != kFormat) return bad("the manifest lacks \"format\": \"trimtack-manifest\"");
  if (version == root.end() || *version != 1) return bad("the manifest has a version that this program does not know");
  if (files == root.end() || !files->is_array()) return bad("the manifest has no list \"files\"");
  std::vector<ManifestEntry> entries(files->size());
  for (std::size_t i = 0; i < entries.size(); ++i) {
    if (!read_entry((*files)[i], entries[i])) {
      return bad("the manifest's files[" + std::to_string(i) + "] needs name, bytes and checksum");
    }
  }
  return entries;
}

bool is_unchanged(const std::filesystem::path& folder, const ManifestEntry& entry) {
  struct stat info {};
  const std::filesystem::path path = folder / entry.name;
  if (::stat(path.c_str(), &info) != 0 || static_cast<std::uint64_t>(info.st_size) != entry.bytes) return false;
  std::uint64_t bytes = 0, crc = 0;
  return measure(path, bytes, crc) && bytes == entry.bytes && crc == entry.crc;
}

const char* to_text(FileState state) {
  static constexpr std::array kWords = {"whole", "edited", "missing"};
  return kWords[static_cast<std::size_t>(state)];
}

Result<std::vector<CheckedFile>> verify_folder(const std::filesystem::path& folder) {
  const std::filesystem::path path = folder / kManifestName;
  std::error_code ignored;
  if (!std::filesystem::exists(path, ignored)) {
    return Error{ErrorCode::BadInput, "no manifest; is this a folder that trimtack wrote?", path.string(), 0};
  }
  const Result<std::string> text = read_file(path, kLargestManifest);
  if (!text) return text.error();
  const auto entries = read_manifest(*text, path.string());
  if (!entries) return entries.error();
  std::vector<CheckedFile> checked;
  checked.reserve(entries->size());
  for (const ManifestEntry& entry : *entries) {
    CheckedFile file{entry.name, FileState::Whole, entry.bytes};
    if (!std::filesystem::exists(folder / entry.name, ignored)) {
      file.state = FileState::Missing;
    } else if (!is_unchanged(folder, entry)) {
      file.state = FileState::Edited;
    }
    checked.push_back(std::move(file));
  }
  return checked;
}

}  // namespace trimtack
