// SPDX-License-Identifier: MIT
// Quoting: RFC 4180. Short-path quaternion keys: glTF 2.0 specification, appendix C (interpolation by slerp).
#include "trimtack/io/poses.hpp"

#include <array>
#include <bit>
#include <charconv>

namespace trimtack {
namespace {

static_assert(std::endian::native == std::endian::little, "array bytes are written in the machine's order");

template <class Number>
void append_number(std::string& out, Number value) {
  std::array<char, 32> text;
  const auto end = std::to_chars(text.data(), text.data() + text.size(), value).ptr;
  out.append(text.data(), end);
}

void append_field(std::string& out, double value) {
  out += ',';
  append_number(out, value);
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
    append_number(out, frame);
    out += ',';
    append_number(out, bindings[i].trim);
    out += ',';
    append_csv_field(out, bindings[i].name);
    const Vec3& t = pose.translation;
    std::array<std::size_t, 4> at;  // where the fields of the translation begin, and the next one
    for (int k = 0; k < 3; ++k) {
      at[static_cast<std::size_t>(k)] = out.size();
      append_field(out, t[k]);
    }
    at[3] = out.size();
    for (const double value : {q.x, q.y, q.z, q.w}) append_field(out, value);
    for (int row = 0; row < 3; ++row) {
      for (int column = 0; column < 3; ++column) append_field(out, pose.rotation(row, column));
      const auto k = static_cast<std::size_t>(row);
      out.append(out, at[k], at[k + 1] - at[k]);
    }
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
