// SPDX-License-Identifier: MIT
// The page is assembled from fixed files (src/io/report) and one block of data; everything it draws, it draws from
// that.
#include "trimtack/io/report_html.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <map>

#include "io/json_text.hpp"
#include "io/markup.hpp"
#include "io/report_assets.hpp"
#include "io/report_mesh.hpp"
#include "io/report_section.hpp"
#include "trimtack/io/picture.hpp"

namespace trimtack {
namespace {

using json_text::append_number;
using json_text::append_string;

constexpr std::size_t kMostRows = 25'000;  // of the table and the view; good stitches are left out first
constexpr std::size_t kMostSections = 12;
constexpr std::size_t kMostSeries = 200;

/// A number with at most `decimals` decimals, without trailing zeros.
void append_rounded(std::string& out, double value, int decimals) {
  char text[64];
  char* end =
      std::to_chars(text, text + sizeof text, std::isfinite(value) ? value : 0.0, std::chars_format::fixed, decimals)
          .ptr;
  if (decimals > 0) {
    while (end[-1] == '0') --end;
    if (end[-1] == '.') --end;
  }
  const std::string_view written(text, static_cast<std::size_t>(end - text));
  out += written == "-0" ? std::string_view("0") : written;
}

template <class Fn>
void append_array(std::string& out, const char* name, std::size_t count, Fn&& item) {
  out += ",\"";
  out += name;
  out += "\":[";
  for (std::size_t i = 0; i < count; ++i) {
    if (i > 0) out += ',';
    item(i);
  }
  out += ']';
}

void append_numbers(std::string& out, const char* name, std::span<const Index> rows, int decimals, auto&& value) {
  append_array(out, name, rows.size(), [&](std::size_t i) { append_rounded(out, value(rows[i]), decimals); });
}

/// Trims that the page lists: all of them, or as many as fit, good stitches left out first. Worst first.
std::vector<Index> listed(const ReportInput& input) {
  std::vector<Index> order = worst_first(*input.fit);
  if (order.size() <= kMostRows) return order;
  std::stable_partition(order.begin(), order.end(), [&](Index t) {
    return input.trim_roles[t] != Role::Stitching || input.fit->trims[t].verdict != Verdict::Good;
  });
  order.resize(kMostRows);
  return order;
}

void append_measures(std::string& out, const FitLimits& limits) {
  append_array(out, "measures", kMeasureCount, [&](std::size_t i) {
    const MeasureInfo& info = measure_infos()[i];
    out += "{\"name\":";
    append_string(out, info.name);
    out += ",\"unit\":";
    append_string(out, info.unit);
    out += ",\"meaning\":";
    append_string(out, info.meaning);
    out += ",\"decimals\":";
    append_number(out, info.decimals);
    out += ",\"limit\":";
    append_number(out, limits.value[i]);
    out += '}';
  });
}

void append_trims(std::string& out, const ReportInput& input, std::span<const Index> rows) {
  const auto& trims = input.fit->trims;
  out += ",\"trims\":{\"left_out\":";
  append_number(out, trims.size() - rows.size());
  append_array(out, "index", rows.size(), [&](std::size_t i) { append_number(out, rows[i]); });
  append_array(out, "name", rows.size(), [&](std::size_t i) { append_string(out, input.trim_names[rows[i]]); });
  append_numbers(out, "role", rows, 0, [&](Index t) { return static_cast<double>(input.trim_roles[t]); });
  append_numbers(out, "verdict", rows, 0, [&](Index t) { return static_cast<double>(trims[t].verdict); });
  append_numbers(out, "cause", rows, 0, [&](Index t) { return static_cast<double>(trims[t].cause); });
  append_numbers(out, "frame", rows, 0, [&](Index t) { return static_cast<double>(trims[t][trims[t].cause].frame); });
  append_array(out, "advice", rows.size(), [&](std::size_t i) { append_string(out, trims[rows[i]].advice); });
  append_array(out, "layer", rows.size(),
               [&](std::size_t i) { json_text::append_id(out, input.trim_layers[rows[i]]); });
  append_numbers(out, "gapRest", rows, 2, [&](Index t) { return trims[t].gap_rest; });
  append_numbers(out, "gapMin", rows, 2, [&](Index t) { return trims[t].gap_min; });
  append_numbers(out, "gapMax", rows, 2, [&](Index t) { return trims[t].gap_max; });
  append_numbers(out, "width", rows, 1, [&](Index t) { return trims[t].footprint_mm; });
  append_numbers(out, "edge", rows, 1, [&](Index t) { return trims[t].cloth_edge_mm; });
  append_array(out, "value", kMeasureCount, [&](std::size_t m) {
    out += '[';
    for (std::size_t i = 0; i < rows.size(); ++i) {
      if (i > 0) out += ',';
      append_rounded(out, trims[rows[i]].worst[m].value, measure_infos()[m].decimals);
    }
    out += ']';
  });
  out += '}';
}

void append_frames(std::string& out, const FitSummary& fit) {
  append_array(out, "frames", fit.frames.size(), [&](std::size_t i) { append_number(out, fit.frames[i].number); });
  append_array(out, "frameWorst", FitSeries::kShown.size(), [&](std::size_t channel) {
    const auto m = static_cast<std::size_t>(FitSeries::kShown[channel]);
    out += "{\"measure\":";
    append_number(out, m);
    append_array(out, "value", fit.frames.size(),
                 [&](std::size_t i) { append_rounded(out, fit.frames[i].worst[m].value, 2); });
    append_array(out, "trim", fit.frames.size(),
                 [&](std::size_t i) { append_number(out, fit.frames[i].worst[m].frame); });
    out += '}';
  });
}

void append_series(std::string& out, const FitSeries& series, std::span<const Index> rows) {
  std::vector<std::uint16_t> values;
  for (const Index t : rows) {
    for (std::size_t c = 0; c < FitSeries::kShown.size(); ++c) {
      for (std::size_t b = 0; b < series.buckets; ++b) values.push_back(series.at(t, c, b));
    }
  }
  out += ",\"series\":{\"framesPerBucket\":";
  append_number(out, series.frames_per_bucket);
  out += ",\"buckets\":";
  append_number(out, series.buckets);
  out += ",\"rows\":";
  append_number(out, rows.size());
  out += ",\"data\":\"" + report::pack(values) + "\"}";
}

std::size_t shot_of(const ReportInput& input, std::uint64_t frame) {
  for (std::size_t i = 1; i < input.shots.size(); ++i) {
    if (input.shots[i].frame == frame) return i;
  }
  return 0;
}

void append_sections(std::string& out, const ReportInput& input, std::span<const Index> rows) {
  std::vector<Index> chosen;
  for (const Index t : rows) {
    const bool interesting = input.fit->trims[t].verdict != Verdict::Good || chosen.size() < 3;
    if (interesting && chosen.size() < kMostSections) chosen.push_back(t);
  }
  append_array(out, "sections", chosen.size(), [&](std::size_t i) {
    const TrimFit& trim = input.fit->trims[chosen[i]];
    out += "{\"trim\":";
    append_number(out, chosen[i]);
    out += ",\"svg\":";
    append_string(out, report::section_svg(input, chosen[i], shot_of(input, trim[trim.cause].frame)));
    out += '}';
  });
}

/// What the spacing of one layer means for the trims on it.
std::string spacing_advice(const ReportInput& input, const report::Spacing& layer) {
  std::size_t carried = 0, coarse = 0;
  double smallest = 1e300;
  for (std::size_t t = 0; t < input.fit->trims.size(); ++t) {
    const TrimFit& trim = input.fit->trims[t];
    if (input.trim_layers[t] != layer.component || input.trim_roles[t] != Role::Trim || trim.footprint_mm <= 0)
      continue;
    ++carried;
    if (trim.cloth_edge_mm <= 0.5 * trim.footprint_mm) continue;
    ++coarse;
    smallest = std::min(smallest, static_cast<double>(trim.footprint_mm));
  }
  if (carried == 0) return "carries no trim";
  if (coarse == 0) return "fine enough for its " + std::to_string(carried) + (carried == 1 ? " trim" : " trims");
  std::string text = std::to_string(coarse) + " of " + std::to_string(carried) +
                     (carried == 1 ? " trim is" : " trims are") + " less than two edges wide; under them ";
  append_rounded(text, std::max(2.0, 0.5 * smallest), 0);
  return text + " mm would show the bend";
}

void append_spacing(std::string& out, const ReportInput& input) {
  const auto layers = report::cloth_spacing(input);
  append_array(out, "spacing", layers.size(), [&](std::size_t i) {
    const report::Spacing& s = layers[i];
    out += "{\"layer\":";
    append_number(out, s.component);
    out += ",\"triangles\":";
    append_number(out, s.triangles);
    out += ",\"median\":";
    append_rounded(out, s.median_mm, 1);
    out += ",\"finest\":";
    append_rounded(out, s.finest_mm, 1);
    out += ",\"coarsest\":";
    append_rounded(out, s.coarsest_mm, 1);
    out += ",\"advice\":";
    append_string(out, spacing_advice(input, s));
    out += '}';
  });
}

void append_parts(std::string& out, const Parts& parts) {
  append_array(out, "parts", parts.prototypes.size(), [&](std::size_t i) {
    const Prototype& p = parts.prototypes[i];
    out += "{\"name\":";
    append_string(out, p.name);
    out += ",\"count\":";
    append_number(out, p.count);
    out += ",\"trade\":";
    append_string(out, p.trade_size);
    out += ",\"role\":";
    append_number(out, p.trim < parts.trims.size() ? static_cast<int>(parts.trims[p.trim].role) : 1);
    append_array(out, "size", 3,
                 [&](std::size_t k) { append_rounded(out, parts.unit.mm_per_unit * p.size[static_cast<int>(k)], 2); });
    out += '}';
  });
  out += ",\"unit\":";
  append_string(out, parts.unit.name);
  out += ",\"up\":";
  out += parts.up == UpAxis::Y ? "\"y\"" : "\"z\"";
}

std::string data_json(const ReportInput& input) {
  const std::vector<Index> rows = listed(input);
  std::vector<Index> shown = rows;
  std::sort(shown.begin(), shown.end());
  const std::span<const Index> all(rows);
  std::string out = "{\"title\":";
  append_string(out, input.title);
  out += ",\"trimCount\":";
  append_number(out, input.fit->trims.size());
  append_measures(out, input.fit->limits);
  append_trims(out, input, rows);
  append_frames(out, *input.fit);
  append_series(out, input.fit->series, all.first(std::min(kMostSeries, rows.size())));
  append_sections(out, input, rows);
  append_spacing(out, input);
  append_parts(out, *input.parts);
  const auto& names = input.fit->layer_name;
  append_array(out, "layers", names.size(), [&](std::size_t i) { append_string(out, names[i]); });
  append_array(out, "settings", input.settings.size(), [&](std::size_t i) {
    out += '[';
    append_string(out, input.settings[i].first);
    out += ',';
    append_string(out, input.settings[i].second);
    out += ']';
  });
  return out + ",\"mesh\":" + report::mesh_json(input, shown) + "}";
}

/// JSON inside a script element: nothing in it may look like a tag.
std::string without_tags(const std::string& json) {
  std::string out;
  out.reserve(json.size());
  for (const char c : json) {
    if (c == '<')
      out += "\\u003c";
    else
      out += c;
  }
  return out;
}

/// The garment as a picture that any browser shows; empty when there is none.
std::string still_html(const ReportInput& input) {
  if (input.picture.triangles.empty() || !can_draw_pictures()) return {};
  const Result<std::string> png = draw_picture(input.picture, PictureFormat::Png);
  if (!png) return {};
  const std::span<const std::uint8_t> bytes(reinterpret_cast<const std::uint8_t*>(png->data()), png->size());
  return "<figure id=\"still\"><img alt=\"The garment from front and back, trims coloured by verdict and numbered as "
         "in "
         "the list\" src=\"data:image/png;base64," +
         report::base64(bytes) + "\"></figure>";
}

}  // namespace

std::vector<std::uint64_t> frames_worth_a_look(const FitSummary& fit, std::size_t most) {
  std::vector<std::uint64_t> frames;
  for (const Index t : worst_first(fit)) {
    if (frames.size() >= most) break;
    const std::uint64_t frame = fit.trims[t][fit.trims[t].cause].frame;
    if (frame != 0 && std::find(frames.begin(), frames.end(), frame) == frames.end()) frames.push_back(frame);
  }
  std::sort(frames.begin(), frames.end());
  return frames;
}

std::string write_report_html(const ReportInput& input) {
  const std::map<std::string_view, std::string> marks{
      {"title", escape_markup(input.title)},    {"style", report_assets::kStyle}, {"still", still_html(input)},
      {"data", without_tags(data_json(input))}, {"view", report_assets::kView},   {"script", report_assets::kScript}};
  const std::string_view page = report_assets::kPage;
  std::string out;
  for (std::size_t at = 0; at < page.size();) {
    const std::size_t open = page.find("{{", at);
    const std::size_t close = open == std::string_view::npos ? open : page.find("}}", open);
    if (close == std::string_view::npos) {
      out += page.substr(at);
      break;
    }
    out += page.substr(at, open - at);
    const auto mark = marks.find(page.substr(open + 2, close - open - 2));
    if (mark != marks.end()) out += mark->second;
    at = close + 2;
  }
  return out;
}

}  // namespace trimtack
