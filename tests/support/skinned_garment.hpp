// SPDX-License-Identifier: MIT
/// A skinned, animated garment as a game engine's artist would hand it over, made by code: a strip of cloth on two
/// joints with a tetrahedral clasp whose own weights make it bend.
#pragma once

#include <array>
#include <string>
#include <vector>

#include "trimtack/types.hpp"

namespace trimtack::test {

struct SkinnedOptions {
  bool one_primitive = false;   ///< clasp and cloth in one primitive, told apart by connectivity alone
  bool as_text = false;         ///< glTF JSON with its buffer as a data URI, instead of GLB
  bool narrow_weights = false;  ///< weights as normalised bytes
  bool cubic = false;           ///< a spline with zero tangents instead of straight keys
};

struct SkinnedGarment {
  std::string bytes;
  std::vector<Vec3> positions;       ///< as modelled; the scene stands 0.2 higher
  std::vector<double> upper_weight;  ///< of the second joint
  std::size_t cloth_vertices = 0, cloth_triangles = 0, clasp_triangles = 0;
};

constexpr double kSkinnedSeconds = 1.0;  ///< length of the animation: the upper joint turns by 90 degrees
constexpr double kSkinnedRaise = 0.2;    ///< height of the rig
constexpr double kSkinnedKnee = 0.5;     ///< height of the upper joint in the rig

SkinnedGarment make_skinned_garment(const SkinnedOptions& options);

/// Angle of the upper joint at a time: linear keys, or smoothed by the spline.
double skinned_angle(double seconds);
/// Where linear blend skinning puts a vertex, in closed form.
Vec3 skinned_point(const Vec3& p, double upper_weight, double angle);

}  // namespace trimtack::test
