// SPDX-License-Identifier: MIT
/// Nodes of a glTF scene in motion.
#pragma once

#include <array>
#include <cstddef>
#include <string>
#include <vector>

#include "io/gltf_document.hpp"
#include "trimtack/types.hpp"

namespace trimtack::gltf {

/// x -> linear * x + offset
struct Affine {
  Mat3 linear;
  Vec3 offset;
  Vec3 operator()(const Vec3& p) const { return linear * p + offset; }
};
Affine operator*(const Affine& a, const Affine& b);
/// From 16 column-major numbers (the last row is taken as 0 0 0 1).
Affine from_matrix(const double* columns);

struct NodeState {
  Vec3 translation;
  Quat rotation;
  Vec3 scale{1, 1, 1};
  bool has_matrix = false;
  Affine matrix;
  std::vector<double> weights;  ///< of morph targets
};

struct Node {
  std::string name;
  std::size_t parent = ~std::size_t{0};
  NodeState rest;
};

enum class Path : std::uint8_t { Translation, Rotation, Scale, Weights };
enum class Curve : std::uint8_t { Step, Linear, CubicSpline };

struct Channel {
  std::size_t node = 0;
  Path path = Path::Translation;
  Curve curve = Curve::Linear;
  std::vector<double> times;  ///< strictly ascending seconds
  std::size_t width = 3;      ///< numbers of a key
  std::vector<double> values;
};

struct Animation {
  std::string name;
  std::size_t index = 0;  ///< in the document
  std::vector<Channel> channels;
  double first = 0, last = 0;  ///< seconds of the first and last key
};

struct Skeleton {
  std::vector<Node> nodes;
  std::vector<std::size_t> order;  ///< nodes of the scene, parents first
  std::vector<Animation> animations;
};

/// The nodes below the document's scene (the first one where none is chosen), and all animations.
/// @error BadInput for nodes with two parents or in a ring, numbers that are not finite, and animations whose times do
/// not ascend or whose keys do not match them. Channels of unknown paths are left out.
Result<Skeleton> read_skeleton(const Document& document);

/// Local states at a time of an animation (clamped to its keys); `state` holds one entry a node, set to rest first.
void evaluate(const Skeleton& skeleton, const Animation* animation, double seconds, std::vector<NodeState>& state);

/// World transform of every node (the identity for those outside of the scene).
void world_transforms(const Skeleton& skeleton, const std::vector<NodeState>& state, std::vector<Affine>& world);

}  // namespace trimtack::gltf
