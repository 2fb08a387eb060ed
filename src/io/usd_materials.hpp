// SPDX-License-Identifier: MIT
/// Materials as usda text.
#pragma once

#include <span>
#include <string>

#include "trimtack/io/scene.hpp"

namespace trimtack::usd {

/// Where pictures stand beside a layer.
inline constexpr const char* kPictureFolder = "textures/";

/// Appends a material of /garment/materials: a preview surface, and a reader for each picture that it shows.
/// @param prim  its name in the layer, an identifier      @param pictures  of the scene
void append_material(std::string& text, const std::string& prim, const std::string& name, const SceneMaterial& material,
                     std::span<const ScenePicture> pictures);

}  // namespace trimtack::usd
