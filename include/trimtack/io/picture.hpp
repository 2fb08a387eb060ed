// SPDX-License-Identifier: MIT
/// Pictures of garments as PNG or SVG bytes. PNG and shaded views need the cairo library at build time.
#pragma once

#include <filesystem>
#include <string>

#include "trimtack/picture.hpp"
#include "trimtack/result.hpp"

namespace trimtack {

enum class PictureFormat : std::uint8_t { Png, Svg };
/// By the file's extension. @error Usage for anything but .png and .svg.
Result<PictureFormat> picture_format(const std::filesystem::path& path);
/// False when the library was built without cairo; then the functions below that need it give an error.
bool can_draw_pictures();

/// Front and back view side by side with title, labels, legend and notes; where trims are hidden from outside, a view
/// into the front half and into the back half as well. Shaded pixels are the same in both formats (an SVG embeds them);
/// labels and lines of an SVG are vectors and text.
/// Same bytes for the same input on the same machine (text in a PNG depends on its fonts).
/// @error Usage when built without cairo; BadInput for a picture without a finite triangle or a width outside [200,
/// 8000]. Cost: a few passes over the triangles and the pixels.
Result<std::string> draw_picture(const PictureInput& picture, PictureFormat format);

}  // namespace trimtack
