// SPDX-License-Identifier: MIT
// Pictures of materials: found within the garment's folder, told by their first bytes (PNG: ISO/IEC 15948; JPEG: ITU-T
// T.81), carried byte for byte.
#include <algorithm>
#include <set>
#include <string>
#include <system_error>

#include "trimtack/io/file_set.hpp"
#include "trimtack/io/scene.hpp"

namespace trimtack {
namespace {

namespace fs = std::filesystem;

constexpr std::uint64_t kLargestPicture = 64'000'000, kLargestTotal = 512'000'000;

// A file name that any host and package can hold: letters, digits, '-', '.' and '_'.
std::string plain_name(const fs::path& file, bool jpeg, std::set<std::string>& used) {
  std::string stem;
  for (const char c : file.stem().string()) {
    const bool kept = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-';
    stem += kept ? c : '_';
  }
  if (stem.empty()) stem = "picture";
  const auto lower = [](std::string text) {
    for (char& c : text) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
    return text;
  };
  const char* const extension = jpeg ? ".jpg" : ".png";
  std::string candidate = stem + extension;
  for (int i = 2; !used.insert(lower(candidate)).second; ++i) candidate = stem + "_" + std::to_string(i) + extension;
  return candidate;
}

class PictureLoader {
 public:
  PictureLoader(Scene& scene, const fs::path& root, const fs::path& folder, Report& report)
      : scene_(scene), root_(root), folder_(folder), report_(report) {
    for (const ScenePicture& picture : scene.pictures) {
      used_.insert(picture.name);
      total_ += picture.bytes.size();
    }
  }

  void load(SceneMap& map) {
    const auto known = std::find_if(found_.begin(), found_.end(), [&](const auto& f) { return f.first == map.file; });
    if (known == found_.end()) {
      found_.emplace_back(map.file, read(map.file));
      map.picture = found_.back().second;
    } else {
      map.picture = known->second;
    }
  }

 private:
  Index leave_out(const char* code, const std::string& file, const std::string& why) {
    add_separate(report_, {Severity::Warning, code, why, file, 0, 1});
    return kNone;
  }

  Index read(const std::string& file) {
    const Result<fs::path> place = place_of_picture(root_, folder_, file);
    if (!place) return leave_out("picture-outside", file, place.error().message);
    std::error_code error;
    if (!fs::is_regular_file(*place, error)) {
      return leave_out("picture-missing", file,
                       "this picture was not found beside its material library; the scene goes without it");
    }
    const std::uint64_t size = fs::file_size(*place, error);
    if (error || size > kLargestPicture || total_ + size > kLargestTotal) {
      return leave_out("picture-too-large", file,
                       "this picture is larger than 64 MB (or all together than 512 MB); the scene goes without it, "
                       "make it smaller");
    }
    Result<std::string> bytes = read_file(*place, kLargestPicture);
    if (!bytes) return leave_out("picture-missing", file, bytes.error().message + "; the scene goes without it");
    const bool png = bytes->starts_with("\x89PNG\r\n\x1a\n"), jpeg = bytes->starts_with("\xff\xd8\xff");
    if (!png && !jpeg) {
      return leave_out("picture-format", file, "is neither PNG nor JPEG; convert it, the scene goes without it");
    }
    total_ += bytes->size();
    scene_.pictures.push_back({plain_name(*place, jpeg, used_), std::move(*bytes), jpeg});
    return static_cast<Index>(scene_.pictures.size() - 1);
  }

  Scene& scene_;
  const fs::path &root_, &folder_;
  Report& report_;
  std::set<std::string> used_;
  std::vector<std::pair<std::string, Index>> found_;
  std::uint64_t total_ = 0;
};

std::set<std::string> used_materials(const Scene& scene) {
  std::set<std::string> used;
  if (scene.cloth != nullptr) used.insert(scene.cloth->materials.begin(), scene.cloth->materials.end());
  for (const SourceMesh& shape : scene.shapes) used.insert(shape.materials.begin(), shape.materials.end());
  return used;
}

}  // namespace

Result<fs::path> place_of_picture(const fs::path& root, const fs::path& folder, const std::string& file) {
  const Error outside{ErrorCode::BadInput,
                      "this picture lies outside of the garment's folder and is not read; copy it beside its library",
                      file, 0};
  const bool drive = file.size() > 1 && file[1] == ':';
  if (file.empty() || drive || fs::path(file).is_absolute() || file.find('\0') != std::string::npos) return outside;
  // Also by way of links within the folder.
  std::error_code error;
  const fs::path inside = fs::weakly_canonical(root.empty() ? fs::path(".") : root, error);
  if (error) return outside;
  const fs::path place = fs::weakly_canonical((folder.empty() ? fs::path(".") : folder) / file, error);
  if (error) return outside;
  const fs::path relative = place.lexically_relative(inside);
  if (relative.empty() || *relative.begin() == "..") return outside;
  return place;
}

void add_materials(Scene& scene, std::vector<SceneMaterial> materials, const fs::path& root, const fs::path& folder,
                   Report& report) {
  const std::set<std::string> used = used_materials(scene);
  PictureLoader loader(scene, root, folder, report);
  for (SceneMaterial& material : materials) {
    if (used.contains(material.name)) {
      for (SceneMap& map : material.maps) {
        if (!map.file.empty()) loader.load(map);
      }
      if (!material.left_out.empty()) {
        std::string names;
        for (const std::string& what : material.left_out) names += (names.empty() ? "" : ", ") + what;
        add(report, {Severity::Note, "picture-left-out", "not part of a scene: " + names, material.name, 0, 1});
      }
    }
    scene.materials.push_back(std::move(material));
  }
}

}  // namespace trimtack
