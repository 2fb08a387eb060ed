// SPDX-License-Identifier: MIT
/// The JSON arrays of a glTF document, and the place of everything in its one buffer.
#pragma once

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <nlohmann/json.hpp>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "trimtack/types.hpp"

namespace trimtack::gltf {

using Json = nlohmann::ordered_json;

inline constexpr int kFloat = 5126, kUint16 = 5123, kUint32 = 5125, kArrayBuffer = 34962, kElementArrayBuffer = 34963;
template <class T>
std::string_view bytes_of(const std::vector<T>& items) {
  return {reinterpret_cast<const char*>(items.data()), items.size() * sizeof(T)};
}

/// Rest data are kept here; the room of the frames' data is only counted.
class Layout {
 public:
  Json views = Json::array(), accessors = Json::array(), meshes = Json::array(), nodes = Json::array(),
       materials = Json::array(), images = Json::array(), textures = Json::array(), animation;
  std::string rest;
  std::uint64_t size = 0;

  std::uint64_t view(std::uint64_t bytes, int target, int stride = 0) {
    size = (size + 3) / 4 * 4;
    Json json{{"buffer", 0}, {"byteOffset", size}, {"byteLength", bytes}};
    if (stride != 0) json["byteStride"] = stride;
    if (target != 0) json["target"] = target;
    views.push_back(std::move(json));
    size += bytes;
    return views.size() - 1;
  }
  std::uint64_t rest_view(std::string_view bytes, int target) {
    const std::uint64_t index = view(bytes.size(), target);
    rest.resize(size - bytes.size(), '\0');
    rest += bytes;
    return index;
  }
  std::uint64_t accessor(std::uint64_t view_index, std::uint64_t offset, std::uint64_t count, int component,
                         const char* type) {
    Json json{{"bufferView", view_index}};
    if (offset != 0) json["byteOffset"] = offset;
    json["componentType"] = component;
    json["count"] = count;
    json["type"] = type;
    accessors.push_back(std::move(json));
    return accessors.size() - 1;
  }
  std::uint64_t offset_of(std::uint64_t view_index) const { return views[view_index]["byteOffset"]; }

  /// A whole attribute of the rest scene.
  std::uint64_t attribute(const std::vector<float>& values, std::uint64_t components) {
    static constexpr const char* kTypes[] = {"", "SCALAR", "VEC2", "VEC3", "VEC4"};
    return accessor(rest_view(bytes_of(values), kArrayBuffer), 0, values.size() / components, kFloat,
                    kTypes[components]);
  }
  void state_extremes(std::uint64_t index, std::span<const float> values, std::size_t components) {
    std::vector<float> low(components, std::numeric_limits<float>::infinity()), high(components, -low[0]);
    for (std::size_t i = 0; i < values.size(); ++i) {
      low[i % components] = std::min(low[i % components], values[i]);
      high[i % components] = std::max(high[i % components], values[i]);
    }
    // A float is a double exactly, and doubles are printed so that they read back to the same bits.
    accessors[index]["min"] = low;
    accessors[index]["max"] = high;
  }
  std::uint64_t indices(const std::vector<Index>& values, std::size_t vertex_count) {
    if (vertex_count > 65535) {
      return accessor(rest_view(bytes_of(values), kElementArrayBuffer), 0, values.size(), kUint32, "SCALAR");
    }
    const std::vector<std::uint16_t> narrow(values.begin(), values.end());
    return accessor(rest_view(bytes_of(narrow), kElementArrayBuffer), 0, values.size(), kUint16, "SCALAR");
  }
};

}  // namespace trimtack::gltf
