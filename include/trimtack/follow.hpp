// SPDX-License-Identifier: MIT
/// Evaluates a binding table on a deformed cloth through the runtime, and bakes trims.
#pragma once

#include <cstdint>
#include <span>

#include "trimtack/cloth.hpp"
#include "trimtack/parallel.hpp"
#include "trimtack/result.hpp"
#include "trimtack/table.hpp"

namespace trimtack {

/// How a pose was found; worse than Chosen is worth a finding.
enum class PoseQuality : std::uint8_t { Chosen, Fallback, Lost };

/// One pose per binding, in table order. @pre out and quality hold one entry per binding (quality may be empty).
/// @error BadInput when `deformed` has another vertex count than the table's cloth.
/// Never a NaN, never a reflection. Same bytes for any executor.
Result<void> follow(std::span<const std::byte> table_bytes, std::span<const Vec3> deformed, std::span<Pose> out,
                    std::span<PoseQuality> quality, const Executor& executor = {});

/// Posed vertices of all trims: out has the size of trims.vertices. pose[i] moves trim i.
void bake(const TrimShapes& trims, std::span<const Pose> poses, std::span<Vec3> out, const Executor& executor = {});

}  // namespace trimtack
