// SPDX-License-Identifier: MIT
// Khronos Group, glTF 2.0 specification: GLB container, buffers, accessors (sections 3.6 and 4).
#include "io/gltf_document.hpp"

#include <algorithm>
#include <array>
#include <cstring>
#include <optional>
#include <system_error>

#include "io/bad_input.hpp"
#include "io/json_text.hpp"
#include "trimtack/io/file_set.hpp"

namespace trimtack::gltf {

Error bad_gltf(const std::string& file, std::string message) {
  return bad_input(file,
                   with_advice(std::move(message), "the file is damaged or its exporter at fault, export it again"));
}

namespace {

std::uint32_t u32_at(std::string_view bytes, std::size_t at) {
  std::uint32_t value = 0;
  std::memcpy(&value, bytes.data() + at, sizeof value);
  return value;
}

struct Chunks {
  std::string_view json, bin;
  bool has_bin = false;
};

Result<Chunks> split_glb(std::string_view bytes, const std::string& file) {
  if (bytes.size() < 20) return bad_gltf(file, "ends within the GLB header");
  if (u32_at(bytes, 4) != 2)
    return bad_gltf(file, "is GLB version " + std::to_string(u32_at(bytes, 4)) + "; only 2 is known");
  if (u32_at(bytes, 8) != bytes.size()) {
    return bad_gltf(file, "the GLB header states " + std::to_string(u32_at(bytes, 8)) + " bytes, but the file has " +
                              std::to_string(bytes.size()) + "; it is cut off or has bytes left over");
  }
  Chunks chunks;
  for (std::size_t at = 12, chunk = 0; at < bytes.size(); ++chunk) {
    if (bytes.size() - at < 8) return bad_gltf(file, "ends within a chunk's header");
    const std::uint64_t size = u32_at(bytes, at);
    const std::string_view type = bytes.substr(at + 4, 4);
    at += 8;
    if (size > bytes.size() - at) return bad_gltf(file, "a chunk is longer than the file");
    const std::string_view content = bytes.substr(at, size);
    at += size;
    if (chunk == 0 && type != "JSON") return bad_gltf(file, "its first chunk is not JSON");
    if (chunk == 0) chunks.json = content;
    if (chunk == 1 && type == std::string_view("BIN\0", 4)) {
      chunks.bin = content;
      chunks.has_bin = true;
    }
  }
  return chunks;
}

std::optional<std::string> from_base64(std::string_view text) {
  std::string out;
  out.reserve(text.size() / 4 * 3);
  std::uint32_t bits = 0;
  int count = 0;
  while (!text.empty() && text.back() == '=') text.remove_suffix(1);
  for (const char c : text) {
    std::uint32_t value = 0;
    if (c >= 'A' && c <= 'Z') {
      value = static_cast<std::uint32_t>(c - 'A');
    } else if (c >= 'a' && c <= 'z') {
      value = static_cast<std::uint32_t>(c - 'a') + 26;
    } else if (c >= '0' && c <= '9') {
      value = static_cast<std::uint32_t>(c - '0') + 52;
    } else if (c == '+' || c == '/') {
      value = c == '+' ? 62 : 63;
    } else {
      return std::nullopt;
    }
    bits = bits << 6 | value;
    if (++count % 4 == 0 || count % 4 > 1) out += static_cast<char>(bits >> (6 - 2 * ((count - 1) % 4)) & 0xff);
  }
  return out;
}

Result<std::string> load_uri(const std::string& uri, const std::string& file, const std::filesystem::path& folder,
                             std::uint64_t bytes) {
  if (uri.substr(0, 5) == "data:") {
    const std::size_t comma = uri.find(";base64,");
    if (comma == std::string::npos) return bad_gltf(file, "a data URI is not base64");
    std::optional<std::string> data = from_base64(std::string_view(uri).substr(comma + 8));
    if (!data) return bad_gltf(file, "a data URI is not base64");
    return std::move(*data);
  }
  const std::filesystem::path name = percent_decoded(uri);
  const bool leaves = std::any_of(name.begin(), name.end(), [](const auto& part) { return part == ".."; });
  if (folder.empty() || name.is_absolute() || leaves || uri.find(':') != std::string::npos) {
    return bad_gltf(file, "the file '" + uri.substr(0, 80) + "' does not lie beside it; put it there, or save as GLB");
  }
  Result<std::string> data = read_file(folder / name);
  if (!data) return data.error();
  if (data->size() > bytes) data->resize(bytes);
  return data;
}

// Extensions that may be required without changing where vertices are.
bool harmless(std::string_view name) {
  for (const std::string_view prefix : {"KHR_materials_", "KHR_texture_", "EXT_texture_", "KHR_lights_", "KHR_xmp"}) {
    if (name.substr(0, prefix.size()) == prefix) return true;
  }
  return name == "KHR_mesh_quantization";
}

// Nesting of the JSON text: what is beyond any real file would exhaust the stack when it is copied or printed.
bool nested_within(std::string_view text, int limit) {
  int depth = 0;
  bool in_string = false;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (in_string) {
      if (c == '\\') ++i;
      if (c == '"') in_string = false;
    } else if (c == '"') {
      in_string = true;
    } else if (c == '{' || c == '[') {
      if (++depth > limit) return false;
    } else if (c == '}' || c == ']') {
      --depth;
    }
  }
  return true;
}

std::string load_buffers(Document& document, const Chunks& chunks, const std::filesystem::path& folder,
                         std::uint64_t max_bytes, Error& error) {
  std::uint64_t total = 0;
  const std::size_t buffers = document.count("buffers");
  for (std::size_t i = 0; i < buffers; ++i) {
    const Json& buffer = document.json["buffers"][i];
    const std::uint64_t size = index_or(buffer, "byteLength", 0);
    total += size;
    if (size > (std::uint64_t{1} << 40) || (max_bytes != 0 && total > max_bytes)) {
      return "its buffers need more memory than the limit allows; raise the limit";
    }
    std::string loaded;
    std::string_view data = chunks.bin;
    if (buffer.contains("uri")) {
      Result<std::string> content = load_uri(buffer["uri"].get<std::string>(), document.file, folder, size);
      if (!content) {
        error = content.error();
        return error.message;
      }
      loaded = std::move(*content);
      data = loaded;
    } else if (i != 0 || !chunks.has_bin) {
      return "buffer " + std::to_string(i) + " has no data";
    }
    if (data.size() < size) {
      return "buffer " + std::to_string(i) + " states " + std::to_string(size) + " bytes, but has " +
             std::to_string(data.size());
    }
    document.bin.resize((document.bin.size() + 3) / 4 * 4, '\0');
    document.buffer_offset.push_back(document.bin.size());
    document.buffer_bytes.push_back(size);
    document.bin += data.substr(0, size);
  }
  return {};
}

struct Place {
  const char* data = nullptr;
  std::size_t stride = 0;
};

std::size_t bytes_of_component(std::uint64_t type) {
  switch (type) {
    case 5120:
    case 5121:
      return 1;
    case 5122:
    case 5123:
      return 2;
    case 5125:
    case 5126:
      return 4;
    default:
      return 0;
  }
}

template <class T>
double load_as(const char* at, bool normalized) {
  T value;
  std::memcpy(&value, at, sizeof value);
  if constexpr (std::numeric_limits<T>::is_integer) {
    if (normalized) return std::max(static_cast<double>(value) / std::numeric_limits<T>::max(), -1.0);
  }
  return static_cast<double>(value);
}

double load_component(const char* at, std::uint64_t type, bool normalized) {
  switch (type) {
    case 5120:
      return load_as<std::int8_t>(at, normalized);
    case 5121:
      return load_as<std::uint8_t>(at, normalized);
    case 5122:
      return load_as<std::int16_t>(at, normalized);
    case 5123:
      return load_as<std::uint16_t>(at, normalized);
    case 5125:
      return load_as<std::uint32_t>(at, normalized);
    default:
      return load_as<float>(at, normalized);
  }
}

// Where `count` items of `item_bytes` begin, when the view and its buffer hold them all.
std::optional<Place> locate(const Document& document, const Json& source, std::uint64_t count, std::size_t item_bytes) {
  const std::uint64_t view_index = index_or(source, "bufferView", ~std::uint64_t{0});
  if (view_index >= document.count("bufferViews")) return std::nullopt;
  const Json& view = document.json["bufferViews"][view_index];
  const std::uint64_t buffer = index_or(view, "buffer", ~std::uint64_t{0});
  if (buffer >= document.buffer_offset.size()) return std::nullopt;
  const std::uint64_t view_offset = index_or(view, "byteOffset", 0), view_bytes = index_or(view, "byteLength", 0);
  const std::uint64_t buffer_bytes = document.buffer_bytes[buffer];
  if (view_offset > buffer_bytes || view_bytes > buffer_bytes - view_offset) return std::nullopt;
  const std::uint64_t stride = index_or(view, "byteStride", item_bytes);
  const std::uint64_t offset = index_or(source, "byteOffset", 0);
  if (stride < item_bytes || stride > 65536 || offset > view_bytes) return std::nullopt;
  if (count != 0) {
    const std::uint64_t room = view_bytes - offset;
    if (room < item_bytes || (count - 1) > (room - item_bytes) / stride) return std::nullopt;
  }
  return Place{document.bin.data() + document.buffer_offset[buffer] + view_offset + offset,
               static_cast<std::size_t>(stride)};
}

struct AccessorForm {
  std::uint64_t type = 0;
  bool normalized = false;
  std::size_t component_bytes = 0;
};

void read_items(const Place& from, const AccessorForm& form, std::size_t components, std::size_t count, double* out) {
  for (std::size_t i = 0; i < count; ++i) {
    for (std::size_t c = 0; c < components; ++c) {
      *out++ = load_component(from.data + i * from.stride + c * form.component_bytes, form.type, form.normalized);
    }
  }
}

constexpr std::uint64_t kMostZeros = std::uint64_t{1} << 24;

bool take_memory(const Document& document, const Numbers& numbers) {
  const std::uint64_t bytes = numbers.count * numbers.components * sizeof(double);
  if (bytes > document.memory_left) return false;
  document.memory_left -= bytes;
  return true;
}

// Replaces the items that a sparse accessor lists; false when it is malformed.
bool apply_sparse(const Document& document, const Json& sparse, const AccessorForm& form, Numbers& numbers) {
  const std::uint64_t count = index_or(sparse, "count", 0);
  if (count > numbers.count) return false;
  const Json& indices = sparse.at("indices");
  AccessorForm index_form;
  index_form.type = index_or(indices, "componentType", 0);
  index_form.component_bytes = bytes_of_component(index_form.type);
  if (index_form.component_bytes == 0 || index_form.type == 5126) return false;
  const std::size_t item_bytes = form.component_bytes * numbers.components;
  const std::optional<Place> at = locate(document, indices, count, index_form.component_bytes);
  const std::optional<Place> values = locate(document, sparse.at("values"), count, item_bytes);
  if (!at || !values) return false;
  for (std::size_t i = 0; i < count; ++i) {
    const double index = load_component(at->data + i * at->stride, index_form.type, false);
    if (!(index >= 0 && index < static_cast<double>(numbers.count))) return false;
    const Place one{values->data + i * values->stride, values->stride};
    read_items(one, form, numbers.components, 1,
               numbers.values.data() + static_cast<std::size_t>(index) * numbers.components);
  }
  return true;
}

}  // namespace

std::size_t Document::count(const char* key) const {
  const auto found = json.find(key);
  return found == json.end() || !found->is_array() ? 0 : found->size();
}

std::uint64_t index_or(const Json& object, const char* key, std::uint64_t missing) {
  const auto found = object.find(key);
  if (found == object.end()) return missing;
  if (found->is_number_float()) {  // some writers print 3.0
    const double value = found->get<double>();
    if (value >= 0 && value < 9e15 && value == static_cast<double>(static_cast<std::uint64_t>(value))) {
      return static_cast<std::uint64_t>(value);
    }
  }
  if (found->is_number_unsigned()) return found->get<std::uint64_t>();
  return ~std::uint64_t{0};  // not an index of anything
}

Result<Document> open_document(std::string_view bytes, const std::string& file, const std::filesystem::path& folder,
                               std::uint64_t max_bytes) {
  Document document;
  document.file = file;
  if (max_bytes != 0) document.memory_left = max_bytes;
  Chunks chunks;
  chunks.json = bytes;
  if (bytes.substr(0, 4) == "glTF") {
    const Result<Chunks> split = split_glb(bytes, file);
    if (!split) return split.error();
    chunks = *split;
  }
  if (!nested_within(chunks.json, 200)) return bad_gltf(file, "its JSON is nested more than 200 deep");
  document.json = Json::parse(chunks.json, nullptr, false);
  if (!document.json.is_object()) return bad_gltf(file, "is not glTF: its JSON cannot be read");
  Error error;
  try {
    const std::string version = document.json.at("asset").at("version").get<std::string>();
    if (version.substr(0, 2) != "2.")
      return bad_gltf(file, "is glTF " + version.substr(0, 8) + "; only version 2 is known");
    if (document.json.contains("extensionsRequired")) {
      for (const Json& extension : document.json["extensionsRequired"]) {
        const std::string name = extension.get<std::string>();
        if (!harmless(name)) return bad_gltf(file, "needs the extension " + name.substr(0, 60) + "; save it without");
      }
    }
    const std::string wrong = load_buffers(document, chunks, folder, max_bytes, error);
    if (!wrong.empty()) return error.message.empty() ? bad_gltf(file, wrong) : error;
  } catch (const Json::exception& exception) {
    return bad_gltf(file, "is not valid glTF: " + json_text::reason_of(exception));
  }
  return document;
}

std::string percent_decoded(std::string_view text) {
  const auto hex = [](char c) -> int {
    if (c >= '0' && c <= '9') return c - '0';
    if (c >= 'a' && c <= 'f') return c - 'a' + 10;
    if (c >= 'A' && c <= 'F') return c - 'A' + 10;
    return -1;
  };
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] == '%' && i + 2 < text.size() && hex(text[i + 1]) >= 0 && hex(text[i + 2]) >= 0) {
      out += static_cast<char>(hex(text[i + 1]) * 16 + hex(text[i + 2]));
      i += 2;
    } else {
      out += text[i];
    }
  }
  return out;
}

Result<std::string> read_image(const Document& document, std::uint64_t index, const std::filesystem::path& folder) {
  const std::string what = "image " + std::to_string(index);
  if (index >= document.count("images")) return bad_gltf(document.file, what + " does not exist");
  const Json& image = document.json["images"][index];
  std::string bytes;
  if (image.contains("uri")) {
    constexpr std::uint64_t kMost = std::uint64_t{512} << 20;
    Result<std::string> loaded = load_uri(image["uri"].get<std::string>(), document.file, folder, kMost);
    if (!loaded) return loaded.error();
    bytes = std::move(*loaded);
  } else {
    const std::uint64_t view = index_or(image, "bufferView", ~std::uint64_t{0});
    if (view >= document.count("bufferViews")) return bad_gltf(document.file, what + " has no data");
    const std::uint64_t size = index_or(document.json["bufferViews"][view], "byteLength", 0);
    const std::optional<Place> at = locate(document, image, size, 1);
    if (!at || at->stride != 1) return bad_gltf(document.file, what + " leaves its buffer");
    bytes.assign(at->data, std::min(size, document.memory_left + 1));
  }
  if (bytes.size() > document.memory_left) {
    return bad_gltf(document.file, what + " needs more memory than the limit allows; raise the limit");
  }
  document.memory_left -= bytes.size();
  return bytes;
}

Result<Numbers> read_accessor(const Document& document, std::uint64_t index) {
  const auto wrong = [&](const char* what) {
    return bad_gltf(document.file, "accessor " + std::to_string(index) + " " + what);
  };
  if (index >= document.count("accessors")) return bad_gltf(document.file, "names an accessor that does not exist");
  const Json& accessor = document.json["accessors"][index];
  static constexpr std::array<std::pair<std::string_view, std::size_t>, 7> kTypes{
      {{"SCALAR", 1}, {"VEC2", 2}, {"VEC3", 3}, {"VEC4", 4}, {"MAT2", 0}, {"MAT3", 0}, {"MAT4", 16}}};
  const std::string type = accessor.value("type", std::string());
  const auto known = std::find_if(kTypes.begin(), kTypes.end(), [&](const auto& t) { return t.first == type; });
  AccessorForm form;
  form.type = index_or(accessor, "componentType", 0);
  form.component_bytes = bytes_of_component(form.type);
  form.normalized = accessor.value("normalized", false);
  if (known == kTypes.end() || known->second == 0 || form.component_bytes == 0) return wrong("has an unknown type");
  Numbers numbers;
  numbers.components = known->second;
  const std::uint64_t count = index_or(accessor, "count", 0);
  if (accessor.contains("bufferView")) {
    const auto at = locate(document, accessor, count, form.component_bytes * numbers.components);
    if (!at) return wrong("leaves its buffer");
    numbers.count = static_cast<std::size_t>(count);
    if (!take_memory(document, numbers)) return wrong("needs more memory than the limit allows; raise the limit");
    numbers.values.resize(numbers.count * numbers.components);
    read_items(*at, form, numbers.components, numbers.count, numbers.values.data());
  } else {
    if (count > kMostZeros) return wrong("has too many zeros");
    numbers.count = static_cast<std::size_t>(count);
    if (!take_memory(document, numbers)) return wrong("needs more memory than the limit allows; raise the limit");
    numbers.values.assign(numbers.count * numbers.components, 0.0);
  }
  if (accessor.contains("sparse") && !apply_sparse(document, accessor["sparse"], form, numbers)) {
    return wrong("has a malformed sparse part");
  }
  return numbers;
}

}  // namespace trimtack::gltf
