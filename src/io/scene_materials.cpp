// SPDX-License-Identifier: MIT
// MTL: Wavefront's material library text. Roughness from a Phong exponent: the equality of lobe widths
// alpha = sqrt(2 / (n + 2)) (Walter et al. 2007, "Microfacet models for refraction", section 5.2, with alpha as
// roughness^2 replaced by roughness: common practice, no source).
#include <algorithm>
#include <charconv>
#include <cmath>
#include <optional>

#include "trimtack/io/scene.hpp"

namespace trimtack {
namespace {

constexpr std::string_view kSpace = " \t\r";

std::string_view trimmed(std::string_view text) {
  const std::size_t first = text.find_first_not_of(kSpace);
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(kSpace) - first + 1);
}

// Up to three numbers; one number stands for all three. False when there is none.
bool numbers(std::string_view text, std::array<double, 3>& out) {
  std::size_t count = 0;
  while (count < 3) {
    text = trimmed(text);
    double value = 0;
    const auto parsed = std::from_chars(text.data(), text.data() + text.size(), value);
    if (parsed.ec != std::errc{} || !std::isfinite(value)) break;
    out[count++] = value;
    text.remove_prefix(static_cast<std::size_t>(parsed.ptr - text.data()));
  }
  if (count == 1) out[1] = out[2] = out[0];
  return count == 1 || count == 3;
}

double clamped(double value) { return std::clamp(value, 0.0, 1.0); }

bool is_number(std::string_view token) {
  double value = 0;
  const auto parsed = std::from_chars(token.data(), token.data() + token.size(), value);
  return parsed.ec == std::errc{} && parsed.ptr == token.data() + token.size();
}

// The first word of `text`, taken off it.
std::string_view take_word(std::string_view& text) {
  text = trimmed(text);
  const std::string_view word = text.substr(0, std::min(text.find_first_of(kSpace), text.size()));
  text = trimmed(text.substr(word.size()));
  return word;
}

// The statements of the appendix (and of common practice) that name a picture.
bool names_picture(std::string_view word) {
  return word.substr(0, 4) == "map_" || word == "bump" || word == "disp" || word == "decal" || word == "norm" ||
         word == "refl";
}

struct NamedPicture {
  std::string file;
  bool moved = false;  // with an offset or a scale
};

// "-o 0.5 0 -clamp on twill.png": options and their values stand before the name, which may hold blanks.
NamedPicture picture_of_statement(std::string_view rest) {
  NamedPicture named;
  while (rest.size() > 1 && rest[0] == '-') {
    const std::string_view option = take_word(rest);
    if (option == "-o" || option == "-s" || option == "-t") {
      named.moved = true;
      for (int i = 0; i < 3; ++i) {
        std::string_view after = rest;
        if (!is_number(take_word(after)) || after.empty()) break;
        rest = after;
      }
    } else {
      take_word(rest);
      if (option == "-mm") take_word(rest);
    }
  }
  named.file = rest;
  std::replace(named.file.begin(), named.file.end(), '\\', '/');
  return named;
}

void read_picture(SceneMaterial& material, std::string_view word, std::string_view rest) {
  NamedPicture named = picture_of_statement(rest);
  if (named.file.empty()) return;
  if (named.moved) material.left_out.push_back("placement of " + std::string(word));
  const auto use =
      word == "map_Kd" ? PictureUse::BaseColour : (word == "map_Ke" ? PictureUse::Emissive : PictureUse::Normal);
  if (word == "map_Kd" || word == "map_Ke" || word == "norm") {
    material.maps[static_cast<std::size_t>(use)].file = std::move(named.file);
  } else if (word == "map_d" || word == "map_Pr" || word == "map_Pm") {
    material.cut_out = material.cut_out || word == "map_d";  // settled when the material ends
    material.left_out.push_back(std::string(word) + " " + named.file);
  } else {
    material.left_out.emplace_back(word);
  }
}

// An alpha picture of its own cannot be carried; one that is the base colour's alpha can.
void settle_cut_out(SceneMaterial& material) {
  if (!material.cut_out) return;
  const auto own = std::find(material.left_out.begin(), material.left_out.end(),
                             "map_d " + material.map(PictureUse::BaseColour).file);
  material.cut_out = own != material.left_out.end();
  if (material.cut_out) material.left_out.erase(own);
}

// Pictures of one channel each cannot be carried; one picture that holds roughness and metalness can.
void settle_metallic_roughness(SceneMaterial& material) {
  constexpr std::string_view kRoughness = "map_Pr ";
  std::vector<std::string>& left_out = material.left_out;
  const auto rough = std::find_if(left_out.begin(), left_out.end(),
                                  [&](const std::string& what) { return what.starts_with(kRoughness); });
  if (rough == left_out.end()) return;
  std::string file = rough->substr(kRoughness.size());
  if (std::find(left_out.begin(), left_out.end(), "map_Pm " + file) == left_out.end()) return;
  std::erase(left_out, "map_Pm " + file);
  std::erase(left_out, "map_Pr " + file);
  material.maps[static_cast<std::size_t>(PictureUse::MetallicRoughness)].file = std::move(file);
}

// Calls fn(statement, its arguments) for every line.
template <class Fn>
void for_statements(std::string_view text, Fn&& fn) {
  while (!text.empty()) {
    const std::size_t end = std::min(text.find('\n'), text.size());
    std::string_view rest = text.substr(0, end);
    text.remove_prefix(std::min(end + 1, text.size()));
    const std::string_view word = take_word(rest);
    fn(word, rest);
  }
}

void read_factor(SceneMaterial& material, std::string_view word, std::string_view rest, bool& has_roughness) {
  std::array<double, 3> values{};
  if (!numbers(rest, values)) return;
  const std::array<double, 3> colour{clamped(values[0]), clamped(values[1]), clamped(values[2])};
  if (word == "Kd") {
    material.base_colour = colour;
  } else if (word == "Ke") {
    material.emissive = colour;
  } else if (word == "d") {
    material.opacity = colour[0];
  } else if (word == "Tr") {
    material.opacity = 1 - colour[0];
  } else if (word == "Pm") {
    material.metallic = material.metallic_of_picture = colour[0];
  } else if (word == "Pr") {
    material.roughness = material.roughness_of_picture = colour[0];
    has_roughness = true;
  } else if (word == "Ns" && !has_roughness) {
    material.roughness = clamped(std::sqrt(2 / (std::max(values[0], 0.0) + 2)));
  }
}

}  // namespace

std::vector<SceneMaterial> read_materials(std::string_view text) {
  std::vector<SceneMaterial> materials;
  bool has_roughness = false;
  for_statements(text, [&](std::string_view word, std::string_view rest) {
    if (word == "newmtl") {
      materials.emplace_back().name = rest;
      has_roughness = false;
    } else if (materials.empty()) {
      return;
    } else if (names_picture(word)) {
      read_picture(materials.back(), word, rest);
    } else {
      read_factor(materials.back(), word, rest, has_roughness);
    }
  });
  for (SceneMaterial& material : materials) {
    settle_cut_out(material);
    settle_metallic_roughness(material);
  }
  return materials;
}

std::vector<std::string> pictures_named(std::string_view text) {
  std::vector<std::string> files;
  for_statements(text, [&](std::string_view word, std::string_view rest) {
    if (!names_picture(word)) return;
    NamedPicture named = picture_of_statement(rest);
    if (named.file.empty() || std::find(files.begin(), files.end(), named.file) != files.end()) return;
    files.push_back(std::move(named.file));
  });
  return files;
}

}  // namespace trimtack
