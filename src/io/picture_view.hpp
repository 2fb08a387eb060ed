// SPDX-License-Identifier: MIT
/// One view of a garment: camera, shaded pixels, labels.
#pragma once

#include <string>
#include <vector>

#include "core/raster.hpp"
#include "io/sheet.hpp"
#include "trimtack/picture.hpp"

namespace trimtack {

/// Where each group shows in a view, in fine pixels.
struct Seen {
  std::vector<double> x, y;  ///< sums over its pixels
  std::vector<Index> pixels;
};

struct View {
  std::string caption;
  double width = 0, height = 0;  ///< on the sheet
  Camera camera;                 ///< in fine pixels, kFine to one of the sheet
  std::vector<Tri> triangles;    ///< those this view shows
  std::vector<Index> part;
  Raster raster;            ///< of these triangles, before anything is painted
  Seen seen;                ///< per group
  std::vector<bool> named;  ///< per group: labelled here
};
inline constexpr int kFine = 2;

/// "!", "~", "?" or nothing: the mark's sign beside a number, for those who cannot tell the colours.
const char* sign_of(Mark mark);

/// Front and back, and the insides that show trims hidden from outside. Empty when there is nothing to see. A group is
/// named in every view that shows it well, else in the one that shows most of it.
std::vector<View> plan_views(const PictureInput& picture, double width);

/// Draws it with its top left corner at (x, y). Returns how many labels found no room.
int draw_view(Sheet& sheet, const PictureInput& picture, const View& view, double x, double y);

}  // namespace trimtack
