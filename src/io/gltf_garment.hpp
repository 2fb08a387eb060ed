// SPDX-License-Identifier: MIT
/// What a garment read from glTF is made of.
#pragma once

#include <cstddef>
#include <vector>

#include "io/gltf_pose.hpp"
#include "trimtack/io/gltf.hpp"

namespace trimtack::gltf {

struct Skin {
  std::vector<std::size_t> joints;  ///< nodes
  std::vector<Affine> inverse_bind;
};

/// Vertices that primitives of one node share: positions in mesh space, morph targets, influences.
struct VertexBlock {
  std::size_t node = 0, mesh = 0;
  std::size_t skin = ~std::size_t{0};
  Json attributes;
  Index first = 0;  ///< in the garment's mesh
  std::vector<Vec3> positions;
  std::vector<std::vector<double>> targets;  ///< 3 numbers a vertex
  std::size_t influences = 0;                ///< per vertex, a multiple of 4
  std::vector<Index> joints;                 ///< of the skin; < its number of joints
  std::vector<double> weights;               ///< sums 1
};

/// Faces of the garment's mesh that are one primitive of one node, from `first_face` on.
struct FaceRun {
  Index first_face = 0;
  std::size_t block = 0, mesh = 0, primitive = 0;
  bool flipped = false;        ///< the rest transform reflects: faces of the garment's mesh run the other way round
  std::vector<Tri> triangles;  ///< vertex numbers of the primitive, in the primitive's own direction
};

}  // namespace trimtack::gltf

namespace trimtack {

struct GltfGarment::Impl {
  gltf::Document document;
  std::filesystem::path folder;          ///< where files beside it are looked for; empty: nowhere
  std::vector<std::uint64_t> materials;  ///< glTF's number of each of the mesh's materials
  gltf::Skeleton skeleton;
  std::vector<gltf::Skin> skins;
  std::vector<gltf::VertexBlock> blocks;
  std::vector<gltf::FaceRun> runs;
  std::vector<gltf::Affine> rest;  ///< of each block: mesh space -> mesh()
  SourceMesh mesh;
  std::vector<Clip> clips;
};

}  // namespace trimtack
