// SPDX-License-Identifier: MIT
/// Posed trims as meshes and arrays, frame by frame.
#pragma once

#include <string>
#include <vector>

#include "cli/following.hpp"
#include "trimtack/io/ply.hpp"

namespace trimtack::cli {

enum class BakeForm : std::uint8_t { None, Obj, Ply, Npy };

struct BakeRequest {
  BakeForm trims = BakeForm::None, whole = BakeForm::None;
  BakeForm cloth = BakeForm::None;  ///< Ply only: a garment's cloth is a frame already
  std::string folder = "baked/";    ///< of cloth and trims
};

/// Single precision, or double where the mesh stands so far from the origin that single would move its vertices.
PlyWriteOptions ply_options(const SourceMesh& mesh);

/// Writes posed trims and whole garments of successive frames into a set.
class Baking {
 public:
  Baking(Session& session, const Following& following, FileSet& files, BakeRequest request);
  Result<void> add(const Following::Frame& frame);

 private:
  /// trims.obj or stitching.obj, with every normal owned by one trim so that it can be turned with it.
  struct Part {
    std::string name;
    BakeForm form = BakeForm::None;
    SourceMesh mesh;
    const SubsetMap* map = nullptr;
    std::vector<Vec3> rest_normals;
    std::vector<Index> trim_of_normal;  ///< table index, kNone for a normal of an unbound stitch
  };
  void add_part(const char* name, BakeForm form, const SourceMesh& mesh, const SubsetMap& map);
  void pose_all(const Following::Frame& frame);
  Result<void> write_part(Part& part, const Following::Frame& frame);
  Result<void> write_obj_file(const std::string& name, const SourceMesh& mesh);
  Result<void> write_rows(const std::string& name, std::span<const Vec3> positions);

  Session& session_;
  const Following& following_;
  FileSet& files_;
  BakeRequest request_;
  std::vector<Part> parts_;
  SourceMesh whole_mesh_;
  std::vector<Index> trim_of_vertex_;  ///< of the combined export; table index or kNone
  std::vector<Vec3> baked_, all_;
  std::size_t frames_done_ = 0;
  bool unbound_ = false;
};

/// "0007"
std::string frame_digits(std::uint64_t number);

}  // namespace trimtack::cli
