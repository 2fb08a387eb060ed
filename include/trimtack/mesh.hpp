// SPDX-License-Identifier: MIT
/// The combined export as it was written, and light views of it for the algorithms.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "trimtack/result.hpp"
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

/// Gives bytes [begin, end) of a text, followed by a zero byte: a view of memory that holds all of it, or of `room`,
/// which is filled from the file. From any thread, each with a room of its own.
/// @error BadInput when the file cannot be read any more.
using TextReader = std::function<Result<std::string_view>(std::uint64_t begin, std::uint64_t end, std::string& room)>;

/// A part of a text that holds whole statements.
struct TextBlock {
  std::uint64_t begin = 0, end = 0;
  std::array<Index, 3> before{};  ///< v, vt and vn statements in front of it
  std::uint64_t checksum = 0;     ///< of its bytes when they were parsed
  /// Of its v, vt and vn statements each is one line from first character to LF, and no other line begins like one.
  bool plain_lines = false;
};

/// The text a mesh was read from, so that a writer can splice untouched v, vt and vn statements. It stays in its file,
/// if it came from one, and is read again where it is needed; read_block() finds out whether it is still the same.
/// A count counts only when the mesh has as many elements; set it to 0 (or drop the whole text) when you change what it
/// stands for: writers trust it. set_positions() does that for positions. Who looks at no normal may empty
/// SourceMesh::normals and leave the text: their corners, their number and a writer that splices do without.
struct SourceText {
  TextReader read;
  std::vector<TextBlock> blocks;
  std::array<Index, 3> count{};                 ///< v, vt and vn statements of the whole text
  std::vector<std::uint64_t> some_position_at;  ///< where some of the v statements start, evenly over the text
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
  std::shared_ptr<const SourceText> text;  ///< null for meshes that are not as an OBJ text has them

  Index face_count() const { return static_cast<Index>(face_offsets.size() - 1); }
  std::span<const Index> face(Index f) const {
    return {corner_position.data() + face_offsets[f], face_offsets[f + 1] - face_offsets[f]};
  }
};

/// Makes a writer format the positions instead of splicing them: for who changes them.
void forget_position_text(SourceMesh& mesh);

/// Replaces the positions (same count), and forgets the text of the old ones so that a writer formats the new ones.
/// Colours, weights, texture coordinates and normals stay. @pre positions.size() == mesh.positions.size().
void set_positions(SourceMesh& mesh, std::vector<Vec3> positions);

/// How many normals a mesh has, also where their numbers are left to the text.
std::size_t normal_count(const SourceMesh& mesh);

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

/// Triangles of a polygon mesh, face by face: quads are cut along the diagonal that keeps the two triangles closest to
/// planar agreement (the same for any corner order; exact ties: shorter diagonal, then smaller vertex), polygons of up
/// to eight corners so that the worst triangle is as good as can be, larger ones by ears, both in their mean plane.
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
