// SPDX-License-Identifier: MIT
// Khronos Group, glTF 2.0 specification (2.0.1, 2021) and the ratified extension EXT_mesh_gpu_instancing.
// The JSON chunk stands before the data whose extremes it must state; so its room is reserved, the data are streamed
// behind it, and it is filled in at the end (JSON may be padded with spaces).
#include <algorithm>
#include <bit>
#include <cmath>
#include <cstddef>
#include <cstring>
#include <limits>
#include <map>
#include <utility>

#include "io/gltf_layout.hpp"
#include "io/scene_geometry.hpp"
#include "trimtack/io/gltf.hpp"
#include "trimtack/version.h"

namespace trimtack {
namespace {

using gltf::bytes_of;
using gltf::Json;
using gltf::Layout;

static_assert(std::endian::native == std::endian::little, "GLB numbers are written in the machine's order");

using gltf::kArrayBuffer;
using gltf::kFloat;
constexpr std::uint64_t kMostBytes = std::numeric_limits<std::uint32_t>::max();
constexpr std::size_t kKeyBlockBytes = std::size_t{64} << 20;

void put_u32(std::string& out, std::uint64_t value) {
  for (int i = 0; i < 4; ++i) out += static_cast<char>(value >> (8 * i) & 0xff);
}

class GlbWriter {
 public:
  GlbWriter(FileSet& out, const std::string& name, const Scene& scene, const GlbWriteOptions& options)
      : out_(out), name_(name), scene_(scene), options_(options), space_(host_space(scene)) {}

  Result<void> write() {
    if (options_.instancing && frames() != 0) {
      return Error{ErrorCode::Usage, "instances cannot be animated; leave instancing or the frames out", name_, 0};
    }
    std::vector<std::uint64_t> children;
    layout_.nodes.push_back(Json{{"name", scene_.name}});  // the root; completed below
    if (auto added = add_cloth(children); !added) return added;
    if (auto added = add_shapes(); !added) return added;
    if (options_.instancing) {
      add_instances(children);
    } else {
      add_trim_nodes(children);
    }
    if (space_.origin != Vec3{}) layout_.nodes[0]["translation"] = {space_.origin.x, space_.origin.y, space_.origin.z};
    if (!children.empty()) layout_.nodes[0]["children"] = children;
    if (frames() != 0 && !children.empty()) add_animation();
    return stream();
  }

 private:
  std::size_t frames() const { return scene_.frame_numbers.size(); }
  bool has_cloth() const { return !cloth_.parts.empty(); }
  std::size_t cloth_vertices() const { return cloth_.corners.vertices.size(); }
  bool morphs_normals() const { return options_.normals && !cloth_.normals.empty(); }

  // The texture of a picture, whose bytes are taken into the buffer when it is first asked for.
  std::uint64_t texture(Index picture) {
    const auto [at, is_new] = texture_of_.emplace(picture, layout_.textures.size());
    if (is_new) {
      const ScenePicture& source = scene_.pictures[picture];
      layout_.textures.push_back(Json{{"source", layout_.images.size()}});
      layout_.images.push_back(Json{{"name", source.name},
                                    {"mimeType", source.jpeg ? "image/jpeg" : "image/png"},
                                    {"bufferView", layout_.rest_view(source.bytes, 0)}});
    }
    return at->second;
  }

  Json describe(const SceneMaterial& material, bool pictures) {
    const auto& c = material.base_colour;
    Json json;
    Json& surface = json["pbrMetallicRoughness"];
    surface = {{"baseColorFactor", {c[0], c[1], c[2], material.opacity}},
               {"metallicFactor", material.metallic},
               {"roughnessFactor", material.roughness}};
    const auto map = [&](PictureUse use, Json& into, const char* name) {
      const Index picture = material.map(use).picture;
      if (pictures && picture != kNone) into[name] = Json{{"index", texture(picture)}};
      return pictures && picture != kNone;
    };
    if (map(PictureUse::MetallicRoughness, surface, "metallicRoughnessTexture")) {
      surface["metallicFactor"] = material.metallic_of_picture;
      surface["roughnessFactor"] = material.roughness_of_picture;
    }
    const bool coloured = map(PictureUse::BaseColour, surface, "baseColorTexture");
    // The factor multiplies the picture; a library with a picture alone means the picture.
    auto e = material.emissive;
    if (map(PictureUse::Emissive, json, "emissiveTexture") && e[0] + e[1] + e[2] == 0) e = {1, 1, 1};
    if (e[0] + e[1] + e[2] > 0) json["emissiveFactor"] = {e[0], e[1], e[2]};
    // Without tangents, which would have to turn with the cloth: a host makes its own from positions, normals and
    // texture coordinates as they are at the time (glTF 2.0, section "Meshes Overview").
    map(PictureUse::Normal, json, "normalTexture");
    if (material.opacity < 1) {
      json["alphaMode"] = "BLEND";
    } else if (coloured && material.cut_out) {
      json["alphaMode"] = "MASK";
    }
    return json;
  }

  // One glTF material a name, and one more without pictures for meshes without texture coordinates; cloth is seen from
  // both sides.
  std::uint64_t material(const std::string& name, bool cloth, bool pictures) {
    const auto known = std::find_if(scene_.materials.begin(), scene_.materials.end(),
                                    [&](const SceneMaterial& m) { return m.name == name; });
    const SceneMaterial factors = known == scene_.materials.end() ? SceneMaterial{} : *known;
    pictures = pictures && std::any_of(factors.maps.begin(), factors.maps.end(),
                                       [](const SceneMap& map) { return map.picture != kNone; });
    const auto [at, is_new] = material_of_.emplace(std::pair{name, pictures}, layout_.materials.size());
    if (is_new) {
      Json json = Json::object();
      if (!name.empty()) json["name"] = name;
      json.update(describe(factors, pictures));
      layout_.materials.push_back(std::move(json));
    }
    if (cloth) layout_.materials[at->second]["doubleSided"] = true;
    return at->second;
  }

  Json primitives(const Geometry& geometry, bool cloth) {
    Json attributes;
    const std::uint64_t positions = layout_.attribute(geometry.positions, 3);
    layout_.state_extremes(positions, geometry.positions, 3);
    attributes["POSITION"] = positions;
    if (!geometry.normals.empty()) attributes["NORMAL"] = layout_.attribute(geometry.normals, 3);
    if (!geometry.texcoords.empty()) attributes["TEXCOORD_0"] = layout_.attribute(geometry.texcoords, 2);
    if (!geometry.colours.empty()) attributes["COLOR_0"] = layout_.attribute(geometry.colours, 3);
    Json list = Json::array();
    for (const MaterialTriangles& part : geometry.parts) {
      Json primitive{{"attributes", attributes},
                     {"indices", layout_.indices(part.indices, geometry.corners.vertices.size())},
                     {"material", material(part.material, cloth, !geometry.texcoords.empty())}};
      if (cloth && frames() != 0) primitive["targets"] = Json::array();
      list.push_back(std::move(primitive));
    }
    return list;
  }

  Result<void> add_cloth(std::vector<std::uint64_t>& children) {
    if (scene_.cloth == nullptr || scene_.cloth->face_count() == 0) return {};
    Result<Geometry> geometry = make_geometry(*scene_.cloth, space_);
    if (!geometry) return geometry.error();
    cloth_ = std::move(*geometry);
    layout_.meshes.push_back(Json{{"name", "cloth"}, {"primitives", primitives(cloth_, true)}});
    children.push_back(layout_.nodes.size());
    cloth_node_ = layout_.nodes.size();
    layout_.nodes.push_back(Json{{"name", "cloth"}, {"mesh", 0}});
    return {};
  }

  Result<void> add_shapes() {
    HostSpace own;
    own.metres_per_unit = space_.metres_per_unit;
    for (std::size_t i = 0; i < scene_.shapes.size(); ++i) {
      const Result<Geometry> geometry = make_geometry(scene_.shapes[i], own);
      if (!geometry) return geometry.error();
      mesh_of_shape_.push_back(layout_.meshes.size());
      layout_.meshes.push_back(Json{{"name", scene_.shape_names[i]}, {"primitives", primitives(*geometry, false)}});
    }
    return {};
  }

  void add_trim_nodes(std::vector<std::uint64_t>& children) {
    first_trim_node_ = layout_.nodes.size();
    for (const Scene::Placed& placed : scene_.trims) {
      Quat previous{0, 0, 0, 0};
      const NodePose pose = node_pose(space_, placed, Pose{}, previous);
      Json node{{"name", placed.name},
                {"mesh", mesh_of_shape_[placed.shape]},
                {"translation", pose.translation},
                {"rotation", pose.rotation}};
      if (placed.scale != 1) node["scale"] = {placed.scale, placed.scale, placed.scale};
      node["extras"] = {{"trim", placed.trim}};
      children.push_back(layout_.nodes.size());
      layout_.nodes.push_back(std::move(node));
    }
  }

  void add_instances(std::vector<std::uint64_t>& children) {
    std::vector<std::vector<const Scene::Placed*>> of_shape(scene_.shapes.size());
    for (const Scene::Placed& placed : scene_.trims) of_shape[placed.shape].push_back(&placed);
    for (std::size_t shape = 0; shape < of_shape.size(); ++shape) {
      if (of_shape[shape].empty()) continue;
      std::vector<float> translations, rotations, scales, ids;
      bool scaled = false;
      for (const Scene::Placed* placed : of_shape[shape]) {
        Quat previous{0, 0, 0, 0};
        const NodePose pose = node_pose(space_, *placed, Pose{}, previous);
        translations.insert(translations.end(), pose.translation.begin(), pose.translation.end());
        rotations.insert(rotations.end(), pose.rotation.begin(), pose.rotation.end());
        scales.insert(scales.end(), 3, static_cast<float>(placed->scale));
        scaled = scaled || placed->scale != 1;
        ids.push_back(static_cast<float>(placed->trim));  // exact below 2^24
      }
      Json attributes{{"TRANSLATION", layout_.attribute(translations, 3)},
                      {"ROTATION", layout_.attribute(rotations, 4)}};
      if (scaled) attributes["SCALE"] = layout_.attribute(scales, 3);
      attributes["_TRIM"] = layout_.attribute(ids, 1);
      children.push_back(layout_.nodes.size());
      layout_.nodes.push_back(Json{{"name", scene_.shape_names[shape]},
                                   {"mesh", mesh_of_shape_[shape]},
                                   {"extensions", {{"EXT_mesh_gpu_instancing", {{"attributes", attributes}}}}}});
    }
  }

  // Seconds from the first frame on. Numbers that do not ascend (or not in float32) give way to the frames' order.
  std::vector<float> times() const {
    std::vector<float> seconds(frames());
    for (const bool by_number : {true, false}) {
      bool ascending = true;
      for (std::size_t i = 0; i < frames(); ++i) {
        const double count =
            by_number ? static_cast<double>(scene_.frame_numbers[i]) - static_cast<double>(scene_.frame_numbers[0])
                      : static_cast<double>(i);
        seconds[i] = static_cast<float>(count / scene_.frames_per_second);
        ascending = ascending && (i == 0 || seconds[i] > seconds[i - 1]);
      }
      if (ascending) break;
    }
    return seconds;
  }

  void add_animation() {
    const std::vector<float> seconds = times();
    const std::uint64_t time = layout_.accessor(layout_.rest_view(bytes_of(seconds), 0), 0, frames(), kFloat, "SCALAR");
    layout_.state_extremes(time, seconds, 1);
    Json channels = Json::array(), samplers = Json::array();
    const auto animate = [&](std::uint64_t node, const char* path, std::uint64_t output) {
      channels.push_back(Json{{"sampler", samplers.size()}, {"target", {{"node", node}, {"path", path}}}});
      samplers.push_back(
          Json{{"input", time}, {"interpolation", options_.step ? "STEP" : "LINEAR"}, {"output", output}});
    };
    if (has_cloth()) {
      weights_view_ = layout_.view(frames() * frames() * sizeof(float), 0);
      animate(cloth_node_, "weights", layout_.accessor(weights_view_, 0, frames() * frames(), kFloat, "SCALAR"));
    }
    if (!scene_.trims.empty()) {
      translations_view_ = layout_.view(scene_.trims.size() * frames() * 12, 0);
      rotations_view_ = layout_.view(scene_.trims.size() * frames() * 16, 0);
      for (std::size_t t = 0; t < scene_.trims.size(); ++t) {
        const std::uint64_t node = first_trim_node_ + t;
        animate(node, "translation", layout_.accessor(translations_view_, t * frames() * 12, frames(), kFloat, "VEC3"));
        animate(node, "rotation", layout_.accessor(rotations_view_, t * frames() * 16, frames(), kFloat, "VEC4"));
      }
    }
    layout_.animation = Json{{"name", "frames"}, {"channels", channels}, {"samplers", samplers}};
    if (has_cloth()) add_targets();
  }

  void add_targets() {
    const std::uint64_t block = cloth_vertices() * 12, sets = morphs_normals() ? 2 : 1;
    const std::uint64_t deltas = layout_.view(frames() * sets * block, kArrayBuffer, 12);
    Json names = Json::array();
    for (std::size_t i = 0; i < frames(); ++i) {
      Json target{{"POSITION", layout_.accessor(deltas, i * sets * block, cloth_vertices(), kFloat, "VEC3")}};
      if (i == 0) first_target_ = target["POSITION"];
      if (sets == 2) {
        target["NORMAL"] = layout_.accessor(deltas, (i * sets + 1) * block, cloth_vertices(), kFloat, "VEC3");
      }
      for (Json& primitive : layout_.meshes[0]["primitives"]) primitive["targets"].push_back(target);
      names.push_back("frame " + std::to_string(scene_.frame_numbers[i]));
    }
    layout_.meshes[0]["extras"] = {{"targetNames", names}};
  }

  std::string document() const {
    Json json;
    json["asset"] = {{"version", "2.0"}, {"generator", "trimtack " TT_VERSION_TEXT}};
    if (options_.instancing) {
      json["extensionsUsed"] = {"EXT_mesh_gpu_instancing"};
      json["extensionsRequired"] = {"EXT_mesh_gpu_instancing"};
    }
    json["scene"] = 0;
    json["scenes"] = Json::array({Json{{"name", scene_.name}, {"nodes", {0}}}});
    json["nodes"] = layout_.nodes;
    if (!layout_.meshes.empty()) json["meshes"] = layout_.meshes;
    if (!layout_.materials.empty()) json["materials"] = layout_.materials;
    if (!layout_.textures.empty()) json["textures"] = layout_.textures;
    if (!layout_.images.empty()) json["images"] = layout_.images;
    if (!layout_.animation.is_null()) json["animations"] = Json::array({layout_.animation});
    if (!layout_.accessors.empty()) {
      json["accessors"] = layout_.accessors;
      json["bufferViews"] = layout_.views;
      json["buffers"] = Json::array({Json{{"byteLength", layout_.size}}});
    }
    return json.dump(-1, ' ', false, Json::error_handler_t::replace);
  }

  // The header of the file and of its chunks around `json`, which fills `room` bytes.
  std::string head(const std::string& json, std::uint64_t room, std::uint64_t total) const {
    std::string text = "glTF";
    put_u32(text, 2);
    put_u32(text, total);
    put_u32(text, room);
    text += "JSON" + json;
    text.resize(20 + room, ' ');
    if (layout_.size != 0) {
      put_u32(text, (layout_.size + 3) / 4 * 4);
      text += std::string("BIN\0", 4);
    }
    return text;
  }

  Result<void> stream() {
    // Extremes of the targets are known at the end: six numbers of at most 24 characters, with brackets and names.
    const std::uint64_t open_extremes = has_cloth() ? frames() * 200 : 0;
    const std::uint64_t room = (document().size() + open_extremes + 3) / 4 * 4;
    const std::uint64_t padded = (layout_.size + 3) / 4 * 4;
    const std::uint64_t total = 20 + room + (layout_.size != 0 ? 8 + padded : 0);
    if (total > kMostBytes) {
      return Error{ErrorCode::BadInput,
                   "the scene needs " + std::to_string(total) +
                       " bytes, but a GLB file holds at most 4294967295; export fewer frames or leave normals out",
                   name_, 0};
    }
    const std::string reserved = head("", room, total);
    data_at_ = reserved.size();
    if (auto done = out_.append(name_, reserved); !done) return done;
    if (auto done = out_.append(name_, layout_.rest); !done) return done;
    written_ = layout_.rest.size();
    if (!layout_.animation.is_null()) {
      if (auto done = stream_frames(); !done) return done;
    }
    if (auto done = pad_to(padded); !done) return done;
    const std::string json = document();
    if (json.size() > room) return Error{ErrorCode::Internal, "the reserved room is too small", name_, 0};
    return out_.patch(name_, 0, head(json, room, total));
  }

  Result<void> pad_to(std::uint64_t offset) {
    const std::string zeros(std::min<std::uint64_t>(offset - written_, std::size_t{1} << 20), '\0');
    while (written_ < offset) {
      const std::uint64_t size = std::min<std::uint64_t>(zeros.size(), offset - written_);
      if (auto done = out_.append(name_, std::string_view(zeros).substr(0, size)); !done) return done;
      written_ += size;
    }
    return {};
  }

  Result<void> stream_frames() {
    if (has_cloth()) {
      if (auto done = stream_weights(); !done) return done;
    }
    const std::size_t trims = scene_.trims.size();
    // Keys lie trim by trim, frames come one by one: the keys' room is filled in block by block of frames.
    if (trims != 0) {
      if (auto done = pad_to(layout_.offset_of(rotations_view_) + trims * frames() * 16); !done) return done;
    }
    const std::size_t block =
        std::clamp<std::size_t>(kKeyBlockBytes / (28 * std::max<std::size_t>(trims, 1)), 1, frames());
    std::vector<Vec3> cloth(scene_.cloth == nullptr ? 0 : scene_.cloth->positions.size());
    std::vector<Pose> poses(trims);
    std::vector<Quat> previous(trims, Quat{0, 0, 0, 0});
    if (morphs_normals()) rest_normals_ = smooth_normals(scene_.cloth->positions, cloth_.position_triangles);
    for (std::size_t first = 0; first < frames(); first += block) {
      const std::size_t count = std::min(block, frames() - first);
      translations_.assign(trims * count * 3, 0);
      rotations_.assign(trims * count * 4, 0);
      for (std::size_t i = 0; i < count; ++i) {
        if (auto done = scene_.frame(first + i, cloth, poses); !done) return done;
        if (auto done = keep_keys(first + i, i, count, poses, previous); !done) return done;
        if (!has_cloth()) continue;
        if (auto done = stream_target(first + i, cloth); !done) return done;
      }
      if (auto done = flush_keys(first, count); !done) return done;
    }
    return {};
  }

  Result<void> stream_weights() {
    if (auto done = pad_to(layout_.offset_of(weights_view_)); !done) return done;
    std::vector<float> row(frames());
    for (std::size_t i = 0; i < frames(); ++i) {
      row[i] = 1;
      if (auto done = out_.append(name_, bytes_of(row)); !done) return done;
      row[i] = 0;
      written_ += row.size() * sizeof(float);
    }
    return {};
  }

  Error bad_number(std::size_t frame, const std::string& what) const {
    return {ErrorCode::BadInput,
            "frame " + std::to_string(scene_.frame_numbers[frame]) + ": " + what + " is not a finite float32 number",
            name_, 0};
  }

  Result<void> keep_keys(std::size_t frame, std::size_t i, std::size_t count, std::span<const Pose> poses,
                         std::span<Quat> previous) {
    for (std::size_t t = 0; t < poses.size(); ++t) {
      const NodePose pose = node_pose(space_, scene_.trims[t], poses[t], previous[t]);
      float sum = 0;
      for (const float value : pose.translation) sum += value;
      for (const float value : pose.rotation) sum += value;
      if (!std::isfinite(sum)) return bad_number(frame, "the pose of trim '" + scene_.trims[t].name + "'");
      std::copy(pose.translation.begin(), pose.translation.end(),
                translations_.begin() + static_cast<std::ptrdiff_t>((t * count + i) * 3));
      std::copy(pose.rotation.begin(), pose.rotation.end(),
                rotations_.begin() + static_cast<std::ptrdiff_t>((t * count + i) * 4));
    }
    return {};
  }

  Result<void> flush_keys(std::size_t first, std::size_t count) {
    const auto patch = [&](std::uint64_t view, const std::vector<float>& keys,
                           std::uint64_t key_bytes) -> Result<void> {
      const std::string_view bytes = bytes_of(keys);
      const std::uint64_t at = data_at_ + layout_.offset_of(view) + first * key_bytes;
      if (count == frames()) return out_.patch(name_, at, bytes);
      for (std::size_t t = 0; t < scene_.trims.size(); ++t) {
        const std::string_view of_trim = bytes.substr(t * count * key_bytes, count * key_bytes);
        if (auto done = out_.patch(name_, at + t * frames() * key_bytes, of_trim); !done) return done;
      }
      return {};
    };
    if (scene_.trims.empty()) return {};
    if (auto done = patch(translations_view_, translations_, 12); !done) return done;
    return patch(rotations_view_, rotations_, 16);
  }

  // A frame's displacements from the float32 rest positions, so that rounding does not add up.
  Result<void> stream_target(std::size_t frame, std::span<const Vec3> cloth) {
    const std::vector<CornerVertex>& vertices = cloth_.corners.vertices;
    std::vector<float> deltas(vertices.size() * 3);
    for_ranges(options_.executor, vertices.size(), 16384, [&](std::size_t begin, std::size_t end) {
      for (std::size_t i = begin; i < end; ++i) {
        const Vec3 p = space_.point(cloth[vertices[i].position]);
        for (std::size_t axis = 0; axis < 3; ++axis) {
          deltas[3 * i + axis] = static_cast<float>(p[static_cast<int>(axis)] - cloth_.positions[3 * i + axis]);
        }
      }
    });
    for (std::size_t i = 0; i < deltas.size(); ++i) {
      if (!std::isfinite(deltas[i])) {
        return bad_number(frame, "the position of cloth vertex " + std::to_string(vertices[i / 3].position));
      }
    }
    layout_.state_extremes(first_target_ + frame * (morphs_normals() ? 2 : 1), deltas, 3);
    if (auto done = out_.append(name_, bytes_of(deltas)); !done) return done;
    written_ += deltas.size() * sizeof(float);
    return morphs_normals() ? stream_normals(cloth, deltas) : Result<void>{};
  }

  // The cloth's own normal, turned as the smooth normal of its vertex turned since rest.
  Result<void> stream_normals(std::span<const Vec3> cloth, std::vector<float>& deltas) {
    const std::vector<Vec3> now = smooth_normals(cloth, cloth_.position_triangles);
    const std::vector<CornerVertex>& vertices = cloth_.corners.vertices;
    for (std::size_t i = 0; i < vertices.size(); ++i) {
      const Vec3 from = space_.turn * rest_normals_[vertices[i].position];
      const Vec3 to = space_.turn * now[vertices[i].position];
      const Vec3 own{cloth_.normals[3 * i], cloth_.normals[3 * i + 1], cloth_.normals[3 * i + 2]};
      // Rotation about from x to by Rodrigues' formula with cos = from . to; undefined for opposite vectors.
      const Vec3 axis = cross(from, to);
      const double cosine = dot(from, to);
      Vec3 turned = to;
      if (1 + cosine > 1e-6) turned = cosine * own + cross(axis, own) + dot(axis, own) / (1 + cosine) * axis;
      if (to == Vec3{} || from == Vec3{}) turned = own;
      for (std::size_t k = 0; k < 3; ++k) {
        deltas[3 * i + k] = static_cast<float>(turned[static_cast<int>(k)] - own[static_cast<int>(k)]);
      }
    }
    if (auto done = out_.append(name_, bytes_of(deltas)); !done) return done;
    written_ += deltas.size() * sizeof(float);
    return {};
  }

  FileSet& out_;
  const std::string& name_;
  const Scene& scene_;
  const GlbWriteOptions& options_;
  HostSpace space_;
  Layout layout_;
  Geometry cloth_;
  std::map<std::pair<std::string, bool>, std::uint64_t> material_of_;
  std::map<Index, std::uint64_t> texture_of_;
  std::vector<std::uint64_t> mesh_of_shape_;
  std::uint64_t cloth_node_ = 0, first_trim_node_ = 0, first_target_ = 0;
  std::uint64_t weights_view_ = 0, translations_view_ = 0, rotations_view_ = 0;
  std::uint64_t data_at_ = 0, written_ = 0;
  std::vector<float> translations_, rotations_;
  std::vector<Vec3> rest_normals_;
};

}  // namespace

Result<void> write_glb(FileSet& out, const std::string& name, const Scene& scene, const GlbWriteOptions& options,
                       Report& report) {
  if (scene.cloth != nullptr && !scene.cloth->loose.empty()) {
    add(report, {Severity::Note, "scene-loose", "lines and points are not part of a scene", scene.cloth->file, 0,
                 scene.cloth->loose.size()});
  }
  return GlbWriter(out, name, scene, options).write();
}

}  // namespace trimtack
