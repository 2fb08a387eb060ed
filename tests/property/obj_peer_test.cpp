// SPDX-License-Identifier: MIT
// Another reader of OBJ (tinyobjloader) must see the same positions, faces, texture coordinates, normals and materials:
// in random files and in what is written from them, spliced or formatted.
#include <tiny_obj_loader.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <sstream>

#include "support/random_obj.hpp"
#include "trimtack/io/obj.hpp"

using namespace trimtack;
using test::RandomObj;
using test::RandomObjOptions;

namespace {

constexpr std::uint64_t kSeeds = 300;

struct Peer {
  tinyobj::attrib_t attributes;
  std::vector<tinyobj::shape_t> shapes;
  std::vector<tinyobj::material_t> materials;
};

/// Gives the peer one material for every name that the files use.
class AnyMaterial : public tinyobj::MaterialReader {
 public:
  bool operator()(const std::string&, std::vector<tinyobj::material_t>* materials, std::map<std::string, int>* numbers,
                  std::string*, std::string*) override {
    for (const char* name : {"Front", "Back", "Sleeve", "Pocket_2", "horn24L"}) {
      if (numbers->count(name) != 0) continue;
      (*numbers)[name] = static_cast<int>(materials->size());
      materials->emplace_back();
      materials->back().name = name;
    }
    return true;
  }
};

Peer read_with_peer(const std::string& text) {
  Peer peer;
  std::string warnings;
  std::string errors;
  std::istringstream stream(text);
  AnyMaterial materials;
  const bool good =
      tinyobj::LoadObj(&peer.attributes, &peer.shapes, &peer.materials, &warnings, &errors, &stream, &materials, false);
  INFO(warnings << errors);
  REQUIRE(good);
  return peer;
}

bool close(double ours, tinyobj::real_t theirs) {
  return std::abs(ours - static_cast<double>(theirs)) <= 1e-6 * std::max(1.0, std::abs(ours));
}

int signed_index(const std::vector<Index>& list, Index corner) {
  return list.empty() || list[corner] == kNone ? -1 : static_cast<int>(list[corner]);
}

void compare_numbers(const SourceMesh& mesh, const Peer& peer) {
  REQUIRE(peer.attributes.vertices.size() == 3 * mesh.positions.size());
  REQUIRE(peer.attributes.texcoords.size() == 2 * mesh.texcoords.size());
  REQUIRE(peer.attributes.normals.size() == 3 * mesh.normals.size());
  bool same = true;
  for (std::size_t i = 0; i < mesh.positions.size(); ++i) {
    for (int k = 0; k < 3; ++k) {
      same = same && close(mesh.positions[i][k], peer.attributes.vertices[3 * i + static_cast<std::size_t>(k)]);
    }
  }
  for (std::size_t i = 0; i < mesh.texcoords.size(); ++i) {
    same = same && close(mesh.texcoords[i].x, peer.attributes.texcoords[2 * i]) &&
           close(mesh.texcoords[i].y, peer.attributes.texcoords[2 * i + 1]);
  }
  for (std::size_t i = 0; i < mesh.normals.size(); ++i) {
    for (int k = 0; k < 3; ++k) {
      same = same && close(mesh.normals[i][k], peer.attributes.normals[3 * i + static_cast<std::size_t>(k)]);
    }
  }
  CHECK(same);
}

void compare_faces(const SourceMesh& mesh, const Peer& peer) {
  Index face = 0;
  Index corner = 0;
  bool same = true;
  for (const tinyobj::shape_t& shape : peer.shapes) {
    for (std::size_t f = 0; f < shape.mesh.num_face_vertices.size(); ++f, ++face) {
      REQUIRE(face < mesh.face_count());
      same = same && shape.mesh.num_face_vertices[f] == mesh.face(face).size();
      const Index material = state_of(mesh, face).material;
      const int theirs = shape.mesh.material_ids[f];
      const std::string name = theirs < 0 ? "" : peer.materials[static_cast<std::size_t>(theirs)].name;
      same = same && name == (material == kNone ? "" : mesh.materials[material]);
    }
    for (const tinyobj::index_t& index : shape.mesh.indices) {
      REQUIRE(corner < mesh.corner_position.size());
      same = same && index.vertex_index == static_cast<int>(mesh.corner_position[corner]) &&
             index.texcoord_index == signed_index(mesh.corner_texcoord, corner) &&
             index.normal_index == signed_index(mesh.corner_normal, corner);
      ++corner;
    }
  }
  CHECK(same);
  CHECK(face == mesh.face_count());
  CHECK(corner == mesh.corner_position.size());
}

}  // namespace

TEST_CASE("another reader sees the same mesh in random files and in what is written from them") {
  for (std::uint64_t seed = 1; seed <= kSeeds; ++seed) {
    INFO("seed " << seed);
    RandomObjOptions options;
    options.plain = true;
    options.line = seed % 2 == 0 ? "\r\n" : "\n";
    const std::string text = RandomObj(seed, options).make();
    Report report;
    const Result<SourceMesh> mesh = parse_obj(text, "coat.obj", {}, report);
    if (!mesh) FAIL(to_text(mesh.error()));
    for (const std::string& version : {text, write_obj(*mesh, {}), write_obj(*mesh, {"", false, {}})}) {
      const Peer peer = read_with_peer(version);
      compare_numbers(*mesh, peer);
      compare_faces(*mesh, peer);
    }
  }
}
