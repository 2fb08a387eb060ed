// SPDX-License-Identifier: MIT
// The text is cut into blocks at line ends, each block is parsed on its own (obj_block.cpp), and the results are put
// together in order: sums over the blocks before give the places of elements and the meaning of relative indices.
// Blocks do not depend on the executor, so neither does the result.
#include <algorithm>
#include <cstdio>
#include <memory>
#include <span>
#include <string>
#include <utility>

#include "core/memory.hpp"
#include "io/bad_input.hpp"
#include "io/obj_block.hpp"
#include "io/obj_merge.hpp"
#include "io/obj_text.hpp"
#include "trimtack/io/obj.hpp"

namespace trimtack {
namespace {

using obj::Block;

constexpr std::size_t kBlocksPerThread = 4;
constexpr std::size_t kReadBytes = std::size_t{8} << 20;

std::string mebibytes(std::uint64_t bytes) { return std::to_string(bytes >> 20) + " MiB"; }

/// 1-based line of an offset; only for messages. CR LF counts once.
std::uint64_t line_at(std::string_view text, std::uint64_t offset) {
  std::uint64_t line = 1;
  for (std::uint64_t i = 0; i < offset && i < text.size(); ++i) {
    if (text[i] == '\n' || (text[i] == '\r' && (i + 1 == text.size() || text[i + 1] != '\n'))) ++line;
  }
  return line;
}

// --- blocks -----------------------------------------------------------------------------------------------------

/// First place at or after `at` where a block may start: behind a line feed that no backslash escapes.
std::uint64_t next_start(std::string_view text, std::uint64_t at) {
  while (at < text.size()) {
    const void* found = std::memchr(text.data() + at, '\n', text.size() - at);
    if (found == nullptr) return text.size();
    const auto lf = static_cast<std::uint64_t>(static_cast<const char*>(found) - text.data());
    const std::uint64_t last = lf > 0 && text[lf - 1] == '\r' ? lf - 1 : lf;
    at = lf + 1;
    if (last == 0 || text[last - 1] != '\\') return at;
  }
  return text.size();
}

struct TextRange {
  std::uint64_t begin = 0, end = 0;
};

std::vector<TextRange> cut_blocks(std::string_view text, std::size_t block_bytes) {
  block_bytes = std::max<std::size_t>(block_bytes, 1);
  std::vector<TextRange> ranges;
  std::uint64_t begin = text.starts_with("\xef\xbb\xbf") ? 3 : 0;
  while (begin < text.size()) {
    const std::uint64_t end =
        text.size() - begin <= block_bytes ? text.size() : next_start(text, begin + block_bytes - 1);
    ranges.push_back({begin, end});
    begin = end;
  }
  return ranges;
}

/// Parses and appends all blocks, a few at a time, so that the memory between is small and used again.
Result<void> parse_blocks(std::string_view text, const std::string& file, const ObjReadOptions& options,
                          obj::Merge& merge) {
  const std::vector<TextRange> ranges = cut_blocks(text, options.block_bytes);
  const std::size_t width = std::clamp<std::size_t>(options.executor.width, 1, 256);
  const std::size_t most = width == 1 ? 1 : kBlocksPerThread * width;
  std::vector<Block> wave(std::min(most, ranges.size()));
  for (std::size_t done = 0; done < ranges.size(); done += wave.size()) {
    const std::size_t count = std::min(wave.size(), ranges.size() - done);
    for_ranges(options.executor, count, 1, [&](std::size_t i, std::size_t) {
      obj::reset(wave[i], ranges[done + i].begin, ranges[done + i].end);
      obj::parse_block(text, {options.keep_text, options.positions_only}, nullptr, wave[i]);
    });
    for (std::size_t i = 0; i < count; ++i) {
      const obj::Failure& failure = wave[i].failure;
      if (failure.failed) return bad_input(file, line_at(text, failure.at), failure.message);
    }
    obj::append_blocks(std::span<Block>(wave).first(count), options.executor, merge);
    const obj::Counts& counts = merge.counts;
    const auto elements =
        static_cast<std::uint64_t>(std::max({counts.elements[0], counts.elements[1], counts.elements[2]}));
    if (std::max({elements, counts.faces, counts.corners, counts.loose}) >= kNone) {
      return bad_input(file, 0, "more than 4294967294 elements of one kind; split the file");
    }
    const std::uint64_t memory = text.size() + obj::memory_of(merge);
    if (options.max_memory_bytes != 0 && memory > options.max_memory_bytes) {
      return bad_input(
          file, 0, "needs more memory than the limit of " + mebibytes(options.max_memory_bytes) + "; raise the limit");
    }
  }
  return {};
}

/// Are all indices in range? If not, a second parse of the block finds the first one that is not.
Result<void> check_indices(std::string_view text, const std::string& file, const obj::Merge& merge) {
  for (const obj::BlockSummary& summary : merge.summaries) {
    bool good = !summary.reaches_before_start;
    for (std::size_t k = 0; k < 3; ++k) good = good && summary.largest[k] < merge.counts.elements[k];
    if (good) continue;
    const obj::IndexCheck check{summary.before, merge.counts.elements};
    Block again;
    obj::reset(again, summary.begin, summary.end);
    obj::parse_block(text, {.keep_text = false}, &check, again);
    return bad_input(file, line_at(text, again.failure.at), again.failure.message);
  }
  return {};
}

/// Text of which no statement is known is something else than OBJ.
Result<void> check_is_obj(std::string_view text, const std::string& file, const obj::Merge& merge) {
  const obj::LeftOutCount& unknown = merge.left_out[obj::kUnknown];
  if (unknown.count == 0 || unknown.count < merge.statements) return {};
  return bad_input(file, line_at(text, unknown.first_at),
                   "not an OBJ file: no statement in it is known, the first is " + unknown.keyword +
                       "; export the garment as Wavefront OBJ text");
}

void report_left_out(std::string_view text, const std::string& file, const obj::Merge& merge, Report& report) {
  struct Kind {
    const char* code;
    Severity severity;
    const char* message;
  };
  static constexpr Kind kKinds[obj::kLeftOutKinds] = {
      {"obj-free-form", Severity::Warning,
       " is a free-form statement (curve or surface); it is left out, export such parts as polygons"},
      {"obj-display", Severity::Note, " is a display attribute; it is left out"},
      {"obj-unknown", Severity::Warning, " is not a known statement; it is left out, check that nothing is missing"}};
  for (std::size_t kind = 0; kind < obj::kLeftOutKinds; ++kind) {
    const obj::LeftOutCount& left_out = merge.left_out[kind];
    if (left_out.count == 0) continue;
    add(report, {kKinds[kind].severity, kKinds[kind].code, left_out.keyword + kKinds[kind].message, file,
                 line_at(text, left_out.first_at), left_out.count});
  }
}

Result<SourceMesh> parse_text(std::shared_ptr<const void> owner, std::string_view text, const std::string& file,
                              const ObjReadOptions& options, Report& report) {
  obj::Merge merge;
  merge.keep_text = options.keep_text;
  if (!options.positions_only) obj::reserve_by_sample(text, merge);
  if (Result<void> good = parse_blocks(text, file, options, merge); !good) return good.error();
  if (Result<void> good = check_indices(text, file, merge); !good) return good.error();
  if (Result<void> good = check_is_obj(text, file, merge); !good) return good.error();
  obj::finish(merge);
  report_left_out(text, file, merge, report);
  merge.mesh.file = file;
  if (options.keep_text) {
    merge.source.owner = std::move(owner);
    merge.source.bytes = text;
    merge.mesh.text = std::make_shared<const SourceText>(std::move(merge.source));
  }
  return std::move(merge.mesh);
}

// --- files ------------------------------------------------------------------------------------------------------

struct FileCloser {
  void operator()(std::FILE* file) const { std::fclose(file); }
};
using File = std::unique_ptr<std::FILE, FileCloser>;

/// Unbuffered: whole blocks go straight to where they belong.
File open_unbuffered(const std::filesystem::path& path) {
  File file(std::fopen(path.c_str(), "rb"));
  if (file != nullptr) std::setvbuf(file.get(), nullptr, _IONBF, 0);
  return file;
}

/// A source without a size (a pipe): read until it ends.
Result<std::string> read_stream(const std::filesystem::path& path, std::uint64_t max_bytes) {
  const File file = open_unbuffered(path);
  if (file == nullptr) return bad_input(path.string(), 0, "cannot be opened; check the name and the permissions");
  std::string text;
  std::vector<char> part(kReadBytes);
  for (;;) {
    const std::size_t got = std::fread(part.data(), 1, part.size(), file.get());
    text.append(part.data(), got);
    if (max_bytes != 0 && text.size() > max_bytes) break;
    if (got < part.size()) break;
  }
  if (std::ferror(file.get()) != 0) return bad_input(path.string(), 0, "cannot be read to its end; check the disk");
  return text;
}

}  // namespace

Result<SourceMesh> read_obj(const std::filesystem::path& path, const ObjReadOptions& options, Report& report) {
  const std::string name = path.string();
  std::error_code problem;
  const std::filesystem::file_status status = std::filesystem::status(path, problem);
  if (!std::filesystem::exists(status)) return bad_input(name, 0, "does not exist; check the name");
  if (std::filesystem::is_directory(status)) return bad_input(name, 0, "is a folder; name the OBJ file in it");
  if (!std::filesystem::is_regular_file(status)) {
    Result<std::string> text = read_stream(path, options.max_memory_bytes);
    if (!text) return text.error();
    return parse_obj(std::move(*text), name, options, report);
  }
  const std::uint64_t size = std::filesystem::file_size(path, problem);
  if (problem) return bad_input(name, 0, "cannot be read: " + problem.message());
  if (options.max_memory_bytes != 0 && size > options.max_memory_bytes) {
    return bad_input(name, 0,
                     "needs more memory than the limit of " + mebibytes(options.max_memory_bytes) + ": has " +
                         std::to_string(size) + " bytes; raise the limit");
  }
  std::shared_ptr<char[]> bytes = allocate_large(size + 1);
  std::vector<std::uint8_t> failed((size + kReadBytes - 1) / kReadBytes + 1, 0);
  for_ranges(options.executor, size, kReadBytes, [&](std::size_t first, std::size_t last) {
    const File file = open_unbuffered(path);
    const bool good = file != nullptr && std::fseek(file.get(), static_cast<long>(first), SEEK_SET) == 0 &&
                      std::fread(bytes.get() + first, 1, last - first, file.get()) == last - first;
    failed[first / kReadBytes] = good ? 0 : 1;
  });
  if (std::any_of(failed.begin(), failed.end(), [](std::uint8_t f) { return f != 0; })) {
    return bad_input(name, 0, "cannot be read to its end; check the permissions and that nothing writes to it");
  }
  bytes[static_cast<std::ptrdiff_t>(size)] = '\0';
  const std::string_view text(bytes.get(), size);
  return parse_text(std::move(bytes), text, name, options, report);
}

Result<SourceMesh> parse_obj(std::string text, const std::string& file, const ObjReadOptions& options, Report& report) {
  auto owner = std::make_shared<const std::string>(std::move(text));
  const std::string_view bytes(*owner);
  return parse_text(std::move(owner), bytes, file, options, report);
}

}  // namespace trimtack
