// SPDX-License-Identifier: MIT
#include "trimtack/io/placements.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <charconv>
#include <cstddef>
#include <set>
#include <vector>

#include "trimtack/io/npy.hpp"
#include "trimtack/io/obj.hpp"
#include "trimtack/io/poses.hpp"

namespace trimtack {
namespace {

static_assert(std::endian::native == std::endian::little, "array bytes are written in the machine's order");

// Names as they can stand in a file name everywhere: letters, digits, '.', '-' and '_'; others become '_'.
std::string file_name(const std::string& name, std::set<std::string>& used) {
  std::string safe;
  for (const char c : name) {
    const bool kept =
        (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' || c == '.';
    safe += kept ? c : '_';
  }
  if (safe.empty() || safe[0] == '.') safe.insert(0, "_");
  // Some file systems do not tell capitals from small letters.
  const auto lower = [](std::string text) {
    for (char& c : text) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
    return text;
  };
  std::string candidate = safe;
  for (int i = 2; !used.insert(lower(candidate)).second; ++i) candidate = safe + "_" + std::to_string(i);
  return candidate;
}

Pose placed_pose(const Scene::Placed& placed, const Pose& pose) {
  return {pose.rotation * placed.placement.rotation, apply(pose, placed.placement.translation)};
}

// Calls fn(frame number, cloth, poses) for every frame, or once for the rest as frame 0.
template <class Fn>
Result<void> for_frames(const Scene& scene, Fn&& fn) {
  std::vector<Vec3> cloth;
  if (scene.cloth != nullptr) cloth = scene.cloth->positions;
  std::vector<Pose> poses(scene.trims.size());
  if (scene.frame_numbers.empty()) return fn(std::uint64_t{0}, cloth, poses);
  for (std::size_t i = 0; i < scene.frame_numbers.size(); ++i) {
    if (auto done = scene.frame(i, cloth, poses); !done) return done;
    if (auto done = fn(scene.frame_numbers[i], cloth, poses); !done) return done;
  }
  return {};
}

std::uint64_t row_count(const Scene& scene) { return std::max<std::size_t>(scene.frame_numbers.size(), 1); }

}  // namespace

Result<void> write_placements(FileSet& out, const std::string& csv_name, const Scene& scene,
                              const PlacementOptions& options) {
  std::set<std::string> used;
  std::vector<std::string> files;
  for (std::size_t i = 0; i < scene.shapes.size(); ++i) {
    files.push_back(options.shape_folder + "/" + file_name(scene.shape_names[i], used) + ".obj");
    ObjWriteOptions obj;
    obj.header = scene.shape_names[i];
    obj.splice = false;
    obj.executor = options.executor;
    if (auto done = out.write(files.back(), write_obj(scene.shapes[i], obj)); !done) return done;
  }
  std::string text = "frame,trim,name,shape,mirrored,scale,tx,ty,tz,qx,qy,qz,qw\n";
  if (auto done = out.append(csv_name, text); !done) return done;
  std::vector<Quat> previous(scene.trims.size(), Quat{0, 0, 0, 0});
  const auto rows = [&](std::uint64_t frame, std::span<const Vec3>, std::span<const Pose> poses) {
    text.clear();
    for (std::size_t t = 0; t < poses.size(); ++t) {
      const Scene::Placed& placed = scene.trims[t];
      const Pose pose = placed_pose(placed, poses[t]);
      const Quat q = previous[t] = short_path(previous[t], to_quat(pose.rotation));
      text += std::to_string(frame) + ',' + std::to_string(placed.trim) + ',';
      append_csv_field(text, placed.name);
      text += ',' + files[placed.shape] + (placed.mirrored ? ",1" : ",0");
      const Vec3& at = pose.translation;
      for (const double value : {placed.scale, at.x, at.y, at.z, q.x, q.y, q.z, q.w}) {
        std::array<char, 32> number;
        text += ',';
        text.append(number.data(), std::to_chars(number.data(), number.data() + number.size(), value).ptr);
      }
      text += '\n';
    }
    return out.append(csv_name, text);
  };
  return for_frames(scene, rows);
}

Result<void> write_cloth_npy(FileSet& out, const std::string& name, const Scene& scene, bool float64) {
  const std::size_t vertices = scene.cloth == nullptr ? 0 : scene.cloth->positions.size();
  const std::array<std::uint64_t, 3> shape{row_count(scene), vertices, 3};
  if (auto done = out.append(name, npy_header(shape, float64)); !done) return done;
  std::vector<float> narrow(float64 ? 0 : 3 * vertices);
  const auto rows = [&](std::uint64_t, std::span<const Vec3> cloth, std::span<const Pose>) {
    if (float64) {
      return out.append(name, {reinterpret_cast<const char*>(cloth.data()), cloth.size() * sizeof(Vec3)});
    }
    for (std::size_t i = 0; i < cloth.size(); ++i) {
      for (int axis = 0; axis < 3; ++axis) {
        narrow[3 * i + static_cast<std::size_t>(axis)] = static_cast<float>(cloth[i][axis]);
      }
    }
    return out.append(name, {reinterpret_cast<const char*>(narrow.data()), narrow.size() * sizeof(float)});
  };
  return for_frames(scene, rows);
}

Result<void> write_placements_npy(FileSet& out, const std::string& name, const Scene& scene) {
  const std::array<std::uint64_t, 4> shape{row_count(scene), scene.trims.size(), 3, 4};
  if (auto done = out.append(name, npy_header(shape, true)); !done) return done;
  std::vector<Pose> placed(scene.trims.size());
  const auto rows = [&](std::uint64_t, std::span<const Vec3>, std::span<const Pose> poses) {
    for (std::size_t t = 0; t < poses.size(); ++t) {
      placed[t] = placed_pose(scene.trims[t], poses[t]);
      for (double& value : placed[t].rotation.m) value *= scene.trims[t].scale;
    }
    std::string bytes;
    append_poses_npy(bytes, placed);
    return out.append(name, bytes);
  };
  return for_frames(scene, rows);
}

}  // namespace trimtack
