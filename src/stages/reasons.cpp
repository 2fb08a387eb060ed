// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cstdio>
#include <numeric>

#include "stages/clues.hpp"

namespace trimtack {
namespace {

std::string phrase(const char* format, double x) {
  std::array<char, 128> text{};
  std::snprintf(text.data(), text.size(), format, x);
  return text.data();
}

std::string sheet_words(const Look& l, const Detail& d) {
  switch (l.form) {
    case Form::OpenFlat:
      return l.round ? "an open disc" : "one open sheet";
    case Form::OpenCap:
      return "an open cap";
    case Form::Solid:
      return phrase("a closed body, %.2g as thick as wide", l.width > 0 ? l.depth / l.width : 0);
    default:
      return phrase("an open surface with %.0f borders", static_cast<double>(d.boundary_loops));
  }
}

std::string words(const RoleInput& in, const Shape& s, const Detail& d, Index copies, Clue which, bool hard) {
  const double mm = in.scale.mm_per_unit;
  const Look l = look_at(s, d);
  switch (which) {
    case Clue::Size:
      return phrase("%.3g mm long", l.length * mm);
    case Clue::Share:
      return phrase("%.2g %% of the garment's size", 100 * l.length / std::max(in.scale.diagonal, 1e-300));
    case Clue::Sheet:
      return sheet_words(l, d);
    case Clue::Thickness:
      if (!hard)
        return phrase("two sheets %.2g mm apart", d.thickness * mm) +
               (in.scale.panel_thickness > 0 ? ", as the panels" : "");
      return in.scale.panel_thickness > 0 ? phrase("%.2g mm thick, unlike the panels", d.thickness * mm)
                                          : "closed, although the panels are single sheets";
    case Clue::Outline:
      return phrase("round outline (%.2f of a circle)", d.roundness);
    case Clue::Holes:
      return phrase("%.0f hole(s) through it", 0.5 * (2 - d.euler));
    case Clue::Length:
      if (l.form == Form::Wire)
        return hard ? phrase("bent wire %.3g mm long", l.wire_length * mm)
                    : phrase("a cord, %.3g times as long as thick", l.slender);
      return phrase("%.3g times as long as wide", l.length / std::max(l.width, 1e-300));
    case Clue::Copies:
      return phrase("%.0f copies", copies);
    case Clue::Spacing:
      return phrase(hard ? "edges of %.2g mm, finer than the cloth's" : "edges of %.2g mm, as the cloth's",
                    d.mean_edge * mm);
    case Clue::Creases:
      return "sharp edges";
    case Clue::Flattening:
      return phrase(
          hard ? "UVs not at the panels' scale (%.3g times)" : "UVs laid out flat at the panels' scale (%.3g times)",
          d.uv_scale / std::max(in.scale.uv_scale, 1e-300));
    case Clue::Neighbours:
      return "its edge runs along another piece's edge";
    case Clue::Carrier:
      return "sits on or in a hard part";
    case Clue::Name:
      return hard ? "named like a trim" : "named like cloth";
    case Clue::Row:
      return "slender pieces in rows, like stitches";
    default:
      return {};
  }
}

}  // namespace

std::vector<std::string> reasons_of(const RoleInput& in, Index component, const Verdict& verdict) {
  const Index twin = in.families->twin_of_component[component];
  std::array<std::size_t, kClueCount> order{};
  std::iota(order.begin(), order.end(), std::size_t{0});
  const bool hard = verdict.role != Role::Cloth;
  const float sign = hard ? 1.0F : -1.0F;
  std::stable_sort(order.begin(), order.end(),
                   [&](std::size_t a, std::size_t b) { return sign * verdict.clues[a] > sign * verdict.clues[b]; });
  std::vector<std::string> reasons;
  for (const std::size_t i : order) {
    if (sign * verdict.clues[i] < 0.25F || reasons.size() == 4) break;
    std::string text = words(in, in.shapes[component], in.twin_details[twin], in.families->twin_count[twin],
                             static_cast<Clue>(i), hard);
    if (!text.empty()) reasons.push_back(std::move(text));
  }
  return reasons;
}

}  // namespace trimtack
