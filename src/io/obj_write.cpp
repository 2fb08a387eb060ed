// SPDX-License-Identifier: MIT
// Statements that the mesh was read from are copied from its text, run by run; the rest is formatted. Each section is
// made in ranges that do not depend on the executor and joined in order.
#include <algorithm>
#include <charconv>
#include <cmath>
#include <string>
#include <vector>

#include "core/text_number.hpp"
#include "io/obj_text.hpp"
#include "trimtack/io/obj.hpp"

namespace trimtack {
namespace {

constexpr std::size_t kItemsPerRange = std::size_t{1} << 14;

/// Pieces of text made in parallel and kept in order.
using Pieces = std::vector<std::string>;

void put_number(std::string& out, double value) {
  char buffer[kMaxDoubleText];
  out += ' ';
  out.append(buffer, static_cast<std::size_t>(format_double(buffer, value) - buffer));
}

void put_index(std::string& out, Index index) {
  char buffer[12];
  out.append(buffer, static_cast<std::size_t>(
                         std::to_chars(buffer, buffer + sizeof buffer, std::uint64_t{index} + 1).ptr - buffer));
}

bool present(const std::vector<double>& list, std::size_t i) { return !list.empty() && !std::isnan(list[i]); }

void format_position(const SourceMesh& mesh, std::size_t i, std::string& out) {
  const Vec3& p = mesh.positions[i];
  out += 'v';
  for (int k = 0; k < 3; ++k) put_number(out, p[k]);
  if (!mesh.colours.empty() && !std::isnan(mesh.colours[i].x)) {
    for (int k = 0; k < 3; ++k) put_number(out, mesh.colours[i][k]);
    if (present(mesh.colour_alpha, i)) put_number(out, mesh.colour_alpha[i]);
  } else if (present(mesh.position_weights, i)) {
    put_number(out, mesh.position_weights[i]);
  }
  out += '\n';
}

void format_texcoord(const SourceMesh& mesh, std::size_t i, std::string& out) {
  out += "vt";
  put_number(out, mesh.texcoords[i].x);
  put_number(out, mesh.texcoords[i].y);
  if (present(mesh.texcoord_w, i)) put_number(out, mesh.texcoord_w[i]);
  out += '\n';
}

void format_normal(const SourceMesh& mesh, std::size_t i, std::string& out) {
  out += "vn";
  for (int k = 0; k < 3; ++k) put_number(out, mesh.normals[i][k]);
  out += '\n';
}

/// Copies statements [first, last) from the source, whole runs where they follow each other.
void splice(const SourceText& text, const std::vector<std::uint64_t>& at, std::size_t first, std::size_t last,
            std::string& out) {
  const char* const bytes = text.bytes.data();
  const char* const end = bytes + text.bytes.size();
  for (std::size_t i = first; i < last;) {
    const char* const begin = bytes + at[i];
    const char* stop = obj::statement_end(begin, end, true);
    ++i;
    // Within two characters of a line end only that line end, or one blank after it, can stand.
    while (i < last && bytes + at[i] > stop && bytes + at[i] - stop <= 2) {
      stop = obj::statement_end(bytes + at[i], end, true);
      ++i;
    }
    out.append(begin, stop);
    out += '\n';
  }
}

template <class Format>
Pieces write_elements(const SourceMesh& mesh, const ObjWriteOptions& options, std::size_t count,
                      const std::vector<std::uint64_t> SourceText::*offsets, Format format) {
  Pieces pieces((count + kItemsPerRange - 1) / kItemsPerRange);
  const bool from_text = options.splice && mesh.text != nullptr && ((*mesh.text).*offsets).size() == count;
  for_ranges(options.executor, count, kItemsPerRange, [&](std::size_t first, std::size_t last) {
    std::string& out = pieces[first / kItemsPerRange];
    if (from_text) {
      splice(*mesh.text, (*mesh.text).*offsets, first, last, out);
    } else {
      for (std::size_t i = first; i < last; ++i) format(mesh, i, out);
    }
  });
  return pieces;
}

/// A name on one line: line breaks become blanks, and a last backslash gets a blank so that it continues nothing.
void put_name(std::string& out, const char* keyword, const std::vector<std::string>& table, Index i) {
  out += keyword;
  if (i != kNone && !table[i].empty()) {
    out += ' ';
    for (const char c : table[i]) out += obj::is_line_end(c) ? ' ' : c;
    if (table[i].back() == '\\') out += ' ';
  }
  out += '\n';
}

void put_change(const SourceMesh& mesh, const FaceState& from, const FaceState& to, std::string& out) {
  if (from.object != to.object) put_name(out, "o", mesh.objects, to.object);
  if (from.group != to.group) put_name(out, "g", mesh.groups, to.group);
  if (from.material != to.material) put_name(out, "usemtl", mesh.materials, to.material);
  if (from.smoothing != to.smoothing) put_name(out, "s", mesh.smoothings, to.smoothing);
}

void put_face(const SourceMesh& mesh, Index f, std::string& out) {
  out += 'f';
  for (Index c = mesh.face_offsets[f]; c < mesh.face_offsets[f + 1]; ++c) {
    out += ' ';
    put_index(out, mesh.corner_position[c]);
    const Index texcoord = mesh.corner_texcoord.empty() ? kNone : mesh.corner_texcoord[c];
    const Index normal = mesh.corner_normal.empty() ? kNone : mesh.corner_normal[c];
    if (texcoord == kNone && normal == kNone) continue;
    out += '/';
    if (texcoord != kNone) put_index(out, texcoord);
    if (normal == kNone) continue;
    out += '/';
    put_index(out, normal);
  }
  out += '\n';
}

void put_loose(const LooseElement& element, std::string& out) {
  out += element.kind == ElementKind::Line ? 'l' : 'p';
  for (std::size_t i = 0; i < element.vertices.size(); ++i) {
    out += ' ';
    put_index(out, element.vertices[i]);
    if (element.texcoords.empty() || element.texcoords[i] == kNone) continue;
    out += '/';
    put_index(out, element.texcoords[i]);
  }
  out += '\n';
}

std::size_t first_loose_at(const SourceMesh& mesh, Index face) {
  const auto at = std::lower_bound(mesh.loose.begin(), mesh.loose.end(), face,
                                   [](const LooseElement& e, Index f) { return e.before_face < f; });
  return static_cast<std::size_t>(at - mesh.loose.begin());
}

/// Faces [first, last) with the loose elements and state changes before each, and what follows the last face.
/// @pre loose elements are in order of before_face.
void put_faces(const SourceMesh& mesh, Index first, Index last, std::string& out) {
  std::size_t loose = first_loose_at(mesh, first);
  // The state that the range before left behind: its last face's, or its last loose element's if that came later.
  FaceState now;
  if (first > 0) now = state_of(mesh, first - 1);
  auto run = std::upper_bound(mesh.states.begin(), mesh.states.end(), first,
                              [](Index f, const StateRun& r) { return f < r.first_face; });
  FaceState face_state = run == mesh.states.begin() ? FaceState{} : std::prev(run)->state;
  const bool at_end = last == mesh.face_count();
  for (Index f = first; f < last || at_end; ++f) {
    for (; loose < mesh.loose.size() && mesh.loose[loose].before_face <= f; ++loose) {
      put_change(mesh, now, mesh.loose[loose].state, out);
      now = mesh.loose[loose].state;
      put_loose(mesh.loose[loose], out);
    }
    if (f >= last) break;
    while (run != mesh.states.end() && run->first_face <= f) face_state = (run++)->state;
    put_change(mesh, now, face_state, out);
    now = face_state;
    put_face(mesh, f, out);
  }
}

Pieces write_faces(const SourceMesh& mesh, const ObjWriteOptions& options) {
  const std::size_t count = mesh.face_count();
  Pieces pieces(std::max<std::size_t>((count + kItemsPerRange - 1) / kItemsPerRange, 1));
  if (count == 0) put_faces(mesh, 0, 0, pieces[0]);
  for_ranges(options.executor, count, kItemsPerRange, [&](std::size_t first, std::size_t last) {
    put_faces(mesh, static_cast<Index>(first), static_cast<Index>(last), pieces[first / kItemsPerRange]);
  });
  return pieces;
}

std::string write_top(const SourceMesh& mesh, const std::string& header) {
  std::string out;
  for (std::size_t first = 0; first < header.size();) {
    const std::size_t stop = std::min(header.find_first_of("\r\n", first), header.size());
    out += "# " + header.substr(first, stop - first) + '\n';
    first = stop + 1;
  }
  for (Index i = 0; i < mesh.material_libraries.size(); ++i) put_name(out, "mtllib", mesh.material_libraries, i);
  return out;
}

}  // namespace

std::string write_obj(const SourceMesh& mesh, const ObjWriteOptions& options) {
  const Pieces sections[] = {
      {write_top(mesh, options.header)},
      write_elements(mesh, options, mesh.positions.size(), &SourceText::position_at, format_position),
      write_elements(mesh, options, mesh.texcoords.size(), &SourceText::texcoord_at, format_texcoord),
      write_elements(mesh, options, mesh.normals.size(), &SourceText::normal_at, format_normal),
      write_faces(mesh, options)};
  std::size_t size = 0;
  for (const Pieces& section : sections) {
    for (const std::string& piece : section) size += piece.size();
  }
  std::string out;
  out.reserve(size);
  for (const Pieces& section : sections) {
    for (const std::string& piece : section) out += piece;
  }
  return out;
}

}  // namespace trimtack
