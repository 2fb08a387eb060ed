// SPDX-License-Identifier: MIT
#include "io/obj_input.hpp"

#include <fcntl.h>

#include <algorithm>
#include <memory>
#include <string_view>
#include <utility>

#include "core/memory.hpp"
#include "io/bad_input.hpp"
#include "io/posix_file.hpp"
#include "trimtack/io/file_set.hpp"

namespace trimtack::obj {
namespace {

TextReader reader_of(std::shared_ptr<const posix::Descriptor> file, std::string name) {
  return [file = std::move(file), name = std::move(name)](std::uint64_t begin, std::uint64_t end,
                                                          std::string& room) -> Result<std::string_view> {
    const std::size_t count = end - begin;
    if (room.size() <= count) {  // rooms are used again for parts of about this size
      room.reserve(count + count / 8 + 1);
      touch_ahead(room.data(), room.capacity());
      room.resize(room.capacity());
    }
    if (posix::read_at(file->get(), begin, {room.data(), count}) != 0) {
      return bad_input(name, "cannot be read to its end; check the permissions and that nothing writes to it");
    }
    room[count] = '\0';
    return std::string_view(room.data(), count);
  };
}

/// First place at or after `at` where a block may start: behind a line feed that no backslash escapes.
Result<std::uint64_t> next_start(const Input& input, std::uint64_t at, std::string& room) {
  constexpr std::uint64_t kFirstProbe = 512, kLargestProbe = std::uint64_t{1} << 20;
  for (std::uint64_t probe = kFirstProbe; at < input.size; probe = std::min(2 * probe, kLargestProbe)) {
    const std::uint64_t from = at < 2 ? 0 : at - 2, to = std::min(input.size, at + probe);
    const Result<std::string_view> text = input.read(from, to, room);
    if (!text) return text.error();
    for (std::size_t lf = text->find('\n', at - from); lf != std::string_view::npos; lf = text->find('\n', lf + 1)) {
      const std::size_t last = lf > 0 && (*text)[lf - 1] == '\r' ? lf - 1 : lf;
      if (last == 0 || (*text)[last - 1] != '\\') return from + lf + 1;
    }
    at = to;
  }
  return input.size;
}

}  // namespace

Input input_of(std::string text) {
  const auto owner = std::make_shared<const std::string>(std::move(text));
  return {owner->size(), owner->size(), [owner](std::uint64_t begin, std::uint64_t end, std::string&) {
            return Result<std::string_view>(std::string_view(*owner).substr(begin, end - begin));
          }};
}

Result<Input> open_input(const std::filesystem::path& path, std::uint64_t max_bytes) {
  const std::string name = path.string();
  std::error_code problem;
  const std::filesystem::file_status status = std::filesystem::status(path, problem);
  if (!std::filesystem::exists(status)) return bad_input(name, "does not exist; check the name");
  if (std::filesystem::is_directory(status)) return bad_input(name, "is a folder; name the OBJ file in it");
  if (!std::filesystem::is_regular_file(status)) {
    Result<std::string> text = read_file(path, max_bytes);
    if (!text) return text.error();
    return input_of(std::move(*text));
  }
  const std::uint64_t size = std::filesystem::file_size(path, problem);
  if (problem) return bad_input(name, "cannot be read: " + problem.message());
  if (max_bytes != 0 && size > max_bytes) {
    return bad_input(name, "needs more memory than the limit of " + std::to_string(max_bytes >> 20U) + " MiB: has " +
                               std::to_string(size) + " bytes; raise the limit");
  }
  auto file = std::make_shared<const posix::Descriptor>(::open(path.c_str(), O_RDONLY | O_CLOEXEC));
  if (!*file) return bad_input(name, "cannot be opened; check the name and the permissions");
  return Input{size, 0, reader_of(std::move(file), name)};
}

std::uint64_t line_at(const Input& input, std::uint64_t offset) {
  constexpr std::uint64_t kPart = std::uint64_t{1} << 20;
  std::uint64_t line = 1;
  std::string room;
  for (std::uint64_t begin = 0; begin < offset; begin += kPart) {
    const std::uint64_t end = std::min(begin + kPart, offset);
    const Result<std::string_view> text = input.read(begin, std::min(end + 1, input.size), room);
    if (!text) return 0;
    for (std::size_t i = 0; i < end - begin; ++i) {
      const char c = (*text)[i];
      if (c == '\n' || (c == '\r' && (i + 1 == text->size() || (*text)[i + 1] != '\n'))) ++line;
    }
  }
  return line;
}

Result<std::vector<TextRange>> cut_blocks(const Input& input, std::size_t block_bytes) {
  block_bytes = std::max<std::size_t>(block_bytes, 1);
  constexpr std::string_view kByteOrderMark = "\xef\xbb\xbf";
  std::vector<TextRange> ranges;
  std::string room;
  const Result<std::string_view> start =
      input.read(0, std::min<std::uint64_t>(input.size, kByteOrderMark.size()), room);
  if (!start) return start.error();
  std::uint64_t begin = *start == kByteOrderMark ? kByteOrderMark.size() : 0;
  while (begin < input.size) {
    Result<std::uint64_t> end = input.size;
    if (input.size - begin > block_bytes) end = next_start(input, begin + block_bytes - 1, room);
    if (!end) return end.error();
    ranges.push_back({begin, *end});
    begin = *end;
  }
  return ranges;
}

}  // namespace trimtack::obj
