// SPDX-License-Identifier: MIT
/// The combined export as it was written, and light views of it for the algorithms.
#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "trimtack/types.hpp"

namespace trimtack {

/// The state that applies to a face; each member indexes a table of SourceMesh, kNone = never set.
struct FaceState {
  Index object = kNone, group = kNone, smoothing = kNone, material = kNone;
  friend bool operator==(const FaceState&, const FaceState&) = default;
};

/// A run of faces with one state: from `first_face` up to the next run's first face.
struct StateRun {
  Index first_face = 0;
  FaceState state;
};

enum class ElementKind : std::uint8_t { Line, Point };

/// An `l` or `p` element. `vertices` are 0-based positions, `texcoords` are empty or one per vertex.
/// `before_face` is the number of faces read before it; its state is the one in force there.
struct LooseElement {
  ElementKind kind = ElementKind::Line;
  std::vector<Index> vertices, texcoords;
  Index before_face = 0;
  FaceState state;
};

/// The bytes a mesh was read from, and where each v / vt / vn statement starts (offset of its keyword),
/// so that a writer can splice untouched statements. A statement ends at its (unescaped) line end.
/// An offset list counts only when it has one entry per element of the mesh; clear a list (or drop the whole text)
/// when you change what it stands for: writers trust it. set_positions() does that for positions.
struct SourceText {
  std::shared_ptr<const void> owner;  ///< keeps `bytes` alive; shared by the meshes cut from one file
  std::string_view bytes;             ///< followed by a zero byte
  std::vector<std::uint64_t> position_at, texcoord_at, normal_at;
};

/// A polygon mesh faithful to its file. Face f has corners [face_offsets[f], face_offsets[f + 1]).
/// A file that came within an export: a glTF's pictures, or the material library made from it.
struct AttachedFile {
  std::string name;  ///< relative to the export
  std::string bytes;
};

struct SourceMesh {
  std::string file;  ///< as the user named it, for messages
  std::vector<Vec3> positions;
  std::vector<double> position_weights;  ///< empty, or one per position (4-number v, NaN where absent)
  std::vector<Vec3> colours;             ///< empty, or one per position (NaN where a v had none)
  std::vector<double> colour_alpha;      ///< empty, or one per position (7-number v, NaN where absent)
  std::vector<Vec2> texcoords;
  std::vector<double> texcoord_w;  ///< empty, or one per texcoord (3-number vt, NaN where absent)
  std::vector<Vec3> normals;
  std::vector<Index> face_offsets{0};           ///< #F + 1
  std::vector<Index> corner_position;           ///< #C, index into positions
  std::vector<Index> corner_texcoord;           ///< empty, or #C with kNone where a corner has none
  std::vector<Index> corner_normal;             ///< empty, or #C with kNone where a corner has none
  std::vector<StateRun> states;                 ///< sorted by first_face; faces before the first have no state
  std::vector<std::string> objects;             ///< the rest of each `o` line
  std::vector<std::string> groups;              ///< the rest of each `g` line (may hold several names)
  std::vector<std::string> smoothings;          ///< the rest of each `s` line
  std::vector<std::string> materials;           ///< the rest of each `usemtl` line
  std::vector<std::string> material_libraries;  ///< one name an entry, in order, without repeats
  std::vector<AttachedFile> attached;           ///< to be written beside the outputs; no part of the content
  std::vector<LooseElement> loose;
  std::shared_ptr<const SourceText> text;  ///< null for meshes that were not read from OBJ text

  Index face_count() const { return static_cast<Index>(face_offsets.size() - 1); }
  std::span<const Index> face(Index f) const {
    return {corner_position.data() + face_offsets[f], face_offsets[f + 1] - face_offsets[f]};
  }
};

/// Replaces the positions (same count), and forgets the text of the old ones so that a writer formats the new ones.
/// Colours, weights, texture coordinates and normals stay. @pre positions.size() == mesh.positions.size().
void set_positions(SourceMesh& mesh, std::vector<Vec3> positions);

/// State of face f. Cost: binary search over the runs.
FaceState state_of(const SourceMesh& mesh, Index face);

/// Same content: every number to the bit, every index, every state by name (table order, `file` and `text` do not
/// count; an optional array without any entry equals a missing one, an empty name equals none). On a difference `where`
/// (if given) gets one sentence.
bool same_content(const SourceMesh& a, const SourceMesh& b, std::string* where = nullptr);

/// Polygons as spans, for the algorithms.
struct FaceView {
  std::span<const Vec3> positions;
  std::span<const Index> offsets;  ///< #F + 1
  std::span<const Index> corners;
  Index face_count() const { return offsets.empty() ? 0 : static_cast<Index>(offsets.size() - 1); }
  std::span<const Index> face(Index f) const { return corners.subspan(offsets[f], offsets[f + 1] - offsets[f]); }
};
FaceView view(const SourceMesh& mesh);

/// Triangles of a polygon mesh, face by face: quads are cut along the diagonal that keeps the two
/// triangles closest to planar agreement (a geometric rule, the same for any corner order; exact ties take the
/// shorter diagonal, then the one with the smaller vertex), larger n-gons by ear clipping in their mean plane.
struct Triangles {
  std::vector<Tri> triangles;                 ///< vertex indices
  std::vector<std::array<Index, 3>> corners;  ///< corner indices (into corner_position) of each triangle
  std::vector<Index> face;                    ///< source face of each triangle
};
Triangles triangulate(const FaceView& faces);

/// Bounding box; empty input gives min = max = 0.
struct Box {
  Vec3 min, max;
};
Box bounds(std::span<const Vec3> points);

}  // namespace trimtack
