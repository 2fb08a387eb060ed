// SPDX-License-Identifier: MIT
/// What a combined export consists of: components with roles, trims, prototypes, rows (parts.json).
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "trimtack/shared_texts.hpp"
#include "trimtack/types.hpp"

namespace trimtack {

enum class Role : std::uint8_t { Cloth, Trim, Stitching };
const char* to_text(Role role);  ///< "cloth", "trim", "stitching"

/// [first, end) of 0-based indices.
struct IndexRange {
  Index first = 0, end = 0;
  friend bool operator==(const IndexRange&, const IndexRange&) = default;
};

/// Up axis of a file. Only pictures and exporters need it.
enum class UpAxis : std::uint8_t { Y, Z };

struct Unit {
  double mm_per_unit = 1.0;  ///< 1 mm, 10 cm, 1000 m, 25.4 inch
  std::string name = "mm";   ///< "mm", "cm", "m", "in"
  double confidence = 0.0;   ///< 1 when declared by the user
  std::vector<std::string> reasons;
  friend bool operator==(const Unit&, const Unit&) = default;
};

struct Component {
  Role role = Role::Cloth;
  double confidence = 0.0;  ///< probability that the role is right
  bool uncertain = false;   ///< confidence below the threshold and not settled by the author
  SharedTexts reasons;
  Index trim = kNone;
  std::vector<IndexRange> faces;     ///< of the combined file
  std::vector<IndexRange> vertices;  ///< of the combined file
};

/// One rigid unit. Stitches are trims too (role Stitching), so that they can be bound.
struct Trim {
  std::string name;
  Role role = Role::Trim;
  std::vector<Index> components;
  Index prototype = kNone;
  bool mirrored = false;  ///< a mirrored copy: placement = rotation * (mirror along the prototype's x)
  double scale = 1.0;     ///< uniform scale relative to the prototype
  Pose placement;         ///< prototype coordinates -> combined export
  Index row = kNone;
};

struct Prototype {
  std::string name;
  Index trim = kNone;      ///< the trim whose mesh it is
  Index count = 0;         ///< how many trims share it
  Vec3 size;               ///< extents along its principal axes, largest first, in file units
  std::string trade_size;  ///< "18L", "No. 5", or empty; computed from the size
  double trade_confidence = 0.0;
  double residual = 0.0;  ///< largest vertex distance of any copy after placement, in file units
};

enum class RowKind : std::uint8_t { Line, Zipper, StitchLine };
struct Row {
  RowKind kind = RowKind::Line;
  std::vector<Index> trims;  ///< in order along the line
  double pitch = 0.0;        ///< median spacing in file units
};

/// Everything found in one combined export. Vectors are indexed by id.
struct Parts {
  std::string source_file;
  Index source_faces = 0, source_vertices = 0;
  /// Of the source's vertices the last ones repeat others, where trims were cut off the cloth: for each of these the
  /// one of the file that it repeats.
  std::vector<Index> doubled_vertices;
  Unit unit;
  UpAxis up = UpAxis::Y;
  std::vector<Component> components;
  std::vector<Trim> trims;
  std::vector<Prototype> prototypes;
  std::vector<Row> rows;
  std::vector<Index> component_of_face;    ///< #F
  std::vector<Index> component_of_vertex;  ///< #V, kNone for a vertex no face uses
};

}  // namespace trimtack
