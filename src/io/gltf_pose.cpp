// SPDX-License-Identifier: MIT
// Khronos Group, glTF 2.0 specification: transformations (3.5.3), animations (3.11) and appendix C (interpolation).
#include "io/gltf_pose.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>

namespace trimtack::gltf {
namespace {

Error bad(const Document& document, std::string message) { return bad_gltf(document.file, std::move(message)); }

// A node's vector property; `out` stays as it is where there is none. False for a wrong length or number.
bool read_vector(const Json& node, const char* key, std::size_t count, double* out) {
  const auto found = node.find(key);
  if (found == node.end()) return true;
  if (!found->is_array() || found->size() != count) return false;
  for (std::size_t i = 0; i < count; ++i) {
    if (!(*found)[i].is_number()) return false;
    out[i] = (*found)[i].get<double>();
    if (!std::isfinite(out[i])) return false;
  }
  return true;
}

Quat normalized_quat(const double* q) {
  const double norm = std::sqrt(q[0] * q[0] + q[1] * q[1] + q[2] * q[2] + q[3] * q[3]);
  if (!(norm > 0) || !std::isfinite(norm)) return {};
  return {q[0] / norm, q[1] / norm, q[2] / norm, q[3] / norm};
}

bool read_state(const Document& document, const Json& node, NodeState& state) {
  std::array<double, 16> matrix{};
  std::array<double, 4> rotation{0, 0, 0, 1};
  if (!read_vector(node, "matrix", 16, matrix.data()) || !read_vector(node, "translation", 3, &state.translation.x) ||
      !read_vector(node, "rotation", 4, rotation.data()) || !read_vector(node, "scale", 3, &state.scale.x)) {
    return false;
  }
  state.rotation = normalized_quat(rotation.data());
  state.has_matrix = node.contains("matrix");
  if (state.has_matrix) state.matrix = from_matrix(matrix.data());
  // Weights of a node win over those of its mesh.
  const Json* source = &node;
  const std::uint64_t mesh = index_or(node, "mesh", ~std::uint64_t{0});
  if (!node.contains("weights") && mesh < document.count("meshes")) source = &document.json["meshes"][mesh];
  const auto weights = source->find("weights");
  if (weights == source->end()) return true;
  if (!weights->is_array()) return false;
  state.weights.resize(weights->size());
  return read_vector(*source, "weights", weights->size(), state.weights.data());
}

std::string link_nodes(const Document& document, Skeleton& skeleton) {
  const std::size_t count = skeleton.nodes.size();
  std::vector<std::vector<std::size_t>> children(count);
  for (std::size_t i = 0; i < count; ++i) {
    const Json& node = document.json["nodes"][i];
    if (!node.contains("children")) continue;
    for (const Json& item : node["children"]) {
      const std::uint64_t child = item.is_number_unsigned() ? item.get<std::uint64_t>() : count;
      if (child >= count) return "node " + std::to_string(i) + " names a child that does not exist";
      if (skeleton.nodes[child].parent != ~std::size_t{0}) return "node " + std::to_string(child) + " has two parents";
      skeleton.nodes[child].parent = i;
      children[i].push_back(child);
    }
  }
  std::vector<std::size_t> roots;
  const std::size_t scenes = document.count("scenes");
  if (scenes == 0) {
    for (std::size_t i = 0; i < count; ++i) {
      if (skeleton.nodes[i].parent == ~std::size_t{0}) roots.push_back(i);
    }
  } else {
    const std::uint64_t scene = index_or(document.json, "scene", 0);
    if (scene >= scenes) return "the scene does not exist";
    const Json& chosen = document.json["scenes"][scene];
    if (chosen.contains("nodes")) {
      for (const Json& item : chosen["nodes"]) {
        const std::uint64_t root = item.is_number_unsigned() ? item.get<std::uint64_t>() : count;
        if (root >= count || skeleton.nodes[root].parent != ~std::size_t{0}) return "the scene names a wrong node";
        roots.push_back(root);
      }
    }
  }
  std::sort(roots.begin(), roots.end());
  roots.erase(std::unique(roots.begin(), roots.end()), roots.end());
  // One parent at most and a start at parentless nodes: no node can be met twice, rings are never entered.
  skeleton.order = roots;
  for (std::size_t i = 0; i < skeleton.order.size(); ++i) {
    const std::vector<std::size_t>& next = children[skeleton.order[i]];
    skeleton.order.insert(skeleton.order.end(), next.begin(), next.end());
  }
  return {};
}

std::optional<Path> path_named(const std::string& name) {
  if (name == "translation") return Path::Translation;
  if (name == "rotation") return Path::Rotation;
  if (name == "scale") return Path::Scale;
  if (name == "weights") return Path::Weights;
  return std::nullopt;
}

Result<void> read_channel(const Document& document, const Json& animation, const Json& json, std::size_t nodes,
                          Animation& out) {
  const Json& target = json.at("target");
  const std::optional<Path> path = path_named(target.at("path").get<std::string>());
  if (!path || !target.contains("node")) return {};
  Channel channel;
  channel.path = *path;
  channel.node = index_or(target, "node", nodes);
  const std::uint64_t index = index_or(json, "sampler", ~std::uint64_t{0});
  const Json& samplers = animation.at("samplers");
  if (channel.node >= nodes || index >= samplers.size())
    return bad(document, "an animation names a wrong node or sampler");
  const Json& sampler = samplers[index];
  const std::string curve = sampler.value("interpolation", std::string("LINEAR"));
  channel.curve = curve == "STEP" ? Curve::Step : (curve == "CUBICSPLINE" ? Curve::CubicSpline : Curve::Linear);
  Result<Numbers> input = read_accessor(document, index_or(sampler, "input", ~std::uint64_t{0}));
  if (!input) return input.error();
  Result<Numbers> output = read_accessor(document, index_or(sampler, "output", ~std::uint64_t{0}));
  if (!output) return output.error();
  channel.times = std::move(input->values);
  channel.values = std::move(output->values);
  const auto finite = [](double value) { return std::isfinite(value); };
  const bool ascending =
      std::adjacent_find(channel.times.begin(), channel.times.end(), std::greater_equal<>()) == channel.times.end();
  if (channel.times.empty() || !ascending || !std::all_of(channel.times.begin(), channel.times.end(), finite) ||
      !std::all_of(channel.values.begin(), channel.values.end(), finite)) {
    return bad(document, "an animation's times do not ascend, or a number in it is not finite");
  }
  const std::size_t keys = channel.times.size() * (channel.curve == Curve::CubicSpline ? 3 : 1);
  channel.width = channel.values.size() / keys;
  const std::size_t want = *path == Path::Rotation ? 4 : 3;
  if (channel.width * keys != channel.values.size() || (*path != Path::Weights && channel.width != want)) {
    return bad(document, "an animation's keys do not match its times");
  }
  out.channels.push_back(std::move(channel));
  return {};
}

// The value of a channel at a time, `width` numbers.
void sample(const Channel& channel, double seconds, double* out) {
  const std::size_t width = channel.width, stride = channel.curve == Curve::CubicSpline ? 3 * width : width;
  const std::size_t middle = channel.curve == Curve::CubicSpline ? width : 0;
  const auto after = std::upper_bound(channel.times.begin(), channel.times.end(), seconds);
  const auto next = static_cast<std::size_t>(after - channel.times.begin());
  const std::size_t key = next == 0 ? 0 : next - 1;
  const double* at = channel.values.data() + key * stride;
  if (next == 0 || next == channel.times.size() || channel.curve == Curve::Step) {
    std::copy(at + middle, at + middle + width, out);
    return;
  }
  const double* to = at + stride;
  const double span = channel.times[next] - channel.times[key], t = (seconds - channel.times[key]) / span;
  if (channel.curve == Curve::CubicSpline) {
    const double t2 = t * t, t3 = t2 * t;
    for (std::size_t i = 0; i < width; ++i) {
      out[i] = (2 * t3 - 3 * t2 + 1) * at[width + i] + span * (t3 - 2 * t2 + t) * at[2 * width + i] +
               (-2 * t3 + 3 * t2) * to[width + i] + span * (t3 - t2) * to[i];
    }
    return;
  }
  double from_part = 1 - t, to_part = t;
  if (channel.path == Path::Rotation) {
    double d = 0;
    for (std::size_t i = 0; i < 4; ++i) d += at[i] * to[i];
    const double sign = d < 0 ? -1 : 1, angle = std::acos(std::min(std::abs(d), 1.0));
    const double s = std::sin(angle);
    if (s > 1e-9) {
      from_part = std::sin((1 - t) * angle) / s;
      to_part = sign * std::sin(t * angle) / s;
    } else {
      to_part *= sign;
    }
  }
  for (std::size_t i = 0; i < width; ++i) out[i] = from_part * at[i] + to_part * to[i];
}

}  // namespace

Affine operator*(const Affine& a, const Affine& b) { return {a.linear * b.linear, a(b.offset)}; }

Affine from_matrix(const double* m) {
  return {Mat3{{m[0], m[4], m[8], m[1], m[5], m[9], m[2], m[6], m[10]}}, {m[12], m[13], m[14]}};
}

Result<Skeleton> read_skeleton(const Document& document) {
  Skeleton skeleton;
  skeleton.nodes.resize(document.count("nodes"));
  for (std::size_t i = 0; i < skeleton.nodes.size(); ++i) {
    const Json& node = document.json["nodes"][i];
    skeleton.nodes[i].name = node.value("name", std::string());
    if (!read_state(document, node, skeleton.nodes[i].rest)) {
      return bad(document, "node " + std::to_string(i) + " has a malformed transform");
    }
  }
  const std::string wrong = link_nodes(document, skeleton);
  if (!wrong.empty()) return bad(document, wrong);
  for (std::size_t i = 0; i < document.count("animations"); ++i) {
    const Json& json = document.json["animations"][i];
    Animation animation;
    animation.index = i;
    animation.name = json.value("name", "animation " + std::to_string(i));
    for (const Json& channel : json.at("channels")) {
      const Result<void> done = read_channel(document, json, channel, skeleton.nodes.size(), animation);
      if (!done) return done.error();
    }
    if (animation.channels.empty()) continue;
    animation.first = animation.channels[0].times.front();
    for (const Channel& channel : animation.channels) {
      animation.first = std::min(animation.first, channel.times.front());
      animation.last = std::max(animation.last, channel.times.back());
    }
    skeleton.animations.push_back(std::move(animation));
  }
  return skeleton;
}

void evaluate(const Skeleton& skeleton, const Animation* animation, double seconds, std::vector<NodeState>& state) {
  state.resize(skeleton.nodes.size());
  for (std::size_t i = 0; i < state.size(); ++i) state[i] = skeleton.nodes[i].rest;
  if (animation == nullptr) return;
  std::array<double, 4> value{};
  for (const Channel& channel : animation->channels) {
    NodeState& node = state[channel.node];
    if (channel.path == Path::Weights) {
      node.weights.resize(channel.width);
      sample(channel, seconds, node.weights.data());
      continue;
    }
    sample(channel, seconds, value.data());
    if (channel.path == Path::Rotation) {
      node.rotation = normalized_quat(value.data());
    } else {
      (channel.path == Path::Scale ? node.scale : node.translation) = {value[0], value[1], value[2]};
    }
  }
}

void world_transforms(const Skeleton& skeleton, const std::vector<NodeState>& state, std::vector<Affine>& world) {
  world.assign(skeleton.nodes.size(), Affine{});
  for (const std::size_t i : skeleton.order) {
    const NodeState& node = state[i];
    Affine local = node.matrix;
    if (!node.has_matrix) {
      local.linear = to_matrix(node.rotation);
      for (int row = 0; row < 3; ++row) {
        for (int column = 0; column < 3; ++column) local.linear(row, column) *= node.scale[column];
      }
      local.offset = node.translation;
    }
    const std::size_t parent = skeleton.nodes[i].parent;
    world[i] = parent == ~std::size_t{0} ? local : world[parent] * local;
  }
}

}  // namespace trimtack::gltf
