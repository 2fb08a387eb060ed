// SPDX-License-Identifier: MIT
/// v, vt and vn statements copied from the text that a mesh was read from, block by block and run by run.
#pragma once

#include <algorithm>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "core/memory.hpp"
#include "io/obj_lines.hpp"
#include "io/ordered_pieces.hpp"
#include "trimtack/io/obj.hpp"
#include "trimtack/mesh.hpp"

namespace trimtack::obj {

/// Elements of one kind that are written, in order: numbers in the mesh.
struct Selection {
  const std::vector<Index>* list = nullptr;  ///< null: all
  std::size_t count = 0;

  Index operator[](std::size_t i) const { return list == nullptr ? static_cast<Index>(i) : (*list)[i]; }
  /// How many come before element `number` of the mesh.
  std::size_t before(std::size_t number) const {
    if (list == nullptr) return std::min(number, count);
    return static_cast<std::size_t>(std::lower_bound(list->begin(), list->end(), number) - list->begin());
  }
  /// How many from i on, up to `end`, follow each other in the mesh.
  std::size_t neighbours(std::size_t i, std::size_t end) const {
    if ((*this)[end - 1] - (*this)[i] == end - 1 - i) return end - i;
    std::size_t stop = i + 1;
    while ((*list)[stop] == (*list)[stop - 1] + 1) ++stop;
    return stop - i;
  }
};

/// A piece of the file while it is made.
struct Piece {
  Buffer<char> text;
  // Of spliced statements:
  Result<void> made;
  std::string room;          ///< for a block of the source
  Buffer<LineRun> runs;      ///< found in it
  std::string_view spliced;  ///< in `text` or `room`
  bool closed = false;       ///< with the last line's end, a LF
  std::size_t first_item = 0;
  std::uint64_t begins_at = 0, ends_at = 0;  ///< in the source, of first and last statement
};

/// Elements of a formatted piece. A run of statements is copied as it stands up to every so many, too.
inline constexpr std::size_t kItemsInPiece = std::size_t{1} << 12;

/// Writes the selected statements of a kind (0 v, 1 vt, 2 vn). @pre mesh.text has all of that kind
/// @error BadInput when the text is not what was parsed
Result<void> splice(const SourceMesh& mesh, std::size_t kind, const Selection& selection, const Executor& executor,
                    ScratchPool<Piece>& pool, const TextSink& sink);

}  // namespace trimtack::obj
