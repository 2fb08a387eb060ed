// SPDX-License-Identifier: MIT
// Writes sample scenes, and beside each what a reader must find in it: triangle corners in metres and +Y up, computed
// in double straight from cloth, placements and poses. Readers in other languages compare.
#include <cstdint>
#include <cstdio>
#include <map>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "support/sample_scene.hpp"
#include "trimtack/io/file_set.hpp"
#include "trimtack/io/gltf.hpp"
#include "trimtack/io/usd.hpp"
#include "trimtack/mesh.hpp"

using namespace trimtack;

namespace {

// Corner numbers of all triangles, grouped by material in the order of first faces.
std::vector<Index> soup_of(const SourceMesh& mesh) {
  const Triangles cut = triangulate(view(mesh));
  std::vector<Index> order, soup;
  std::map<Index, std::vector<Index>> of_material;
  for (std::size_t t = 0; t < cut.triangles.size(); ++t) {
    const Index material = state_of(mesh, cut.face[t]).material;
    if (of_material.count(material) == 0) order.push_back(material);
    for (const Index corner : cut.corners[t]) of_material[material].push_back(corner);
  }
  for (const Index material : order) {
    soup.insert(soup.end(), of_material[material].begin(), of_material[material].end());
  }
  return soup;
}

struct Sample {
  std::string name;
  test::SampleOptions options;
  GlbWriteOptions glb;
  bool usd = true;
};

class Expected {
 public:
  explicit Expected(const test::SampleScene& sample) : sample_(sample) {}

  void add(std::span<const Vec3> cloth, std::span<const Pose> poses) {
    for (const Index corner : cloth_soup_) add_point(cloth[sample_.cloth.corner_position[corner]]);
    for (std::size_t t = 0; t < poses.size(); ++t) {
      const Scene::Placed& placed = sample_.scene.trims[t];
      const SourceMesh& shape = sample_.scene.shapes[placed.shape];
      for (const Index corner : soup_of(shape)) {
        add_point(
            apply(poses[t], apply(placed.placement, placed.scale * shape.positions[shape.corner_position[corner]])));
      }
    }
  }

  nlohmann::json describe() const {
    nlohmann::json json;
    const double metres = sample_.options.mm_per_unit / 1000;
    const Box box = bounds(sample_.cloth.positions);
    json["size"] = metres * length(box.max - box.min);
    json["frames"] = sample_.scene.frame_numbers;
    json["fps"] = sample_.scene.frames_per_second;
    json["cloth"] = {{"corners", cloth_soup_.size()}, {"texcoords", texcoords(sample_.cloth)}};
    json["trims"] = nlohmann::json::array();
    for (const Scene::Placed& placed : sample_.scene.trims) {
      const SourceMesh& shape = sample_.scene.shapes[placed.shape];
      json["trims"].push_back({{"name", placed.name},
                               {"trim", placed.trim},
                               {"shape", sample_.scene.shape_names[placed.shape]},
                               {"corners", soup_of(shape).size()},
                               {"texcoords", texcoords(shape)}});
    }
    return json;
  }
  std::string_view bytes() const {
    return {reinterpret_cast<const char*>(values_.data()), values_.size() * sizeof(double)};
  }

 private:
  void add_point(const Vec3& p) {
    const double metres = sample_.options.mm_per_unit / 1000;
    const Vec3 q = sample_.options.up == UpAxis::Y ? p : Vec3{p.x, p.z, -p.y};
    values_.insert(values_.end(), {metres * q.x, metres * q.y, metres * q.z});
  }
  static std::vector<double> texcoords(const SourceMesh& mesh) {
    std::vector<double> out;
    for (const Index corner : soup_of(mesh)) {
      const Vec2& uv = mesh.texcoords[mesh.corner_texcoord[corner]];
      out.push_back(uv.x);
      out.push_back(uv.y);
    }
    return out;
  }

  const test::SampleScene& sample_;
  std::vector<Index> cloth_soup_ = soup_of(sample_.cloth);
  std::vector<double> values_;
};

Result<void> write_sample(FileSet& out, const Sample& sample) {
  const test::SampleScene scene(sample.options);
  Report report;
  if (auto done = write_glb(out, sample.name + ".glb", scene.scene, sample.glb, report); !done) return done;
  if (sample.usd) {
    if (auto done = write_usda(out, sample.name + ".usda", scene.scene, {}, report); !done) return done;
    if (auto done = write_usdz(out, sample.name + ".usdz", scene.scene, {}, report); !done) return done;
  }
  Expected expected(scene);
  const std::vector<Pose> rest(scene.scene.trims.size());
  expected.add(scene.cloth.positions, rest);
  for (std::size_t i = 0; i < scene.scene.frame_numbers.size(); ++i) expected.add(scene.cloth_at(i), scene.poses_at(i));
  nlohmann::json json = expected.describe();
  json["instancing"] = sample.glb.instancing;
  json["pictures"] = nlohmann::json::array();
  for (const ScenePicture& picture : scene.scene.pictures) {
    std::string digits;
    for (const char c : picture.bytes) {
      for (const int shift : {4, 0}) digits += "0123456789abcdef"[static_cast<unsigned char>(c) >> shift & 15];
    }
    json["pictures"].push_back({{"name", picture.name}, {"hex", digits}});
  }
  json["interpolation"] = sample.glb.step ? "STEP" : "LINEAR";
  if (auto done = out.write(sample.name + ".expected.json", json.dump(1)); !done) return done;
  return out.write(sample.name + ".expected.bin", expected.bytes());
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 2) return 2;
  std::vector<Sample> samples(9);
  samples[0].name = "coat_mm";
  samples[1].name = "coat_cm_z_up";
  samples[1].options.mm_per_unit = 10;
  samples[1].options.up = UpAxis::Z;
  samples[2].name = "coat_inch_step";
  samples[2].options.mm_per_unit = 25.4;
  samples[2].glb.step = true;
  samples[2].options.normals = false;
  samples[3].name = "coat_far";  // 10 km from the origin
  samples[3].options.offset = {7.1e6, 1000, -7.1e6};
  samples[4].name = "coat_rest";
  samples[4].options.frames = 0;
  samples[5].name = "coat_instances";
  samples[5].options.frames = 0;
  samples[5].glb.instancing = true;
  samples[5].usd = false;
  samples[6].name = "coat_one_frame";
  samples[6].options.frames = 1;
  samples[6].glb.normals = false;
  samples[7].name = "coat_large";  // more than 65535 vertices
  samples[7].usd = false;
  samples[7].options.columns = 256;
  samples[7].options.frames = 1;
  samples[8].name = "coat_pictures";
  samples[8].options.pictures = true;
  samples[8].options.frames = 2;
  Result<FileSet> out = FileSet::open(argv[1]);
  if (!out) {
    std::fprintf(stderr, "%s\n", to_text(out.error()).c_str());
    return 1;
  }
  for (const Sample& sample : samples) {
    const Result<void> done = write_sample(*out, sample);
    if (!done) {
      std::fprintf(stderr, "%s\n", to_text(done.error()).c_str());
      return 1;
    }
  }
  if (const Result<void> done = out->commit(); !done) {
    std::fprintf(stderr, "%s\n", to_text(done.error()).c_str());
    return 1;
  }
  return 0;
}
