// SPDX-License-Identifier: MIT
#include "support/skinned_garment.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <cstring>
#include <nlohmann/json.hpp>

namespace trimtack::test {
namespace {

using Json = nlohmann::json;
constexpr double kPi = 3.14159265358979323846;

class Packer {
 public:
  Json json;
  std::string bin;

  template <class T>
  std::size_t add(const std::vector<T>& values, int component, const char* type, std::size_t width,
                  bool normalized = false) {
    bin.resize((bin.size() + 3) / 4 * 4, '\0');
    const std::size_t bytes = values.size() * sizeof(T);
    json["bufferViews"].push_back({{"buffer", 0}, {"byteOffset", bin.size()}, {"byteLength", bytes}});
    bin.append(reinterpret_cast<const char*>(values.data()), bytes);
    Json accessor{{"bufferView", json["bufferViews"].size() - 1},
                  {"componentType", component},
                  {"count", values.size() / width},
                  {"type", type}};
    if (normalized) accessor["normalized"] = true;
    json["accessors"].push_back(accessor);
    return json["accessors"].size() - 1;
  }
  std::size_t add_bounded(const std::vector<float>& values, const char* type, std::size_t width) {
    const std::size_t index = add(values, 5126, type, width);
    std::vector<float> low(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(width)), high = low;
    for (std::size_t i = 0; i < values.size(); ++i) {
      low[i % width] = std::min(low[i % width], values[i]);
      high[i % width] = std::max(high[i % width], values[i]);
    }
    json["accessors"][index]["min"] = low;
    json["accessors"][index]["max"] = high;
    return index;
  }
};

double weight_at(double y) { return std::clamp((y - 0.3) / 0.4, 0.0, 1.0); }

std::string base64(const std::string& bytes) {
  static constexpr char kDigits[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string out;
  for (std::size_t i = 0; i < bytes.size(); i += 3) {
    std::uint32_t bits = 0;
    for (std::size_t k = 0; k < 3; ++k)
      bits = bits << 8 | (i + k < bytes.size() ? static_cast<unsigned char>(bytes[i + k]) : 0U);
    for (std::size_t k = 0; k < 4; ++k) out += i + k > bytes.size() ? '=' : kDigits[bits >> (18 - 6 * k) & 63];
  }
  return out;
}

std::string pack_glb(Json json, std::string bin) {
  json["buffers"] = Json::array({{{"byteLength", bin.size()}}});
  std::string text = json.dump();
  text.resize((text.size() + 3) / 4 * 4, ' ');
  bin.resize((bin.size() + 3) / 4 * 4, '\0');
  std::string out = "glTF";
  const auto put = [&out](std::size_t value) {
    const auto word = static_cast<std::uint32_t>(value);
    out.append(reinterpret_cast<const char*>(&word), sizeof word);
  };
  put(2);
  put(28 + text.size() + bin.size());
  put(text.size());
  out += "JSON" + text;
  put(bin.size());
  return out + std::string("BIN\0", 4) + bin;
}

struct Shape {
  std::vector<Vec3> positions;
  std::vector<std::uint16_t> indices;
};

Shape make_strip() {
  Shape strip;
  for (int row = 0; row <= 10; ++row) {
    for (int column = -1; column <= 1; ++column) strip.positions.push_back({0.1 * column, 0.1 * row, 0});
  }
  for (int row = 0; row < 10; ++row) {
    for (int column = 0; column < 2; ++column) {
      const auto v = static_cast<std::uint16_t>(3 * row + column);
      for (const int corner : {0, 1, 4, 0, 4, 3}) strip.indices.push_back(static_cast<std::uint16_t>(v + corner));
    }
  }
  return strip;
}

Shape make_clasp() {
  Shape clasp;
  for (const Vec3& p : {Vec3{-0.02, 0.48, 0.001}, Vec3{0.02, 0.5, 0.001}, Vec3{0, 0.54, 0.001}, Vec3{0, 0.5, 0.02}}) {
    clasp.positions.push_back(p);
  }
  clasp.indices = {0, 2, 1, 0, 1, 3, 1, 2, 3, 2, 0, 3};
  return clasp;
}

// Attributes of some vertices; weights follow their height, also within the clasp: it bends.
Json add_vertices(Packer& packer, const std::vector<Vec3>& points, const SkinnedOptions& options) {
  std::vector<float> positions, normals, texcoords, weights;
  std::vector<std::uint8_t> joints, narrow;
  for (const Vec3& p : points) {
    for (int axis = 0; axis < 3; ++axis) positions.push_back(static_cast<float>(p[axis]));
    normals.insert(normals.end(), {0, 0, 1});
    texcoords.insert(texcoords.end(), {static_cast<float>(p.x), static_cast<float>(p.y)});
    const auto upper = static_cast<float>(weight_at(p.y));
    const float lower = 1 - upper;
    weights.insert(weights.end(), {lower, upper, 0, 0});
    const auto byte = static_cast<std::uint8_t>(std::lround(255 * upper));
    const bool uses_upper = options.narrow_weights ? byte > 0 : upper > 0;
    joints.insert(joints.end(), {0, static_cast<std::uint8_t>(uses_upper ? 1 : 0), 0, 0});
    narrow.insert(narrow.end(), {static_cast<std::uint8_t>(255 - byte), byte, 0, 0});
  }
  Json attributes;
  attributes["POSITION"] = packer.add_bounded(positions, "VEC3", 3);
  attributes["NORMAL"] = packer.add(normals, 5126, "VEC3", 3);
  attributes["TEXCOORD_0"] = packer.add(texcoords, 5126, "VEC2", 2);
  attributes["JOINTS_0"] = packer.add(joints, 5121, "VEC4", 4);
  attributes["WEIGHTS_0"] =
      options.narrow_weights ? packer.add(narrow, 5121, "VEC4", 4, true) : packer.add(weights, 5126, "VEC4", 4);
  return attributes;
}

void add_rig(Packer& packer, const SkinnedOptions& options) {
  packer.json["nodes"] = Json::array({{{"name", "rig"}, {"translation", {0, kSkinnedRaise, 0}}, {"children", {1}}},
                                      {{"name", "lower"}, {"children", {2}}},
                                      {{"name", "upper"}, {"translation", {0, kSkinnedKnee, 0}}},
                                      {{"name", "coat"}, {"mesh", 0}, {"skin", 0}}});
  packer.json["scenes"] = Json::array({{{"nodes", {0, 3}}}});
  packer.json["scene"] = 0;
  const std::vector<float> matrices{1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0,
                                    0, 1,  //
                                    1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, static_cast<float>(-kSkinnedKnee),
                                    0, 1};
  packer.json["skins"] =
      Json::array({{{"joints", {1, 2}}, {"inverseBindMatrices", packer.add(matrices, 5126, "MAT4", 16)}}});
  const std::size_t input = packer.add_bounded({0, static_cast<float>(kSkinnedSeconds)}, "SCALAR", 1);
  const auto s = static_cast<float>(std::sqrt(0.5));
  std::vector<float> keys{0, 0, 0, 1, 0, 0, s, s};
  if (options.cubic) keys = {0, 0, 0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, s, s, 0, 0, 0, 0};
  const std::size_t output = packer.add(keys, 5126, "VEC4", 4);
  packer.json["animations"] = Json::array(
      {{{"name", "bend"},
        {"samplers",
         Json::array(
             {{{"input", input}, {"output", output}, {"interpolation", options.cubic ? "CUBICSPLINE" : "LINEAR"}}})},
        {"channels", Json::array({{{"sampler", 0}, {"target", {{"node", 2}, {"path", "rotation"}}}}})}}});
}

}  // namespace

SkinnedGarment make_skinned_garment(const SkinnedOptions& options) {
  const Shape strip = make_strip(), clasp = make_clasp();
  SkinnedGarment garment;
  garment.cloth_vertices = strip.positions.size();
  garment.cloth_triangles = strip.indices.size() / 3;
  garment.clasp_triangles = clasp.indices.size() / 3;
  garment.positions = strip.positions;
  garment.positions.insert(garment.positions.end(), clasp.positions.begin(), clasp.positions.end());
  for (const Vec3& p : garment.positions) garment.upper_weight.push_back(weight_at(p.y));
  Packer packer;
  packer.json = {{"asset", {{"version", "2.0"}}},
                 {"materials", Json::array({{{"name", "twill"}, {"doubleSided", true}}, {{"name", "brass"}}})}};
  Json primitives = Json::array();
  if (options.one_primitive) {
    std::vector<std::uint16_t> indices = strip.indices;
    for (const std::uint16_t i : clasp.indices)
      indices.push_back(static_cast<std::uint16_t>(i + strip.positions.size()));
    primitives.push_back({{"attributes", add_vertices(packer, garment.positions, options)},
                          {"indices", packer.add(indices, 5123, "SCALAR", 1)},
                          {"material", 0}});
  } else {
    primitives.push_back({{"attributes", add_vertices(packer, strip.positions, options)},
                          {"indices", packer.add(strip.indices, 5123, "SCALAR", 1)},
                          {"material", 0}});
    primitives.push_back({{"attributes", add_vertices(packer, clasp.positions, options)},
                          {"indices", packer.add(clasp.indices, 5123, "SCALAR", 1)},
                          {"material", 1}});
  }
  packer.json["meshes"] = Json::array({{{"name", "coat"}, {"primitives", primitives}}});
  add_rig(packer, options);
  if (options.as_text) {
    packer.json["buffers"] = Json::array(
        {{{"byteLength", packer.bin.size()}, {"uri", "data:application/octet-stream;base64," + base64(packer.bin)}}});
    garment.bytes = packer.json.dump(2);
  } else {
    garment.bytes = pack_glb(packer.json, packer.bin);
  }
  return garment;
}

double skinned_angle(double seconds) { return kPi / 2 * seconds / kSkinnedSeconds; }

Vec3 skinned_point(const Vec3& p, double upper_weight, double angle) {
  const Vec3 local = p - Vec3{0, kSkinnedKnee, 0};
  const Vec3 turned{std::cos(angle) * local.x - std::sin(angle) * local.y,
                    kSkinnedKnee + std::sin(angle) * local.x + std::cos(angle) * local.y, local.z};
  return Vec3{0, kSkinnedRaise, 0} + (1 - upper_weight) * p + upper_weight * turned;
}

}  // namespace trimtack::test
