// SPDX-License-Identifier: MIT
/// Poses as text and as arrays: poses.csv rows, and the float64 array of shape (F, T, 3, 4) of poses.npy.
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <string_view>

#include "trimtack/table.hpp"
#include "trimtack/types.hpp"

namespace trimtack {

/// frame,trim,name,tx,ty,tz,qx,qy,qz,qw,m00,m01,m02,m03,m10,...,m23,quality and a line end.
std::string poses_csv_header();
/// Appends one row a binding, of a frame or of a part of it. Quaternions keep to the short path from `previous` when it
/// is given (one per binding; updated), so that successive keys have dot >= 0. Numbers are shortest round-trip
/// decimals; a name with a comma, a quote or a line end is quoted (RFC 4180). `quality` says how each pose was found,
/// one word a binding.
/// @pre poses and quality hold one entry per binding, previous none or one per binding (its first use: all zero
/// quaternions).
void append_poses_csv(std::string& out, std::uint64_t frame, std::span<const Binding> bindings,
                      std::span<const Pose> poses, std::span<const char* const> quality, std::span<Quat> previous = {});

/// Appends one frame of poses.npy: 12 doubles a pose, the row-major 3x4 matrix, little-endian. The array's header is
/// npy_header({F, T, 3, 4}, true).
void append_poses_npy(std::string& out, std::span<const Pose> poses);

/// Appends a CSV field: as it is, or quoted when it holds a comma, a quote or a line end (RFC 4180).
void append_csv_field(std::string& out, std::string_view field);

/// The same rotation with the sign that lies on `previous`' side (dot >= 0); `previous` zero leaves q alone.
Quat short_path(const Quat& previous, const Quat& q);

}  // namespace trimtack
