// SPDX-License-Identifier: MIT
// Quoting: RFC 4180. Short-path quaternion keys: glTF 2.0 specification, appendix C (interpolation by slerp).
#include "trimtack/io/poses.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <charconv>

#include "core/shortest_decimal.hpp"

namespace trimtack {
namespace {

static_assert(std::endian::native == std::endian::little, "array bytes are written in the machine's order");

char* put_field(char* out, double value) {
  *out = ',';
  return format_shortest(out + 1, value);
}

void append_whole(std::string& out, std::uint64_t value) {
  std::array<char, 20> text;
  out.append(text.data(), std::to_chars(text.data(), text.data() + text.size(), value).ptr);
}

/// ",tx,ty,tz,qx,qy,qz,qw" and the matrix row by row; each number of the translation is put into text once.
void append_pose(std::string& out, const Vec3& t, const Quat& q, const Mat3& rotation) {
  std::array<char, 19 * (1 + kMaxShortestText)> text;
  char* end = text.data();
  std::array<const char*, 4> at;  // where the fields of the translation begin, and the next one
  for (int k = 0; k < 3; ++k) {
    at[static_cast<std::size_t>(k)] = end;
    end = put_field(end, t[k]);
  }
  at[3] = end;
  for (const double value : {q.x, q.y, q.z, q.w}) end = put_field(end, value);
  for (int row = 0; row < 3; ++row) {
    for (int column = 0; column < 3; ++column) end = put_field(end, rotation(row, column));
    const auto k = static_cast<std::size_t>(row);
    end = std::copy(at[k], at[k + 1], end);
  }
  out.append(text.data(), end);
}

}  // namespace

std::string poses_csv_header() {
  return "frame,trim,name,tx,ty,tz,qx,qy,qz,qw,m00,m01,m02,m03,m10,m11,m12,m13,m20,m21,m22,m23,quality\n";
}

void append_csv_field(std::string& out, std::string_view field) {
  if (field.find_first_of(",\"\r\n") == std::string_view::npos) {
    out += field;
    return;
  }
  out += '"';
  for (const char c : field) {
    if (c == '"') out += '"';
    out += c;
  }
  out += '"';
}

Quat short_path(const Quat& previous, const Quat& q) {
  const double d = previous.x * q.x + previous.y * q.y + previous.z * q.z + previous.w * q.w;
  return d < 0 ? Quat{-q.x, -q.y, -q.z, -q.w} : q;
}

void append_poses_csv(std::string& out, std::uint64_t frame, std::span<const Binding> bindings,
                      std::span<const Pose> poses, std::span<const char* const> quality, std::span<Quat> previous) {
  for (std::size_t i = 0; i < poses.size(); ++i) {
    const Pose& pose = poses[i];
    Quat q = to_quat(pose.rotation);
    if (!previous.empty()) q = previous[i] = short_path(previous[i], q);
    append_whole(out, frame);
    out += ',';
    append_whole(out, bindings[i].trim);
    out += ',';
    append_csv_field(out, bindings[i].name);
    append_pose(out, pose.translation, q, pose.rotation);
    out += ',';
    out += quality[i];
    out += '\n';
  }
}

void append_poses_npy(std::string& out, std::span<const Pose> poses) {
  std::array<double, 12> matrix;
  for (const Pose& pose : poses) {
    for (std::size_t row = 0; row < 3; ++row) {
      for (std::size_t column = 0; column < 3; ++column) matrix[row * 4 + column] = pose.rotation.m[row * 3 + column];
      matrix[row * 4 + 3] = pose.translation[static_cast<int>(row)];
    }
    out.append(reinterpret_cast<const char*>(matrix.data()), sizeof matrix);
  }
}

}  // namespace trimtack
