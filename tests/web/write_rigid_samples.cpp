// SPDX-License-Identifier: MIT
// Reads glTF garments (our own skinned ones, and files given), writes where trimtack sees every triangle corner at
// every frame, and the garments again with some faces as a rigid trim. Readers in other languages compare.
#include <cstdio>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "support/skinned_garment.hpp"
#include "trimtack/io/file_set.hpp"
#include "trimtack/io/gltf.hpp"

using namespace trimtack;

namespace {

int fail(const Error& error) {
  std::fprintf(stderr, "%s\n", to_text(error).c_str());
  return 1;
}

Pose pose_at(std::size_t i) {
  Pose pose;
  const double half = 0.04 * static_cast<double>(i + 1);
  pose.rotation = to_matrix({0, std::sin(half) * 0.6, std::sin(half) * 0.8, std::cos(half)});
  pose.translation = {0.001 * static_cast<double>(i), 0.01, 0};
  return pose;
}

// Corners of all triangles at each frame: as the nodes stand, then clip by clip.
Result<void> write_corners(FileSet& out, const std::string& name, const GltfGarment& garment) {
  const SourceMesh& mesh = garment.mesh();
  std::vector<Vec3> positions(mesh.positions.size()), corners(mesh.corner_position.size());
  const auto frame = [&](Index clip, std::size_t i) -> Result<void> {
    if (auto done = garment.pose(clip, i, positions); !done) return done;
    for (std::size_t c = 0; c < corners.size(); ++c) corners[c] = positions[mesh.corner_position[c]];
    return out.append(name + ".corners.bin",
                      {reinterpret_cast<const char*>(corners.data()), corners.size() * sizeof(Vec3)});
  };
  if (auto done = frame(kNone, 0); !done) return done;
  nlohmann::json json{{"corners", corners.size()}, {"clips", nlohmann::json::array()}};
  for (std::size_t clip = 0; clip < garment.clips().size(); ++clip) {
    json["clips"].push_back({{"name", garment.clips()[clip].name}, {"seconds", garment.clips()[clip].seconds}});
    for (std::size_t i = 0; i < garment.clips()[clip].seconds.size(); ++i) {
      if (auto done = frame(static_cast<Index>(clip), i); !done) return done;
    }
  }
  return out.write(name + ".corners.json", json.dump(1));
}

Result<void> write_all(FileSet& out, const std::string& name, const std::string& bytes, std::size_t first_face,
                       std::size_t face_count) {
  Report report;
  GltfReadOptions options;
  options.frames_per_second = 10;
  const Result<GltfGarment> garment = GltfGarment::parse(bytes, name, {}, options, report);
  if (!garment) return garment.error();
  if (auto done = out.write(name + (bytes[0] == '{' ? ".gltf" : ".glb"), bytes); !done) return done;
  if (auto done = write_corners(out, name, *garment); !done) return done;
  RigidGlbRequest request;
  RigidGlbTrim trim;
  trim.trim = 3;
  trim.name = "clasp";
  for (std::size_t f = 0; f < face_count; ++f) trim.faces.push_back(static_cast<Index>(first_face + f));
  const std::span<const Index> anchor = garment->mesh().face(0);
  trim.anchor = {anchor[0], anchor[1], anchor[2]};
  trim.weights = {0.2, 0.3, 0.5};
  request.trims = {trim};
  request.poses = [](Index clip, std::size_t i, std::span<Pose> poses) -> Result<void> {
    poses[0] = clip == kNone ? Pose{} : pose_at(i);
    return {};
  };
  for (const RigidAs as : {RigidAs::Nodes, RigidAs::Weights}) {
    const std::string rigid = name + (as == RigidAs::Nodes ? "_nodes" : "_weights");
    request.as = as;
    const Result<void> done = write_rigid_glb(out, rigid + ".glb", *garment, request, report);
    if (!done && as == RigidAs::Weights && done.error().message.find("without a skin") != std::string::npos) continue;
    if (!done) return done;
  }
  return {};
}

}  // namespace

int main(int argc, char** argv) {
  if (argc < 2) return 2;
  Result<FileSet> out = FileSet::open(argv[1]);
  if (!out) return fail(out.error());
  const auto add = [&](const std::string& name, const test::SkinnedOptions& options) {
    const test::SkinnedGarment source = test::make_skinned_garment(options);
    return write_all(*out, name, source.bytes, source.cloth_triangles, source.clasp_triangles);
  };
  if (auto done = add("skinned", {false, false, false, false}); !done) return fail(done.error());
  if (auto done = add("skinned_one_primitive", {true, false, true, false}); !done) return fail(done.error());
  if (auto done = add("skinned_text", {false, true, false, true}); !done) return fail(done.error());
  for (int i = 2; i < argc; ++i) {
    const std::filesystem::path path = argv[i];
    const Result<std::string> bytes = read_file(path);
    if (!bytes) return fail(bytes.error());
    const std::string name = "real_" + path.parent_path().filename().string() + "_" + path.stem().string();
    if (auto done = write_all(*out, name, *bytes, 10, 12); !done) return fail(done.error());
  }
  if (auto done = out->commit(); !done) return fail(done.error());
  return 0;
}
