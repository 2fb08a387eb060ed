// SPDX-License-Identifier: MIT
#include <algorithm>

#include "core/phrase.hpp"
#include "stages/find/clues.hpp"

namespace trimtack {
namespace {

std::string sheet_words(const Look& l, const Detail& d) {
  switch (l.form) {
    case Form::OpenFlat:
      return l.round ? "an open disc" : "one open sheet";
    case Form::OpenCap:
      return "an open cap";
    case Form::Solid:
      return phrase("a closed body, %.2g as thick as wide", {l.width > 0 ? l.depth / l.width : 0});
    default:
      return phrase("an open surface with %.0f borders", {static_cast<double>(d.boundary_loops)});
  }
}

std::string words(const RoleInput& in, const Shape& s, const Detail& d, Index copies, Clue which, bool hard) {
  const double mm = in.scale.mm_per_unit;
  const Look l = look_at(s, d);
  switch (which) {
    case Clue::Size:
      return phrase("%.3g mm long", {l.length * mm});
    case Clue::Share:
      return phrase("%.2g %% of the garment's size", {100 * l.length / std::max(in.scale.diagonal, 1e-300)});
    case Clue::Sheet:
      return sheet_words(l, d);
    case Clue::Thickness:
      if (!hard)
        return phrase("two sheets %.2g mm apart", {d.thickness * mm}) +
               (in.scale.panel_thickness > 0 ? ", as the panels" : "");
      return in.scale.panel_thickness > 0 ? phrase("%.2g mm thick, unlike the panels", {d.thickness * mm})
                                          : "closed, although the panels are single sheets";
    case Clue::Outline:
      return phrase("round outline (%.2f of a circle)", {d.roundness});
    case Clue::Holes:
      return phrase("%.0f hole(s) through it", {0.5 * (2 - d.euler)});
    case Clue::Length:
      if (l.form == Form::Wire)
        return hard ? phrase("bent wire %.3g mm long", {l.wire_length * mm})
                    : phrase("a cord, %.3g times as long as thick", {l.slender});
      return phrase("%.3g times as long as wide", {l.length / std::max(l.width, 1e-300)});
    case Clue::Copies:
      return phrase("%.0f copies", {static_cast<double>(copies)});
    case Clue::Spacing:
      return phrase(hard ? "edges of %.2g mm, finer than the cloth's" : "edges of %.2g mm, as the cloth's",
                    {d.mean_edge * mm});
    case Clue::Creases:
      return "sharp edges";
    case Clue::Flattening:
      return phrase(
          hard ? "UVs not at the panels' scale (%.3g times)" : "UVs laid out flat at the panels' scale (%.3g times)",
          {d.uv_scale / std::max(in.scale.uv_scale, 1e-300)});
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

constexpr std::size_t kMostReasons = 4;

/// The clues that speak for the role, strongest first.
std::size_t strongest(const RoleVerdict& verdict, std::array<std::uint8_t, kMostReasons>& which) {
  const float sign = verdict.role != Role::Cloth ? 1.0F : -1.0F;
  std::size_t count = 0;
  for (std::size_t i = 0; i < kClueCount; ++i) {
    const float w = sign * verdict.clues[i];
    if (w < 0.25F) continue;
    std::size_t at = count;
    while (at > 0 && sign * verdict.clues[which[at - 1]] < w) --at;
    if (at >= kMostReasons) continue;
    count = std::min(count + 1, kMostReasons);
    for (std::size_t k = count - 1; k > at; --k) which[k] = which[k - 1];
    which[at] = static_cast<std::uint8_t>(i);
  }
  return count;
}

}  // namespace

SharedTexts Reasons::of(Index component, const RoleVerdict& verdict) {
  std::array<std::uint8_t, kMostReasons> which{};
  const std::size_t count = strongest(verdict, which);
  const bool hard = verdict.role != Role::Cloth;
  const Index twin = in_.families->twin_of_component[component];
  std::vector<Made>& made = made_[2 * static_cast<std::size_t>(twin) + (hard ? 1 : 0)];
  for (const Made& m : made)
    if (m.clues == which && m.count == count) return m.texts;
  const Shape& shape = in_.shapes[in_.families->twin_representative[twin]];
  std::vector<std::string> texts;
  for (std::size_t i = 0; i < count; ++i) {
    std::string text =
        words(in_, shape, in_.twin_details[twin], in_.families->twin_count[twin], static_cast<Clue>(which[i]), hard);
    if (!text.empty()) texts.push_back(std::move(text));
  }
  return made.emplace_back(Made{which, count, SharedTexts(std::move(texts))}).texts;
}

Reasons::Reasons(const RoleInput& input) : in_(input), made_(2 * static_cast<std::size_t>(input.families->twins())) {}

}  // namespace trimtack
