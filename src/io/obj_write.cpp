// SPDX-License-Identifier: MIT
// Statements that the mesh was read from are copied from its text, run by run; the rest is formatted. The file is made
// in pieces that do not depend on the executor, some at a time, in buffers that are used again.
#include <algorithm>
#include <cmath>
#include <cstring>
#include <string>
#include <vector>

#include "core/memory.hpp"
#include "core/text_number.hpp"
#include "io/obj_text.hpp"
#include "trimtack/io/obj.hpp"

namespace trimtack {
namespace {

constexpr std::size_t kItemsInPiece = std::size_t{1} << 12;
constexpr std::size_t kPiecesInWave = 16;

using Text = Buffer<char>;

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

/// Copies statements [first, last) from the source, whole runs where they follow each other.
void splice(const SourceText& source, const std::vector<std::uint64_t>& at, std::size_t first, std::size_t last,
            Text& text) {
  const char* const bytes = source.bytes.data();
  const char* const end = bytes + source.bytes.size();
  for (std::size_t i = first; i < last;) {
    const char* const begin = bytes + at[i];
    const char* stop = obj::statement_end(begin, end, true);
    ++i;
    // Within two characters of a line end only that line end, or one blank after it, can stand.
    while (i < last && bytes + at[i] > stop && bytes + at[i] - stop <= 2) {
      stop = obj::statement_end(bytes + at[i], end, true);
      ++i;
    }
    text.append(begin, static_cast<std::size_t>(stop - begin));
    // A last continuation that ends in CR must not take the LF that follows for its own.
    if (stop[-1] == '\r') text.push(' ');
    text.push('\n');
  }
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
  if (from.object != to.object) put_name(text, "o", mesh.objects, to.object);
  if (from.group != to.group) put_name(text, "g", mesh.groups, to.group);
  if (from.material != to.material) put_name(text, "usemtl", mesh.materials, to.material);
  if (from.smoothing != to.smoothing) put_name(text, "s", mesh.smoothings, to.smoothing);
}

// --- faces ------------------------------------------------------------------------------------------------------

constexpr std::size_t kCornerRoom = 3 * (kMaxWholeText + 1);
constexpr std::size_t kWordRoom = 16;  // copied at a time, though a number is shorter

void put_face(const SourceMesh& mesh, Index f, Text& text) {
  const Index first = mesh.face_offsets[f];
  const Index last = mesh.face_offsets[f + 1];
  char* out = text.room(2 + kCornerRoom * (last - first) + kWordRoom);
  *out++ = 'f';
  for (Index c = first; c < last; ++c) {
    const Index position = mesh.corner_position[c];
    const Index texcoord = mesh.corner_texcoord.empty() ? kNone : mesh.corner_texcoord[c];
    const Index normal = mesh.corner_normal.empty() ? kNone : mesh.corner_normal[c];
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

void put_loose(const LooseElement& element, Text& text) {
  char* out = text.room(2 + kCornerRoom * element.vertices.size());
  *out++ = element.kind == ElementKind::Line ? 'l' : 'p';
  for (std::size_t i = 0; i < element.vertices.size(); ++i) {
    *out++ = ' ';
    out = format_whole(out, element.vertices[i] + 1);
    if (element.texcoords.empty() || element.texcoords[i] == kNone) continue;
    *out++ = '/';
    out = format_whole(out, element.texcoords[i] + 1);
  }
  end_line(text, out);
}

std::size_t first_loose_at(const SourceMesh& mesh, Index face) {
  const auto at = std::lower_bound(mesh.loose.begin(), mesh.loose.end(), face,
                                   [](const LooseElement& e, Index f) { return e.before_face < f; });
  return static_cast<std::size_t>(at - mesh.loose.begin());
}

/// Faces [first, last) with the loose elements and state changes before each, and what follows the last face.
/// @pre loose elements are in order of before_face.
void put_faces(const SourceMesh& mesh, Index first, Index last, Text& text) {
  std::size_t loose = first_loose_at(mesh, first);
  FaceState now;  // what the lines before left in force: the last thing before a piece is always a face
  if (first > 0) now = state_of(mesh, first - 1);
  auto run = std::upper_bound(mesh.states.begin(), mesh.states.end(), first,
                              [](Index f, const StateRun& r) { return f < r.first_face; });
  FaceState face_state = run == mesh.states.begin() ? FaceState{} : std::prev(run)->state;
  const bool at_end = last == mesh.face_count();
  for (Index f = first; f < last || at_end; ++f) {
    for (; loose < mesh.loose.size() && mesh.loose[loose].before_face <= f; ++loose) {
      put_change(mesh, now, mesh.loose[loose].state, text);
      now = mesh.loose[loose].state;
      put_loose(mesh.loose[loose], text);
    }
    if (f >= last) break;
    while (run != mesh.states.end() && run->first_face <= f) face_state = (run++)->state;
    put_change(mesh, now, face_state, text);
    now = face_state;
    put_face(mesh, f, text);
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
  const SourceMesh& mesh;
  const ObjWriteOptions& options;
  const ObjSink& sink;
  std::vector<Text> wave;
};

Result<void> hand_over(Writer& writer, const Text& text) {
  if (text.empty()) return {};
  return writer.sink(std::string_view(text.begin(), text.size));
}

/// put(first, last, text) for pieces of [0, count), in order.
template <class Put>
Result<void> write_section(Writer& writer, std::size_t count, Put put) {
  constexpr std::size_t kItemsInWave = kItemsInPiece * kPiecesInWave;
  for (std::size_t start = 0; start < count; start += kItemsInWave) {
    const std::size_t items = std::min(kItemsInWave, count - start);
    for_ranges(writer.options.executor, items, kItemsInPiece, [&](std::size_t first, std::size_t last) {
      Text& text = writer.wave[first / kItemsInPiece];
      text.clear();
      put(start + first, start + last, text);
    });
    for (std::size_t piece = 0; piece * kItemsInPiece < items; ++piece) {
      if (Result<void> good = hand_over(writer, writer.wave[piece]); !good) return good;
    }
  }
  return {};
}

template <class Format>
Result<void> write_elements(Writer& writer, std::size_t count, const std::vector<std::uint64_t> SourceText::*offsets,
                            Format format) {
  const SourceMesh& mesh = writer.mesh;
  if (writer.options.splice && mesh.text != nullptr && ((*mesh.text).*offsets).size() == count) {
    return write_section(writer, count, [&](std::size_t first, std::size_t last, Text& text) {
      splice(*mesh.text, (*mesh.text).*offsets, first, last, text);
    });
  }
  return write_section(writer, count, [&](std::size_t first, std::size_t last, Text& text) {
    for (std::size_t i = first; i < last; ++i) format(mesh, i, text);
  });
}

Result<void> write_faces(Writer& writer) {
  const SourceMesh& mesh = writer.mesh;
  if (mesh.face_count() == 0) {
    writer.wave[0].clear();
    put_faces(mesh, 0, 0, writer.wave[0]);
    return hand_over(writer, writer.wave[0]);
  }
  return write_section(writer, mesh.face_count(), [&](std::size_t first, std::size_t last, Text& text) {
    put_faces(mesh, static_cast<Index>(first), static_cast<Index>(last), text);
  });
}

}  // namespace

Result<void> write_obj(const SourceMesh& mesh, const ObjWriteOptions& options, const ObjSink& sink) {
  Writer writer{mesh, options, sink, std::vector<Text>(kPiecesInWave)};
  put_top(mesh, options.header, writer.wave[0]);
  if (Result<void> good = hand_over(writer, writer.wave[0]); !good) return good;
  Result<void> good = write_elements(writer, mesh.positions.size(), &SourceText::position_at, format_position);
  if (good) good = write_elements(writer, mesh.texcoords.size(), &SourceText::texcoord_at, format_texcoord);
  if (good) good = write_elements(writer, mesh.normals.size(), &SourceText::normal_at, format_normal);
  if (good) good = write_faces(writer);
  return good;
}

std::string write_obj(const SourceMesh& mesh, const ObjWriteOptions& options) {
  std::string out;
  // A fair guess; more is only address space.
  out.reserve(48 * (mesh.positions.size() + mesh.normals.size()) + 28 * mesh.texcoords.size() +
              24 * mesh.corner_position.size());
  advise_large_pages(out.data(), out.capacity());
  const Result<void> done = write_obj(mesh, options, [&](std::string_view piece) -> Result<void> {
    out += piece;
    return {};
  });
  static_cast<void>(done);  // appending to a string does not fail
  return out;
}

}  // namespace trimtack
