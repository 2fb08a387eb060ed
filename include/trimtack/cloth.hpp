// SPDX-License-Identifier: MIT
/// The cloth and the trims as the solver sees them.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "trimtack/mesh.hpp"
#include "trimtack/parallel.hpp"
#include "trimtack/parts.hpp"
#include "trimtack/result.hpp"
#include "trimtack/split.hpp"

namespace trimtack {

/// cloth.obj as polygons and triangles. Vertex and face numbers are those of cloth.obj.
struct ClothMesh {
  std::vector<Vec3> positions;
  std::vector<Index> face_offsets{0}, face_corners;
  Triangles triangles;
  std::vector<Vec2> corner_uv;           ///< empty, or one per face corner
  std::vector<Index> welded;             ///< coincident vertices share a number (seams, split vertices)
  std::vector<Index> component_of_face;  ///< component id in parts.json
};
/// Fills `triangles` and `welded` from positions and faces; faces without a component get component 0.
/// Equal positions (to the bit) share a welded number. Cost: O(V log V + C).
void complete_cloth(ClothMesh& cloth);

/// The cloth of a split, exactly as cloth.obj numbers it. `corner_uv` stays empty unless every corner has one.
ClothMesh gather_cloth(const SourceMesh& combined, const Parts& parts, const SplitMaps& maps);

/// No coordinate may lie beyond 1e15: squares and products of what is larger leave the range of doubles. Positions that
/// are not finite pass; the solver leaves them out. @error BadInput naming the first vertex beyond.
Result<void> check_reach(std::span<const Vec3> positions, const std::string& subject);

/// The rigid units to bind, trim by trim: vertices [vertex_offsets[t], vertex_offsets[t+1]) and triangles likewise.
/// Triangle indices are local to the trim's vertices.
struct TrimShapes {
  std::vector<Index> id;  ///< trim id in parts.json
  std::vector<std::string> name;
  std::vector<Role> role;
  std::vector<Index> prototype, row;
  std::vector<std::uint8_t> one_sheet;  ///< 1: never bridges panels (elements of a zipper); empty: none is such
  std::vector<Pose> placement;
  std::vector<Index> vertex_offsets{0}, triangle_offsets{0};
  std::vector<Vec3> vertices;        ///< rest, combined export's coordinates
  std::vector<Index> source_vertex;  ///< combined vertex of each
  std::vector<Tri> triangles;
  std::vector<Index> component_of_triangle;
  /// Empty: all trims have triangles. Else those of trim t are left out where model[t] is another trim, whose vertices,
  /// moved by the placements, are those of t.
  std::vector<Index> model;
};
inline bool keeps_to_one_sheet(const TrimShapes& trims, std::size_t trim) {
  return !trims.one_sheet.empty() && trims.one_sheet[trim] != 0;
}
/// What is gathered of the trims: all, or what bind() looks at (no source_vertex and component_of_triangle, and no
/// triangles of copies), in a fraction of the time and memory.
enum class TrimLists : std::uint8_t { All, OfSolver };
/// All trims and stitches of `parts`, in the order of their ids. A trim without faces has no vertices.
/// Cost: O(#C log #C of a trim).
TrimShapes gather_trims(const SourceMesh& combined, const Parts& parts, const SplitMaps& maps,
                        const Executor& executor = {}, TrimLists lists = TrimLists::All);

}  // namespace trimtack
