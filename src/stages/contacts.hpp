// SPDX-License-Identifier: MIT
/// Pairs of small components that touch or nearly touch.
#pragma once

#include <functional>
#include <span>
#include <vector>

#include "trimtack/features.hpp"

namespace trimtack {

/// limit(a, b) of a pair of components.
using PairLimit = std::function<double(Index, Index)>;

struct Contact {
  Index a = 0, b = 0;   ///< components, a < b
  double distance = 0;  ///< least distance between a vertex of one and a face of the other, file units; 0 when an edge
                        ///< of one passes through a face of the other
};

/// Pairs among `candidates` closer than `reach` times the smaller one's length. Sorted by (a, b).
/// Distances below a tenth of that are upper bounds (they touch); parts of many vertices are sampled.
/// @param guests  empty, or one flag per component: two guests are no pair (thousands of stitches side by side)
/// @param limit  beyond which distance a pair (a < b) is of no interest, negative if it never is; it may then be left
///               out, though within reach
std::vector<Contact> find_contacts(const FaceView& faces, const ComponentMap& components, std::span<const Shape> shapes,
                                   std::span<const Index> candidates, double reach,
                                   std::span<const std::uint8_t> guests, const PairLimit& limit = {});

/// Squared distance from p to the triangle (a, b, c). Degenerate triangles count as segments or points.
double squared_distance_to_triangle(const Vec3& p, const Vec3& a, const Vec3& b, const Vec3& c);

}  // namespace trimtack
