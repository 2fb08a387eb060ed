// SPDX-License-Identifier: MIT
/// A list of things to draw, and the two ways to write it: PNG through cairo, SVG as text.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "trimtack/picture.hpp"
#include "trimtack/result.hpp"

namespace trimtack {

/// One thing on a sheet. Coordinates in pixels from the top left; a line width or size of 0 means none.
struct SheetItem {
  enum class Kind : std::uint8_t { Image, Rect, Line, Polygon, Circle, Text };
  Kind kind = Kind::Rect;
  double x = 0, y = 0, w = 0, h = 0;  ///< box; line from (x, y) to (x + w, y + h); circle centre and radius w
  double round = 0;                   ///< corner radius of a Rect
  std::vector<Vec2> points;           ///< Polygon
  bool closed = true;
  std::string text;
  double size = 12;  ///< of text
  int anchor = 0;    ///< of text: -1 starts at x, 0 centred, 1 ends at x
  bool strong = false;
  bool filled = false, stroked = false;
  Colour fill, stroke;
  double line_width = 1;
  double opacity = 1;
  int image = -1;
};

struct SheetImage {
  int width = 0, height = 0;
  std::vector<std::uint8_t> rgb;
};

struct Sheet {
  int width = 0, height = 0;
  std::string title;  ///< for readers that cannot see it
  std::vector<SheetItem> items;
  std::vector<SheetImage> images;

  void image(SheetImage picture, double x, double y, double w, double h);
  SheetItem& rect(double x, double y, double w, double h, const Colour& fill);
  SheetItem& line(double x0, double y0, double x1, double y1, const Colour& colour, double line_width);
  SheetItem& circle(double x, double y, double radius, const Colour& fill);
  SheetItem& polygon(std::vector<Vec2> points, const Colour& fill);
  SheetItem& text(double x, double y, const std::string& what, double size, int anchor, const Colour& colour);
};

/// Room that a text takes, near enough for layout.
double text_width(const std::string& text, double size);

Result<std::string> sheet_to_png(const Sheet& sheet);
/// @error Usage when there are images and no cairo to pack them.
Result<std::string> sheet_to_svg(const Sheet& sheet);

}  // namespace trimtack
