// SPDX-License-Identifier: MIT
// OpenUSD, "Usdz File Format Specification": a zip archive, files stored as they are, data aligned to 64 bytes by an
// extra field. PKWARE, "APPNOTE.TXT - .ZIP File Format Specification" 6.3: local header 4.3.7, central
// directory 4.3.12, end 4.3.16; CRC-32 as in ISO/IEC 3309 (4.4.7). Times are left at 1980-01-01, so that the same scene
// gives the same bytes.
#include "io/usd_package.hpp"

#include <array>
#include <limits>

namespace trimtack::usd {
namespace {

constexpr std::uint64_t kAlignment = 64, kLocalBytes = 30, kMost = std::numeric_limits<std::uint32_t>::max();

constexpr std::array<std::uint32_t, 256> kCrcTable = [] {
  std::array<std::uint32_t, 256> table{};
  for (std::uint32_t i = 0; i < 256; ++i) {
    std::uint32_t value = i;
    for (int bit = 0; bit < 8; ++bit) value = (value >> 1) ^ ((value & 1) != 0 ? 0xedb88320U : 0U);
    table[i] = value;
  }
  return table;
}();

std::uint32_t crc32(std::uint32_t crc, std::string_view bytes) {
  crc = ~crc;
  for (const char c : bytes) crc = kCrcTable[(crc ^ static_cast<unsigned char>(c)) & 0xff] ^ (crc >> 8);
  return ~crc;
}

void put(std::string& out, std::uint64_t value, int bytes) {
  for (int i = 0; i < bytes; ++i) out += static_cast<char>(value >> (8 * i) & 0xff);
}

// What the local header and the central directory share: flags to the length of the extra field.
std::string common_fields(std::uint64_t name_bytes, std::uint64_t size, std::uint32_t crc, std::uint64_t extra_bytes) {
  std::string text;
  put(text, 10, 2);  // version needed: 1.0
  put(text, 0, 2);   // no flags
  put(text, 0, 2);   // stored
  put(text, 0, 2);
  put(text, 0x21, 2);  // 1980-01-01
  put(text, crc, 4);
  put(text, size, 4);
  put(text, size, 4);
  put(text, name_bytes, 2);
  put(text, extra_bytes, 2);
  return text;
}

std::uint64_t extra_bytes_at(std::uint64_t header_at, std::uint64_t name_bytes) {
  const std::uint64_t data_at = header_at + kLocalBytes + name_bytes;
  const std::uint64_t gap = (kAlignment - data_at % kAlignment) % kAlignment;
  return gap == 0 || gap >= 4 ? gap : gap + kAlignment;  // a field's own header takes four bytes
}

std::string local_header(std::string_view name, std::uint64_t header_at, std::uint64_t size, std::uint32_t crc) {
  const std::uint64_t extra = extra_bytes_at(header_at, name.size());
  std::string text = "PK\x03\x04" + common_fields(name.size(), size, crc, extra);
  text += name;
  if (extra != 0) {
    put(text, 0x1986, 2);  // an identifier that no one has registered: padding
    put(text, extra - 4, 2);
    text.append(extra - 4, '\0');
  }
  return text;
}

}  // namespace

Result<void> Package::begin(const std::string& file) {
  if (auto ended = end_file(); !ended) return ended;
  files_.push_back({file, written_, 0, 0});
  const std::string header = local_header(file, written_, 0, 0);
  written_ += header.size();
  return out_.append(name_, header);
}

Result<void> Package::append(std::string_view bytes) {
  File& file = files_.back();
  file.crc = crc32(file.crc, bytes);
  file.bytes += bytes.size();
  written_ += bytes.size();
  if (written_ > kMost) {
    return Error{ErrorCode::BadInput, "the scene is larger than a package's 4 GiB; export fewer frames", name_, 0};
  }
  return out_.append(name_, bytes);
}

Result<void> Package::end_file() {
  if (files_.empty()) return {};
  const File& file = files_.back();
  return out_.patch(name_, file.header_at, local_header(file.name, file.header_at, file.bytes, file.crc));
}

Result<void> Package::finish() {
  if (auto ended = end_file(); !ended) return ended;
  std::string text;
  for (const File& file : files_) {
    text += std::string("PK\x01\x02") + '\x0a' + '\0' + common_fields(file.name.size(), file.bytes, file.crc, 0);
    text.append(2 + 2 + 2 + 4, '\0');  // no comment, first disk, no attributes
    put(text, file.header_at, 4);
    text += file.name;
  }
  const std::uint64_t directory_bytes = text.size();
  text += "PK\x05\x06";
  put(text, 0, 4);
  put(text, files_.size(), 2);
  put(text, files_.size(), 2);
  put(text, directory_bytes, 4);
  put(text, written_, 4);
  put(text, 0, 2);
  if (written_ + text.size() > kMost) {
    return Error{ErrorCode::BadInput, "the scene is larger than a package's 4 GiB; export fewer frames", name_, 0};
  }
  return out_.append(name_, text);
}

}  // namespace trimtack::usd
