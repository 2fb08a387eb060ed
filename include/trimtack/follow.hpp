// SPDX-License-Identifier: MIT
/// Evaluates a binding table on a deformed cloth through the runtime, and bakes trims.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>

#include "trimtack/cloth.hpp"
#include "trimtack/parallel.hpp"
#include "trimtack/result.hpp"
#include "trimtack/runtime.hpp"
#include "trimtack/table.hpp"

namespace trimtack {

/// How a pose was found; worse than Chosen is worth a finding.
enum class PoseQuality : std::uint8_t {
  Chosen,     ///< the chosen patch, nothing unusual
  Fallback,   ///< the stored fallback patch: the chosen one was collapsed, torn, turned over or not finite
  Stretched,  ///< cloth stretched or crushed beyond what cloth does; the pose is that of the better patch
  Lost        ///< no patch had an answer: rotation lent by a neighbour, or none
};
const char* to_text(PoseQuality quality);  ///< "chosen", "fallback", "stretched", "lost"

/// One pose per binding, in table order. @pre out and quality hold one entry per binding (quality may be empty).
/// @param deformed   positions of cloth.obj's vertices in this frame, in the table's unit and axes
/// @error BadInput when the table is refused, or `deformed` has another vertex count than the table's cloth.
///        Usage when out or quality have another length than the table.
/// Never a NaN, never a reflection. Same bytes for any executor, and the same bits as the C call tt_evaluate_f64.
/// Cost: opening the table (linear in its bytes) and the patches' vertices; allocates nothing.
Result<void> follow(std::span<const std::byte> table_bytes, std::span<const Vec3> deformed, std::span<Pose> out,
                    std::span<PoseQuality> quality, const Executor& executor = {});

/// The same with a table that was opened once, in its own unit and axes: for many frames, where opening would cost as
/// much as reading a frame. @error BadInput when the view is not open.
Result<void> follow(const runtime::Table& table, std::span<const Vec3> deformed, std::span<Pose> out,
                    std::span<PoseQuality> quality, const Executor& executor = {});

enum class Mirrored : std::uint8_t { No, Yes, Unknown };

/// A frame as a whole: mistakes that a single trim cannot see.
struct FrameState {
  Mirrored mirrored = Mirrored::Unknown;  ///< a mirror image of the rest cloth; Unknown: all trims face one way
  std::size_t unusable_vertices = 0;      ///< NaN, infinite or beyond 1e18
  double scale = 1;                       ///< typical stretch under the trims; far from 1: another unit than at rest
};
/// @error as follow. Cost: linear in the vertices.
Result<FrameState> check_frame(std::span<const std::byte> table_bytes, std::span<const Vec3> deformed);
/// @param all_usable  no coordinate is NaN, infinite or beyond 1e18, as a FrameReader has found: none is looked for
Result<FrameState> check_frame(const runtime::Table& table, std::span<const Vec3> deformed, bool all_usable = false);

/// Posed vertices of all trims: out has the size of trims.vertices. pose[i] moves trim i.
void bake(const TrimShapes& trims, std::span<const Pose> poses, std::span<Vec3> out, const Executor& executor = {});

}  // namespace trimtack
