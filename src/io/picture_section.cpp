// SPDX-License-Identifier: MIT
// Sections through a trim: the cut of the cloth and of the trim, to scale.
#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

#include "io/picture_view.hpp"
#include "io/sheet.hpp"
#include "trimtack/io/picture.hpp"

namespace trimtack {
namespace {

constexpr Colour kInk{0.16, 0.17, 0.20}, kCloth{0.30, 0.42, 0.62}, kOther{0.62, 0.60, 0.50}, kRest{0.75, 0.77, 0.80};

using Key = std::pair<double, double>;

/// Joins segments that share end points into lines; closed ones end where they begin.
std::vector<std::vector<Vec2>> chains(const std::vector<SectionInput::Segment>& segments) {
  std::multimap<Key, std::size_t> ends;
  for (std::size_t i = 0; i < segments.size(); ++i)
    for (const Vec2& p : segments[i]) ends.emplace(Key{p.x, p.y}, i);
  std::vector<bool> used(segments.size(), false);
  const auto next = [&](const Vec2& p) -> const SectionInput::Segment* {
    const auto [first, last] = ends.equal_range(Key{p.x, p.y});
    for (auto it = first; it != last; ++it)
      if (!used[it->second]) {
        used[it->second] = true;
        return &segments[it->second];
      }
    return nullptr;
  };
  std::vector<std::vector<Vec2>> out;
  for (std::size_t i = 0; i < segments.size(); ++i) {
    if (used[i]) continue;
    used[i] = true;
    std::vector<Vec2> line{segments[i][0], segments[i][1]};
    for (int way = 0; way < 2; ++way) {
      while (const SectionInput::Segment* s = next(line.back()))
        line.push_back((*s)[0] == line.back() ? (*s)[1] : (*s)[0]);
      std::reverse(line.begin(), line.end());
    }
    out.push_back(std::move(line));
  }
  return out;
}

/// A round length of about a quarter of the width: 1, 2 or 5 times a power of ten.
double nice_length(double wish) {
  const double power = std::pow(10.0, std::floor(std::log10(wish)));
  for (const double k : {5.0, 2.0})
    if (k * power <= wish) return k * power;
  return power;
}

std::string length_text(double mm) {
  std::string text = std::to_string(mm >= 1 ? std::lround(mm) : std::lround(mm * 100));
  if (mm < 1) text = "0." + std::string(text.size() < 2 ? "0" : "") + text;
  return text + " mm";
}

}  // namespace

Result<std::string> draw_section(const SectionInput& section, int width, int height, PictureFormat format) {
  if (width < 100 || height < 60 || width > 8000 || height > 8000)
    return Error{ErrorCode::BadInput, "a section must be at least 100 by 60 and at most 8000 pixels", section.title, 0};
  if (!(section.half_width_mm > 0) || !std::isfinite(section.half_width_mm))
    return Error{ErrorCode::BadInput, "a section needs a width above 0", section.title, 0};
  Sheet sheet;
  sheet.width = width;
  sheet.height = height;
  sheet.title = section.title;
  const double scale = 0.5 * width / section.half_width_mm, base = 0.62 * height;
  const auto on_sheet = [&](const Vec2& p) -> Vec2 {
    const double far = 4.0 * (width + height);  // keeps numbers short; the frame hides what lies outside
    return {std::clamp(0.5 * width + scale * p.x, -far, far), std::clamp(base - scale * p.y, -far, far)};
  };
  const auto draw = [&](const std::vector<SectionInput::Segment>& segments, const Colour& colour, double line,
                        bool fill) {
    for (const auto& chain : chains(segments)) {
      std::vector<Vec2> points;
      for (const Vec2& p : chain) points.push_back(on_sheet(p));
      const bool closed = chain.size() > 3 && chain.front() == chain.back();
      if (closed) points.pop_back();
      SheetItem& item = sheet.polygon(std::move(points), colour);
      item.closed = closed;
      item.stroked = true;
      item.stroke = colour;
      item.line_width = line;
      item.filled = false;
      if (fill && closed) {
        SheetItem inner = item;
        inner.filled = true;
        inner.stroked = false;
        inner.opacity = 0.22;
        sheet.items.push_back(std::move(inner));
      }
    }
  };
  draw(section.rest_cloth, kRest, 1.5, false);
  draw(section.other_cloth, kOther, 2, false);
  draw(section.trim, section.mark == Mark::Plain ? trim_colour(0) : colour_of(section.mark), 1.6, true);
  draw(section.cloth, kCloth, 3, false);
  const double bar = nice_length(0.5 * section.half_width_mm), x = width - 12 - bar * scale, y = height - 12;
  sheet.line(x, y, x + bar * scale, y, kInk, 2);
  sheet.line(x, y - 4, x, y + 4, kInk, 1.2);
  sheet.line(x + bar * scale, y - 4, x + bar * scale, y + 4, kInk, 1.2);
  sheet.text(x + bar * scale / 2, y - 6, length_text(bar), 11, 0, kInk);
  if (!section.title.empty())
    sheet
        .text(10, 18, section.title + (*sign_of(section.mark) != 0 ? std::string(" ") + sign_of(section.mark) : ""), 13,
              -1, kInk)
        .strong = true;
  if (!section.caption.empty()) sheet.text(10, height - 8, section.caption, 11, -1, kInk);
  return format == PictureFormat::Png ? sheet_to_png(sheet) : sheet_to_svg(sheet);
}

}  // namespace trimtack
