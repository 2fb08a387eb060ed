// SPDX-License-Identifier: MIT
#include "io/face_scan.hpp"

#include <fcntl.h>
#include <sys/stat.h>

#include <algorithm>
#include <array>
#include <cstring>
#include <string_view>
#include <vector>

#include "core/memory.hpp"
#include "io/posix_file.hpp"
#include "runtime/layout.hpp"

namespace trimtack {
namespace {

constexpr std::size_t kScanned = std::size_t{128} << 10, kLongestLine = std::size_t{32} << 10;

/// The lines that begin within one block of the file.
struct ScannedBlock {
  bool plain = false;
  Index vertices = 0, last = 0;  ///< the highest vertex at a corner
  Buffer<Index> sizes, corners;  ///< of its faces
};

/// A whole number without sign, of up to nine digits; null when there is none.
const char* read_whole(const char* p, Index& value) {
  const char* const first = p;
  value = 0;
  for (; *p >= '0' && *p <= '9' && p - first < 9; ++p) value = value * 10 + static_cast<Index>(*p - '0');
  return p == first ? nullptr : p;
}

/// "12", "12/7", "12//7" or "12/7/7".
const char* read_corner(const char* p, Index& position) {
  p = read_whole(p, position);
  for (int others = 0; p != nullptr && *p == '/' && others < 2; ++others) {
    Index ignored = 0;
    ++p;
    if (others == 0 && *p == '/') continue;
    p = read_whole(p, ignored);
  }
  return p;
}

/// The corners of an f statement. @param p  behind its "f"
bool add_face(const char* p, const char* end, ScannedBlock& block) {
  const std::size_t first = block.corners.size;
  if (first == 0) {
    block.sizes.room(kScanned / 32);
    block.corners.room(kScanned / 8);
  }
  while (p != end) {
    Index position = 0;
    if (*p != ' ') return false;
    p = read_corner(p + 1, position);
    if (p == nullptr || position == 0) return false;
    block.corners.push(position - 1);
    block.last = std::max(block.last, position - 1);
  }
  block.sizes.push(static_cast<Index>(block.corners.size - first));
  return block.corners.size - first >= 3;
}

bool passes(std::string_view line) {
  constexpr std::array<std::string_view, 8> kOthers{"vt ", "vn ", "#", "g ", "o ", "s ", "usemtl ", "mtllib "};
  return line.empty() ||
         std::any_of(kOthers.begin(), kOthers.end(), [&](std::string_view word) { return line.starts_with(word); });
}

/// @param p  the first line; every line up to `stop` ends before `end`
bool scan_lines(const char* p, const char* stop, const char* end, ScannedBlock& block) {
  while (p < stop) {
    const void* const found = std::memchr(p, '\n', static_cast<std::size_t>(end - p));
    if (found == nullptr) return false;
    const char* const line_end = static_cast<const char*>(found);
    if (p[0] == 'v' && p[1] == ' ') {
      ++block.vertices;
    } else if (p[0] == 'f') {
      if (!add_face(p + 1, line_end, block)) return false;
    } else if (!passes({p, line_end})) {
      return false;
    }
    p = line_end + 1;
  }
  return true;
}

/// @param first  where the block begins in the file
ScannedBlock scan_block(int fd, std::uint64_t first, std::uint64_t file_bytes) {
  ScannedBlock block;
  std::array<char, 1 + kScanned + kLongestLine> text;
  const std::uint64_t from = first == 0 ? 0 : first - 1;  // a line begins behind an end of line
  const std::size_t bytes = std::min<std::uint64_t>(file_bytes - from, text.size());
  if (posix::read_at(fd, from, {text.data(), bytes}) != 0) return block;
  const char *p = text.data(), *const end = text.data() + bytes;
  if (std::memchr(p, '\\', bytes) != nullptr || std::memchr(p, '\r', bytes) != nullptr) return block;
  if (first != 0) {
    const void* const found = std::memchr(p, '\n', bytes);
    if (found == nullptr) return block;
    p = static_cast<const char*>(found) + 1;
  }
  const char* const stop = std::min<const char*>(text.data() + (first - from) + kScanned, end);
  block.plain = scan_lines(p, stop, end, block);
  return block;
}

}  // namespace

std::optional<ScannedFaces> scan_faces(const std::filesystem::path& path, const Executor& executor) {
  const posix::Descriptor file(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK));
  struct stat info {};
  if (!file || ::fstat(file.get(), &info) != 0 || !S_ISREG(info.st_mode)) return std::nullopt;
  const auto bytes = static_cast<std::uint64_t>(info.st_size);
  std::vector<ScannedBlock> blocks((bytes + kScanned - 1) / kScanned);
  for_ranges(executor, blocks.size(), 1,
             [&](std::size_t i, std::size_t) { blocks[i] = scan_block(file.get(), i * kScanned, bytes); });
  std::uint64_t vertices = 0, faces = 0, corners = 0;
  Index last = 0;
  for (const ScannedBlock& block : blocks) {
    if (!block.plain) return std::nullopt;
    vertices += block.vertices, faces += block.sizes.size, corners += block.corners.size;
    last = std::max(last, block.last);
  }
  if (std::max({vertices, faces, corners}) >= kNone || (corners != 0 && last >= vertices)) return std::nullopt;
  ScannedFaces out{static_cast<Index>(vertices), static_cast<Index>(faces), 0};
  out.fingerprint = layout::add_to_fingerprint(layout::kFnvBasis, out.vertices);
  for (const ScannedBlock& block : blocks) {
    const Index* corner = block.corners.begin();
    for (const Index size : block.sizes) {
      out.fingerprint = layout::add_face_to_fingerprint(out.fingerprint, corner, size);
      corner += size;
    }
  }
  return out;
}

}  // namespace trimtack
