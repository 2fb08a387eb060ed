// SPDX-License-Identifier: MIT
/// Trims alike repeated along a line: button fronts, zipper sides, stitch lines.
#pragma once

#include <span>
#include <vector>

#include "trimtack/parallel.hpp"
#include "trimtack/parts.hpp"

namespace trimtack {

/// What rows are found from, per trim.
struct RowInput {
  std::span<const Trim> trims;
  std::span<const Vec3> centres;
  std::span<const double> sizes;         ///< length
  std::span<const std::uint8_t> rounds;  ///< 1: round, so no zipper element
  std::span<const Index> alike;          ///< trims of one number may share a row (copies, or kin)
};

/// Rows of at least three trims in order along a line, each no further from the middle of its neighbours than a third
/// of their spacing. A trim is in at most one row. Two facing rows with interleaved elements are the sides of a zipper.
/// Cost: O(n log n). Threads: neighbours by ranges on the executor, the same rows for any.
std::vector<Row> find_rows(const RowInput& input, const Executor& executor = {});

/// For each row, the facing row of the same zipper; kNone without.
std::vector<Index> facing_rows(const RowInput& input, std::span<const Row> rows);

}  // namespace trimtack
