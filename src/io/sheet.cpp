// SPDX-License-Identifier: MIT
#include "io/sheet.hpp"

#include <charconv>
#include <cmath>
#include <memory>
#include <numbers>

#include "io/markup.hpp"

#ifdef TRIMTACK_HAVE_CAIRO
#include <cairo.h>
#endif

namespace trimtack {

void Sheet::image(SheetImage picture, double x, double y, double w, double h) {
  SheetItem item;
  item.kind = SheetItem::Kind::Image;
  item.x = x, item.y = y, item.w = w, item.h = h;
  item.image = static_cast<int>(images.size());
  images.push_back(std::move(picture));
  items.push_back(std::move(item));
}

SheetItem& Sheet::rect(double x, double y, double w, double h, const Colour& fill) {
  SheetItem item;
  item.kind = SheetItem::Kind::Rect;
  item.x = x, item.y = y, item.w = w, item.h = h;
  item.filled = true;
  item.fill = fill;
  return items.emplace_back(std::move(item));
}

SheetItem& Sheet::line(double x0, double y0, double x1, double y1, const Colour& colour, double line_width) {
  SheetItem item;
  item.kind = SheetItem::Kind::Line;
  item.x = x0, item.y = y0, item.w = x1 - x0, item.h = y1 - y0;
  item.stroked = true;
  item.stroke = colour;
  item.line_width = line_width;
  return items.emplace_back(std::move(item));
}

SheetItem& Sheet::circle(double x, double y, double radius, const Colour& fill) {
  SheetItem item;
  item.kind = SheetItem::Kind::Circle;
  item.x = x, item.y = y, item.w = radius;
  item.filled = true;
  item.fill = fill;
  return items.emplace_back(std::move(item));
}

SheetItem& Sheet::polygon(std::vector<Vec2> points, const Colour& fill) {
  SheetItem item;
  item.kind = SheetItem::Kind::Polygon;
  item.points = std::move(points);
  item.filled = true;
  item.fill = fill;
  return items.emplace_back(std::move(item));
}

SheetItem& Sheet::text(double x, double y, const std::string& what, double size, int anchor, const Colour& colour) {
  SheetItem item;
  item.kind = SheetItem::Kind::Text;
  item.x = x, item.y = y;
  item.text = what;
  item.size = size;
  item.anchor = anchor;
  item.filled = true;
  item.fill = colour;
  return items.emplace_back(std::move(item));
}

double text_width(const std::string& text, double size) { return 0.6 * size * static_cast<double>(text.size()); }

namespace {

using std::numbers::pi;

[[maybe_unused]] Error no_cairo() {
  return {ErrorCode::Usage,
          "this build of trimtack cannot draw shaded pictures: install cairo (Debian: libcairo2-dev) and build again",
          "", 0};
}

#ifdef TRIMTACK_HAVE_CAIRO

struct SurfaceEnd {
  void operator()(cairo_surface_t* s) const { cairo_surface_destroy(s); }
};
struct DrawingEnd {
  void operator()(cairo_t* c) const { cairo_destroy(c); }
};
using Surface = std::unique_ptr<cairo_surface_t, SurfaceEnd>;
using Drawing = std::unique_ptr<cairo_t, DrawingEnd>;

Surface to_surface(const SheetImage& image) {
  Surface surface(cairo_image_surface_create(CAIRO_FORMAT_RGB24, image.width, image.height));
  if (cairo_surface_status(surface.get()) != CAIRO_STATUS_SUCCESS) return surface;
  cairo_surface_flush(surface.get());
  unsigned char* data = cairo_image_surface_get_data(surface.get());
  const auto stride = static_cast<std::size_t>(cairo_image_surface_get_stride(surface.get()));
  for (std::size_t y = 0; y < static_cast<std::size_t>(image.height); ++y)
    for (std::size_t x = 0; x < static_cast<std::size_t>(image.width); ++x) {
      const std::uint8_t* p = &image.rgb[3 * (y * static_cast<std::size_t>(image.width) + x)];
      const std::uint32_t packed =
          (static_cast<std::uint32_t>(p[0]) << 16) | (static_cast<std::uint32_t>(p[1]) << 8) | p[2];
      *reinterpret_cast<std::uint32_t*>(static_cast<void*>(data + y * stride + 4 * x)) = packed;
    }
  cairo_surface_mark_dirty(surface.get());
  return surface;
}

Result<std::string> to_png(cairo_surface_t* surface) {
  std::string bytes;
  const cairo_write_func_t keep = [](void* closure, const unsigned char* data, unsigned int length) {
    static_cast<std::string*>(closure)->append(static_cast<const char*>(static_cast<const void*>(data)), length);
    return CAIRO_STATUS_SUCCESS;
  };
  const cairo_status_t status = cairo_surface_write_to_png_stream(surface, keep, &bytes);
  if (status != CAIRO_STATUS_SUCCESS)
    return Error{ErrorCode::Internal, std::string("the picture could not be packed: ") + cairo_status_to_string(status),
                 "", 0};
  // Behind the header, whose 25 bytes follow the signature's 8: whose picture this is, as a textual chunk.
  constexpr std::string_view kWho{
      "\0\0\0\x11"
      "tEXt"
      "Software\0trimtack"
      "\x0c\xf4\x79\x39",
      29};
  bytes.insert(33, kWho);
  return bytes;
}

void outline(cairo_t* c, const SheetItem& item) {
  switch (item.kind) {
    case SheetItem::Kind::Rect:
      if (item.round <= 0) {
        cairo_rectangle(c, item.x, item.y, item.w, item.h);
      } else {
        const double r = item.round;
        cairo_new_sub_path(c);
        cairo_arc(c, item.x + item.w - r, item.y + r, r, -pi / 2, 0);
        cairo_arc(c, item.x + item.w - r, item.y + item.h - r, r, 0, pi / 2);
        cairo_arc(c, item.x + r, item.y + item.h - r, r, pi / 2, pi);
        cairo_arc(c, item.x + r, item.y + r, r, pi, 1.5 * pi);
        cairo_close_path(c);
      }
      break;
    case SheetItem::Kind::Line:
      cairo_move_to(c, item.x, item.y);
      cairo_line_to(c, item.x + item.w, item.y + item.h);
      break;
    case SheetItem::Kind::Circle:
      cairo_new_sub_path(c);
      cairo_arc(c, item.x, item.y, item.w, 0, 2 * pi);
      break;
    case SheetItem::Kind::Polygon:
      for (const Vec2& p : item.points) cairo_line_to(c, p.x, p.y);
      if (item.closed) cairo_close_path(c);
      break;
    default:
      break;
  }
}

void draw_text(cairo_t* c, const SheetItem& item) {
  cairo_select_font_face(c, "sans-serif", CAIRO_FONT_SLANT_NORMAL,
                         item.strong ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
  cairo_set_font_size(c, item.size);
  cairo_text_extents_t room;
  cairo_text_extents(c, item.text.c_str(), &room);
  const double shift = item.anchor < 0 ? 0 : (item.anchor == 0 ? 0.5 : 1.0);
  cairo_move_to(c, item.x - shift * room.x_advance, item.y);
  cairo_set_source_rgba(c, item.fill.r, item.fill.g, item.fill.b, item.opacity);
  cairo_show_text(c, item.text.c_str());
}

void draw_item(cairo_t* c, const Sheet& sheet, const SheetItem& item) {
  cairo_new_path(c);
  if (item.kind == SheetItem::Kind::Text) return draw_text(c, item);
  if (item.kind == SheetItem::Kind::Image) {
    const SheetImage& image = sheet.images[static_cast<std::size_t>(item.image)];
    const Surface surface = to_surface(image);
    cairo_save(c);
    cairo_translate(c, item.x, item.y);
    cairo_scale(c, item.w / image.width, item.h / image.height);
    cairo_set_source_surface(c, surface.get(), 0, 0);
    cairo_paint(c);
    cairo_restore(c);
    return;
  }
  outline(c, item);
  if (item.filled) {
    cairo_set_source_rgba(c, item.fill.r, item.fill.g, item.fill.b, item.opacity);
    cairo_fill_preserve(c);
  }
  if (item.stroked) {
    cairo_set_source_rgba(c, item.stroke.r, item.stroke.g, item.stroke.b, item.opacity);
    cairo_set_line_width(c, item.line_width);
    cairo_set_line_cap(c, CAIRO_LINE_CAP_ROUND);
    cairo_set_line_join(c, CAIRO_LINE_JOIN_ROUND);
    cairo_stroke(c);
  }
  cairo_new_path(c);
}

#endif

std::string base64(const std::string& bytes) {
  static constexpr char kLetters[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string out;
  out.reserve((bytes.size() + 2) / 3 * 4);
  for (std::size_t i = 0; i < bytes.size(); i += 3) {
    std::uint32_t v = 0;
    for (std::size_t k = 0; k < 3; ++k)
      v = (v << 8) | (i + k < bytes.size() ? static_cast<unsigned char>(bytes[i + k]) : 0U);
    for (std::size_t k = 0; k < 4; ++k) out += i + k <= bytes.size() ? kLetters[(v >> (18 - 6 * k)) & 63U] : '=';
  }
  return out;
}

std::string number(double v) {
  const double r = std::round(v * 100) / 100;
  char buffer[32];
  const auto [end, error] = std::to_chars(buffer, buffer + sizeof buffer, r == 0 ? 0.0 : r);
  return error == std::errc() ? std::string(buffer, end) : std::string("0");
}

std::string hex(const Colour& colour) {
  std::string out = "#";
  for (const double v : {colour.r, colour.g, colour.b}) {
    const auto byte = static_cast<unsigned>(std::lround(std::fmin(1.0, std::fmax(0.0, v)) * 255));
    out += "0123456789abcdef"[byte >> 4];
    out += "0123456789abcdef"[byte & 15U];
  }
  return out;
}

std::string paint(const SheetItem& item) {
  std::string out = " fill=\"" + (item.filled ? hex(item.fill) : std::string("none")) + "\"";
  if (item.stroked)
    out += " stroke=\"" + hex(item.stroke) + "\" stroke-width=\"" + number(item.line_width) +
           "\" stroke-linecap=\"round\" stroke-linejoin=\"round\"";
  if (item.opacity < 1) out += " opacity=\"" + number(item.opacity) + "\"";
  return out;
}

std::string svg_item(const SheetItem& item) {
  const auto at = [](const char* name, double v) { return std::string(" ") + name + "=\"" + number(v) + "\""; };
  switch (item.kind) {
    case SheetItem::Kind::Rect:
      return "<rect" + at("x", item.x) + at("y", item.y) + at("width", item.w) + at("height", item.h) +
             (item.round > 0 ? at("rx", item.round) : "") + paint(item) + "/>\n";
    case SheetItem::Kind::Line:
      return "<line" + at("x1", item.x) + at("y1", item.y) + at("x2", item.x + item.w) + at("y2", item.y + item.h) +
             paint(item) + "/>\n";
    case SheetItem::Kind::Circle:
      return "<circle" + at("cx", item.x) + at("cy", item.y) + at("r", item.w) + paint(item) + "/>\n";
    case SheetItem::Kind::Polygon: {
      std::string points;
      for (const Vec2& p : item.points) points += (points.empty() ? "" : " ") + number(p.x) + "," + number(p.y);
      return (item.closed ? "<polygon points=\"" : "<polyline points=\"") + points + "\"" + paint(item) + "/>\n";
    }
    case SheetItem::Kind::Text: {
      const char* anchor = item.anchor < 0 ? "start" : (item.anchor == 0 ? "middle" : "end");
      return "<text" + at("x", item.x) + at("y", item.y) + at("font-size", item.size) + " text-anchor=\"" + anchor +
             "\"" + (item.strong ? " font-weight=\"bold\"" : "") + paint(item) + ">" + escape_markup(item.text) +
             "</text>\n";
    }
    default:
      return {};
  }
}

}  // namespace

#ifdef TRIMTACK_HAVE_CAIRO

Result<std::string> sheet_to_png(const Sheet& sheet) {
  const Surface surface(cairo_image_surface_create(CAIRO_FORMAT_RGB24, sheet.width, sheet.height));
  const Drawing drawing(cairo_create(surface.get()));
  cairo_set_source_rgb(drawing.get(), 1, 1, 1);
  cairo_paint(drawing.get());
  for (const SheetItem& item : sheet.items) draw_item(drawing.get(), sheet, item);
  cairo_surface_flush(surface.get());
  return to_png(surface.get());
}

static Result<std::string> image_to_png(const SheetImage& image) { return to_png(to_surface(image).get()); }

#else

Result<std::string> sheet_to_png(const Sheet&) { return no_cairo(); }
static Result<std::string> image_to_png(const SheetImage&) { return no_cairo(); }

#endif

Result<std::string> sheet_to_svg(const Sheet& sheet) {
  const std::string w = std::to_string(sheet.width), h = std::to_string(sheet.height);
  std::string out = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"" + w + "\" height=\"" + h +
                    "\" viewBox=\"0 0 " + w + " " + h +
                    "\" role=\"img\" font-family=\"sans-serif\">\n<!-- drawn by trimtack -->\n";
  if (!sheet.title.empty()) out += "<title>" + escape_markup(sheet.title) + "</title>\n";
  out += "<rect width=\"" + w + "\" height=\"" + h + "\" fill=\"#ffffff\"/>\n";
  for (const SheetItem& item : sheet.items) {
    if (item.kind != SheetItem::Kind::Image) {
      out += svg_item(item);
      continue;
    }
    const auto png = image_to_png(sheet.images[static_cast<std::size_t>(item.image)]);
    if (!png) return png.error();
    out += "<image x=\"" + number(item.x) + "\" y=\"" + number(item.y) + "\" width=\"" + number(item.w) +
           "\" height=\"" + number(item.h) + "\" href=\"data:image/png;base64," + base64(*png) + "\"/>\n";
  }
  return out + "</svg>\n";
}

}  // namespace trimtack
