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

}  // namespace

std::vector<SceneMaterial> read_materials(std::string_view text) {
  std::vector<SceneMaterial> materials;
  bool has_roughness = false;
  while (!text.empty()) {
    const std::size_t end = std::min(text.find('\n'), text.size());
    const std::string_view line = trimmed(text.substr(0, end));
    text.remove_prefix(std::min(end + 1, text.size()));
    const std::size_t split = std::min(line.find_first_of(kSpace), line.size());
    const std::string_view word = line.substr(0, split), rest = trimmed(line.substr(split));
    if (word == "newmtl") {
      materials.emplace_back().name = rest;
      has_roughness = false;
      continue;
    }
    std::array<double, 3> values{};
    if (materials.empty() || !numbers(rest, values)) continue;
    SceneMaterial& material = materials.back();
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
      material.metallic = colour[0];
    } else if (word == "Pr") {
      material.roughness = colour[0];
      has_roughness = true;
    } else if (word == "Ns" && !has_roughness) {
      material.roughness = clamped(std::sqrt(2 / (std::max(values[0], 0.0) + 2)));
    }
  }
  return materials;
}

}  // namespace trimtack
