// SPDX-License-Identifier: MIT
// The text is cut into blocks at line ends, each block is read and parsed on its own (obj_block.cpp), and the results
// are put together in order: sums over the blocks before give the places of elements and the meaning of relative
// indices. Blocks do not depend on the executor, so neither does the result.
#include <algorithm>
#include <array>
#include <memory>
#include <string>
#include <utility>

#include "core/source_text.hpp"
#include "io/bad_input.hpp"
#include "io/obj_block.hpp"
#include "io/obj_input.hpp"
#include "io/obj_merge.hpp"
#include "io/ordered_pieces.hpp"
#include "trimtack/io/obj.hpp"

namespace trimtack {
namespace {

using obj::Block;

std::string mebibytes(std::uint64_t bytes) { return std::to_string(bytes >> 20) + " MiB"; }

/// Reads and parses one block.
void read_and_parse(const obj::Input& input, const obj::TextRange& range, const obj::ParseOptions& options,
                    Block& block) {
  obj::reset(block, range.begin, range.end);
  const Result<std::string_view> text = input.read(range.begin, range.end, block.room);
  if (!text) {
    block.read = text.error();
    return;
  }
  block.text = *text;
  if (options.keep_text) block.checksum = text_checksum(*text);
  obj::parse_block(options, nullptr, block);
}

/// What stands in the way of more: too many elements, or too much memory.
Result<void> check_size(const obj::Input& input, const std::string& file, const ObjReadOptions& options,
                        const obj::Merge& merge) {
  const obj::Counts& counts = merge.counts;
  const auto elements =
      static_cast<std::uint64_t>(std::max({counts.elements[0], counts.elements[1], counts.elements[2]}));
  if (std::max({elements, counts.faces, counts.corners, counts.loose}) >= kNone) {
    return bad_input(file, 0, "more than 4294967294 elements of one kind; split the file");
  }
  const std::uint64_t memory = input.held + obj::memory_of(merge);
  if (options.max_memory_bytes != 0 && memory > options.max_memory_bytes) {
    return bad_input(
        file, 0, "needs more memory than the limit of " + mebibytes(options.max_memory_bytes) + "; raise the limit");
  }
  return {};
}

/// Parses all blocks and appends each while it is in the cache of the processor that parsed it; the memory between is
/// small and used again.
Result<void> parse_blocks(const obj::Input& input, const std::string& file, const ObjReadOptions& options,
                          obj::Merge& merge) {
  const Result<std::vector<obj::TextRange>> ranges = obj::cut_blocks(input, options.block_bytes);
  if (!ranges) return ranges.error();
  const obj::ParseOptions how{options.keep_text, options.positions_only, options.leave_normals};
  ScratchPool<Block> pool;
  const auto make = [&](std::size_t i, Block& block) { read_and_parse(input, (*ranges)[i], how, block); };
  const auto take = [&](Block& block) -> Result<void> {
    if (!block.read) return block.read;
    const obj::Failure& failure = block.failure;
    if (failure.failed) return bad_input(file, line_at(input, failure.at), failure.message);
    obj::append_block(block, merge);
    return check_size(input, file, options, merge);
  };
  return make_in_order(options.executor, ranges->size(), pool, make, take);
}

/// Are all indices in range? If not, a second parse of the block finds the first one that is not.
Result<void> check_indices(const obj::Input& input, const std::string& file, const obj::Merge& merge) {
  for (const obj::BlockSummary& summary : merge.summaries) {
    bool good = !summary.reaches_before_start;
    for (std::size_t k = 0; k < 3; ++k) good = good && summary.largest[k] < merge.counts.elements[k];
    if (good) continue;
    const obj::IndexCheck check{summary.before, merge.counts.elements};
    Block again;
    obj::reset(again, summary.begin, summary.end);
    const Result<std::string_view> text = input.read(summary.begin, summary.end, again.room);
    if (!text) return text.error();
    again.text = *text;
    obj::parse_block({.keep_text = false}, &check, again);
    if (!again.failure.failed) return bad_input(file, "was changed while it was being read; run the command again");
    return bad_input(file, line_at(input, again.failure.at), again.failure.message);
  }
  return {};
}

/// Text of which no statement is known is something else than OBJ.
Result<void> check_is_obj(const obj::Input& input, const std::string& file, const obj::Merge& merge) {
  const obj::LeftOutCount& unknown = merge.left_out[obj::kUnknown];
  if (unknown.count == 0 || unknown.count < merge.statements) return {};
  return bad_input(file, line_at(input, unknown.first_at),
                   "not an OBJ file: no statement in it is known, the first is " + unknown.keyword +
                       "; export the garment as Wavefront OBJ text");
}

void report_left_out(const obj::Input& input, const std::string& file, const obj::Merge& merge, Report& report) {
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
                 line_at(input, left_out.first_at), left_out.count});
  }
}

std::shared_ptr<const SourceText> text_of(obj::Input input, obj::Merge& merge) {
  const auto narrow = [](const std::array<std::int64_t, 3>& counts) {
    std::array<Index, 3> out{};
    std::transform(counts.begin(), counts.end(), out.begin(), [](std::int64_t n) { return static_cast<Index>(n); });
    return out;
  };
  auto text = std::make_shared<SourceText>();
  text->read = std::move(input.read);
  text->blocks.reserve(merge.summaries.size());
  for (const obj::BlockSummary& block : merge.summaries)
    text->blocks.push_back({block.begin, block.end, narrow(block.before), block.checksum, block.plain_lines});
  text->count = narrow(merge.counts.elements);
  text->some_position_at = std::move(merge.some_position_at);
  return text;
}

Result<SourceMesh> parse(obj::Input input, const std::string& file, const ObjReadOptions& options, Report& report) {
  obj::Merge merge;
  if (!options.positions_only) {
    if (Result<void> good = obj::reserve_by_sample(input, options.leave_normals, merge); !good) return good.error();
  }
  if (Result<void> good = parse_blocks(input, file, options, merge); !good) return good.error();
  if (Result<void> good = check_indices(input, file, merge); !good) return good.error();
  if (Result<void> good = check_is_obj(input, file, merge); !good) return good.error();
  obj::finish(merge);
  report_left_out(input, file, merge, report);
  merge.mesh.file = file;
  if (options.keep_text) merge.mesh.text = text_of(std::move(input), merge);
  return std::move(merge.mesh);
}

}  // namespace

Result<SourceMesh> read_obj(const std::filesystem::path& path, const ObjReadOptions& options, Report& report) {
  Result<obj::Input> input = obj::open_input(path, options.max_memory_bytes);
  if (!input) return input.error();
  return parse(std::move(*input), path.string(), options, report);
}

Result<SourceMesh> parse_obj(std::string text, const std::string& file, const ObjReadOptions& options, Report& report) {
  return parse(obj::input_of(std::move(text)), file, options, report);
}

}  // namespace trimtack
