// SPDX-License-Identifier: MIT
// UsdShade and "UsdPreviewSurface Specification" of the published OpenUSD documentation: UsdPreviewSurface,
// UsdUVTexture, UsdPrimvarReader_float2.
#include "io/usd_materials.hpp"

#include <array>

#include "io/usd_text.hpp"

namespace trimtack::usd {
namespace {

// The shader that reads a picture; `values` are its scale, bias and colour space.
void append_picture(std::string& text, const std::string& prim, const char* name, const ScenePicture& picture,
                    const std::string& values) {
  const std::string pad(16, ' ');
  text += "\n            def Shader \"" + std::string(name) + "\"\n            {\n" + pad +
          "uniform token info:id = \"UsdUVTexture\"\n" + pad + "asset inputs:file = @" + std::string(kPictureFolder) +
          picture.name + "@\n" + pad + "float2 inputs:st.connect = </garment/materials/" + prim +
          "/st.outputs:result>\n" + pad + "token inputs:wrapS = \"repeat\"\n" + pad +
          "token inputs:wrapT = \"repeat\"\n" + values + pad + "float3 outputs:rgb\n" + pad +
          "float outputs:a\n            }\n";
}

}  // namespace

void append_material(std::string& text, const std::string& prim, const std::string& name, const SceneMaterial& material,
                     std::span<const ScenePicture> pictures) {
  const std::string path = "</garment/materials/" + prim + "/", pad(16, ' ');
  const auto colour = [](const std::array<double, 3>& c) {
    return "(" + decimal(c[0]) + ", " + decimal(c[1]) + ", " + decimal(c[2]);
  };
  const Index base = material.map(PictureUse::BaseColour).picture, glow = material.map(PictureUse::Emissive).picture,
              normal = material.map(PictureUse::Normal).picture,
              packed = material.map(PictureUse::MetallicRoughness).picture;
  text += "        def Material " + in_quotes(prim) + " (\n            displayName = " + in_quotes(name) +
          "\n        )\n        {\n            token outputs:surface.connect = " + path +
          "surface.outputs:surface>\n\n            def Shader \"surface\"\n            {\n" + pad +
          "uniform token info:id = \"UsdPreviewSurface\"\n";
  const auto input = [&](const char* type_and_name, const std::string& value, Index picture, const char* output) {
    text += pad + type_and_name + (picture == kNone ? " = " + value : ".connect = " + path + output + ">") + "\n";
  };
  input("color3f inputs:diffuseColor", colour(material.base_colour) + ")", base, "base_colour.outputs:rgb");
  input("color3f inputs:emissiveColor", colour(material.emissive) + ")", glow, "emissive.outputs:rgb");
  input("float inputs:metallic", decimal(material.metallic), packed, "metallic_roughness.outputs:b");
  const bool cut_out = material.cut_out && base != kNone && material.opacity == 1;
  input("float inputs:opacity", decimal(material.opacity), cut_out ? base : kNone, "base_colour.outputs:a");
  if (cut_out) text += pad + "float inputs:opacityThreshold = 0.5\n";
  input("float inputs:roughness", decimal(material.roughness), packed, "metallic_roughness.outputs:g");
  if (normal != kNone) input("normal3f inputs:normal", "", normal, "normal.outputs:rgb");
  text += pad + "token outputs:surface\n            }\n";
  const auto scaled = [&](const std::array<double, 3>& factor) {
    return pad + "float4 inputs:scale = " + colour(factor) + ", 1)\n" + pad +
           "token inputs:sourceColorSpace = \"sRGB\"\n";
  };
  if (base != kNone) append_picture(text, prim, "base_colour", pictures[base], scaled(material.base_colour));
  // A library with a picture alone means the picture.
  const auto& e = material.emissive;
  const bool no_factor = e[0] + e[1] + e[2] == 0;
  if (glow != kNone)
    append_picture(text, prim, "emissive", pictures[glow], scaled(no_factor ? std::array<double, 3>{1, 1, 1} : e));
  if (normal != kNone) {
    append_picture(text, prim, "normal", pictures[normal],
                   pad + "float4 inputs:scale = (2, 2, 2, 1)\n" + pad + "float4 inputs:bias = (-1, -1, -1, 0)\n" + pad +
                       "token inputs:sourceColorSpace = \"raw\"\n");
  }
  if (packed != kNone) {
    append_picture(text, prim, "metallic_roughness", pictures[packed],
                   pad + "float4 inputs:scale = (1, " + decimal(material.roughness_of_picture) + ", " +
                       decimal(material.metallic_of_picture) + ", 1)\n" + pad +
                       "token inputs:sourceColorSpace = \"raw\"\n" + pad + "float outputs:g\n" + pad +
                       "float outputs:b\n");
  }
  if (base != kNone || glow != kNone || normal != kNone || packed != kNone) {
    text += "\n            def Shader \"st\"\n            {\n" + pad +
            "uniform token info:id = \"UsdPrimvarReader_float2\"\n" + pad + "string inputs:varname = \"st\"\n" + pad +
            "float2 outputs:result\n            }\n";
  }
  text += "        }\n";
}

}  // namespace trimtack::usd
