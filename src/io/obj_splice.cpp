// SPDX-License-Identifier: MIT
// Most exporters write one statement a line. Blocks like that are cut at line feeds alone and need not even be copied
// when all of them goes; others are gone through with the parser's own rules. What is written does not depend on where
// blocks begin.
#include "io/obj_splice.hpp"

#include <cstring>

#include "core/source_text.hpp"
#include "io/obj_block.hpp"
#include "io/obj_text.hpp"

namespace trimtack::obj {
namespace {

/// Selected statements [first, last) stand in block `block`, which has `count` of their kind.
struct BlockItems {
  std::size_t block = 0, count = 0, first = 0, last = 0;
};

std::vector<BlockItems> items_by_block(const SourceText& text, std::size_t kind, const Selection& selection) {
  std::vector<BlockItems> out;
  std::size_t first = 0;
  for (std::size_t b = 0; b < text.blocks.size() && first < selection.count; ++b) {
    const std::size_t end = b + 1 < text.blocks.size() ? text.blocks[b + 1].before[kind] : text.count[kind];
    const std::size_t last = selection.before(end);
    if (last != first) out.push_back({b, end - text.blocks[b].before[kind], first, last});
    first = last;
  }
  return out;
}

/// Is it a v (kind 0), vt (1) or vn (2) statement?
bool is_of_kind(const char* p, const char* end, std::size_t kind) {
  constexpr const char* kSecond = "vtn";
  if (*p != 'v' || (kind != 0 && p[1] != kSecond[kind])) return false;
  return at_token_end(p + (kind == 0 ? 1 : 2), end);
}

/// What closes a line after its last character.
std::string_view line_close(char last) {
  // A last continuation that ends in CR must not take the LF that follows for its own.
  return last == '\r' ? " \n" : "\n";
}

/// May item i, which begins so many characters behind the end of the one before, be copied together with it?
/// Within two characters of a line end only that line end, or one blank after it, can stand.
bool continues_run(std::size_t i, std::uint64_t distance) { return i % kItemsInPiece != 0 && distance <= 2; }

/// Where the text of a piece comes from.
struct Source {
  const SourceMesh& mesh;
  const TextBlock& block;
  std::string_view bytes;

  Error missing() const { return Error{ErrorCode::Internal, "has fewer statements than were parsed", mesh.file, 0}; }
  std::uint64_t offset(const char* at) const { return block.begin + static_cast<std::uint64_t>(at - bytes.data()); }
};

// --- blocks of plain lines --------------------------------------------------------------------------------------

/// Copies whole lines, most of them short, one range after the other.
struct LineCopy {
  static constexpr std::size_t kShort = 32;

  Buffer<char>& text;
  const char* readable_end;
  const char* begin = nullptr;  ///< of the first range
  const char* end = nullptr;    ///< of the last

  LineCopy(Buffer<char>& to, std::string_view from) : text(to), readable_end(from.data() + from.size()) {
    text.room(from.size() + kShort);
  }
  void put(const char* first, const char* last) {
    if (begin == nullptr) begin = first;
    end = last;
    const auto size = static_cast<std::size_t>(last - first);
    char* const to = text.items.get() + text.size;
    if (size <= kShort && static_cast<std::size_t>(readable_end - first) >= kShort) {
      std::memcpy(to, first, kShort);
    } else {
      std::memcpy(to, first, size);
    }
    text.size += size;
  }
};

/// The selected ones of the lines in `runs`. @return whether all are there
bool copy_selected(const Source& source, std::size_t kind, const Selection& selection, const BlockItems& items,
                   const Buffer<LineRun>& runs, LineCopy& copy) {
  std::size_t number = source.block.before[kind];  // of the line at p
  std::size_t item = items.first, together = 0;
  for (const LineRun& run : runs) {
    const char* p = source.bytes.data() + run.begin;
    const char* const stop = source.bytes.data() + run.end;
    while (item != items.last) {
      std::size_t missing = selection[item] - number;
      p = skip_lines(p, stop, missing);
      number = selection[item] - missing;
      if (p == stop) break;
      if (together == 0) together = selection.neighbours(item, items.last);
      missing = together;
      const char* const last = skip_lines(p, stop, missing);
      copy.put(p, last);
      item += together - missing;
      number += together - missing;
      together = missing;
      p = last;
    }
  }
  return item == items.last;
}

Result<void> splice_lines(const Source& source, std::size_t kind, const Selection& selection, const BlockItems& items,
                          Piece& piece) {
  const std::string_view bytes = source.bytes;
  find_line_runs(bytes, kind, piece.runs);
  if (piece.runs.empty()) return source.missing();
  const bool all = items.last - items.first == items.count;
  if (all && piece.runs.size == 1) {
    const LineRun& run = piece.runs[0];
    piece.spliced = bytes.substr(run.begin, run.end - run.begin);
    piece.begins_at = source.block.begin + run.begin;
    piece.ends_at = source.block.begin + run.end;
  } else {
    LineCopy copy(piece.text, bytes);
    if (all) {
      for (const LineRun& run : piece.runs) copy.put(bytes.data() + run.begin, bytes.data() + run.end);
    } else if (!copy_selected(source, kind, selection, items, piece.runs, copy)) {
      return source.missing();
    }
    piece.spliced = {piece.text.begin(), piece.text.size};
    piece.begins_at = source.offset(copy.begin);
    piece.ends_at = source.offset(copy.end);
  }
  piece.closed = piece.spliced.back() == '\n';
  if (piece.closed) --piece.ends_at;
  return {};
}

// --- all others -------------------------------------------------------------------------------------------------

Result<void> splice_statements(const Source& source, std::size_t kind, const Selection& selection,
                               const BlockItems& items, Piece& piece) {
  Buffer<char>& text = piece.text;
  const char* const end = source.bytes.data() + source.bytes.size();
  const char* run = nullptr;
  const char* stop = source.bytes.data();
  std::size_t number = source.block.before[kind], item = items.first;
  const auto put_run = [&] { text.append(run, static_cast<std::size_t>(stop - run)); };
  for (const char* p = stop; item != items.last;) {
    const Statement statement = next_statement(p, end);
    p = statement.end;
    if (p == nullptr) return source.missing();
    if (!is_of_kind(statement.begin, end, kind) || number++ != selection[item]) continue;
    if (run == nullptr) {
      piece.begins_at = source.offset(statement.begin);
      run = statement.begin;
    } else if (!continues_run(item, static_cast<std::uint64_t>(statement.begin - stop))) {
      put_run();
      const std::string_view close = line_close(stop[-1]);
      text.append(close.data(), close.size());
      run = statement.begin;
    }
    stop = statement.end;
    ++item;
  }
  put_run();
  piece.spliced = {text.begin(), text.size};
  piece.closed = false;
  piece.ends_at = source.offset(stop);
  return {};
}

Result<void> splice_block(const SourceMesh& mesh, std::size_t kind, const Selection& selection, const BlockItems& items,
                          Piece& piece) {
  const TextBlock& block = mesh.text->blocks[items.block];
  const Result<std::string_view> bytes = read_block(mesh, block, piece.room);
  if (!bytes) return bytes.error();
  piece.text.clear();
  piece.first_item = items.first;
  const Source source{mesh, block, *bytes};
  return block.plain_lines ? splice_lines(source, kind, selection, items, piece)
                           : splice_statements(source, kind, selection, items, piece);
}

/// Hands pieces on in order, and what stands between them.
struct PieceSink {
  const SourceText& text;
  const TextSink& sink;
  bool any = false, closed = false;  ///< of the piece before
  char last = 0;                     ///< its last character
  std::uint64_t ended_at = 0;

  Result<void> close_line() const { return !any || closed ? Result<void>() : sink(line_close(last)); }

  Result<void> copy_between(std::uint64_t begin, std::uint64_t end) const {
    if (begin == end) return {};
    std::string room;
    const Result<std::string_view> between = text.read(begin, end, room);
    if (!between) return between.error();
    return sink(*between);
  }

  Result<void> take(const Piece& piece) {
    if (!piece.made) return piece.made;
    const bool together = any && continues_run(piece.first_item, piece.begins_at - ended_at);
    Result<void> done = together ? copy_between(ended_at + (closed ? 1 : 0), piece.begins_at) : close_line();
    if (done) done = sink(piece.spliced);
    any = true;
    closed = piece.closed;
    last = piece.spliced.back();
    ended_at = piece.ends_at;
    return done;
  }
};

}  // namespace

Result<void> splice(const SourceMesh& mesh, std::size_t kind, const Selection& selection, const Executor& executor,
                    ScratchPool<Piece>& pool, const TextSink& sink) {
  const std::vector<BlockItems> items = items_by_block(*mesh.text, kind, selection);
  PieceSink pieces{*mesh.text, sink};
  const auto make = [&](std::size_t i, Piece& piece) {
    piece.made = splice_block(mesh, kind, selection, items[i], piece);
  };
  const auto take = [&](const Piece& piece) { return pieces.take(piece); };
  const Result<void> good = make_in_order(executor, items.size(), pool, make, take);
  return good ? pieces.close_line() : good;
}

}  // namespace trimtack::obj
