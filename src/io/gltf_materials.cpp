// SPDX-License-Identifier: MIT
// glTF 2.0 (Khronos), section "Materials", as MTL with the statements that scene.hpp reads: colours linear in both.
#include <algorithm>
#include <array>
#include <cmath>
#include <map>

#include "io/gltf_document.hpp"
#include "io/gltf_garment.hpp"
#include "io/json_text.hpp"

namespace trimtack {
namespace gltf {
namespace {

const Json* object_in(const Json* parent, const char* key) {
  if (parent == nullptr) return nullptr;
  const auto at = parent->find(key);
  return at != parent->end() && at->is_object() ? &*at : nullptr;
}

double as_factor(const Json& value, double missing) {
  return value.is_number() && std::isfinite(value.get<double>()) ? std::clamp(value.get<double>(), 0.0, 1.0) : missing;
}

double factor_in(const Json* parent, const char* key, double missing) {
  return parent != nullptr && parent->contains(key) ? as_factor((*parent)[key], missing) : missing;
}

/// Up to four factors of a list; `missing` for those that it has not.
std::array<double, 4> factors_in(const Json* parent, const char* key, double missing) {
  std::array<double, 4> out{missing, missing, missing, missing};
  if (parent == nullptr || !parent->contains(key) || !(*parent)[key].is_array()) return out;
  const Json& list = (*parent)[key];
  for (std::size_t i = 0; i < std::min(list.size(), out.size()); ++i) out[i] = as_factor(list[i], missing);
  return out;
}

/// Letters, digits, point, dash and underscore; anything else becomes an underscore.
std::string plain_name(std::string name, const std::string& missing) {
  for (char& c : name) {
    const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-';
    if (!plain) c = '_';
  }
  return name.empty() ? missing : name.substr(0, 100);
}

const char* extension_of(std::string_view bytes) {
  if (bytes.substr(0, 8) == "\x89PNG\r\n\x1a\n") return ".png";
  if (bytes.substr(0, 3) == "\xff\xd8\xff") return ".jpg";
  return nullptr;
}

class LibraryWriter {
 public:
  LibraryWriter(const GltfGarment::Impl& garment, Report& report)
      : document_(garment.document), folder_(garment.folder), report_(report) {}

  void add(const Json& material, const std::string& name) {
    const Json* const surface = object_in(&material, "pbrMetallicRoughness");
    const auto colour = factors_in(surface, "baseColorFactor", 1);
    const auto glow = factors_in(&material, "emissiveFactor", 0);
    const bool opaque = material.value("alphaMode", "OPAQUE") == "OPAQUE";
    text_ += "newmtl " + name + "\n";
    numbers("Kd", {colour.data(), 3});
    if (!opaque) numbers("d", {&colour[3], 1});
    const double metallic = factor_in(surface, "metallicFactor", 1), rough = factor_in(surface, "roughnessFactor", 1);
    numbers("Pm", {&metallic, 1});
    numbers("Pr", {&rough, 1});
    if (glow[0] + glow[1] + glow[2] > 0) numbers("Ke", {glow.data(), 3});
    const std::string base = picture("map_Kd", surface, "baseColorTexture", name);
    if (!opaque && !base.empty()) text_ += "map_d " + base + "\n";
    picture("map_Ke", &material, "emissiveTexture", name);
    picture("norm", &material, "normalTexture", name);
    const std::string packed = picture("map_Pr", surface, "metallicRoughnessTexture", name);
    if (!packed.empty()) text_ += "map_Pm " + packed + "\n";
    if (object_in(&material, "occlusionTexture") != nullptr) left_out("a picture of occlusion");
  }

  std::string take_text() { return std::move(text_); }
  std::vector<AttachedFile> take_pictures() { return std::move(pictures_); }

 private:
  void left_out(const std::string& what) {
    add_finding({Severity::Note, "gltf-left-out", what + " is not read", document_.file, 0, 1});
  }
  void add_finding(Finding finding) { trimtack::add(report_, std::move(finding)); }

  void numbers(const char* word, std::span<const double> values) {
    text_ += word;
    for (const double value : values) {
      text_ += ' ';
      json_text::append_number(text_, value);
    }
    text_ += '\n';
  }

  /// Writes a statement for the picture of `key`; its name, or empty when there is none.
  std::string picture(const char* word, const Json* parent, const char* key, const std::string& material) {
    const Json* const info = object_in(parent, key);
    if (info == nullptr) return {};
    const std::uint64_t texture = index_or(*info, "index", ~std::uint64_t{0});
    if (index_or(*info, "texCoord", 0) != 0) {
      left_out("a picture laid out by a second set of texture coordinates");
      return {};
    }
    const Json* const more = object_in(info, "extensions");
    if (object_in(more, "KHR_texture_transform") != nullptr) left_out("the placement of a picture");
    std::uint64_t image = ~std::uint64_t{0};
    if (texture < document_.count("textures")) image = index_or(document_.json["textures"][texture], "source", image);
    const std::string& name = name_of(image, material);
    if (!name.empty()) text_ += std::string(word) + " " + name + "\n";
    return name;
  }

  const std::string& name_of(std::uint64_t image, const std::string& material) {
    const auto [at, is_new] = name_of_image_.emplace(image, "");
    if (!is_new) return at->second;
    Result<std::string> bytes = read_image(document_, image, folder_);
    const char* const extension = bytes ? extension_of(*bytes) : nullptr;
    if (extension == nullptr) {
      const std::string why = bytes ? "is neither PNG nor JPEG" : bytes.error().message;
      add_finding({Severity::Warning, "picture-missing", "a picture of material " + material + " was not read: " + why,
                   document_.file, 0, 1});
      return at->second;
    }
    const Json& json = document_.json["images"][image];
    std::string called = json.value("name", "");
    if (called.empty() && json.value("uri", "data:").substr(0, 5) != "data:")
      called = percent_decoded(json.value("uri", ""));
    const std::string number = std::to_string(image);
    const std::string stem = "textures/" + plain_name(std::filesystem::path(called).stem().string(), "picture");
    const auto taken = [&](const std::string& name) {
      return std::any_of(pictures_.begin(), pictures_.end(),
                         [&](const AttachedFile& file) { return file.name == name; });
    };
    at->second = stem + extension;
    if (taken(at->second)) at->second = stem + "-" + number + extension;
    pictures_.push_back({at->second, std::move(*bytes)});
    return at->second;
  }

  const Document& document_;
  const std::filesystem::path& folder_;
  Report& report_;
  std::string text_;
  std::vector<AttachedFile> pictures_;
  std::map<std::uint64_t, std::string> name_of_image_;
};

}  // namespace
}  // namespace gltf

std::vector<AttachedFile> GltfGarment::material_files(Report& report) const {
  if (impl_->materials.empty()) return {};
  const std::string stem = std::filesystem::path(impl_->document.file).stem().string();
  gltf::LibraryWriter library(*impl_, report);
  for (std::size_t i = 0; i < impl_->materials.size(); ++i) {
    try {
      library.add(impl_->document.json["materials"][impl_->materials[i]], impl_->mesh.materials[i]);
    } catch (const gltf::Json::exception& exception) {
      add(report, {Severity::Warning, "gltf-left-out",
                   "material " + impl_->mesh.materials[i] + " is not valid glTF: " + json_text::reason_of(exception),
                   impl_->document.file, 0, 1});
    }
  }
  std::vector<AttachedFile> files{{gltf::plain_name(stem, "materials") + ".mtl", library.take_text()}};
  for (AttachedFile& picture : library.take_pictures()) files.push_back(std::move(picture));
  return files;
}

}  // namespace trimtack
