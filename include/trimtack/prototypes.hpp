// SPDX-License-Identifier: MIT
/// Congruent trims: one prototype each, and where every copy lies.
#pragma once

#include <span>
#include <vector>

#include "trimtack/roles.hpp"
#include "trimtack/trims.hpp"

namespace trimtack {

/// Result per trim; prototypes are numbered by their first trim, whose mesh in the combined export is the prototype.
struct PrototypeMap {
  std::vector<Index> of_trim;
  std::vector<std::uint8_t> mirrored;
  std::vector<double> scale;
  std::vector<Pose> placement;    ///< prototype coordinates (the first trim's place) -> the copy's
  std::vector<double> residual;   ///< per trim, largest vertex distance after placement
  std::vector<Index> first_trim;  ///< per prototype
};

/// Copies are accepted when every vertex falls on a vertex of the prototype within `tolerance` times the trim's size or
/// what the rounding of the file moves two corners apart by, whichever is larger. A mirrored copy reads
///     x -> rotation * scale * (mirror across the plane x = centroid of the prototype) + translation.
/// Cost: O(vertices) per trim when copies keep their vertex order, with a search over vertex triples otherwise.
PrototypeMap find_prototypes(const RoleInput& input, const TrimGroups& groups, double tolerance,
                             const Executor& executor = {});

/// The step of the decimal grid on which the positions lie (0.001 for three decimals), 0 when there is none.
double decimal_step(std::span<const Vec3> positions);

}  // namespace trimtack
