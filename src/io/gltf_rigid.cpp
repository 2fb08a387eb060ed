// SPDX-License-Identifier: MIT
// Khronos Group, glTF 2.0 specification. The garment's JSON is kept and edited: what this file does not touch stays.
#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <utility>

#include "io/gltf_garment.hpp"
#include "io/json_text.hpp"
#include "io/scene_geometry.hpp"

namespace trimtack {
namespace gltf {
namespace {

constexpr std::size_t kNone64 = ~std::size_t{0};
constexpr std::size_t kInfluences = 4;

class RigidWriter {
 public:
  RigidWriter(const GltfGarment::Impl& garment, const RigidGlbRequest& request, Report& report)
      : garment_(garment), request_(request), report_(report), json_(garment.document.json) {
    if (!json_.contains("accessors")) json_["accessors"] = Json::array();
    layout_.views = json_.contains("bufferViews") ? json_["bufferViews"] : Json::array();
    for (Json& view : layout_.views) {
      const std::uint64_t buffer = index_or(view, "buffer", 0);
      const std::uint64_t shift =
          buffer < garment.document.buffer_offset.size() ? garment.document.buffer_offset[buffer] : 0;
      view["byteOffset"] = index_or(view, "byteOffset", 0) + shift;
      view["buffer"] = 0;
    }
    layout_.accessors = json_["accessors"];
    layout_.rest = garment.document.bin;
    layout_.size = layout_.rest.size();
  }

  Result<std::string> write() {
    if (auto done = check_trims(); !done) return done.error();
    if (request_.as == RigidAs::Nodes) {
      if (!request_.poses) return Error{ErrorCode::Usage, "poses are needed to animate trims as nodes", file(), 0};
      if (auto done = take_trims_out(); !done) return done.error();
      if (auto done = add_trim_nodes(); !done) return done.error();
      for (std::size_t clip = 0; clip < garment_.clips.size(); ++clip) {
        if (auto done = animate(clip); !done) return done.error();
      }
    } else {
      if (auto done = share_weights(); !done) return done.error();
    }
    return pack();
  }

 private:
  const std::string& file() const { return garment_.document.file; }
  Error bad(std::string message) const { return {ErrorCode::BadInput, std::move(message), file(), 0}; }

  std::size_t run_of_face(Index face) const {
    const auto after = std::upper_bound(garment_.runs.begin(), garment_.runs.end(), face,
                                        [](Index f, const FaceRun& run) { return f < run.first_face; });
    return static_cast<std::size_t>(after - garment_.runs.begin()) - 1;
  }
  std::size_t block_of_vertex(Index vertex) const {
    const auto after = std::upper_bound(garment_.blocks.begin(), garment_.blocks.end(), vertex,
                                        [](Index v, const VertexBlock& block) { return v < block.first; });
    return static_cast<std::size_t>(after - garment_.blocks.begin()) - 1;
  }

  Result<void> check_trims() {
    trim_of_face_.assign(garment_.mesh.face_count(), kNone);
    for (std::size_t t = 0; t < request_.trims.size(); ++t) {
      const RigidGlbTrim& trim = request_.trims[t];
      if (trim.faces.empty()) return bad("trim '" + trim.name + "' has no faces");
      for (const Index face : trim.faces) {
        if (face >= trim_of_face_.size() || trim_of_face_[face] != kNone) {
          return bad("trim '" + trim.name + "' names a face that is not in the file, or is another trim's");
        }
        trim_of_face_[face] = static_cast<Index>(t);
      }
    }
    return {};
  }

  // The mesh of a node, made its own first when other nodes show it too.
  Json& own_mesh(std::size_t node) {
    Json& json = json_["nodes"][node];
    const std::uint64_t mesh = json["mesh"].get<std::uint64_t>();
    if (own_.count(node) == 0) {
      std::size_t users = 0;
      for (const Json& other : json_["nodes"]) users += index_or(other, "mesh", kNone64) == mesh ? 1 : 0;
      if (users > 1) {
        Json copy = json_["meshes"][mesh];
        json["mesh"] = json_["meshes"].size();
        json_["meshes"].push_back(std::move(copy));
      }
      own_.insert(node);
    }
    return json_["meshes"][json_["nodes"][node]["mesh"].get<std::uint64_t>()];
  }

  // --- as nodes ---

  Result<void> take_trims_out() {
    std::map<std::size_t, std::set<std::size_t>> emptied;  // node -> primitives
    for (const FaceRun& run : garment_.runs) {
      std::vector<Index> remaining;
      for (std::size_t i = 0; i < run.triangles.size(); ++i) {
        if (trim_of_face_[run.first_face + i] != kNone) continue;
        remaining.insert(remaining.end(), run.triangles[i].begin(), run.triangles[i].end());
      }
      if (remaining.size() == 3 * run.triangles.size()) continue;
      const VertexBlock& block = garment_.blocks[run.block];
      Json& primitive = own_mesh(block.node)["primitives"][run.primitive];
      if (remaining.empty()) {
        emptied[block.node].insert(run.primitive);
        continue;
      }
      primitive["indices"] = layout_.indices(remaining, block.positions.size());
      primitive.erase("mode");
      if (primitive.contains("extensions")) primitive["extensions"].erase("KHR_draco_mesh_compression");
      if (primitive.contains("extensions") && primitive["extensions"].empty()) primitive.erase("extensions");
    }
    for (const auto& [node, primitives] : emptied) {
      Json& list = own_mesh(node)["primitives"];
      for (auto at = primitives.rbegin(); at != primitives.rend(); ++at) list.erase(*at);
      if (!list.empty()) continue;
      // A mesh must have a primitive: the node stops showing it, and the mesh becomes a trim's below or goes.
      unused_meshes_.insert(json_["nodes"][node]["mesh"].get<std::uint64_t>());
      for (const char* key : {"mesh", "skin", "weights"}) json_["nodes"][node].erase(key);
      erase_weight_channels(node);
    }
    return {};
  }

  void erase_weight_channels(std::size_t node) {
    if (!json_.contains("animations")) return;
    for (Json& animation : json_["animations"]) {
      Json kept = Json::array();
      for (const Json& channel : animation["channels"]) {
        const Json& target = channel["target"];
        if (index_or(target, "node", kNone64) != node || target["path"] != "weights") kept.push_back(channel);
      }
      animation["channels"] = std::move(kept);
    }
  }

  Result<void> add_trim_nodes() {
    first_node_ = json_["nodes"].size();
    std::vector<Pose> poses(request_.trims.size());
    if (auto done = request_.poses(kNone, 0, poses); !done) return done;
    Json* scene_nodes = scene_node_list();
    for (std::size_t t = 0; t < request_.trims.size(); ++t) {
      const RigidGlbTrim& trim = request_.trims[t];
      Result<Json> mesh = trim_mesh(t);
      if (!mesh) return mesh.error();
      std::uint64_t mesh_index = json_["meshes"].size();
      if (!unused_meshes_.empty()) {
        mesh_index = *unused_meshes_.begin();
        unused_meshes_.erase(unused_meshes_.begin());
        json_["meshes"][mesh_index] = std::move(*mesh);
      } else {
        json_["meshes"].push_back(std::move(*mesh));
      }
      Quat previous{0, 0, 0, 0};
      const NodePose pose = key_of(t, poses[t], previous);
      scene_nodes->push_back(json_["nodes"].size());
      json_["nodes"].push_back(Json{{"name", trim.name},
                                    {"mesh", mesh_index},
                                    {"translation", pose.translation},
                                    {"rotation", pose.rotation},
                                    {"extras", {{"trim", trim.trim}}}});
    }
    return {};
  }

  Json* scene_node_list() {
    if (!json_.contains("scenes") || json_["scenes"].empty()) {
      Json roots = Json::array();
      for (const std::size_t node : garment_.skeleton.order) {
        if (garment_.skeleton.nodes[node].parent == kNone64) roots.push_back(node);
      }
      json_["scenes"] = Json::array({Json{{"nodes", roots}}});
      json_["scene"] = 0;
    }
    Json& scene = json_["scenes"][index_or(json_, "scene", 0)];
    if (!scene.contains("nodes")) scene["nodes"] = Json::array();
    return &scene["nodes"];
  }

  NodePose key_of(std::size_t t, const Pose& pose, Quat& previous) const {
    HostSpace space;
    space.metres_per_unit = 1;
    Scene::Placed placed;
    placed.placement.translation = centre_[t];
    return node_pose(space, placed, pose, previous);
  }

  Result<Json> trim_mesh(std::size_t t) {
    const RigidGlbTrim& trim = request_.trims[t];
    Box box;
    bool first = true;
    std::map<std::size_t, std::vector<Index>> faces_of_run;
    for (const Index face : trim.faces) {
      faces_of_run[run_of_face(face)].push_back(face);
      for (const Index v : garment_.mesh.face(face)) {
        const Vec3& p = garment_.mesh.positions[v];
        if (first) box = {p, p};
        first = false;
        for (int axis = 0; axis < 3; ++axis) {
          box.min[axis] = std::min(box.min[axis], p[axis]);
          box.max[axis] = std::max(box.max[axis], p[axis]);
        }
      }
    }
    centre_.push_back(0.5 * (box.min + box.max));
    Json primitives = Json::array();
    for (auto& [run, faces] : faces_of_run) {
      std::sort(faces.begin(), faces.end());
      Result<Json> primitive = trim_primitive(garment_.runs[run], faces, centre_.back());
      if (!primitive) return primitive.error();
      primitives.push_back(std::move(*primitive));
    }
    return Json{{"name", trim.name}, {"primitives", std::move(primitives)}};
  }

  // The faces as a primitive of their own, at rest and relative to `centre`, with the attributes that a rigid mesh
  // needs.
  Result<Json> trim_primitive(const FaceRun& run, const std::vector<Index>& faces, const Vec3& centre) {
    const VertexBlock& block = garment_.blocks[run.block];
    std::vector<Index> indices, vertices;
    std::map<Index, Index> local;
    for (const Index face : faces) {
      for (const Index v : garment_.mesh.face(face)) {
        const auto [at, is_new] = local.emplace(v - block.first, static_cast<Index>(vertices.size()));
        if (is_new) vertices.push_back(v - block.first);
        indices.push_back(at->second);
      }
    }
    std::vector<float> positions;
    for (const Index v : vertices) {
      const Vec3 p = garment_.mesh.positions[block.first + v] - centre;
      for (int axis = 0; axis < 3; ++axis) positions.push_back(static_cast<float>(p[axis]));
    }
    Json attributes;
    attributes["POSITION"] = layout_.attribute(positions, 3);
    layout_.state_extremes(attributes["POSITION"].get<std::uint64_t>(), positions, 3);
    for (const auto& [key, accessor] : block.attributes.items()) {
      const bool texcoord = key.substr(0, 9) == "TEXCOORD_", colour = key.substr(0, 6) == "COLOR_";
      if (key != "NORMAL" && key != "TANGENT" && !texcoord && !colour) continue;
      const Result<Numbers> numbers = read_accessor(garment_.document, accessor.get<std::uint64_t>());
      if (!numbers) return numbers.error();
      if (numbers->count != block.positions.size()) return bad(key + " does not match its mesh");
      attributes[key] =
          layout_.attribute(taken(*numbers, vertices, key, garment_.rest[run.block].linear), numbers->components);
    }
    const Json& source = garment_.document.json["meshes"][run.mesh]["primitives"][run.primitive];
    Json primitive{{"attributes", attributes}, {"indices", layout_.indices(indices, vertices.size())}};
    if (source.contains("material")) primitive["material"] = source["material"];
    return primitive;
  }

  static std::vector<float> taken(const Numbers& numbers, const std::vector<Index>& vertices, const std::string& key,
                                  const Mat3& linear) {
    std::vector<float> out;
    for (const Index v : vertices) {
      const double* item = numbers.item(v);
      if (key == "NORMAL" || key == "TANGENT") {
        const Vec3 x = linear.column(0), y = linear.column(1), z = linear.column(2), n{item[0], item[1], item[2]};
        // Normals turn with the cofactors, tangents with the map itself.
        const Mat3 turn = key == "TANGENT" ? linear : from_columns(cross(y, z), cross(z, x), cross(x, y));
        Vec3 turned = normalized(turn * n);
        if (turned == Vec3{}) turned = {0, 0, 1};
        for (int axis = 0; axis < 3; ++axis) out.push_back(static_cast<float>(turned[axis]));
        if (numbers.components == 4) out.push_back(item[3] < 0 ? -1.0F : 1.0F);
      } else {
        for (std::size_t c = 0; c < numbers.components; ++c) out.push_back(static_cast<float>(item[c]));
      }
    }
    return out;
  }

  Result<void> animate(std::size_t clip) {
    const std::vector<double>& seconds = garment_.clips[clip].seconds;
    std::vector<float> times;
    std::vector<std::size_t> frames;
    for (std::size_t i = 0; i < seconds.size(); ++i) {
      const auto time = static_cast<float>(seconds[i]);
      if (!times.empty() && time <= times.back()) continue;  // the same moment in float32
      times.push_back(time);
      frames.push_back(i);
    }
    const std::size_t count = request_.trims.size(), keys = frames.size();
    if (count == 0) return {};
    std::vector<float> translations(count * keys * 3), rotations(count * keys * 4);
    std::vector<Pose> poses(count);
    std::vector<Quat> previous(count, Quat{0, 0, 0, 0});
    for (std::size_t k = 0; k < keys; ++k) {
      if (auto done = request_.poses(static_cast<Index>(clip), frames[k], poses); !done) return done;
      for (std::size_t t = 0; t < count; ++t) {
        const NodePose pose = key_of(t, poses[t], previous[t]);
        std::copy(pose.translation.begin(), pose.translation.end(),
                  translations.begin() + static_cast<std::ptrdiff_t>((t * keys + k) * 3));
        std::copy(pose.rotation.begin(), pose.rotation.end(),
                  rotations.begin() + static_cast<std::ptrdiff_t>((t * keys + k) * 4));
      }
    }
    const auto finite = [](float value) { return std::isfinite(value); };
    if (!std::all_of(translations.begin(), translations.end(), finite) ||
        !std::all_of(rotations.begin(), rotations.end(), finite)) {
      return bad("a pose of animation '" + garment_.clips[clip].name + "' is not finite");
    }
    const std::uint64_t time = layout_.accessor(layout_.rest_view(bytes_of(times), 0), 0, keys, kFloat, "SCALAR");
    layout_.state_extremes(time, times, 1);
    const std::uint64_t moves = layout_.rest_view(bytes_of(translations), 0);
    const std::uint64_t turns = layout_.rest_view(bytes_of(rotations), 0);
    Json& animation = json_["animations"][garment_.skeleton.animations[clip].index];
    for (std::size_t t = 0; t < count; ++t) {
      for (const bool turn : {false, true}) {
        const std::uint64_t output =
            layout_.accessor(turn ? turns : moves, t * keys * (turn ? 16 : 12), keys, kFloat, turn ? "VEC4" : "VEC3");
        animation["channels"].push_back(
            Json{{"sampler", animation["samplers"].size()},
                 {"target", {{"node", first_node_ + t}, {"path", turn ? "rotation" : "translation"}}}});
        animation["samplers"].push_back(Json{{"input", time}, {"interpolation", "LINEAR"}, {"output", output}});
      }
    }
    return {};
  }

  // --- as weights ---

  // Joint nodes and weights of the anchor: its vertices' influences, blended; the largest four, summing to 1.
  Result<std::vector<std::pair<std::size_t, double>>> anchor_influences(const RigidGlbTrim& trim) const {
    std::map<std::size_t, double> of_joint;
    for (std::size_t a = 0; a < 3; ++a) {
      if (trim.anchor[a] >= garment_.mesh.positions.size()) return bad("trim '" + trim.name + "' has no anchor");
      const VertexBlock& block = garment_.blocks[block_of_vertex(trim.anchor[a])];
      if (block.influences == 0) {
        return bad("trim '" + trim.name + "' sits on cloth without a skin; write it as nodes");
      }
      const std::size_t first = (trim.anchor[a] - block.first) * block.influences;
      for (std::size_t k = first; k < first + block.influences; ++k) {
        if (block.weights[k] == 0) continue;
        of_joint[garment_.skins[block.skin].joints[block.joints[k]]] += trim.weights[a] * block.weights[k];
      }
    }
    std::vector<std::pair<std::size_t, double>> sorted(of_joint.begin(), of_joint.end());
    std::stable_sort(sorted.begin(), sorted.end(), [](const auto& p, const auto& q) { return p.second > q.second; });
    if (sorted.size() > kInfluences) sorted.resize(kInfluences);
    double sum = 0;
    for (const auto& [joint, weight] : sorted) sum += std::max(weight, 0.0);
    if (!(sum > 0)) return bad("the anchor of trim '" + trim.name + "' has no weights");
    for (auto& [joint, weight] : sorted) weight = std::max(weight, 0.0) / sum;
    return sorted;
  }

  Result<void> share_weights() {
    std::map<std::size_t, VertexBlock> edited;
    for (const RigidGlbTrim& trim : request_.trims) {
      const auto influences = anchor_influences(trim);
      if (!influences) return influences.error();
      for (const Index face : trim.faces) {
        const std::size_t index = garment_.runs[run_of_face(face)].block;
        auto at = edited.find(index);
        if (at == edited.end()) at = edited.emplace(index, garment_.blocks[index]).first;
        VertexBlock& block = at->second;
        if (block.influences == 0) return bad("trim '" + trim.name + "' has no skin; write it as nodes");
        if (!block.targets.empty()) note_targets(trim);
        for (const Index v : garment_.mesh.face(face)) {
          if (auto done = set_influences(trim, *influences, v - block.first, block); !done) return done;
        }
      }
    }
    for (const auto& [index, block] : edited) replace_influences(index, block);
    return {};
  }

  void note_targets(const RigidGlbTrim& trim) {
    add(report_, {Severity::Warning, "gltf-targets",
                  "morph targets still bend this trim; write trims as nodes to keep them rigid", trim.name, 0, 1});
  }

  Result<void> set_influences(const RigidGlbTrim& trim, const std::vector<std::pair<std::size_t, double>>& influences,
                              std::size_t vertex, VertexBlock& block) const {
    const std::vector<std::size_t>& joints = garment_.skins[block.skin].joints;
    for (std::size_t k = 0; k < block.influences; ++k) {
      const std::size_t at = vertex * block.influences + k;
      block.joints[at] = 0;
      block.weights[at] = 0;
      if (k >= influences.size() || influences[k].second == 0) continue;
      const auto found = std::find(joints.begin(), joints.end(), influences[k].first);
      if (found == joints.end()) {
        return bad("trim '" + trim.name + "' and its cloth are bound to different joints; write it as nodes");
      }
      block.joints[at] = static_cast<Index>(found - joints.begin());
      block.weights[at] = influences[k].second;
    }
    return {};
  }

  void replace_influences(std::size_t index, const VertexBlock& block) {
    Json& mesh = own_mesh(block.node);
    for (std::size_t set = 0; set < block.influences / 4; ++set) {
      std::vector<std::uint16_t> joints;
      std::vector<float> weights;
      for (std::size_t v = 0; v < block.positions.size(); ++v) {
        for (std::size_t k = 0; k < 4; ++k) {
          const std::size_t at = v * block.influences + 4 * set + k;
          const auto weight = static_cast<float>(block.weights[at]);
          weights.push_back(weight);
          joints.push_back(weight != 0 ? static_cast<std::uint16_t>(block.joints[at]) : std::uint16_t{0});
        }
      }
      const std::uint64_t joint_accessor = layout_.accessor(layout_.rest_view(bytes_of(joints), kArrayBuffer), 0,
                                                            block.positions.size(), kUint16, "VEC4");
      const std::uint64_t weight_accessor = layout_.attribute(weights, 4);
      for (const FaceRun& run : garment_.runs) {
        if (run.block != index) continue;
        Json& attributes = mesh["primitives"][run.primitive]["attributes"];
        attributes["JOINTS_" + std::to_string(set)] = joint_accessor;
        attributes["WEIGHTS_" + std::to_string(set)] = weight_accessor;
      }
    }
  }

  // --- the file ---

  Result<std::string> pack() {
    json_["accessors"] = layout_.accessors;
    json_["bufferViews"] = layout_.views;
    json_["buffers"] = Json::array({Json{{"byteLength", layout_.size}}});
    for (auto mesh = unused_meshes_.rbegin(); mesh != unused_meshes_.rend(); ++mesh) erase_mesh(*mesh);
    std::string json = json_.dump(-1, ' ', false, Json::error_handler_t::replace);
    json.resize((json.size() + 3) / 4 * 4, ' ');
    std::string bin = std::move(layout_.rest);
    bin.resize((layout_.size + 3) / 4 * 4, '\0');
    const std::uint64_t total = 28 + json.size() + bin.size();
    if (total > 0xffffffffU) return bad("the result would be larger than the 4 GiB that a GLB file holds");
    std::string out = "glTF";
    const auto put = [&out](std::uint64_t value) {
      for (int i = 0; i < 4; ++i) out += static_cast<char>(value >> (8 * i) & 0xff);
    };
    put(2);
    put(total);
    put(json.size());
    out += "JSON" + json;
    put(bin.size());
    return out + std::string("BIN\0", 4) + bin;
  }

  void erase_mesh(std::uint64_t mesh) {
    json_["meshes"].erase(mesh);
    for (Json& node : json_["nodes"]) {
      const std::uint64_t shown = index_or(node, "mesh", kNone64);
      if (shown != kNone64 && shown > mesh) node["mesh"] = shown - 1;
    }
  }

  const GltfGarment::Impl& garment_;
  const RigidGlbRequest& request_;
  Report& report_;
  Json json_;
  Layout layout_;
  std::vector<Index> trim_of_face_;
  std::set<std::size_t> own_;
  std::set<std::uint64_t> unused_meshes_;
  std::vector<Vec3> centre_;
  std::size_t first_node_ = 0;
};

}  // namespace
}  // namespace gltf

Result<void> write_rigid_glb(FileSet& out, const std::string& name, const GltfGarment& garment,
                             const RigidGlbRequest& request, Report& report) {
  try {
    const Result<std::string> bytes = gltf::RigidWriter(*garment.impl_, request, report).write();
    if (!bytes) return bytes.error();
    return out.write(name, std::string_view(*bytes));
  } catch (const gltf::Json::exception& exception) {
    return gltf::bad_gltf(garment.mesh().file, "is not valid glTF: " + json_text::reason_of(exception));
  }
}

}  // namespace trimtack
