// SPDX-License-Identifier: MIT
#include "cli/baking.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

#include "trimtack/io/npy.hpp"
#include "trimtack/io/obj.hpp"

namespace trimtack::cli {

std::string frame_digits(std::uint64_t number) {
  std::string text = std::to_string(number);
  if (text.size() < 4) text.insert(0, 4 - text.size(), '0');
  return text;
}

PlyWriteOptions ply_options(const SourceMesh& mesh) {
  const Box box = bounds(mesh.positions);
  const Vec3 far{std::max(std::abs(box.min.x), std::abs(box.max.x)), std::max(std::abs(box.min.y), std::abs(box.max.y)),
                 std::max(std::abs(box.min.z), std::abs(box.max.z))};
  PlyWriteOptions options;
  options.float64 = length(far) > 4 * length(box.max - box.min);
  return options;
}

Baking::Baking(Session& session, const Following& following, FileSet& files, BakeRequest request)
    : session_(session), following_(following), files_(files), request_(std::move(request)) {
  const Garment& garment = following.folder().garment;
  const TrimShapes& shapes = following.trims();
  trim_of_vertex_.assign(garment.combined.positions.size(), kNone);
  for (Index t = 0; t < shapes.id.size(); ++t) {
    for (Index v = shapes.vertex_offsets[t]; v < shapes.vertex_offsets[t + 1]; ++v) {
      trim_of_vertex_[shapes.source_vertex[v]] = t;
    }
  }
  baked_.resize(shapes.vertices.size());
  if (request_.cloth != BakeForm::None) {
    add_part("cloth", request_.cloth, following.folder().cloth, garment.maps.cloth);
  }
  if (request_.trims != BakeForm::None) {
    add_part("trims", request_.trims, following.folder().trims, garment.maps.trims);
    add_part("stitching", request_.trims, following.folder().stitching, garment.maps.stitching);
  }
  if (request_.whole == BakeForm::Obj) {
    whole_mesh_ = garment.combined;
    // Normals of the rest pose would be wrong on the bent cloth; hosts compute their own.
    whole_mesh_.normals.clear();
    whole_mesh_.corner_normal.clear();
    whole_mesh_.text.reset();
  }
}

void Baking::add_part(const char* name, BakeForm form, const SourceMesh& mesh, const SubsetMap& map) {
  if (map.faces.empty()) return;
  Part part{name, form, mesh, &map, {}, {}};
  part.mesh.text.reset();
  std::vector<Index> owner(mesh.normals.size(), kNone - 1);  // not met yet
  std::map<std::pair<Index, Index>, Index> copies;           // (normal, trim) where trims share a normal
  for (std::size_t c = 0; c < part.mesh.corner_normal.size(); ++c) {
    Index& normal = part.mesh.corner_normal[c];
    if (normal == kNone) continue;
    const Index trim = trim_of_vertex_[map.positions[part.mesh.corner_position[c]]];
    if (owner[normal] == kNone - 1) owner[normal] = trim;
    if (owner[normal] == trim) continue;
    const auto [copy, added] = copies.try_emplace({normal, trim}, static_cast<Index>(part.mesh.normals.size()));
    if (added) {
      part.mesh.normals.push_back(part.mesh.normals[normal]);
      owner.push_back(trim);
    }
    normal = copy->second;
  }
  part.rest_normals = part.mesh.normals;
  part.trim_of_normal = std::move(owner);
  parts_.push_back(std::move(part));
}

/// All positions of the combined export in this frame: cloth as given, trims posed.
void Baking::pose_all(const Following::Frame& frame) {
  const Garment& garment = following_.folder().garment;
  const TrimShapes& shapes = following_.trims();
  if (frame.all.empty()) {
    all_ = garment.combined.positions;
    const std::vector<Index>& cloth = garment.maps.cloth.positions;
    for (std::size_t i = 0; i < cloth.size(); ++i) all_[cloth[i]] = frame.cloth[i];
  } else {
    all_.assign(frame.all.begin(), frame.all.end());
  }
  bake(shapes, frame.poses, baked_, session_.executor());
  for (std::size_t v = 0; v < baked_.size(); ++v) all_[shapes.source_vertex[v]] = baked_[v];
  if (!unbound_ && frame.all.empty() &&
      shapes.source_vertex.size() + garment.maps.cloth.positions.size() != garment.combined.positions.size()) {
    unbound_ = true;
    trimtack::add(
        session_.report(),
        {Severity::Warning, "stitching-at-rest",
         "stitches that are not bound stay at rest in the baked meshes; bind them, or give frames of the whole export",
         "", 0, 1});
  }
}

Result<void> Baking::write_obj_file(const std::string& name, const SourceMesh& mesh) {
  ObjWriteOptions options;
  options.executor = session_.executor();
  return write_obj(mesh, options, [&](std::string_view piece) { return files_.append(name, piece); });
}

Result<void> Baking::write_rows(const std::string& name, std::span<const Vec3> positions) {
  if (frames_done_ == 0) {
    const std::uint64_t shape[] = {following_.frames().size(), positions.size(), 3};
    if (auto done = files_.append(name, npy_header(shape, true)); !done) return done;
  }
  static_assert(sizeof(Vec3) == 3 * sizeof(double));
  return files_.append(name, {reinterpret_cast<const char*>(positions.data()), positions.size_bytes()});
}

Result<void> Baking::write_part(Part& part, const Following::Frame& frame) {
  std::vector<Vec3> positions(part.map->positions.size());
  std::transform(part.map->positions.begin(), part.map->positions.end(), positions.begin(),
                 [&](Index v) { return all_[v]; });
  const std::string stem = request_.folder + part.name;
  if (part.form == BakeForm::Npy) return write_rows(stem + ".npy", positions);
  if (part.form == BakeForm::Ply) {
    const Result<std::string> bytes = write_ply(part.mesh, ply_options(part.mesh), positions);
    return bytes ? files_.write(stem + "_" + frame_digits(frame.number) + ".ply", *bytes) : bytes.error();
  }
  set_positions(part.mesh, std::move(positions));
  for (std::size_t n = 0; n < part.rest_normals.size(); ++n) {
    const Index trim = part.trim_of_normal[n];
    if (trim < frame.poses.size()) part.mesh.normals[n] = frame.poses[trim].rotation * part.rest_normals[n];
  }
  return write_obj_file(stem + "_" + frame_digits(frame.number) + ".obj", part.mesh);
}

Result<void> Baking::add(const Following::Frame& frame) {
  if (parts_.empty() && request_.whole == BakeForm::None) return {};
  pose_all(frame);
  for (Part& part : parts_) {
    if (auto done = write_part(part, frame); !done) return done;
  }
  if (request_.whole == BakeForm::Npy) {
    if (auto done = write_rows("whole/frames.npy", all_); !done) return done;
  }
  if (request_.whole == BakeForm::Obj) {
    set_positions(whole_mesh_, all_);
    if (auto done = write_obj_file("whole/frame_" + frame_digits(frame.number) + ".obj", whole_mesh_); !done)
      return done;
  }
  ++frames_done_;
  return {};
}

}  // namespace trimtack::cli
