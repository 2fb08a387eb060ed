// SPDX-License-Identifier: MIT
#include "trimtack/io/picture.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "io/picture_view.hpp"
#include "io/sheet.hpp"

namespace trimtack {
namespace {

constexpr Colour kInk{0.16, 0.17, 0.20}, kPaleInk{0.42, 0.44, 0.48};
constexpr double kMargin = 24, kTitle = 44, kLegend = 34, kLine = 20;

Result<std::string> write(const Sheet& sheet, PictureFormat format) {
  return format == PictureFormat::Png ? sheet_to_png(sheet) : sheet_to_svg(sheet);
}

Result<void> check(const PictureInput& picture, int width) {
  if (!can_draw_pictures())
    return Error{
        ErrorCode::Usage,
        "this build of trimtack cannot draw shaded pictures: install cairo (Debian: libcairo2-dev) and build again", "",
        0};
  if (width < 200 || width > 8000)
    return Error{ErrorCode::BadInput, "a picture must be 200 to 8000 pixels wide", std::to_string(width), 0};
  if (picture.part_of_triangle.size() != picture.triangles.size())
    return Error{ErrorCode::BadInput, "every triangle of a picture needs a part", "", 0};
  return {};
}

struct Swatch {
  Colour colour;
  std::string text;
};

std::vector<Swatch> legend_of(const PictureInput& picture) {
  std::array<bool, 3> role{};
  std::array<bool, 5> mark{};
  for (const PicturePart& part : picture.parts) {
    if (part.mark == Mark::Plain) role[static_cast<std::size_t>(part.role)] = true;
    mark[static_cast<std::size_t>(part.mark)] = true;
  }
  std::vector<Swatch> out;
  if (role[0]) out.push_back({cloth_tint(0), "cloth, a tint per connected piece"});
  if (role[1]) out.push_back({trim_colour(1), "trim, a colour per kind, number = trim id"});
  if (role[2]) out.push_back({stitching_colour(), "stitching"});
  for (const Mark m : {Mark::Uncertain, Mark::Fault, Mark::Close, Mark::Good})
    if (mark[static_cast<std::size_t>(m)])
      out.push_back({colour_of(m), std::string(sign_of(m)) + (*sign_of(m) ? " " : "") + to_text(m)});
  return out;
}

void draw_legend(Sheet& sheet, const PictureInput& picture, double y) {
  double x = kMargin;
  for (const Swatch& swatch : legend_of(picture)) {
    SheetItem& box = sheet.rect(x, y, 18, 14, swatch.colour);
    box.round = 3;
    box.stroked = true;
    box.stroke = kPaleInk;
    box.line_width = 0.8;
    sheet.text(x + 26, y + 12, swatch.text, 13, -1, kInk);
    x += 26 + text_width(swatch.text, 13) + 18;
  }
}

/// How many labels name what no view shows. Good trims are passed over: nobody looks for them.
std::size_t count_covered(const PictureInput& picture, const std::vector<View>& views) {
  std::size_t count = 0;
  for (const PictureLabel& label : picture.labels) {
    if (label.group == kNone || label.mark == Mark::Good) continue;
    const bool named = std::any_of(views.begin(), views.end(), [&](const View& view) {
      return label.group < view.named.size() && view.named[label.group];
    });
    if (!named) ++count;
  }
  return count;
}

std::string left_out_note(std::size_t count, const char* why) {
  return std::to_string(count) + (count == 1 ? " number" : " numbers") + " left out " + why;
}

}  // namespace

bool can_draw_pictures() {
#ifdef TRIMTACK_HAVE_CAIRO
  return true;
#else
  return false;
#endif
}

Result<PictureFormat> picture_format(const std::filesystem::path& path) {
  std::string extension = path.extension().string();
  for (char& c : extension)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  if (extension == ".png") return PictureFormat::Png;
  if (extension == ".svg") return PictureFormat::Svg;
  return Error{ErrorCode::Usage, "pictures are written as .png or .svg: name the file so", path.string(), 0};
}

Result<std::string> draw_picture(const PictureInput& picture, PictureFormat format) {
  if (const auto sound = check(picture, picture.width); !sound) return sound.error();
  std::vector<View> views = plan_views(picture, 0.5 * (picture.width - 3 * kMargin));
  if (views.empty()) return Error{ErrorCode::BadInput, "there is no triangle to draw", picture.title, 0};
  Sheet sheet;
  sheet.title = picture.title;
  sheet.width = picture.width;
  double y = kMargin;
  if (!picture.title.empty()) {
    sheet.text(kMargin, y + 16, picture.title, 20, -1, kInk).strong = true;
    y += kTitle;
  }
  int left_out = 0;
  for (std::size_t i = 0; i < views.size(); ++i) {
    View& view = views[i];
    const double x = i % 2 == 0 ? kMargin : 2 * kMargin + views[0].width;
    left_out += draw_view(sheet, picture, view, x, y);
    sheet.text(x + view.width / 2, y + view.height + 14, view.caption, 13, 0, kPaleInk);
    if (i % 2 == 1 || i + 1 == views.size()) y += view.height + 14 + kMargin;
  }
  draw_legend(sheet, picture, y);
  y += kLegend;
  std::vector<std::string> notes = picture.notes;
  if (left_out > 0) notes.push_back(left_out_note(static_cast<std::size_t>(left_out), "for want of room"));
  if (const std::size_t covered = count_covered(picture, views); covered > 0)
    notes.push_back(left_out_note(covered, "where cloth or other trims cover the place from all sides"));
  for (const std::string& note : notes) {
    sheet.text(kMargin, y + 8, note, 13, -1, kPaleInk);
    y += kLine;
  }
  sheet.height = static_cast<int>(std::ceil(y + kMargin / 2));
  return write(sheet, format);
}

}  // namespace trimtack
