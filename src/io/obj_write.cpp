// SPDX-License-Identifier: MIT
// Statements that the mesh was read from are copied from its text (obj_splice.cpp); the rest is formatted. The file is
// made in pieces that do not depend on the executor, some at a time, in buffers that are used again. A part of a mesh
// is written from the whole: its elements are selected and renumbered on the way.
#include <algorithm>
#include <array>
#include <cmath>
#include <cstring>
#include <string>
#include <string_view>
#include <vector>

#include "core/memory.hpp"
#include "core/text_number.hpp"
#include "io/obj_splice.hpp"
#include "io/obj_text.hpp"
#include "io/ordered_pieces.hpp"
#include "trimtack/io/obj.hpp"

namespace trimtack {
namespace {

using obj::kItemsInPiece, obj::Piece, obj::Selection;
using Text = Buffer<char>;

// --- what is written --------------------------------------------------------------------------------------------

Selection selection_of(const SubsetMap* part, std::vector<Index> SubsetMap::*list, std::size_t all) {
  return part == nullptr ? Selection{nullptr, all} : Selection{&(part->*list), (part->*list).size()};
}

/// New numbers of selected elements.
struct Places {
  Index first = 0;            ///< the lowest selected number
  std::vector<Index> places;  ///< from there on; empty: numbers stay

  explicit Places(const Selection& selection) {
    if (selection.list == nullptr || selection.count == 0) return;
    first = selection.list->front();
    places = filled_large(selection.list->back() - first + std::size_t{1}, kNone);
    for (std::size_t i = 0; i < selection.count; ++i) places[selection[i] - first] = static_cast<Index>(i);
  }
  Index operator()(Index number) const { return number == kNone || places.empty() ? number : places[number - first]; }
};

/// Most exporters number positions, texture coordinates and normals alike. Those of a part are then selected alike.
bool alike(const Selection& a, const Selection& b) {
  return a.list == b.list || (a.list != nullptr && b.list != nullptr && *a.list == *b.list);
}

/// A mesh, or one output of its split.
struct Content {
  const SourceMesh& mesh;
  std::array<Selection, 3> elements;  ///< positions, texture coordinates, normals
  Selection faces, loose;
  Places position;
  bool texcoords_alike, normals_alike;  ///< same numbers, same places: the lists of their own below are empty then
  Places own_texcoord, own_normal;
  std::vector<Index> loose_before_face;  ///< of each selected loose element, in selected faces

  Content(const SourceMesh& m, const SubsetMap* part)
      : mesh(m),
        elements{selection_of(part, &SubsetMap::positions, m.positions.size()),
                 selection_of(part, &SubsetMap::texcoords, m.texcoords.size()),
                 selection_of(part, &SubsetMap::normals, normal_count(m))},
        faces(selection_of(part, &SubsetMap::faces, m.face_count())),
        loose(selection_of(part, &SubsetMap::loose, m.loose.size())),
        position(elements[0]),
        texcoords_alike(alike(elements[0], elements[1])),
        normals_alike(alike(elements[0], elements[2])),
        own_texcoord(texcoords_alike ? Selection{} : elements[1]),
        own_normal(normals_alike ? Selection{} : elements[2]) {
    loose_before_face.reserve(loose.count);
    for (std::size_t i = 0; i < loose.count; ++i)
      loose_before_face.push_back(static_cast<Index>(faces.before(m.loose[loose[i]].before_face)));
  }
  Index texcoord(Index number) const { return texcoords_alike ? position(number) : own_texcoord(number); }
  Index normal(Index number) const { return normals_alike ? position(number) : own_normal(number); }
};

// --- numbers ----------------------------------------------------------------------------------------------------

/// Room for a line of `numbers` numbers.
constexpr std::size_t line_room(std::size_t numbers) { return 4 + numbers * (kMaxDoubleText + 1); }

char* put_number(char* out, double value) {
  *out = ' ';
  return format_double(out + 1, value);
}

char* put_vector(char* out, const Vec3& value) {
  return put_number(put_number(put_number(out, value.x), value.y), value.z);
}

void end_line(Text& text, char* out) {
  *out++ = '\n';
  text.size = static_cast<std::size_t>(out - text.begin());
}

bool present(const std::vector<double>& list, std::size_t i) { return !list.empty() && !std::isnan(list[i]); }

void format_position(const SourceMesh& mesh, std::size_t i, Text& text) {
  char* out = text.room(line_room(7));
  *out++ = 'v';
  out = put_vector(out, mesh.positions[i]);
  if (!mesh.colours.empty() && !std::isnan(mesh.colours[i].x)) {
    out = put_vector(out, mesh.colours[i]);
    if (present(mesh.colour_alpha, i)) out = put_number(out, mesh.colour_alpha[i]);
  } else if (present(mesh.position_weights, i)) {
    out = put_number(out, mesh.position_weights[i]);
  }
  end_line(text, out);
}

void format_texcoord(const SourceMesh& mesh, std::size_t i, Text& text) {
  char* out = text.room(line_room(3));
  *out++ = 'v';
  *out++ = 't';
  out = put_number(put_number(out, mesh.texcoords[i].x), mesh.texcoords[i].y);
  if (present(mesh.texcoord_w, i)) out = put_number(out, mesh.texcoord_w[i]);
  end_line(text, out);
}

void format_normal(const SourceMesh& mesh, std::size_t i, Text& text) {
  char* out = text.room(line_room(3));
  *out++ = 'v';
  *out++ = 'n';
  end_line(text, put_vector(out, mesh.normals[i]));
}

// --- names and states -------------------------------------------------------------------------------------------

void put_text(Text& text, std::string_view words) { text.append(words.data(), words.size()); }

/// A name on one line: line breaks become blanks, and a last backslash gets a blank so that it continues nothing.
void put_name(Text& text, std::string_view keyword, const std::vector<std::string>& table, Index i) {
  put_text(text, keyword);
  if (i != kNone && !table[i].empty()) {
    text.push(' ');
    for (const char c : table[i]) text.push(obj::is_line_end(c) ? ' ' : c);
    if (table[i].back() == '\\') text.push(' ');
  }
  text.push('\n');
}

void put_change(const SourceMesh& mesh, const FaceState& from, const FaceState& to, Text& text) {
  const auto put = [&](std::string_view keyword, const std::vector<std::string>& names, Index before, Index after) {
    if (before == after || (before != kNone && after != kNone && names[before] == names[after])) return;
    put_name(text, keyword, names, after);
  };
  put("o", mesh.objects, from.object, to.object);
  put("g", mesh.groups, from.group, to.group);
  put("usemtl", mesh.materials, from.material, to.material);
  put("s", mesh.smoothings, from.smoothing, to.smoothing);
}

// --- faces ------------------------------------------------------------------------------------------------------

constexpr std::size_t kCornerRoom = 3 * (kMaxWholeText + 1);
constexpr std::size_t kWordRoom = 16;  // copied at a time, though a number is shorter

void put_face(const Content& content, Index f, Text& text) {
  const SourceMesh& mesh = content.mesh;
  const Index first = mesh.face_offsets[f];
  const Index last = mesh.face_offsets[f + 1];
  char* out = text.room(2 + kCornerRoom * (last - first) + kWordRoom);
  *out++ = 'f';
  for (Index c = first; c < last; ++c) {
    const Index position = content.position(mesh.corner_position[c]);
    const Index texcoord = mesh.corner_texcoord.empty() ? kNone : content.texcoord(mesh.corner_texcoord[c]);
    const Index normal = mesh.corner_normal.empty() ? kNone : content.normal(mesh.corner_normal[c]);
    *out++ = ' ';
    const char* const word = out;
    out = format_whole(out, position + 1);
    if (texcoord == kNone && normal == kNone) continue;
    // Most exporters number all three alike: the digits are then copied.
    const auto digits = static_cast<std::size_t>(out - word);
    const auto put = [&](Index index) {
      if (index != position) {
        out = format_whole(out, index + 1);
      } else {
        char copy[kWordRoom];
        std::memcpy(copy, word, kWordRoom);
        std::memcpy(out, copy, kWordRoom);
        out += digits;
      }
    };
    *out++ = '/';
    if (texcoord != kNone) put(texcoord);
    if (normal == kNone) continue;
    *out++ = '/';
    put(normal);
  }
  end_line(text, out);
}

void put_loose(const Content& content, const LooseElement& element, Text& text) {
  char* out = text.room(2 + kCornerRoom * element.vertices.size());
  *out++ = element.kind == ElementKind::Line ? 'l' : 'p';
  for (std::size_t i = 0; i < element.vertices.size(); ++i) {
    *out++ = ' ';
    out = format_whole(out, content.position(element.vertices[i]) + 1);
    if (element.texcoords.empty() || element.texcoords[i] == kNone) continue;
    *out++ = '/';
    out = format_whole(out, content.texcoord(element.texcoords[i]) + 1);
  }
  end_line(text, out);
}

/// Faces [first, last) with the loose elements and state changes before each, and what follows the last face.
/// @pre loose elements are in order of before_face.
void put_faces(const Content& content, std::size_t first, std::size_t last, Text& text) {
  const SourceMesh& mesh = content.mesh;
  const std::vector<Index>& loose_at = content.loose_before_face;
  auto loose = static_cast<std::size_t>(std::lower_bound(loose_at.begin(), loose_at.end(), first) - loose_at.begin());
  FaceState now;  // what the lines before left in force: the last thing before a piece is always a face
  if (first > 0) now = state_of(mesh, content.faces[first - 1]);
  auto run = mesh.states.begin();
  if (first < last) {
    run = std::upper_bound(mesh.states.begin(), mesh.states.end(), content.faces[first],
                           [](Index f, const StateRun& r) { return f < r.first_face; });
  }
  FaceState face_state = run == mesh.states.begin() ? FaceState{} : std::prev(run)->state;
  const bool at_end = last == content.faces.count;
  for (std::size_t i = first; i < last || at_end; ++i) {
    for (; loose < loose_at.size() && loose_at[loose] <= i; ++loose) {
      const LooseElement& element = mesh.loose[content.loose[loose]];
      put_change(mesh, now, element.state, text);
      now = element.state;
      put_loose(content, element, text);
    }
    if (i >= last) break;
    const Index f = content.faces[i];
    while (run != mesh.states.end() && run->first_face <= f) face_state = (run++)->state;
    put_change(mesh, now, face_state, text);
    now = face_state;
    put_face(content, f, text);
  }
}

void put_top(const SourceMesh& mesh, const std::string& header, Text& text) {
  for (std::size_t first = 0; first < header.size();) {
    const std::size_t stop = std::min(header.find_first_of("\r\n", first), header.size());
    put_text(text, "# ");
    put_text(text, std::string_view(header).substr(first, stop - first));
    text.push('\n');
    first = stop + 1;
  }
  for (Index i = 0; i < mesh.material_libraries.size(); ++i) put_name(text, "mtllib", mesh.material_libraries, i);
}

// --- pieces -----------------------------------------------------------------------------------------------------

struct Writer {
  const Content content;
  const ObjWriteOptions& options;
  const TextSink& sink;
  ScratchPool<Piece> pool;
};

Result<void> hand_over(const Writer& writer, const Text& text) {
  if (text.empty()) return {};
  return writer.sink(std::string_view(text.begin(), text.size));
}

/// put(first, last, text) for pieces of [0, count), in order.
template <class Put>
Result<void> write_section(Writer& writer, std::size_t count, Put put) {
  const auto make = [&](std::size_t i, Piece& piece) {
    piece.text.clear();
    put(i * kItemsInPiece, std::min(count, (i + 1) * kItemsInPiece), piece.text);
  };
  return make_in_order(writer.options.executor, (count + kItemsInPiece - 1) / kItemsInPiece, writer.pool, make,
                       [&](const Piece& piece) { return hand_over(writer, piece.text); });
}

template <class Format>
Result<void> write_elements(Writer& writer, std::size_t kind, std::size_t all, Format format) {
  const Content& content = writer.content;
  const SourceText* const text = content.mesh.text.get();
  if (writer.options.splice && text != nullptr && text->count[kind] == all)
    return obj::splice(content.mesh, kind, content.elements[kind], writer.options.executor, writer.pool, writer.sink);
  const Selection& selection = content.elements[kind];
  if (kind == 2 && selection.count != 0 && content.mesh.normals.empty()) {
    return Error{ErrorCode::Internal, "the numbers of its normals are in its text, which is not to be spliced",
                 content.mesh.file, 0};
  }
  return write_section(writer, selection.count, [&](std::size_t first, std::size_t last, Text& out) {
    for (std::size_t i = first; i < last; ++i) format(content.mesh, selection[i], out);
  });
}

Result<void> write_faces(Writer& writer) {
  const Content& content = writer.content;
  if (content.faces.count == 0) {
    Text text;
    put_faces(content, 0, 0, text);
    return hand_over(writer, text);
  }
  return write_section(writer, content.faces.count,
                       [&](std::size_t first, std::size_t last, Text& text) { put_faces(content, first, last, text); });
}

}  // namespace

Result<void> write_obj(const SourceMesh& mesh, const ObjWriteOptions& options, const TextSink& sink) {
  Writer writer{Content(mesh, options.part), options, sink, {}};
  Text top;
  put_top(mesh, options.header, top);
  Result<void> good = hand_over(writer, top);
  if (good) good = write_elements(writer, 0, mesh.positions.size(), format_position);
  if (good) good = write_elements(writer, 1, mesh.texcoords.size(), format_texcoord);
  if (good) good = write_elements(writer, 2, normal_count(mesh), format_normal);
  if (good) good = write_faces(writer);
  return good;
}

std::string write_obj(const SourceMesh& mesh, const ObjWriteOptions& options) {
  std::string out;
  // A fair guess; more is only address space.
  out.reserve(48 * (mesh.positions.size() + mesh.normals.size()) + 28 * mesh.texcoords.size() +
              24 * mesh.corner_position.size());
  advise_large_pages(out.data(), out.capacity(), out.capacity() / 4);
  const TextSink sink = sink_into(out);
  if (write_obj(mesh, options, sink)) return out;
  // The text is not there any more; appending to a string does not fail.
  out.clear();
  ObjWriteOptions without = options;
  without.splice = false;
  static_cast<void>(write_obj(mesh, without, sink));
  return out;
}

}  // namespace trimtack
