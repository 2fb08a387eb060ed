// SPDX-License-Identifier: MIT
/// poses.csv rows (poses.npy is npy.hpp's float64 array of shape (F, T, 3, 4)).
#pragma once

#include <cstdint>
#include <span>
#include <string>

#include "trimtack/table.hpp"
#include "trimtack/types.hpp"

namespace trimtack {

/// frame,trim,name,tx,ty,tz,qx,qy,qz,qw,m00,m01,m02,m03,m10,...,m23
std::string poses_csv_header();
/// Appends one row a binding. Quaternions keep to the short path from `previous` when it is given (one per binding;
/// updated), so that successive keys have dot >= 0.
void append_poses_csv(std::string& out, std::uint64_t frame, const BindTable& table, std::span<const Pose> poses,
                      std::span<Quat> previous = {});

}  // namespace trimtack
