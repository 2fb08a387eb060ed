// SPDX-License-Identifier: MIT
/// Which trims are copies of one shape, moved.
#pragma once

#include <span>
#include <vector>

#include "trimtack/cloth.hpp"
#include "trimtack/types.hpp"

namespace trimtack {

/// The first trim of the same prototype where it has the same role and as many vertices and triangles, else the trim
/// itself: what may be a copy of what.
/// @param triangles  how many each trim has
std::vector<Index> likely_models(const TrimShapes& trims, std::span<const Index> triangles);

/// Whether the vertices of a model, moved by the placements, are those of t; not so where t is mirrored or scaled, or
/// where its vertices are in another order.
/// @param size  of the model: the diagonal of the box of its triangles
bool fits_model(const TrimShapes& trims, Index model, Index t, double size);

/// What moves the model onto t.
Pose motion_between(const TrimShapes& trims, Index model, Index t);

/// The vertices of trim t.
std::span<const Vec3> vertices_of(const TrimShapes& trims, std::size_t t);

}  // namespace trimtack
