// SPDX-License-Identifier: MIT
// Turk 1994, "The PLY Polygon File Format".
#include <algorithm>
#include <array>
#include <bit>
#include <charconv>
#include <cmath>
#include <cstdint>
#include <cstring>
#include <utility>

#include "io/corner_vertices.hpp"
#include "trimtack/io/ply.hpp"

namespace trimtack {
namespace {

static_assert(std::endian::native == std::endian::little, "binary numbers are written in the machine's order");

class Writer {
 public:
  explicit Writer(const PlyWriteOptions& options) : options_(options) {}

  std::string bytes;
  bool finite = true;

  void number(double value) {
    if (options_.float64) {
      put(value);
    } else {
      put(static_cast<float>(value));
    }
  }
  template <class Int>
  void integer(Int value) {
    if (options_.binary) {
      raw(value);
    } else {
      text(value);
    }
  }
  void end_row() {
    if (!options_.binary) bytes.back() = '\n';
  }

 private:
  template <class Number>
  void put(Number value) {
    finite = finite && std::isfinite(value);
    if (options_.binary) {
      raw(value);
    } else {
      text(value);
    }
  }
  template <class Number>
  void raw(Number value) {
    const auto item = std::bit_cast<std::array<char, sizeof value>>(value);
    bytes.append(item.data(), item.size());
  }
  template <class Number>
  void text(Number value) {
    std::array<char, 32> item;
    bytes.append(item.data(), std::to_chars(item.data(), item.data() + item.size(), value).ptr);
    bytes += ' ';
  }

  const PlyWriteOptions& options_;
};

std::uint8_t colour_byte(double value) {
  return static_cast<std::uint8_t>(std::isfinite(value) ? std::lround(std::clamp(value, 0.0, 1.0) * 255) : 255);
}

struct Contents {
  bool texcoords = false, normals = false, colours = false, small_faces = true;
};

std::string header_of(const SourceMesh& mesh, std::size_t vertices, const Contents& contents,
                      const PlyWriteOptions& options) {
  const std::string number = options.float64 ? "property double " : "property float ";
  std::string text = options.binary ? "ply\nformat binary_little_endian 1.0\n" : "ply\nformat ascii 1.0\n";
  if (!options.comment.empty()) text += "comment " + options.comment + "\n";
  text += "element vertex " + std::to_string(vertices) + "\n";
  for (const char* axis : {"x", "y", "z"}) text += number + axis + "\n";
  if (contents.normals) {
    for (const char* axis : {"nx", "ny", "nz"}) text += number + axis + "\n";
  }
  if (contents.texcoords) text += number + "s\n" + number + "t\n";
  if (contents.colours) text += "property uchar red\nproperty uchar green\nproperty uchar blue\n";
  text += "element face " + std::to_string(mesh.face_count()) + "\nproperty list ";
  text += contents.small_faces ? "uchar" : "uint";
  return text + " uint vertex_indices\nend_header\n";
}

}  // namespace

Result<std::string> write_ply(const SourceMesh& mesh, const PlyWriteOptions& options, std::span<const Vec3> positions) {
  Contents contents;
  contents.texcoords = options.corner_data && !mesh.corner_texcoord.empty();
  contents.normals = options.corner_data && !mesh.corner_normal.empty() && positions.empty();
  contents.colours = !mesh.colours.empty();
  const bool split = contents.texcoords || contents.normals;
  CornerVertices corners;
  if (split) corners = split_corners(mesh, contents.texcoords, contents.normals);
  const std::span<const Vec3> points = positions.empty() ? std::span<const Vec3>(mesh.positions) : positions;
  const std::size_t vertices = split ? corners.vertices.size() : points.size();
  for (Index f = 0; f < mesh.face_count(); ++f)
    contents.small_faces = contents.small_faces && mesh.face(f).size() < 256;

  Writer writer(options);
  writer.bytes = header_of(mesh, vertices, contents, options);
  for (std::size_t i = 0; i < vertices; ++i) {
    const CornerVertex vertex = split ? corners.vertices[i] : CornerVertex{static_cast<Index>(i), kNone, kNone};
    const Vec3& p = points[vertex.position];
    for (const double value : {p.x, p.y, p.z}) writer.number(value);
    if (!writer.finite) {
      return Error{ErrorCode::BadInput,
                   "vertex " + std::to_string(vertex.position) + " is not finite; PLY cannot hold it", mesh.file, 0};
    }
    if (contents.normals) {
      const Vec3 n = vertex.normal == kNone ? Vec3{} : mesh.normals[vertex.normal];
      for (const double value : {n.x, n.y, n.z}) writer.number(value);
    }
    if (contents.texcoords) {
      const Vec2 t = vertex.texcoord == kNone ? Vec2{} : mesh.texcoords[vertex.texcoord];
      for (const double value : {t.x, t.y}) writer.number(value);
    }
    if (contents.colours) {
      const Vec3& c = mesh.colours[vertex.position];
      for (const double value : {c.x, c.y, c.z}) writer.integer(colour_byte(value));
    }
    writer.end_row();
  }
  for (Index f = 0; f < mesh.face_count(); ++f) {
    const std::size_t first = mesh.face_offsets[f], end = mesh.face_offsets[f + 1];
    if (contents.small_faces) {
      writer.integer(static_cast<std::uint8_t>(end - first));
    } else {
      writer.integer(static_cast<std::uint32_t>(end - first));
    }
    for (std::size_t c = first; c < end; ++c) writer.integer(split ? corners.of_corner[c] : mesh.corner_position[c]);
    writer.end_row();
  }
  if (!writer.finite) {
    return Error{ErrorCode::BadInput, "a normal or texture coordinate is not finite; PLY cannot hold it", mesh.file, 0};
  }
  return std::move(writer.bytes);
}

}  // namespace trimtack
