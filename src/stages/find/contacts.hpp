// SPDX-License-Identifier: MIT
/// Pairs of small components that touch or nearly touch.
#pragma once

#include <array>
#include <functional>
#include <span>
#include <vector>

#include "trimtack/features.hpp"

namespace trimtack {

/// limit(a, b) of a pair of components.
using PairLimit = std::function<double(Index, Index)>;

/// Pairs a < b among `candidates` closer than `reach` times the smaller one's length: a vertex of one comes as near to
/// a face of the other, or an edge passes through one. Ascending. Parts of many vertices are sampled, and of a heap in
/// which hundreds lie over each other not all pairs are looked at.
/// @param camps  empty, or 0, 1 or 2 per component: two of camp 1, or of 2, are no pair (thousands of stitches side by
/// side)
/// @param kinds  empty, or one per component: two of one kind are no pair
/// @param limit  beyond which distance a pair (a < b) is left out, though within reach; negative if it always is
std::vector<std::array<Index, 2>> find_contacts(const FaceView& faces, const ComponentMap& components,
                                                std::span<const Shape> shapes, std::span<const Index> candidates,
                                                double reach, std::span<const std::uint8_t> camps,
                                                std::span<const Index> kinds = {}, const PairLimit& limit = {});

/// Squared distance from p to the triangle (a, b, c). Degenerate triangles count as segments or points.
double squared_distance_to_triangle(const Vec3& p, const Vec3& a, const Vec3& b, const Vec3& c);

}  // namespace trimtack
