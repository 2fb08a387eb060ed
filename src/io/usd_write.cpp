// SPDX-License-Identifier: MIT
// OpenUSD: the usda text grammar and the schemas UsdGeomMesh, UsdGeomPointInstancer, UsdGeomSubset and
// UsdPreviewSurface as their published documentation describes them. In text a quatf is (w, x, y, z).
#include "trimtack/io/usd.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <map>
#include <span>
#include <utility>
#include <vector>

#include "io/scene_geometry.hpp"
#include "io/usd_materials.hpp"
#include "io/usd_package.hpp"
#include "io/usd_text.hpp"
#include "trimtack/io/text_sink.hpp"

namespace trimtack {
namespace {

using usd::append_number;
using usd::decimal;
using usd::identifier;
using usd::in_quotes;

constexpr std::size_t kFlushBytes = std::size_t{1} << 22;

class UsdaWriter {
 public:
  UsdaWriter(TextSink sink, const std::string& name, const Scene& scene, const UsdWriteOptions& options)
      : sink_(std::move(sink)), name_(name), scene_(scene), options_(options) {
    // File units: only the distance from the origin is taken out.
    const HostSpace host = host_space(scene);
    space_.metres_per_unit = 1;
    space_.origin = (1 / host.metres_per_unit) * (transposed(host.turn) * host.origin);
    space_.origin = {std::round(space_.origin.x), std::round(space_.origin.y), std::round(space_.origin.z)};
  }

  Result<void> write() {
    settle_times();
    name_materials();
    write_header();
    if (auto done = write_cloth(); !done) return done;
    if (auto done = write_trims(); !done) return done;
    write_materials();
    text_ += "}\n";
    return flush();
  }

 private:
  std::size_t frames() const { return scene_.frame_numbers.size(); }

  void settle_times() {
    const std::vector<std::uint64_t>& numbers = scene_.frame_numbers;
    const bool ascending = std::adjacent_find(numbers.begin(), numbers.end(), std::greater_equal<>()) == numbers.end();
    for (std::size_t i = 0; i < frames(); ++i) times_.push_back(ascending ? numbers[i] : i);
  }

  void name_materials() {
    std::vector<const SourceMesh*> meshes;
    if (scene_.cloth != nullptr) meshes.push_back(scene_.cloth);
    for (const SourceMesh& shape : scene_.shapes) meshes.push_back(&shape);
    std::set<std::string> used;
    for (const SourceMesh* mesh : meshes) {
      for (const std::string& material : mesh->materials) {
        const auto [at, is_new] = material_name_.try_emplace(material);
        if (!is_new) continue;
        at->second = identifier(material, used);
        material_order_.push_back(material);
      }
    }
  }

  void write_header() {
    text_ += "#usda 1.0\n(\n    defaultPrim = \"garment\"\n";
    text_ += "    doc = \"written by trimtack\"\n";
    text_ += "    metersPerUnit = " + decimal(scene_.unit.mm_per_unit / 1000) + "\n";
    if (!times_.empty()) {
      text_ += "    startTimeCode = " + std::to_string(times_.front()) + "\n";
      text_ += "    endTimeCode = " + std::to_string(times_.back()) + "\n";
    }
    text_ += "    timeCodesPerSecond = " + decimal(scene_.frames_per_second) + "\n";
    text_ += "    framesPerSecond = " + decimal(scene_.frames_per_second) + "\n";
    text_ += std::string("    upAxis = \"") + (scene_.up == UpAxis::Y ? "Y" : "Z") + "\"\n)\n\n";
    text_ +=
        "def Xform \"garment\" (\n    displayName = " + in_quotes(scene_.name) + "\n    kind = \"component\"\n)\n{\n";
    if (space_.origin != Vec3{}) {
      const Vec3& o = space_.origin;
      text_ += "    double3 xformOp:translate = (" + decimal(o.x) + ", " + decimal(o.y) + ", " + decimal(o.z) + ")\n";
      text_ += "    uniform token[] xformOpOrder = [\"xformOp:translate\"]\n\n";
    }
  }

  Error not_finite(const std::string& what) const {
    return {ErrorCode::BadInput, what + " is not a finite float32 number", name_, 0};
  }

  // "[(x, y, z), ...]"; false when a number is not finite in float32. Formatting is split over the executor.
  bool append_points(std::span<const Vec3> points, const Vec3& origin) {
    constexpr std::size_t kGrain = 8192;
    std::vector<std::string> pieces((points.size() + kGrain - 1) / kGrain);
    std::vector<char> finite(pieces.size(), 1);
    for_ranges(options_.executor, points.size(), kGrain, [&](std::size_t begin, std::size_t end) {
      std::string& piece = pieces[begin / kGrain];
      for (std::size_t i = begin; i < end; ++i) {
        const Vec3 p = points[i] - origin;
        piece += i == 0 ? "(" : ", (";
        for (int axis = 0; axis < 3; ++axis) {
          const auto value = static_cast<float>(p[axis]);
          if (!std::isfinite(value)) finite[begin / kGrain] = 0;
          if (axis != 0) piece += ", ";
          append_number(piece, value);
        }
        piece += ')';
      }
    });
    text_ += '[';
    for (const std::string& piece : pieces) text_ += piece;
    text_ += ']';
    return std::find(finite.begin(), finite.end(), 0) == finite.end();
  }

  template <class Items>
  void append_integers(const Items& items) {
    text_ += '[';
    bool first = true;
    for (const auto item : items) {
      if (!first) text_ += ", ";
      first = false;
      std::array<char, 24> number;
      text_.append(number.data(), std::to_chars(number.data(), number.data() + number.size(), item).ptr);
    }
    text_ += "]\n";
  }

  void append_extent(const Box& box, const Vec3& origin) {
    const std::array<Vec3, 2> corners{box.min, box.max};
    append_points(corners, origin);
  }

  // Faces, UVs, normals, colours and materials of a mesh. `pad` is the indentation within the prim.
  Result<void> write_mesh_data(const SourceMesh& mesh, const Vec3& origin, bool with_normals, const std::string& pad) {
    text_ += pad + "float3[] extent = ";
    append_extent(bounds(mesh.positions), origin);
    text_ += '\n' + pad + "int[] faceVertexCounts = ";
    std::vector<Index> counts;
    for (Index f = 0; f < mesh.face_count(); ++f) counts.push_back(mesh.face_offsets[f + 1] - mesh.face_offsets[f]);
    append_integers(counts);
    text_ += pad + "int[] faceVertexIndices = ";
    append_integers(mesh.corner_position);
    text_ += pad + "point3f[] points = ";
    if (!append_points(mesh.positions, origin)) return not_finite("a position of '" + mesh.file + "'");
    text_ += '\n';
    if (with_normals && !mesh.corner_normal.empty()) {
      std::vector<Vec3> normals;
      for (const Index n : mesh.corner_normal) normals.push_back(n == kNone ? Vec3{} : mesh.normals[n]);
      text_ += pad + "normal3f[] normals = ";
      if (!append_points(normals, {})) return not_finite("a normal of '" + mesh.file + "'");
      text_ += " (\n" + pad + "    interpolation = \"faceVarying\"\n" + pad + ")\n";
    }
    if (!write_texcoords(mesh, pad)) return not_finite("a texture coordinate of '" + mesh.file + "'");
    write_colours(mesh, pad);
    text_ += pad + "uniform token subdivisionScheme = \"none\"\n";
    return {};
  }

  bool write_texcoords(const SourceMesh& mesh, const std::string& pad) {
    if (mesh.corner_texcoord.empty()) return true;
    text_ += pad + "texCoord2f[] primvars:st = [";
    bool finite = true;
    for (const Vec2& uv : mesh.texcoords) {
      text_ += &uv == mesh.texcoords.data() ? "(" : ", (";
      append_number(text_, static_cast<float>(uv.x));
      text_ += ", ";
      append_number(text_, static_cast<float>(uv.y));
      text_ += ')';
      finite = finite && std::isfinite(static_cast<float>(uv.x)) && std::isfinite(static_cast<float>(uv.y));
    }
    // Corners without a texture coordinate point at one more, the origin.
    std::vector<Index> indices = mesh.corner_texcoord;
    const auto none = static_cast<Index>(mesh.texcoords.size());
    if (std::find(indices.begin(), indices.end(), kNone) != indices.end()) {
      std::replace(indices.begin(), indices.end(), kNone, none);
      text_ += none == 0 ? "(0, 0)" : ", (0, 0)";
    }
    text_ += "] (\n" + pad + "    interpolation = \"faceVarying\"\n" + pad + ")\n";
    text_ += pad + "int[] primvars:st:indices = ";
    append_integers(indices);
    return finite;
  }

  void write_colours(const SourceMesh& mesh, const std::string& pad) {
    if (mesh.colours.empty()) return;
    std::vector<Vec3> colours = mesh.colours;
    for (Vec3& c : colours) {
      for (int i = 0; i < 3; ++i) c[i] = std::isfinite(c[i]) ? std::clamp(c[i], 0.0, 1.0) : 1.0;
    }
    text_ += pad + "color3f[] primvars:displayColor = ";
    append_points(colours, {});
    text_ += " (\n" + pad + "    interpolation = \"vertex\"\n" + pad + ")\n";
  }

  std::string material_path(const std::string& material) const {
    return "</garment/materials/" + material_name_.at(material) + ">";
  }

  // One material for all faces is bound to the mesh, several to subsets of its faces.
  void write_bindings(const SourceMesh& mesh, const std::string& pad) {
    std::vector<std::vector<Index>> faces(mesh.materials.size());
    for (Index f = 0; f < mesh.face_count(); ++f) {
      const Index material = state_of(mesh, f).material;
      if (material != kNone) faces[material].push_back(f);
    }
    if (std::all_of(faces.begin(), faces.end(), [](const std::vector<Index>& f) { return f.empty(); })) return;
    const auto whole = std::find_if(faces.begin(), faces.end(),
                                    [&](const std::vector<Index>& f) { return f.size() == mesh.face_count(); });
    if (whole != faces.end()) {
      text_ += pad + "rel material:binding = ";
      text_ += material_path(mesh.materials[static_cast<std::size_t>(whole - faces.begin())]) + "\n";
      return;
    }
    text_ += pad + "uniform token subsetFamily:materialBind:familyType = \"nonOverlapping\"\n";
    std::set<std::string> used;
    for (std::size_t m = 0; m < faces.size(); ++m) {
      if (faces[m].empty()) continue;
      text_ += "\n" + pad + "def GeomSubset " + in_quotes(identifier(mesh.materials[m], used)) + " (\n" + pad +
               "    prepend apiSchemas = [\"MaterialBindingAPI\"]\n" + pad + ")\n" + pad + "{\n";
      text_ += pad + "    uniform token elementType = \"face\"\n";
      text_ += pad + "    uniform token familyName = \"materialBind\"\n";
      text_ += pad + "    int[] indices = ";
      append_integers(faces[m]);
      text_ += pad + "    rel material:binding = " + material_path(mesh.materials[m]) + "\n" + pad + "}\n";
    }
  }

  Result<void> write_cloth() {
    if (scene_.cloth == nullptr || scene_.cloth->face_count() == 0) return {};
    text_ += "    def Mesh \"cloth\" (\n        prepend apiSchemas = [\"MaterialBindingAPI\"]\n    )\n    {\n";
    text_ += "        uniform bool doubleSided = 1\n";
    const std::string pad(8, ' ');
    if (auto done = write_mesh_data(*scene_.cloth, space_.origin, frames() == 0, pad); !done) return done;
    std::vector<Box> extents;
    const auto sample = [&](std::span<const Vec3> cloth, std::span<const Pose>) {
      extents.push_back(bounds(cloth));
      return append_points(cloth, space_.origin) ? std::string() : std::string("a cloth position");
    };
    if (auto done = write_samples("        point3f[] points", sample); !done) return done;
    if (!extents.empty()) {
      text_ += "        float3[] extent.timeSamples = {\n";
      for (std::size_t i = 0; i < extents.size(); ++i) {
        text_ += "            " + std::to_string(times_[i]) + ": ";
        append_extent(extents[i], space_.origin);
        text_ += ",\n";
      }
      text_ += "        }\n";
    }
    write_bindings(*scene_.cloth, pad);
    text_ += "    }\n\n";
    return {};
  }

  // "attribute.timeSamples = { time: value, ... }". `sample` appends a value and returns what is wrong with it.
  template <class Fn>
  Result<void> write_samples(const std::string& attribute, Fn&& sample) {
    if (frames() == 0) return {};
    text_ += attribute + ".timeSamples = {\n";
    std::vector<Vec3> cloth(scene_.cloth == nullptr ? 0 : scene_.cloth->positions.size());
    std::vector<Pose> poses(scene_.trims.size());
    for (std::size_t i = 0; i < frames(); ++i) {
      if (auto done = scene_.frame(i, cloth, poses); !done) return done;
      text_ += "            " + std::to_string(times_[i]) + ": ";
      const std::string wrong = sample(cloth, poses);
      if (!wrong.empty()) return not_finite("frame " + std::to_string(scene_.frame_numbers[i]) + ": " + wrong);
      text_ += ",\n";
      if (text_.size() > kFlushBytes) {
        if (auto done = flush(); !done) return done;
      }
    }
    text_ += "        }\n";
    return {};
  }

  // Positions of all trims, in file units and relative to the origin, through NodePose as every exporter has them.
  bool append_positions(std::span<const Pose> poses) {
    bool finite = true;
    text_ += '[';
    for (std::size_t t = 0; t < poses.size(); ++t) {
      Quat ignored{0, 0, 0, 0};
      const NodePose node = node_pose(space_, scene_.trims[t], poses[t], ignored);
      text_ += t == 0 ? "(" : ", (";
      for (std::size_t axis = 0; axis < 3; ++axis) {
        if (axis != 0) text_ += ", ";
        append_number(text_, node.translation[axis]);
        finite = finite && std::isfinite(node.translation[axis]);
      }
      text_ += ')';
    }
    text_ += ']';
    return finite;
  }

  bool append_orientations(std::span<const Pose> poses, std::span<Quat> previous) {
    bool finite = true;
    text_ += '[';
    for (std::size_t t = 0; t < poses.size(); ++t) {
      const std::array<float, 4> q = node_pose(space_, scene_.trims[t], poses[t], previous[t]).rotation;
      text_ += t == 0 ? "(" : ", (";
      for (const std::size_t i : {std::size_t{3}, std::size_t{0}, std::size_t{1}, std::size_t{2}}) {
        if (i != 3) text_ += ", ";
        append_number(text_, q[i]);
        finite = finite && std::isfinite(q[i]);
      }
      text_ += ')';
    }
    text_ += ']';
    return finite;
  }

  Result<void> write_trims() {
    if (scene_.trims.empty()) return {};
    std::vector<std::int64_t> ids;
    std::vector<Index> shapes;
    std::vector<Vec3> scales;
    bool scaled = false;
    for (const Scene::Placed& placed : scene_.trims) {
      ids.push_back(placed.trim);
      shapes.push_back(placed.shape);
      scales.push_back({placed.scale, placed.scale, placed.scale});
      scaled = scaled || placed.scale != 1;
    }
    text_ += "    def PointInstancer \"trims\"\n    {\n        int64[] ids = ";
    append_integers(ids);
    text_ += "        int[] protoIndices = ";
    append_integers(shapes);
    text_ += "        custom string[] trimNames = [";
    for (std::size_t t = 0; t < scene_.trims.size(); ++t)
      text_ += (t == 0 ? "" : ", ") + in_quotes(scene_.trims[t].name);
    text_ += "]\n";
    if (scaled) {
      text_ += "        float3[] scales = ";
      append_points(scales, {});
      text_ += '\n';
    }
    if (auto done = write_placements(); !done) return done;
    return write_prototypes();
  }

  Result<void> write_placements() {
    const std::vector<Pose> rest(scene_.trims.size());
    std::vector<Quat> previous(scene_.trims.size(), Quat{0, 0, 0, 0});
    text_ += "        point3f[] positions = ";
    if (!append_positions(rest)) return not_finite("the position of a trim at rest");
    text_ += "\n";
    const auto position = [&](std::span<const Vec3>, std::span<const Pose> poses) {
      return append_positions(poses) ? std::string() : std::string("the position of a trim");
    };
    if (auto done = write_samples("        point3f[] positions", position); !done) return done;
    text_ += "        quatf[] orientationsf = ";
    if (!append_orientations(rest, previous)) return not_finite("the rotation of a trim at rest");
    text_ += "\n";
    const auto orientation = [&](std::span<const Vec3>, std::span<const Pose> poses) {
      return append_orientations(poses, previous) ? std::string() : std::string("the rotation of a trim");
    };
    return write_samples("        quatf[] orientationsf", orientation);
  }

  Result<void> write_prototypes() {
    std::set<std::string> used;
    std::vector<std::string> names;
    text_ += "        rel prototypes = [\n";
    for (const std::string& name : scene_.shape_names) {
      names.push_back(identifier(name, used));
      text_ += "            </garment/trims/prototypes/" + names.back() + ">,\n";
    }
    text_ += "        ]\n\n        over \"prototypes\"\n        {\n";
    for (std::size_t i = 0; i < scene_.shapes.size(); ++i) {
      text_ += "            def Mesh " + in_quotes(names[i]) + " (\n                displayName = ";
      text_ += in_quotes(scene_.shape_names[i]) + "\n";
      text_ += "                prepend apiSchemas = [\"MaterialBindingAPI\"]\n            )\n            {\n";
      const std::string pad(16, ' ');
      if (auto done = write_mesh_data(scene_.shapes[i], {}, true, pad); !done) return done;
      write_bindings(scene_.shapes[i], pad);
      text_ += "            }\n";
      if (text_.size() > kFlushBytes) {
        if (auto done = flush(); !done) return done;
      }
    }
    text_ += "        }\n    }\n\n";
    return {};
  }

  void write_materials() {
    if (material_order_.empty()) return;
    text_ += "    def Scope \"materials\"\n    {\n";
    for (const std::string& material : material_order_) {
      const auto known = std::find_if(scene_.materials.begin(), scene_.materials.end(),
                                      [&](const SceneMaterial& m) { return m.name == material; });
      usd::append_material(text_, material_name_[material], material,
                           known == scene_.materials.end() ? SceneMaterial{} : *known, scene_.pictures);
    }
    text_ += "    }\n";
  }

  Result<void> flush() {
    if (auto done = sink_(text_); !done) return done;
    text_.clear();
    return {};
  }

  TextSink sink_;
  const std::string& name_;
  const Scene& scene_;
  const UsdWriteOptions& options_;
  HostSpace space_;
  std::vector<std::uint64_t> times_;
  std::map<std::string, std::string> material_name_;
  std::vector<std::string> material_order_;
  std::string text_;
};

void note_loose(const Scene& scene, Report& report) {
  if (scene.cloth == nullptr || scene.cloth->loose.empty()) return;
  add(report, {Severity::Note, "scene-loose", "lines and points are not part of a scene", scene.cloth->file, 0,
               scene.cloth->loose.size()});
}

}  // namespace

Result<void> write_usda(FileSet& out, const std::string& name, const Scene& scene, const UsdWriteOptions& options,
                        Report& report) {
  note_loose(scene, report);
  const auto sink = [&](std::string_view piece) { return out.append(name, piece); };
  if (auto done = UsdaWriter(sink, name, scene, options).write(); !done) return done;
  for (const ScenePicture& picture : scene.pictures) {
    if (auto done = out.write(usd::kPictureFolder + picture.name, picture.bytes); !done) return done;
  }
  return {};
}

Result<void> write_usdz(FileSet& out, const std::string& name, const Scene& scene, const UsdWriteOptions& options,
                        Report& report) {
  note_loose(scene, report);
  usd::Package package(out, name);
  if (auto done = package.begin("scene.usda"); !done) return done;
  const auto sink = [&](std::string_view piece) { return package.append(piece); };
  if (auto done = UsdaWriter(sink, name, scene, options).write(); !done) return done;
  for (const ScenePicture& picture : scene.pictures) {
    auto done = package.begin(usd::kPictureFolder + picture.name);
    if (done) done = package.append(picture.bytes);
    if (!done) return done;
  }
  return package.finish();
}

}  // namespace trimtack
