// SPDX-License-Identifier: MIT
#include "io/report_section.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <limits>
#include <map>
#include <optional>
#include <vector>

namespace trimtack::report {
namespace {

constexpr double kPanelWidth = 340, kPanelHeight = 230;  // in the units of the SVG

std::string number(double value, int decimals) {
  char text[64];
  const auto end =
      std::to_chars(text, text + sizeof text, value == 0 ? 0.0 : value, std::chars_format::fixed, decimals).ptr;
  return {text, end};
}

/// A cutting plane: x along it, y along the trim's axis away from the cloth.
struct Plane {
  Vec3 origin, x, y, normal;
  Vec2 flat(const Vec3& p) const { return {dot(p - origin, x), dot(p - origin, y)}; }
};

struct Segment {
  Vec2 a, b;
};

/// Where a triangle crosses the plane.
std::optional<Segment> cut(const Plane& plane, const std::array<Vec3, 3>& t) {
  std::array<double, 3> d{};
  for (std::size_t i = 0; i < 3; ++i) d[i] = dot(t[i] - plane.origin, plane.normal);
  // A corner exactly on the plane counts as above it, so that no crossing is lost or doubled.
  std::array<Vec2, 3> found;
  int n = 0;
  for (std::size_t i = 0; i < 3 && n < 3; ++i) {
    const std::size_t j = (i + 1) % 3;
    if ((d[i] < 0) == (d[j] < 0)) continue;
    found[static_cast<std::size_t>(n++)] = plane.flat(t[i] + (d[i] / (d[i] - d[j])) * (t[j] - t[i]));
  }
  if (n < 2) return std::nullopt;
  return Segment{found[0], found[1]};
}

/// Segments joined end to end into lines, as long as their ends agree to a millionth of `size`.
std::vector<std::vector<Vec2>> chain(const std::vector<Segment>& segments, double size) {
  using Key = std::pair<std::int64_t, std::int64_t>;
  const double grid = 1e6 / size;
  const auto key = [&](const Vec2& p) { return Key{std::llround(p.x * grid), std::llround(p.y * grid)}; };
  std::multimap<Key, std::size_t> at;
  for (std::size_t i = 0; i < segments.size(); ++i)
    at.emplace(key(segments[i].a), i), at.emplace(key(segments[i].b), i);
  std::vector<std::uint8_t> used(segments.size(), 0);
  const auto next = [&](const Vec2& from, Vec2& to) {
    const auto range = at.equal_range(key(from));
    for (auto it = range.first; it != range.second; ++it) {
      if (used[it->second] != 0) continue;
      used[it->second] = 1;
      const Segment& s = segments[it->second];
      to = key(s.a) == key(from) ? s.b : s.a;
      return true;
    }
    return false;
  };
  std::vector<std::vector<Vec2>> lines;
  for (std::size_t i = 0; i < segments.size(); ++i) {
    if (used[i] != 0) continue;
    used[i] = 1;
    Vec2 to;
    std::vector<Vec2> back{segments[i].a}, forward{segments[i].b};
    while (next(forward.back(), to)) forward.push_back(to);
    while (next(back.back(), to)) back.push_back(to);
    std::vector<Vec2> whole(back.rbegin(), back.rend());
    whole.insert(whole.end(), forward.begin(), forward.end());
    lines.push_back(std::move(whole));
  }
  return lines;
}

struct Cut {
  std::vector<Segment> own, other, trim;
};

struct View {
  const ReportInput& input;
  Index trim;
  double half = 1;   ///< of the window, file units
  double scale = 1;  ///< SVG units per file unit
  Vec3 at;           ///< where the fit is worst, rest
};

Plane plane_for(const View& view, const Pose& pose) {
  const TrimFit& fit = view.input.fit->trims[view.trim];
  const Vec3 along = view.at - fit.centre;
  Vec3 x = along - dot(along, fit.outward) * fit.outward;
  if (length(x) < 0.05 * view.half) {
    x = std::abs(fit.outward.x) < 0.7 ? Vec3{1, 0, 0} : Vec3{0, 1, 0};
    x = x - dot(x, fit.outward) * fit.outward;
  }
  Plane plane;
  plane.origin = apply(pose, fit.centre);
  plane.y = pose.rotation * fit.outward;
  plane.x = normalized(pose.rotation * x);
  plane.normal = cross(plane.x, plane.y);
  return plane;
}

Cut cut_all(const View& view, const ReportShot& shot, const Plane& plane) {
  Cut out;
  const ReportInput& in = view.input;
  for (std::size_t i = 0; i < in.cloth_triangles.size(); ++i) {
    const Tri& t = in.cloth_triangles[i];
    const std::array<Vec3, 3> c{shot.cloth[t[0]], shot.cloth[t[1]], shot.cloth[t[2]]};
    const auto segment = cut(plane, c);
    if (!segment) continue;
    const auto far = [&](double Vec2::*axis) {
      return std::min(segment->a.*axis, segment->b.*axis) > view.half ||
             std::max(segment->a.*axis, segment->b.*axis) < -view.half;
    };
    if (far(&Vec2::x) || far(&Vec2::y)) continue;
    (in.component_of_triangle[i] == in.trim_layers[view.trim] ? out.own : out.other).push_back(*segment);
  }
  const Index first = in.trim_vertex_offsets[view.trim];
  for (Index k = in.trim_triangle_offsets[view.trim]; k < in.trim_triangle_offsets[view.trim + 1]; ++k) {
    std::array<Vec3, 3> c;
    for (std::size_t i = 0; i < 3; ++i) {
      c[i] = apply(shot.poses[view.trim], in.trim_vertices[first + in.trim_triangles[k][i]]);
    }
    if (const auto segment = cut(plane, c)) out.trim.push_back(*segment);
  }
  return out;
}

class Panel {
 public:
  explicit Panel(const View& view) : view_(view) {}

  void draw(std::string& out, const ReportShot& shot) const {
    const Plane plane = plane_for(view_, shot.poses[view_.trim]);
    const Cut cuts = cut_all(view_, shot, plane);
    const std::string box = number(kPanelWidth, 0) + "\" height=\"" + number(kPanelHeight, 0) + "\"/>";
    out += "<svg class=\"cut\" viewBox=\"0 0 " + number(kPanelWidth, 0) + " " + number(kPanelHeight, 0) +
           "\" role=\"img\" aria-label=\"Cross-section to scale\"><rect class=\"paper\" width=\"" + box;
    path(out, "cut-trim", chain(cuts.trim, view_.half));
    path(out, "cut-other", chain(cuts.other, view_.half));
    path(out, "cut-own", chain(cuts.own, view_.half));
    measure(out, plane.flat(apply(shot.poses[view_.trim], view_.at)), cuts.own);
    out += "<text class=\"cut-title\" x=\"10\" y=\"20\">" +
           (shot.frame == 0 ? std::string("at rest") : "frame " + std::to_string(shot.frame)) + "</text>";
    scale_bar(out);
    out += "</svg>";
  }

 private:
  double x(double v) const { return 0.5 * kPanelWidth + view_.scale * v; }
  double y(double v) const { return 0.55 * kPanelHeight - view_.scale * v; }

  void path(std::string& out, const char* style, const std::vector<std::vector<Vec2>>& lines) const {
    if (lines.empty()) return;
    out += std::string("<path class=\"") + style + "\" d=\"";
    for (const auto& line : lines) {
      char command = 'M';
      for (const Vec2& p : line) {
        out += command + number(x(p.x), 1) + " " + number(y(p.y), 1);
        command = 'L';
      }
    }
    out += "\"/>";
  }

  /// The distance straight down (or up) from the trim to its own cloth, as a measure.
  void measure(std::string& out, const Vec2& p, const std::vector<Segment>& own) const {
    double best = std::numeric_limits<double>::infinity();
    for (const Segment& s : own) {
      const double low = std::min(s.a.x, s.b.x), high = std::max(s.a.x, s.b.x);
      if (p.x < low || p.x > high || high - low <= 0) continue;
      const double v = s.a.y + (p.x - s.a.x) / (s.b.x - s.a.x) * (s.b.y - s.a.y);
      if (std::abs(p.y - v) < std::abs(best)) best = p.y - v;
    }
    if (!std::isfinite(best)) return;
    const double mm = view_.input.parts->unit.mm_per_unit * best;
    const double px = x(p.x), top = y(p.y), bottom = y(p.y - best);
    out += "<path class=\"cut-measure\" d=\"M" + number(px - 5, 1) + " " + number(top, 1) + "h10M" + number(px - 5, 1) +
           " " + number(bottom, 1) + "h10M" + number(px, 1) + " " + number(top, 1) + "V" + number(bottom, 1) + "\"/>";
    const bool right = p.x > 0;
    out += "<text class=\"cut-value\" text-anchor=\"" + std::string(right ? "end" : "start") + "\" x=\"" +
           number(right ? kPanelWidth - 10 : 10, 0) + "\" y=\"" + number(kPanelHeight - 12, 0) + "\">gap " +
           number(mm, 2) + " mm</text>";
  }

  void scale_bar(std::string& out) const {
    const double mm = view_.input.parts->unit.mm_per_unit;
    double bar = 1;  // mm; the longest of 1, 2, 5, 10, ... that takes less than a third of the panel
    for (const double length : {1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0}) {
      if (view_.scale * length / mm < 0.33 * kPanelWidth) bar = length;
    }
    const double width = view_.scale * bar / mm;
    out += "<path class=\"cut-bar\" d=\"M" + number(kPanelWidth - 10 - width, 1) + " 14v6h" + number(width, 1) +
           "v-6\"/><text class=\"cut-value\" text-anchor=\"end\" x=\"" + number(kPanelWidth - 16 - width, 0) +
           "\" y=\"22\">" + number(bar, 0) + " mm</text>";
  }

  const View& view_;
};

}  // namespace

std::string section_svg(const ReportInput& input, Index trim, std::size_t shot) {
  const TrimFit& fit = input.fit->trims[trim];
  View view{input, trim, 1, 1, {}};
  const Index first = input.trim_vertex_offsets[trim], end = input.trim_vertex_offsets[trim + 1];
  const Box box = bounds(input.trim_vertices.subspan(first, end - first));
  view.half = 0.75 * std::max(length(box.max - box.min), 2 / input.parts->unit.mm_per_unit);
  view.scale = 0.5 * kPanelWidth / view.half;
  view.at = fit[Measure::Sink].value > fit[Measure::Lift].value ? fit.sink_at : fit.lift_at;
  std::string out = "<div class=\"pair\">";
  Panel(view).draw(out, input.shots.front());
  if (shot != 0) Panel(view).draw(out, input.shots[shot]);
  return out + "</div>";
}

}  // namespace trimtack::report
