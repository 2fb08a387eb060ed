// SPDX-License-Identifier: MIT
/// One block of OBJ text, parsed on its own: everything relative to the block's start, merged later in order.
#pragma once

#include <array>
#include <cstdint>
#include <limits>
#include <string>
#include <string_view>
#include <vector>

#include "core/memory.hpp"
#include "trimtack/mesh.hpp"
#include "trimtack/result.hpp"

namespace trimtack::obj {

/// What an index counts.
enum Counted : std::uint8_t { kPositions, kTexcoords, kNormals };

/// Index lists that may hold indices relative to the end ("-1"); those are stored relative to the block's start.
enum IndexList : std::uint8_t { kCornerPosition, kCornerTexcoord, kCornerNormal, kLooseVertex, kLooseTexcoord };
inline constexpr std::array<Counted, 5> kCountedBy{kPositions, kTexcoords, kNormals, kPositions, kTexcoords};

/// Stands for a number that an element of an optional list does not have.
inline constexpr double kAbsent = std::numeric_limits<double>::quiet_NaN();
inline constexpr Vec3 kNoColour{kAbsent, kAbsent, kAbsent};

enum class Event : std::uint8_t { Object, Group, Smoothing, Material, Library };

/// A change of state, or a material library, before face `face` and loose element `loose` of the block.
struct StateEvent {
  Event kind = Event::Object;
  Index face = 0, loose = 0;
  std::string_view rest;  ///< raw text after the keyword
};

struct LooseItem {
  ElementKind kind = ElementKind::Line;
  Index first = 0, count = 0;  ///< in the block's loose_vertex
  Index face = 0;              ///< faces of the block before it
};

/// Statements left out, reported by kind.
enum LeftOut : std::uint8_t { kFreeForm, kDisplay, kUnknown, kLeftOutKinds };
struct LeftOutCount {
  std::uint64_t count = 0, first_at = 0;
  std::string keyword;  ///< of the first
};

struct Failure {
  bool failed = false;
  std::uint64_t at = 0;  ///< offset in the text
  std::string message;
};

struct Block {
  std::uint64_t begin = 0, end = 0;  ///< offsets in the text
  Result<void> read;                 ///< whether the bytes between them could be read
  std::string_view text;             ///< the bytes, followed by a zero byte
  std::string room;                  ///< where `text` may be
  std::uint64_t checksum = 0;        ///< of `text`
  Buffer<Vec3> positions, colours, normals;
  std::uint64_t normal_count = 0;  ///< also of those left to the text
  Buffer<double> position_weights, colour_alpha, texcoord_w;
  Buffer<Vec2> texcoords;
  Buffer<std::uint64_t> position_at;  ///< offsets in the text
  Buffer<Index> face_ends;
  std::array<Buffer<Index>, 5> lists;               ///< by IndexList; optional ones are empty until first used
  std::array<Buffer<Index>, 5> relative;            ///< slots of `lists` that hold relative indices
  std::array<std::int64_t, 3> largest{-1, -1, -1};  ///< absolute index, by Counted
  std::array<std::int64_t, 3> lowest{0, 0, 0};      ///< relative index, by Counted
  std::vector<LooseItem> loose;
  std::vector<StateEvent> events;
  std::array<LeftOutCount, kLeftOutKinds> left_out;
  std::uint64_t statements = 0;
  bool plain_lines = true;  ///< as of TextBlock
  Failure failure;
};

/// Empties the block for the text [begin, end), which the caller gives it, and keeps its memory.
void reset(Block& block, std::uint64_t begin, std::uint64_t end);

/// Totals that turn a second parse of a block into a search for the first index out of range.
struct IndexCheck {
  std::array<std::int64_t, 3> before{};  ///< elements before the block, by Counted
  std::array<std::int64_t, 3> total{};   ///< elements in the whole text
};

struct ParseOptions {
  bool keep_text = true;        ///< note where v statements start
  bool positions_only = false;  ///< pass over all statements but v unread
  bool leave_normals = false;   ///< look at normals, but keep none
};

/// Parses the block's text; stops at the first failure.
/// @param check  when given, an index out of range is a failure
void parse_block(const ParseOptions& options, const IndexCheck* check, Block& block);

/// The statements in a part of a text, one after the other, in the parser's own view of where they start and end.
struct Statement {
  const char* begin = nullptr;  ///< its keyword
  const char* end = nullptr;    ///< its line end, or the text's end
};
/// The next statement that starts at or after p; both ends null when there is none. @pre a zero byte follows `end`
Statement next_statement(const char* p, const char* end);

}  // namespace trimtack::obj
