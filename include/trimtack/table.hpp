// SPDX-License-Identifier: MIT
/// The binding table as plain arrays, and its binary form.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "trimtack/parts.hpp"
#include "trimtack/result.hpp"
#include "trimtack/types.hpp"

namespace trimtack {

/// One set of frame weights: items [first, first + count) of BindTable::vertices / c / a / b, and the
/// rest frame that the same sums give on the rest cloth.
/// c sums to 1 (value at the anchor); a and b sum to 0 (derivatives along two orthonormal rest tangents).
struct Patch {
  Index first = 0, count = 0;
  Vec3 origin;       ///< o0 = sum c_i p_i
  Mat3 frame;        ///< R0, columns u v n
  double reach = 0;  ///< largest distance of a vertex from the first one at rest; 0: unknown, tears are not looked for
  friend bool operator==(const Patch&, const Patch&) = default;
};

struct Binding {
  Index trim = kNone;  ///< id in parts.json
  std::string name;
  Role role = Role::Trim;
  Index anchor_face = kNone;  ///< face of cloth.obj
  Tri anchor_triangle{kNone, kNone, kNone};
  std::array<double, 3> anchor_weights{1, 0, 0};
  Index patch = kNone;           ///< the chosen patch
  Index fallback = kNone;        ///< used where the chosen one has no answer; kNone: none
  double gap = 0;                ///< signed mean distance of the footprint to its layer at rest
  Index layer = kNone;           ///< component id (parts.json) of the carrying cloth
  Index runner_up = kNone;       ///< the layer that nearly won, kNone when there was no contest
  int order = 0;                 ///< 0 triangle, 1 affine, 2 quadratic
  double radius = 0;             ///< geodesic radius of the patch, file units (0 for a triangle)
  double jitter_deg_per_mm = 0;  ///< predicted angular noise for 1 mm of vertex noise (std, worst tilt axis)
  double bias_deg = 0;           ///< predicted tilt error under the expected bend
  double error_deg = 0;          ///< the two combined, as the solver compared them
  std::vector<std::string> notes;
  friend bool operator==(const Binding&, const Binding&) = default;
};

struct BindTable {
  Unit unit;
  UpAxis up = UpAxis::Y;
  std::string cloth_file = "cloth.obj";
  Index cloth_vertices = 0, cloth_faces = 0;
  std::uint64_t fingerprint = 0;  ///< of the cloth's faces, see cloth_fingerprint
  std::vector<Binding> bindings;
  std::vector<Patch> patches;
  std::vector<Index> vertices;  ///< cloth vertex of each item
  std::vector<double> c, a, b;  ///< weights of each item
  friend bool operator==(const BindTable&, const BindTable&) = default;
};

/// FNV-1a 64 over vertex count and the faces' corner lists (see FORMAT.md). Independent of positions.
std::uint64_t cloth_fingerprint(Index vertex_count, std::span<const Index> offsets, std::span<const Index> corners);

/// Fills origin, frame and reach of every patch from its weights and the rest cloth, through the runtime's own sums.
/// @param rest   positions of cloth.obj, one per cloth vertex
/// @return the patches (by index, ascending) whose rest cloth is collapsed, so that they have no frame; theirs is left
///         the identity. @error BadInput when a patch has no items, or a vertex is out of range or not finite.
/// Cost: linear in the items.
Result<std::vector<Index>> set_rest_frames(BindTable& table, std::span<const Vec3> rest);

/// The binary form, exactly as src/runtime/FORMAT.md says. `format` is the table format number to write.
/// @error BadInput with the binding or patch concerned when a table breaks a rule that the runtime checks (indices,
///        finite numbers, weight sums, proper rest frames, patches that tile the items in order). Usage: unknown
///        format.
Result<std::vector<std::byte>> encode(const BindTable& table, std::uint32_t format);
/// Decodes bytes (8-aligned or not). Everything the runtime checks is checked; decode(encode(t)) == t exactly, and
/// encode(decode(bytes)) gives the same bytes. @error BadInput with what is wrong and at which byte.
Result<BindTable> decode(std::span<const std::byte> bytes);

}  // namespace trimtack
