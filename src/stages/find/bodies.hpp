// SPDX-License-Identifier: MIT
/// Trims as bodies that may be copies of each other.
#pragma once

#include <span>
#include <vector>

#include "trimtack/roles.hpp"

namespace trimtack {

/// A trim's vertices and what does not change when it is moved. Faces do not count: doubled ones are no other shape.
struct TrimBody {
  std::vector<Vec3> vertices;  ///< relative to their mean
  Vec3 centre;                 ///< that mean
  Index trim = 0, faces = 0, parts = 0;
  Index whole_faces = kNone;             ///< without doubled and collapsed ones, once asked for
  double rms = 0, mean = 0, radius = 0;  ///< distances from the centre
};

/// Asks for the vertices of parts whose body is wanted soon.
void fetch_body(const RoleInput& in, std::span<const Index> parts);

/// The body of the given parts. Its room is used again.
void fill_body(const RoleInput& in, std::span<const Index> parts, TrimBody& body);

}  // namespace trimtack
