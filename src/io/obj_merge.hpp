// SPDX-License-Identifier: MIT
/// Puts parsed blocks together in the order of the text.
#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <vector>

#include "core/name_table.hpp"
#include "io/obj_block.hpp"
#include "io/obj_input.hpp"
#include "trimtack/mesh.hpp"
#include "trimtack/result.hpp"

namespace trimtack::obj {

/// Elements before a place in the text.
struct Counts {
  std::array<std::int64_t, 3> elements{};  ///< by Counted
  std::uint64_t faces = 0, corners = 0, loose = 0;
};

/// What must be known of a block after its memory was used again: enough to check its indices.
struct BlockSummary {
  std::uint64_t begin = 0, end = 0, checksum = 0;
  std::array<std::int64_t, 3> before{}, largest{};
  bool plain_lines = false;           ///< as of TextBlock
  bool reaches_before_start = false;  ///< a relative index points in front of the first element
};

/// The mesh so far, and what the next block needs to know.
struct Merge {
  SourceMesh mesh;
  std::vector<std::uint64_t> some_position_at;  ///< of every `position_step`-th v statement, when the text is kept
  std::uint64_t position_step = 1;
  Counts counts;
  std::vector<BlockSummary> summaries;
  std::array<LeftOutCount, kLeftOutKinds> left_out;
  std::uint64_t statements = 0;
  FaceState state;
  NameTable objects{mesh.objects}, groups{mesh.groups}, smoothings{mesh.smoothings}, materials{mesh.materials},
      libraries{mesh.material_libraries};
};

/// Makes room for what a sample of the text promises, so that nothing is moved while it grows.
/// @param leave_normals  as of ObjReadOptions
/// @error when the text cannot be read
Result<void> reserve_by_sample(const Input& input, bool leave_normals, Merge& merge);

/// Appends the next block, which has no failure.
void append_block(Block& block, Merge& merge);

/// Closes lists that end early. Call once, after the last block.
void finish(Merge& merge);

/// Bytes of the mesh so far.
std::uint64_t memory_of(const Merge& merge);

}  // namespace trimtack::obj
