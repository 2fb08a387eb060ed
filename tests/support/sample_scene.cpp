// SPDX-License-Identifier: MIT
#include "support/sample_scene.hpp"

#include <cmath>

#include "support/png.hpp"

namespace trimtack::test {
namespace {

constexpr double kPi = 3.14159265358979323846;

Mat3 turn(const Vec3& axis, double angle) {
  const Vec3 a = normalized(axis);
  const double s = std::sin(angle / 2);
  return to_matrix({s * a.x, s * a.y, s * a.z, std::cos(angle / 2)});
}

void add_face(SourceMesh& mesh, const std::vector<Index>& vertices, const std::vector<Index>& texcoords) {
  for (std::size_t i = 0; i < vertices.size(); ++i) {
    mesh.corner_position.push_back(vertices[i]);
    mesh.corner_texcoord.push_back(texcoords[i]);
  }
  mesh.face_offsets.push_back(static_cast<Index>(mesh.corner_position.size()));
}

// Smooth normals per position, as a garment author's export has them.
void add_normals(SourceMesh& mesh) {
  mesh.normals.assign(mesh.positions.size(), Vec3{});
  for (Index f = 0; f < mesh.face_count(); ++f) {
    const std::span<const Index> face = mesh.face(f);
    const Vec3 n =
        cross(mesh.positions[face[1]] - mesh.positions[face[0]], mesh.positions[face[2]] - mesh.positions[face[0]]);
    for (const Index v : face) mesh.normals[v] += n;
  }
  for (Vec3& n : mesh.normals) n = normalized(n);
  mesh.corner_normal = mesh.corner_position;
}

SourceMesh make_cloth(const SampleOptions& o) {
  SourceMesh mesh;
  mesh.file = "cloth.obj";
  const int n = o.columns;
  const double step = 20 / o.mm_per_unit;
  for (int row = 0; row <= n; ++row) {
    for (int column = 0; column <= n; ++column) {
      const double x = (column - n / 2.0) * step, y = row * step;
      mesh.positions.push_back(o.offset + Vec3{x, y, 0.002 * x * x / step});
      mesh.texcoords.push_back({column / static_cast<double>(n) + (row > n / 2 ? 1 : 0), row / static_cast<double>(n)});
    }
  }
  mesh.materials = {"twill", "lining cloth \"blue\""};
  for (int row = 0; row < n; ++row) {
    for (int column = 0; column < n; ++column) {
      const auto v = static_cast<Index>(row * (n + 1) + column);
      const auto w = static_cast<Index>(v + static_cast<Index>(n) + 1);
      if (row == 0 && column == 0) {  // two quads as one hexagon
        add_face(mesh, {v, v + 1, v + 2, w + 2, w + 1, w}, {v, v + 1, v + 2, w + 2, w + 1, w});
      } else if (row != 0 || column != 1) {
        add_face(mesh, {v, v + 1, w + 1, w}, {v, v + 1, w + 1, w});
      }
    }
  }
  mesh.states = {{0, {kNone, kNone, kNone, 0}}, {mesh.face_count() / 2, {kNone, kNone, kNone, 1}}};
  if (o.normals) add_normals(mesh);
  return mesh;
}

SourceMesh make_button(const SampleOptions& o) {
  SourceMesh mesh;
  mesh.file = "trims.obj";
  const double r = 7.5 / o.mm_per_unit, h = 3 / o.mm_per_unit;
  constexpr int kSides = 12;
  std::vector<Index> bottom, top;
  for (int i = 0; i < kSides; ++i) {
    const double angle = 2 * kPi * i / kSides;
    for (const double z : {-h / 2, h / 2}) {
      mesh.positions.push_back({r * std::cos(angle), r * std::sin(angle), z});
      mesh.texcoords.push_back({0.5 + 0.5 * std::cos(angle), 0.5 + 0.5 * std::sin(angle)});
    }
    top.push_back(static_cast<Index>(2 * i + 1));
    bottom.insert(bottom.begin(), static_cast<Index>(2 * i));
  }
  add_face(mesh, top, top);
  add_face(mesh, bottom, bottom);
  for (Index i = 0; i < kSides; ++i) {
    const Index j = (i + 1) % kSides;
    add_face(mesh, {2 * i, 2 * j, 2 * j + 1, 2 * i + 1}, {2 * i, 2 * j, 2 * j + 1, 2 * i + 1});
  }
  mesh.materials = {"horn"};
  mesh.states = {{0, {kNone, kNone, kNone, 0}}};
  return mesh;
}

// A hook without any symmetry; mirrored = -1 reflects it along x and turns its faces over.
SourceMesh make_hook(const SampleOptions& o, double mirrored) {
  SourceMesh mesh;
  mesh.file = "trims.obj";
  for (const Vec3& p : {Vec3{0, 0, 0}, Vec3{9, 1, 0}, Vec3{2, 5, 0.5}, Vec3{1, 2, 4}}) {
    mesh.positions.push_back((1 / o.mm_per_unit) * Vec3{mirrored * p.x, p.y, p.z});
    mesh.texcoords.push_back({p.x / 9, p.y / 5});
  }
  for (const Tri& t : {Tri{0, 2, 1}, Tri{0, 1, 3}, Tri{1, 2, 3}, Tri{2, 0, 3}}) {
    const std::vector<Index> face =
        mirrored < 0 ? std::vector<Index>{t[2], t[1], t[0]} : std::vector<Index>{t[0], t[1], t[2]};
    add_face(mesh, face, face);
  }
  mesh.materials = {"brass"};
  mesh.states = {{0, {kNone, kNone, kNone, 0}}};
  return mesh;
}

}  // namespace

SampleScene::SampleScene(const SampleOptions& o) : options(o), cloth(make_cloth(o)) {
  scene.name = "chore coat";
  scene.cloth = &cloth;
  scene.unit.mm_per_unit = o.mm_per_unit;
  scene.up = o.up;
  scene.shapes = {make_button(o), make_hook(o, 1), make_hook(o, -1)};
  scene.shape_names = {"button 24L", "hook", "hook_mirrored"};
  scene.materials = {{"twill", {0.1, 0.2, 0.3}, 1, 0, 0.9, {0, 0, 0}},
                     {"brass", {0.8, 0.6, 0.2}, 0.5, 1, 0.3, {0.1, 0, 0}}};
  if (o.pictures) {
    scene.pictures = {{"twill.png", checkered_png(8, 40), false},
                      {"twill_normal.png", checkered_png(4, 128), false},
                      {"horn_gloss.png", checkered_png(4, 7), false}};
    scene.materials.push_back({"horn", {1, 0.5, 1}, 1, 0, 0.4, {0, 0, 0}});
    scene.materials[0].maps[0].picture = scene.materials[2].maps[0].picture = 0;
    scene.materials[0].maps[2].picture = 1;
    scene.materials[2].cut_out = true;
    scene.materials[2].maps[3].picture = 2;
    scene.materials[2].metallic_of_picture = 0.25;
    scene.materials[2].roughness_of_picture = 0.5;
  }
  const auto place = [&](const std::string& name, Index shape, double scale) {
    const auto i = static_cast<double>(scene.trims.size());
    Scene::Placed placed;
    placed.name = name;
    placed.trim = static_cast<Index>(100 + scene.trims.size());
    placed.shape = shape;
    placed.mirrored = shape == 2;
    placed.scale = scale;
    placed.placement.rotation = turn({0.3, -0.5, 1 + i}, 0.4 * i);
    placed.placement.translation = o.offset + (1 / o.mm_per_unit) * Vec3{10 * i - 20, 15 * i + 7, 2};
    scene.trims.push_back(placed);
  };
  place("front button 1", 0, 1);
  place("front button 2", 0, 1);
  if (o.scaled) place("cuff button", 0, 0.5);
  place("hook left", 1, 1);
  if (o.mirrored) place("hook right", 2, 1);
  for (int i = 0; i < o.frames; ++i) scene.frame_numbers.push_back(static_cast<std::uint64_t>(10 + 2 * i));
  scene.frame = [this](std::size_t i, std::span<Vec3> positions, std::span<Pose> poses) -> Result<void> {
    const std::vector<Vec3> moved = cloth_at(i);
    const std::vector<Pose> posed = poses_at(i);
    std::copy(moved.begin(), moved.end(), positions.begin());
    std::copy(posed.begin(), posed.end(), poses.begin());
    return {};
  };
}

std::vector<Vec3> SampleScene::cloth_at(std::size_t frame) const {
  std::vector<Vec3> moved = cloth.positions;
  const double unit = 1 / options.mm_per_unit, amount = static_cast<double>(frame + 1);
  for (Vec3& p : moved) {
    const Vec3 local = p - options.offset;
    p += unit * Vec3{0, amount, 5 * std::sin(0.02 * local.y / unit + amount)};
  }
  return moved;
}

std::vector<Pose> SampleScene::poses_at(std::size_t frame) const {
  std::vector<Pose> poses;
  const double around = options.frames > 1 ? 2 * kPi * static_cast<double>(frame) / (options.frames - 1) : 0.7;
  for (const Scene::Placed& placed : scene.trims) {
    Pose pose;
    pose.rotation = turn({1, 2, 3.0 + placed.trim}, around);
    const Vec3 centre = placed.placement.translation;
    const Vec3 moved = centre + (1 / options.mm_per_unit) * Vec3{static_cast<double>(frame), 3 * std::sin(around), -1};
    pose.translation = moved - pose.rotation * centre;
    poses.push_back(pose);
  }
  return poses;
}

}  // namespace trimtack::test
