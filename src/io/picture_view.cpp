// SPDX-License-Identifier: MIT
#include "io/picture_view.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace trimtack {
namespace {

constexpr int kContactReach = 14;  ///< fine pixels
constexpr Colour kEdge{0.20, 0.22, 0.27};

bool drawable(const PictureInput& picture, std::size_t t) {
  for (const Index v : picture.triangles[t])
    if (v >= picture.positions.size() || !is_finite(picture.positions[v])) return false;
  return picture.part_of_triangle[t] < picture.parts.size();
}

/// `from` is +1 for the front, -1 for the back.
Camera facing(UpAxis up, double from) {
  Camera camera;
  camera.right = {from, 0, 0};
  camera.up = up == UpAxis::Y ? Vec3{0, 1, 0} : Vec3{0, 0, 1};
  camera.toward = up == UpAxis::Y ? Vec3{0, 0, from} : Vec3{0, -from, 0};
  return camera;
}

struct Extent {
  double low = std::numeric_limits<double>::infinity(), high = -std::numeric_limits<double>::infinity();
  void add(double v) {
    low = std::min(low, v);
    high = std::max(high, v);
  }
  double size() const { return high - low; }
  double middle() const { return 0.5 * (low + high); }
};

constexpr Index kSeenWell = 5;  ///< fine pixels

Seen count_pixels(const PictureInput& picture, const View& view, std::size_t groups) {
  const Raster& raster = view.raster;
  Seen seen{std::vector<double>(groups, 0.0), std::vector<double>(groups, 0.0), std::vector<Index>(groups, 0)};
  for (int y = 0; y < raster.height; ++y)
    for (int x = 0; x < raster.width; ++x) {
      const Index t = raster.triangle[raster.at(x, y)];
      if (t == kNone) continue;
      const Index group = picture.parts[view.part[t]].group;
      if (group == kNone || group >= groups) continue;
      seen.x[group] += x + 0.5;
      seen.y[group] += y + 0.5;
      ++seen.pixels[group];
    }
  return seen;
}

std::size_t group_count(const PictureInput& picture) {
  std::size_t count = 0;
  for (const PicturePart& part : picture.parts)
    if (part.group != kNone) count = std::max<std::size_t>(count, part.group + 1U);
  return count;
}

Colour colour_of_part(const PicturePart& part) {
  if (part.mark != Mark::Plain) return colour_of(part.mark);
  if (part.role == Role::Cloth) return cloth_tint(part.tint);
  return part.role == Role::Trim ? trim_colour(part.tint) : stitching_colour();
}

/// Does an outline run along this fine pixel: does another thing begin to its left or above?
bool on_edge(const PictureInput& picture, const View& view, int x, int y) {
  const Raster& raster = view.raster;
  const auto what = [&](int u, int v) -> Index {
    if (u < 0 || v < 0) return kNone;
    const Index t = raster.triangle[raster.at(u, v)];
    if (t == kNone) return kNone;
    const PicturePart& part = picture.parts[view.part[t]];
    if (part.role == Role::Stitching) return kNone - 1;  // stitches get none: they would be all outline
    return part.group != kNone ? static_cast<Index>(picture.parts.size()) + part.group : view.part[t];
  };
  const Index here = what(x, y), left = what(x - 1, y), above = what(x, y - 1);
  const auto differs = [&](Index other) { return other != here && other != kNone - 1 && here != kNone - 1; };
  return (x > 0 && differs(left)) || (y > 0 && differs(above));
}

/// 64 levels a channel: no eye sees the steps, and the file is half as large.
std::uint8_t level(double v) {
  return static_cast<std::uint8_t>(std::lround(std::lround(std::clamp(v, 0.0, 1.0) * 63) * 255.0 / 63));
}

SheetImage paint(const PictureInput& picture, const View& view) {
  const Raster& raster = view.raster;
  std::vector<std::uint8_t> faceted;
  faceted.reserve(view.part.size());
  for (const Index p : view.part) faceted.push_back(picture.parts[p].role == Role::Cloth ? 0 : 1);
  const auto normals = vertex_normals(picture.positions, view.triangles);
  const auto light = shade(raster, picture.positions, view.triangles, normals, faceted, view.camera, kContactReach);
  SheetImage image;
  image.width = raster.width / kFine;
  image.height = raster.height / kFine;
  image.rgb.reserve(3 * static_cast<std::size_t>(image.width) * static_cast<std::size_t>(image.height));
  for (int y = 0; y < image.height; ++y)
    for (int x = 0; x < image.width; ++x) {
      std::array<double, 3> sum{};
      for (int k = 0; k < kFine * kFine; ++k) {
        const int u = kFine * x + k % kFine, v = kFine * y + k / kFine;
        const std::size_t i = raster.at(u, v);
        Colour colour{1, 1, 1};
        if (raster.triangle[i] != kNone) {
          colour = colour_of_part(picture.parts[view.part[raster.triangle[i]]]);
          const double lit = 0.28 + 0.76 * light[i];
          colour = {colour.r * lit, colour.g * lit, colour.b * lit};
        }
        if (on_edge(picture, view, u, v)) colour = kEdge;
        sum[0] += colour.r;
        sum[1] += colour.g;
        sum[2] += colour.b;
      }
      for (const double s : sum) image.rgb.push_back(level(s / (kFine * kFine)));
    }
  return image;
}

/// What no view shows well (a zipper's element on a long coat) is named where most of it is seen.
void name_the_small(std::vector<View>& views) {
  for (std::size_t g = 0; g < views[0].named.size(); ++g) {
    View* best = &views[0];
    bool named = false;
    for (View& view : views) {
      named = named || view.named[g];
      if (view.seen.pixels[g] > best->seen.pixels[g]) best = &view;
    }
    if (!named && best->seen.pixels[g] > 0) best->named[g] = true;
  }
}

struct Placed {
  double x = 0, y = 0, w = 0, h = 0;
};

bool overlap(const Placed& a, const Placed& b) {
  return a.x < b.x + b.w + 2 && b.x < a.x + a.w + 2 && a.y < b.y + b.h + 2 && b.y < a.y + a.h + 2;
}

struct Callout {
  Vec2 anchor;
  const PictureLabel* label = nullptr;
  Colour colour;
};

/// Finds a free place for a label near its anchor: outwards first, then round about, then further off.
bool find_room(const View& view, const Callout& callout, const std::vector<Placed>& taken,
               const std::vector<Callout>& all, double w, double h, Placed& place) {
  const double step = h / 15;
  const double home = std::atan2(callout.anchor.y - view.height / 2, callout.anchor.x - view.width / 2);
  for (const double reach : {18.0, 27.0, 38.0, 52.0, 70.0, 92.0})
    for (int k = 0; k < 12; ++k) {
      const int turn = (k % 2 == 0 ? 1 : -1) * ((k + 1) / 2);
      const double angle = home + turn * 0.5236;
      place = {callout.anchor.x + reach * step * std::cos(angle) - w / 2,
               callout.anchor.y + reach * step * std::sin(angle) - h / 2, w, h};
      if (place.x < 1 || place.y < 1 || place.x + w > view.width - 1 || place.y + h > view.height - 1) continue;
      bool free = true;
      for (const Placed& other : taken) free = free && !overlap(place, other);
      for (const Callout& other : all) free = free && !overlap(place, {other.anchor.x - 3, other.anchor.y - 3, 6, 6});
      if (free) return true;
    }
  return false;
}

int draw_labels(Sheet& sheet, const View& view, std::vector<Callout> callouts, double size, double x0, double y0) {
  const double high = size + 4;
  constexpr std::size_t kMost = 400;  // a view has room for no more
  std::stable_sort(callouts.begin(), callouts.end(),
                   [](const Callout& a, const Callout& b) { return a.label->rank < b.label->rank; });
  int left_out = 0;
  if (callouts.size() > kMost) {
    left_out = static_cast<int>(callouts.size() - kMost);
    callouts.resize(kMost);
  }
  std::vector<Placed> taken;
  for (const Callout& callout : callouts) {
    const std::string text = callout.label->text + sign_of(callout.label->mark);
    const double w = text_width(text, size) + 8;
    Placed place;
    if (!find_room(view, callout, taken, callouts, w, high, place)) {
      ++left_out;
      continue;
    }
    taken.push_back(place);
    const Colour dark{0.75 * callout.colour.r, 0.75 * callout.colour.g, 0.75 * callout.colour.b};
    sheet.line(x0 + callout.anchor.x, y0 + callout.anchor.y, x0 + place.x + w / 2, y0 + place.y + high / 2, dark, 1);
    SheetItem& pill = sheet.rect(x0 + place.x, y0 + place.y, w, high, {1, 1, 1});
    pill.round = callout.label->mark == Mark::Fault ? 0 : 5;
    pill.stroked = true;
    pill.stroke = dark;
    pill.line_width = callout.label->mark == Mark::Fault ? 2 : 1.2;
    sheet.text(x0 + place.x + w / 2, y0 + place.y + size + 0.5, text, size, 0, {0.1, 0.1, 0.13}).strong =
        callout.label->mark == Mark::Fault;
  }
  return left_out;
}

}  // namespace

const char* sign_of(Mark mark) {
  switch (mark) {
    case Mark::Close:
      return "~";
    case Mark::Fault:
      return "!";
    case Mark::Uncertain:
      return "?";
    default:
      return "";
  }
}

std::vector<View> plan_views(const PictureInput& picture, double width) {
  const Camera front = facing(picture.up, 1);
  Extent across, upwards, depth;
  for (std::size_t t = 0; t < picture.triangles.size(); ++t) {
    if (!drawable(picture, t)) continue;
    for (const Index v : picture.triangles[t]) {
      const Vec3& p = picture.positions[v];
      across.add(dot(p, front.right));
      upwards.add(dot(p, front.up));
      depth.add(dot(p, front.toward));
    }
  }
  const double extent = std::max({across.size(), upwards.size(), 1e-300});
  if (across.size() < 0 || !std::isfinite(extent)) return {};
  // As wide as a half sheet, but never more than 1.3 times as high as wide; 2 % of air around.
  const double tall = 1.3;
  const double scale = 0.96 * width / std::max({across.size(), upwards.size() / tall, 0.05 * extent});
  const double height = std::max(0.25 * width, std::ceil(upwards.size() * scale + 0.04 * width));
  std::vector<Tri> shown;
  std::vector<Index> part_of_shown;
  for (std::size_t t = 0; t < picture.triangles.size(); ++t) {
    if (!drawable(picture, t)) continue;
    shown.push_back(picture.triangles[t]);
    part_of_shown.push_back(picture.part_of_triangle[t]);
  }
  std::vector<View> views;
  std::vector<bool> hidden(group_count(picture), false);
  for (const PicturePart& part : picture.parts)
    if (part.group != kNone && part.role == Role::Trim) hidden[part.group] = true;
  const auto plan = [&](const char* caption, double from, int half) {
    View view;
    view.caption = caption;
    view.width = std::floor(width);
    view.height = height;
    view.camera = facing(picture.up, from);
    view.camera.centre = across.middle() * front.right + upwards.middle() * front.up + depth.middle() * front.toward;
    view.camera.scale = kFine * scale;
    view.camera.width = kFine * static_cast<int>(view.width);
    view.camera.height = kFine * static_cast<int>(view.height);
    if (half != 0) view.camera.front = 0;  // the near half is cut away
    view.triangles = shown;
    view.part = part_of_shown;
    view.raster = rasterise(picture.positions, view.triangles, view.camera);
    view.seen = count_pixels(picture, view, hidden.size());
    return view;
  };
  for (const double from : {1.0, -1.0}) {
    View view = plan(from > 0 ? "front" : "back", from, 0);
    for (std::size_t g = 0; g < hidden.size(); ++g) {
      view.named.push_back(view.seen.pixels[g] >= kSeenWell);
      if (view.named[g]) hidden[g] = false;
    }
    views.push_back(std::move(view));
  }
  const bool any_hidden = std::find(hidden.begin(), hidden.end(), true) != hidden.end();
  for (const int half : {1, -1}) {
    if (!any_hidden) break;
    View view = plan(half > 0 ? "inside of the front, seen from behind" : "inside of the back, seen from the front",
                     half > 0 ? -1.0 : 1.0, half);
    for (std::size_t g = 0; g < hidden.size(); ++g) view.named.push_back(hidden[g] && view.seen.pixels[g] >= kSeenWell);
    if (std::find(view.named.begin(), view.named.end(), true) != view.named.end()) views.push_back(std::move(view));
  }
  name_the_small(views);
  return views;
}

int draw_view(Sheet& sheet, const PictureInput& picture, const View& view, double x, double y) {
  sheet.image(paint(picture, view), x, y, view.width, view.height);
  const Seen& seen = view.seen;
  std::vector<Colour> colour(seen.pixels.size());
  for (const PicturePart& part : picture.parts)
    if (part.group != kNone) colour[part.group] = colour_of_part(part);
  std::vector<Callout> callouts;
  for (const PictureLabel& label : picture.labels) {
    Callout callout{{}, &label, colour_of(label.mark)};
    if (label.group != kNone) {
      if (label.group >= view.named.size() || !view.named[label.group]) continue;
      const double n = seen.pixels[label.group];
      callout.anchor = {seen.x[label.group] / n / kFine, seen.y[label.group] / n / kFine};
      callout.colour = colour[label.group];
    } else {
      const Vec3 p = view.camera.project(label.at);
      callout.anchor = {p.x / kFine, p.y / kFine};
    }
    callouts.push_back(callout);
  }
  return draw_labels(sheet, view, std::move(callouts), picture.label_size, x, y);
}

}  // namespace trimtack
