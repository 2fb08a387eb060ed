// SPDX-License-Identifier: MIT
// A whole export given for a cloth is told by the trims that are in it again.
#include "trimtack/trims_again.hpp"

#include <catch2/catch.hpp>
#include <cmath>

using namespace trimtack;

namespace {

void add_face(SourceMesh& mesh, std::initializer_list<Index> corners) {
  for (const Index v : corners) mesh.corner_position.push_back(v);
  mesh.face_offsets.push_back(static_cast<Index>(mesh.corner_position.size()));
}

/// A pyramid over a square, turned by `turn` about the upright.
void add_pyramid(SourceMesh& mesh, const Vec3& at, double size, double turn) {
  const auto first = static_cast<Index>(mesh.positions.size());
  for (int i = 0; i < 4; ++i) {
    const double angle = turn + i * std::acos(0.0);
    mesh.positions.push_back(at + size * Vec3{std::cos(angle), std::sin(angle), 0});
  }
  mesh.positions.push_back(at + size * Vec3{0, 0, 1});
  add_face(mesh, {first + 3, first + 2, first + 1, first});
  for (Index i = 0; i < 4; ++i) add_face(mesh, {first + i, first + (i + 1) % 4, first + 4});
}

/// The same with the vertices of every face by themselves, as exporters of normals leave them.
void split_vertices(SourceMesh& mesh) {
  std::vector<Vec3> positions;
  for (Index& v : mesh.corner_position) {
    positions.push_back(mesh.positions[v]);
    v = static_cast<Index>(positions.size() - 1);
  }
  mesh.positions = positions;
}

void add_sheet(SourceMesh& mesh, double size) {
  const auto first = static_cast<Index>(mesh.positions.size());
  for (const Vec3& p : {Vec3{0, 0, 0}, Vec3{1, 0, 0}, Vec3{1, 1, 0}, Vec3{0, 1, 0}}) mesh.positions.push_back(size * p);
  add_face(mesh, {first, first + 1, first + 2, first + 3});
}

struct Garment {
  SourceMesh mesh;
  Parts parts;
};

/// A sheet and two trims.
Garment garment() {
  Garment out;
  out.mesh.face_offsets = {0};
  add_sheet(out.mesh, 100);
  add_pyramid(out.mesh, {20, 20, 0}, 5, 0.1);
  add_pyramid(out.mesh, {60, 60, 0}, 5, 0.7);
  out.parts.components.resize(3);
  out.parts.components[1].role = out.parts.components[2].role = Role::Trim;
  out.parts.component_of_face = {0, 1, 1, 1, 1, 1, 2, 2, 2, 2, 2};
  return out;
}

}  // namespace

TEST_CASE("trims are seen again turned, moved and with split vertices") {
  const Garment before = garment();
  SourceMesh now;
  now.face_offsets = {0};
  add_pyramid(now, {10, 90, 30}, 5.2, 2);
  add_sheet(now, 120);
  add_pyramid(now, {40, 60, 30}, 5, 1);
  for (const bool split : {false, true}) {
    if (split) split_vertices(now);
    const TrimsAgain again = find_trims_again(before.mesh, before.parts, now);
    CHECK(again.wanted == 2);
    CHECK(again.seen == 2);
  }
}

TEST_CASE("parts of another size or of other faces are no trims, nor is what the cloth's own parts look like") {
  Garment before = garment();
  SourceMesh now;
  now.face_offsets = {0};
  add_sheet(now, 100);
  add_pyramid(now, {10, 90, 30}, 7, 2);
  CHECK(find_trims_again(before.mesh, before.parts, now).seen == 0);
  before.parts.components[2].role = Role::Cloth;
  const TrimsAgain again = find_trims_again(before.mesh, before.parts, before.mesh);
  CHECK(again.wanted == 1);
  CHECK(again.seen == 0);
}

TEST_CASE("a trim that was cut off its cloth along common places is no part that tells anything") {
  Garment before = garment();
  for (Vec3& p : before.mesh.positions)  // the sheet's corner becomes the first trim's tip
    if (p.x == 100 && p.y == 100) p = before.mesh.positions[8];
  CHECK(find_trims_again(before.mesh, before.parts, before.mesh).wanted == 1);
}
