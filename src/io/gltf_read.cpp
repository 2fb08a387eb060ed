// SPDX-License-Identifier: MIT
// Khronos Group, glTF 2.0 specification: meshes (3.7) and skins (3.7.3: linear blend of joint matrices; the transform
// of the node that shows a skinned mesh is ignored).
#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <utility>

#include "io/gltf_garment.hpp"
#include "io/json_text.hpp"
#include "trimtack/io/file_set.hpp"

namespace trimtack {
namespace gltf {
namespace {

constexpr std::size_t kNoSkin = ~std::size_t{0};
constexpr double kMostFrames = 1e6;

Vec3 vec3_at(const Numbers& numbers, std::size_t i) {
  const double* p = numbers.item(i);
  return {p[0], p[1], p[2]};
}

// Transforms normals: the inverse transpose up to scale (the cofactors).
Mat3 cofactors(const Mat3& a) {
  const Vec3 x = a.column(0), y = a.column(1), z = a.column(2);
  return from_columns(cross(y, z), cross(z, x), cross(x, y));
}

class GarmentReader {
 public:
  GarmentReader(GltfGarment::Impl& garment, const GltfReadOptions& options, Report& report)
      : garment_(garment), document_(garment.document), options_(options), report_(report) {}

  Result<void> read() {
    Result<Skeleton> skeleton = read_skeleton(document_);
    if (!skeleton) return skeleton.error();
    garment_.skeleton = std::move(*skeleton);
    if (auto done = read_skins(); !done) return done;
    evaluate(garment_.skeleton, nullptr, 0, state_);
    world_transforms(garment_.skeleton, state_, world_);
    garment_.mesh.file = document_.file;
    std::vector<std::size_t> order = garment_.skeleton.order;
    std::sort(order.begin(), order.end());
    for (const std::size_t node : order) {
      if (auto done = read_node(node); !done) return done;
    }
    if (garment_.mesh.face_count() == 0) return bad("shows no triangle in its scene");
    return read_clips();
  }

 private:
  Error bad(std::string message) const { return bad_gltf(document_.file, std::move(message)); }

  void left_out(const std::string& what) {
    add(report_, {Severity::Note, "gltf-left-out", what + " is not read", document_.file, 0, 1});
  }

  Result<void> read_skins() {
    for (std::size_t i = 0; i < document_.count("skins"); ++i) {
      const Json& json = document_.json["skins"][i];
      Skin skin;
      for (const Json& joint : json.at("joints")) {
        const std::uint64_t node = joint.is_number_unsigned() ? joint.get<std::uint64_t>() : ~std::uint64_t{0};
        if (node >= garment_.skeleton.nodes.size()) return bad("skin " + std::to_string(i) + " names a wrong joint");
        skin.joints.push_back(node);
      }
      skin.inverse_bind.resize(skin.joints.size());
      if (json.contains("inverseBindMatrices")) {
        const Result<Numbers> matrices = read_accessor(document_, index_or(json, "inverseBindMatrices", 0));
        if (!matrices) return matrices.error();
        if (matrices->components != 16 || matrices->count < skin.joints.size()) {
          return bad("skin " + std::to_string(i) + " has too few matrices");
        }
        for (std::size_t j = 0; j < skin.joints.size(); ++j) skin.inverse_bind[j] = from_matrix(matrices->item(j));
      }
      garment_.skins.push_back(std::move(skin));
    }
    return {};
  }

  Result<void> read_node(std::size_t node) {
    const Json& json = document_.json["nodes"][node];
    if (!json.contains("mesh")) return {};
    const std::uint64_t mesh = index_or(json, "mesh", 0);
    if (mesh >= document_.count("meshes"))
      return bad("node " + std::to_string(node) + " names a mesh that does not exist");
    std::size_t skin = kNoSkin;
    if (json.contains("skin")) {
      skin = index_or(json, "skin", 0);
      if (skin >= garment_.skins.size() || garment_.skins[skin].joints.empty()) {
        return bad("node " + std::to_string(node) + " names a skin that does not exist or has no joint");
      }
    }
    const Json& primitives = document_.json["meshes"][mesh].at("primitives");
    for (std::size_t p = 0; p < primitives.size(); ++p) {
      const std::uint64_t mode = index_or(primitives[p], "mode", 4);
      if (mode < 4 || mode > 6 || !primitives[p].contains("attributes") ||
          !primitives[p]["attributes"].contains("POSITION")) {
        left_out("a primitive of points, lines or without positions");
        continue;
      }
      const Result<std::size_t> block = block_of(node, mesh, skin, primitives[p]);
      if (!block) return block.error();
      if (auto done = read_faces(*block, mesh, p, mode, primitives[p]); !done) return done;
    }
    return {};
  }

  // Primitives of a node with the same attributes share their vertices.
  Result<std::size_t> block_of(std::size_t node, std::size_t mesh, std::size_t skin, const Json& primitive) {
    for (const auto& [name, accessor] : primitive["attributes"].items()) {
      if (!accessor.is_number()) return bad("attribute " + name.substr(0, 40) + " names no accessor");
    }
    Json key = {node, primitive["attributes"]};
    if (primitive.contains("targets")) key.push_back(primitive["targets"]);
    const auto known = block_of_key_.find(key.dump());
    if (known != block_of_key_.end()) return known->second;
    VertexBlock block;
    block.node = node;
    block.mesh = mesh;
    block.skin = skin;
    block.attributes = primitive["attributes"];
    const Result<Numbers> positions = read_accessor(document_, index_or(block.attributes, "POSITION", 0));
    if (!positions) return positions.error();
    if (positions->components != 3) return bad("a POSITION accessor is not VEC3");
    const std::size_t count = positions->count;
    if (garment_.mesh.positions.size() + count >= kNone) return bad("has more than 4294967294 vertices");
    for (std::size_t i = 0; i < count; ++i) block.positions.push_back(vec3_at(*positions, i));
    if (auto done = read_targets(primitive, count, block); !done) return done.error();
    if (skin != kNoSkin) {
      if (auto done = read_influences(count, block); !done) return done.error();
    }
    const std::size_t index = garment_.blocks.size();
    block_of_key_[key.dump()] = index;
    garment_.rest.push_back(rest_of(block));
    if (auto done = add_vertices(block); !done) return done.error();
    garment_.blocks.push_back(std::move(block));
    return index;
  }

  Result<void> read_targets(const Json& primitive, std::size_t count, VertexBlock& block) {
    if (!primitive.contains("targets")) return {};
    for (const Json& target : primitive["targets"]) {
      block.targets.emplace_back();
      if (!target.contains("POSITION")) continue;
      Result<Numbers> deltas = read_accessor(document_, index_or(target, "POSITION", 0));
      if (!deltas) return deltas.error();
      if (deltas->components != 3 || deltas->count != count) return bad("a morph target does not match its mesh");
      block.targets.back() = std::move(deltas->values);
    }
    return {};
  }

  Result<void> read_influences(std::size_t count, VertexBlock& block) {
    const std::size_t joints = garment_.skins[block.skin].joints.size();
    std::vector<Numbers> joint_sets, weight_sets;
    for (int set = 0; block.attributes.contains("JOINTS_" + std::to_string(set)); ++set) {
      const std::string suffix = std::to_string(set);
      for (const bool weights : {false, true}) {
        const std::string name = (weights ? "WEIGHTS_" : "JOINTS_") + suffix;
        Result<Numbers> numbers = read_accessor(document_, index_or(block.attributes, name.c_str(), ~std::uint64_t{0}));
        if (!numbers) return numbers.error();
        if (numbers->components != 4 || numbers->count != count) return bad(name + " does not match its mesh");
        (weights ? weight_sets : joint_sets).push_back(std::move(*numbers));
      }
    }
    if (joint_sets.empty()) return bad("a skinned mesh has no joints");
    block.influences = 4 * joint_sets.size();
    block.joints.resize(count * block.influences);
    block.weights.resize(count * block.influences);
    for (std::size_t i = 0; i < count; ++i) {
      double sum = 0;
      for (std::size_t k = 0; k < block.influences; ++k) {
        const double joint = joint_sets[k / 4].item(i)[k % 4], weight = weight_sets[k / 4].item(i)[k % 4];
        if (!std::isfinite(weight)) return bad("a weight is not finite");
        if (weight != 0 && !(joint >= 0 && joint < static_cast<double>(joints))) {
          return bad("a vertex names a joint that its skin does not have");
        }
        block.joints[i * block.influences + k] = weight != 0 ? static_cast<Index>(joint) : 0;
        block.weights[i * block.influences + k] = weight;
        sum += weight;
      }
      // A vertex without any weight follows the first joint rather than the origin.
      if (!(sum > 0)) block.weights[i * block.influences] = sum = 1;
      for (std::size_t k = 0; k < block.influences; ++k) block.weights[i * block.influences + k] /= sum;
    }
    return {};
  }

  // The skin's uppermost joint stands for all: its world transform at rest times its inverse bind matrix.
  Affine rest_of(const VertexBlock& block) const {
    if (block.skin == kNoSkin) return world_[block.node];
    const Skin& skin = garment_.skins[block.skin];
    for (const std::size_t node : garment_.skeleton.order) {
      const auto found = std::find(skin.joints.begin(), skin.joints.end(), node);
      if (found == skin.joints.end()) continue;
      return world_[node] * skin.inverse_bind[static_cast<std::size_t>(found - skin.joints.begin())];
    }
    return {};
  }

  Result<void> add_vertices(VertexBlock& block) {
    SourceMesh& mesh = garment_.mesh;
    const Affine& rest = garment_.rest.back();
    block.first = static_cast<Index>(mesh.positions.size());
    const std::vector<double>& weights = state_[block.node].weights;
    for (std::size_t i = 0; i < block.positions.size(); ++i) {
      Vec3 p = block.positions[i];
      for (std::size_t k = 0; k < block.targets.size() && k < weights.size(); ++k) {
        if (block.targets[k].empty()) continue;
        const double* d = block.targets[k].data() + 3 * i;
        p += weights[k] * Vec3{d[0], d[1], d[2]};
      }
      mesh.positions.push_back(rest(p));
      if (!is_finite(mesh.positions.back())) return bad("vertex " + std::to_string(i) + " of a mesh is not finite");
    }
    return {};
  }

  Result<void> read_faces(std::size_t block_index, std::size_t mesh_index, std::size_t primitive_index,
                          std::uint64_t mode, const Json& primitive) {
    const VertexBlock& block = garment_.blocks[block_index];
    const std::size_t count = block.positions.size();
    std::vector<Index> indices;
    if (primitive.contains("indices")) {
      const Result<Numbers> numbers = read_accessor(document_, index_or(primitive, "indices", ~std::uint64_t{0}));
      if (!numbers) return numbers.error();
      if (numbers->components != 1) return bad("an index accessor is not SCALAR");
      for (const double value : numbers->values) {
        if (!(value >= 0 && value < static_cast<double>(count)) || value != std::floor(value)) {
          return bad("an index names a vertex that its primitive does not have");
        }
        indices.push_back(static_cast<Index>(value));
      }
    } else {
      for (std::size_t i = 0; i < count; ++i) indices.push_back(static_cast<Index>(i));
    }
    const Mat3& linear = garment_.rest[block_index].linear;
    const bool flipped = dot(cross(linear.column(0), linear.column(1)), linear.column(2)) < 0;
    FaceRun run{garment_.mesh.face_count(), block_index, mesh_index, primitive_index, flipped, {}};
    const std::size_t step = mode == 4 ? 3 : 1;
    for (std::size_t i = 0; i + 2 < indices.size(); i += step) {
      Tri t{indices[i], indices[i + 1], indices[i + 2]};
      if (mode == 5 && i % 2 == 1) std::swap(t[1], t[2]);
      if (mode == 6) t = {indices[0], indices[i + 1], indices[i + 2]};
      run.triangles.push_back(t);
    }
    if (run.triangles.empty()) return {};
    return add_faces(std::move(run), primitive);
  }

  Result<void> add_faces(FaceRun run, const Json& primitive) {
    SourceMesh& mesh = garment_.mesh;
    const VertexBlock& block = garment_.blocks[run.block];
    if (mesh.corner_position.size() + 3 * run.triangles.size() >= kNone) return bad("has too many triangles");
    mesh.states.push_back({run.first_face, state_of_run(block, primitive)});
    for (const Tri& t : run.triangles) {
      for (const Index v : turned(run, t)) mesh.corner_position.push_back(block.first + v);
      mesh.face_offsets.push_back(static_cast<Index>(mesh.corner_position.size()));
    }
    if (auto done = add_corner_data(block, run, "TEXCOORD_0", 2); !done) return done;
    if (auto done = add_corner_data(block, run, "NORMAL", 3); !done) return done;
    garment_.runs.push_back(std::move(run));
    return {};
  }

  static Tri turned(const FaceRun& run, const Tri& t) { return run.flipped ? Tri{t[0], t[2], t[1]} : t; }

  FaceState state_of_run(const VertexBlock& block, const Json& primitive) {
    SourceMesh& mesh = garment_.mesh;
    FaceState state;
    const std::uint64_t material = index_or(primitive, "material", ~std::uint64_t{0});
    if (material < document_.count("materials")) {
      const auto [at, is_new] = material_.emplace(material, static_cast<Index>(mesh.materials.size()));
      const Json& json = document_.json["materials"][material];
      if (is_new) {
        const std::string plain = "material_" + std::to_string(material);
        std::string name = line_text(json.value("name", ""), plain);
        if (std::find(mesh.materials.begin(), mesh.materials.end(), name) != mesh.materials.end()) name += " " + plain;
        mesh.materials.push_back(std::move(name));
        garment_.materials.push_back(material);
      }
      state.material = at->second;
    }
    const auto [at, is_new] = object_.emplace(block.node, static_cast<Index>(mesh.objects.size()));
    const std::string fallback = "node_" + std::to_string(block.node);
    if (is_new) mesh.objects.push_back(line_text(garment_.skeleton.nodes[block.node].name, fallback));
    state.object = at->second;
    return state;
  }

  // Names may hold anything; in a mesh they must fit one line.
  static std::string line_text(std::string name, const std::string& fallback) {
    for (char& c : name) c = static_cast<unsigned char>(c) < 0x20 || c == 0x7f ? ' ' : c;
    const std::size_t first = name.find_first_not_of(' ');
    if (first == std::string::npos) return fallback;
    return name.substr(first, name.find_last_not_of(' ') - first + 1);
  }

  // One texture coordinate or normal per vertex of a block, added with the block's first run.
  Result<void> add_corner_data(const VertexBlock& block, const FaceRun& run, const char* name, std::size_t components) {
    SourceMesh& mesh = garment_.mesh;
    std::vector<Index>& corners = components == 2 ? mesh.corner_texcoord : mesh.corner_normal;
    const std::size_t before = mesh.corner_position.size() - 3 * run.triangles.size();
    if (!block.attributes.contains(name)) {
      if (!corners.empty()) corners.resize(mesh.corner_position.size(), kNone);
      return {};
    }
    const std::pair<std::size_t, std::size_t> key{run.block, components};
    auto first = first_corner_data_.find(key);
    if (first == first_corner_data_.end()) {
      const Result<Numbers> numbers = read_accessor(document_, index_or(block.attributes, name, ~std::uint64_t{0}));
      if (!numbers) return numbers.error();
      if (numbers->components != components || numbers->count != block.positions.size()) {
        return bad(std::string(name) + " does not match its mesh");
      }
      const std::size_t size = components == 2 ? mesh.texcoords.size() : mesh.normals.size();
      first = first_corner_data_.emplace(key, static_cast<Index>(size)).first;
      const Mat3 turn = cofactors(garment_.rest[run.block].linear);
      for (std::size_t i = 0; i < numbers->count; ++i) {
        const double* item = numbers->item(i);
        if (components == 2) {
          mesh.texcoords.push_back({item[0], 1 - item[1]});
        } else {
          mesh.normals.push_back(normalized(turn * Vec3{item[0], item[1], item[2]}));
        }
        if (!std::all_of(item, item + components, [](double v) { return std::isfinite(v); })) {
          return bad(std::string(name) + " holds a number that is not finite");
        }
      }
    }
    corners.resize(before, kNone);
    for (const Tri& t : run.triangles) {
      for (const Index v : turned(run, t)) corners.push_back(first->second + v);
    }
    return {};
  }

  Result<void> read_clips() {
    const double rate = options_.frames_per_second;
    if (!(rate > 0) || !std::isfinite(rate)) {
      return Error{ErrorCode::Usage, "the frame rate must be a positive number", document_.file, 0};
    }
    for (const Animation& animation : garment_.skeleton.animations) {
      GltfGarment::Clip clip;
      clip.name = animation.name;
      const double span = animation.last - animation.first, steps = std::floor(span * rate * (1 + 1e-9) + 1e-9);
      if (!(steps < kMostFrames)) return bad("animation '" + clip.name + "' would have more than a million frames");
      const auto count = static_cast<std::size_t>(steps) + 1;
      for (std::size_t i = 0; i < count; ++i) clip.seconds.push_back(animation.first + static_cast<double>(i) / rate);
      if (animation.last - clip.seconds.back() > 1e-6 / rate) clip.seconds.push_back(animation.last);
      garment_.clips.push_back(std::move(clip));
    }
    return {};
  }

  GltfGarment::Impl& garment_;
  Document& document_;
  const GltfReadOptions& options_;
  Report& report_;
  std::vector<NodeState> state_;
  std::vector<Affine> world_;
  std::map<std::string, std::size_t> block_of_key_;
  std::map<std::uint64_t, Index> material_;
  std::map<std::size_t, Index> object_;
  std::map<std::pair<std::size_t, std::size_t>, Index> first_corner_data_;
};

// Sum of w_k M_k over a vertex' influences, applied to p.
Vec3 skinned(const VertexBlock& block, std::size_t vertex, const std::vector<Affine>& joint, const Vec3& p) {
  Vec3 sum;
  for (std::size_t k = vertex * block.influences; k < (vertex + 1) * block.influences; ++k) {
    if (block.weights[k] != 0) sum += block.weights[k] * joint[block.joints[k]](p);
  }
  return sum;
}

}  // namespace
}  // namespace gltf

GltfGarment::GltfGarment(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
GltfGarment::GltfGarment(GltfGarment&&) noexcept = default;
GltfGarment& GltfGarment::operator=(GltfGarment&&) noexcept = default;
GltfGarment::~GltfGarment() = default;
const SourceMesh& GltfGarment::mesh() const { return impl_->mesh; }
const std::vector<GltfGarment::Clip>& GltfGarment::clips() const { return impl_->clips; }

Result<GltfGarment> GltfGarment::parse(std::string_view bytes, const std::string& file,
                                       const std::filesystem::path& folder, const GltfReadOptions& options,
                                       Report& report) {
  Result<gltf::Document> document = gltf::open_document(bytes, file, folder, options.max_memory_bytes);
  if (!document) return document.error();
  auto impl = std::make_unique<Impl>();
  impl->document = std::move(*document);
  impl->folder = folder;
  try {
    const Result<void> done = gltf::GarmentReader(*impl, options, report).read();
    if (!done) return done.error();
  } catch (const gltf::Json::exception& exception) {
    return gltf::bad_gltf(file, "is not valid glTF: " + json_text::reason_of(exception));
  }
  return GltfGarment(std::move(impl));
}

Result<GltfGarment> GltfGarment::open(const std::filesystem::path& path, const GltfReadOptions& options,
                                      Report& report) {
  Result<std::string> bytes = read_file(path, options.max_memory_bytes);
  if (!bytes) return bytes.error();
  const std::filesystem::path folder = path.has_parent_path() ? path.parent_path() : std::filesystem::path(".");
  return parse(*bytes, path.string(), folder, options, report);
}

Result<void> GltfGarment::pose(Index clip, std::size_t i, std::span<Vec3> positions, const Executor& executor) const {
  const Impl& garment = *impl_;
  std::vector<gltf::NodeState> state;
  std::vector<gltf::Affine> world;
  const bool moves = clip != kNone;
  gltf::evaluate(garment.skeleton, moves ? &garment.skeleton.animations[clip] : nullptr,
                 moves ? garment.clips[clip].seconds[i] : 0, state);
  gltf::world_transforms(garment.skeleton, state, world);
  for (const gltf::VertexBlock& block : garment.blocks) {
    std::vector<gltf::Affine> joint;
    if (block.skin != gltf::kNoSkin) {
      const gltf::Skin& skin = garment.skins[block.skin];
      for (std::size_t j = 0; j < skin.joints.size(); ++j)
        joint.push_back(world[skin.joints[j]] * skin.inverse_bind[j]);
    }
    const std::vector<double>& weights = state[block.node].weights;
    for_ranges(executor, block.positions.size(), 8192, [&](std::size_t begin, std::size_t end) {
      for (std::size_t v = begin; v < end; ++v) {
        Vec3 p = block.positions[v];
        for (std::size_t k = 0; k < block.targets.size() && k < weights.size(); ++k) {
          if (weights[k] == 0 || block.targets[k].empty()) continue;
          const double* d = block.targets[k].data() + 3 * v;
          p += weights[k] * Vec3{d[0], d[1], d[2]};
        }
        positions[block.first + v] = joint.empty() ? world[block.node](p) : gltf::skinned(block, v, joint, p);
      }
    });
  }
  for (std::size_t v = 0; v < positions.size(); ++v) {
    if (is_finite(positions[v])) continue;
    return Error{ErrorCode::BadInput, "frame " + std::to_string(i) + ": vertex " + std::to_string(v) + " is not finite",
                 garment.document.file, 0};
  }
  return {};
}

}  // namespace trimtack
