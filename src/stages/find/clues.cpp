// SPDX-License-Identifier: MIT
// The weights are log-likelihood ratios set from how garments and haberdashery are made; DEVELOPERS.md lists them with
// their reasons. Sizes: buttons 9 to 50 mm, rivets and snaps 8 to 15 mm, zipper parts 1 to 40 mm, buckles up to 70 mm;
// belt loops from 10 x 45 mm, labels from 10 x 20 mm, panels from a hand's width.
#include "stages/find/clues.hpp"

#include <algorithm>
#include <cctype>
#include <cmath>
#include <numbers>
#include <string_view>

namespace trimtack {
namespace {

using Point = std::array<double, 2>;

/// Piecewise linear through points of ascending x, constant outside.
double ramp(double x, std::span<const Point> points) {
  if (x <= points.front()[0]) return points.front()[1];
  for (std::size_t i = 1; i < points.size(); ++i)
    if (x <= points[i][0]) {
      const double t = (x - points[i - 1][0]) / (points[i][0] - points[i - 1][0]);
      return points[i - 1][1] + t * (points[i][1] - points[i - 1][1]);
    }
  return points.back()[1];
}

constexpr std::array<Point, 9> kSizeMm{
    {{4, 2}, {8, 1.5}, {15, 1}, {35, 0.3}, {55, -1}, {80, -2.5}, {120, -4}, {250, -6}, {500, -8}}};
constexpr double kAdultMm = 900;
constexpr double kWellBe = 0.15;  // of a unit's probability
constexpr std::array<Point, 6> kShare{{{0.01, 1}, {0.04, 0.3}, {0.08, -0.5}, {0.15, -2}, {0.3, -4}, {0.6, -7}}};
constexpr std::array<Point, 4> kSpacing{{{0.1, 1.4}, {0.3, 0.9}, {0.6, 0}, {0.9, -0.7}}};

double open_flat(const Look& l, const GarmentScale& g, Index copies) {
  const double mm = l.length * g.mm_per_unit;
  if (l.round && mm < 30 && l.depth < 0.35 * l.width) return copies >= 5 ? 2.5 : 1.0;  // a sequin, a disc
  if (copies >= 12 && mm < 12) return -0.5;  // sequins come in other shapes, too
  return -3;
}

/// Whether a wire has no place to bend at along several particles of cloth.
bool is_stiff(const Detail& d, const GarmentScale& g) {
  return g.cloth_spacing > 0 && d.longest_edge > std::max(1.5 * g.cloth_spacing, 2.5 * d.thickness);
}

double wire(const Look& l, const Detail& d, const GarmentScale& g, Index copies) {
  const double mm = l.wire_length * g.mm_per_unit;
  if (d.boundary_edges == 0 && d.euler < 2 && l.slender < 90 && l.length * g.mm_per_unit < 90)
    return l.length > 2.5 * l.width && d.thickness * g.mm_per_unit < 1 ? -0.5 : 2.5;  // a buttonhole, a closed ring
  // Bent tight: a hook, an eye, thread through holes. Thicker than any hook it may as well be a cord with a bow in it.
  if (l.coil > 1.5 && l.slender < 60 && mm < 150) {
    const bool fine = d.thickness * g.mm_per_unit < 2.6;
    return fine ? (l.length * g.mm_per_unit < 25 ? 2.0 : 1.0) : 0.0;
  }
  if (mm < 8 && l.slender < 9) return 1.0;  // a piece of thread or a pin
  const double cord =
      ramp(l.slender, std::array<Point, 4>{{{5, 1.5}, {9, 0}, {14, -2}, {25, -4}}});  // long for its width
  if (mm >= 70 || copies >= 8) return cord;
  // Short ones may as well be a buckle's prong, unless they hang in a tassel; and cloth bends at each of its particles.
  return std::max(cord, is_stiff(d, g) ? 0.0 : -2.0);
}

double slab(const Look& l, const Detail& d, const GarmentScale& g) {
  // A flanged ring, open where nobody looks: an eyelet.
  if (l.round && d.boundary_loops == 2 && l.length * g.mm_per_unit < 45) return -0.5;
  if (thickness_agrees(d, g, 0.2)) {
    if (l.round && l.length * g.mm_per_unit < 35) return -1.0;
    // An exporter gives all pieces the very same thickness; of plates 1 to 3 mm thick one in 20 has it by chance.
    return thickness_agrees(d, g, 0.03) ? -3.0 : (thickness_agrees(d, g, 0.08) ? -2.3 : -1.5);
  }
  const double ratio = d.thickness / std::max(l.width, 1e-300);
  double soft = ratio < 0.06 ? -1.5 : (ratio < 0.1 ? -0.6 : 0.0);  // thin as paper for its width
  if (!l.round && d.euler == 2 && ratio < 0.13) {
    if (l.depth > 2.5 * d.thickness) soft -= 2.6;  // bent: plates are flat, loops and straps follow the body
    // A strip as thick as cloth: belt loops, tabs.
    if (l.length > 3 * l.width && d.thickness * g.mm_per_unit < 1.7 && l.length * g.mm_per_unit > 20) soft -= 1.0;
  }
  if (g.panel_thickness > 0) return soft + (d.boundary_edges > 0 ? -1.0 : 0.3);
  // Panels are single sheets, so a closed plate is hardly cloth; long ones may still be straps.
  return soft + (d.boundary_edges > 0 ? -1.0 : 1.0);
}

constexpr std::array<const char*, 26> kHardWords{
    "button", "snap",  "rivet",  "eyelet",     "grommet", "zip",    "slider",  "puller", "hook",
    "buckle", "bead",  "sequin", "rhinestone", "stud",    "toggle", "thread",  "stitch", "trim",
    "teeth",  "tooth", "d-ring", "dring",      "metal",   "aglet",  "stopper", "crystal"};
constexpr std::array<const char*, 24> kSoftWords{"cloth",  "fabric", "panel",  "sleeve",    "collar", "cuff",
                                                 "pocket", "body",   "shirt",  "jacket",    "label",  "strap",
                                                 "cord",   "lace",   "tassel", "tape",      "lining", "placket",
                                                 "loop",   "denim",  "cotton", "waistband", "yoke",   "hem"};

bool holds_word(const std::string& text, std::string_view word) {
  return std::search(text.begin(), text.end(), word.begin(), word.end(),
                     [](char a, char b) { return std::tolower(static_cast<unsigned char>(a)) == b; }) != text.end();
}

double word_weight(const std::string& name) {
  const auto holds = [&](const char* word) { return holds_word(name, word); };
  const bool hard = std::any_of(kHardWords.begin(), kHardWords.end(), holds);
  const bool soft = std::any_of(kSoftWords.begin(), kSoftWords.end(), holds);
  return hard == soft ? 0 : (hard ? 0.5 : -0.5);
}

}  // namespace

bool thickness_agrees(const Detail& d, const GarmentScale& g, double tolerance) {
  return g.panel_thickness > 0 && d.thickness > 0 &&
         std::any_of(g.panel_thicknesses.begin(), g.panel_thicknesses.end(),
                     [&](double t) { return std::abs(d.thickness / t - 1) < tolerance; });
}

bool is_arch(const Look& l, const Detail& d) {
  constexpr double kArched = 1.03, kBentTight = 1.3, kLeastRise = 0.5;
  constexpr double kWidest = 0.7;  // a stout disc measures as a piece of tube, too
  if (l.form != Form::Wire || d.euler < 1 || l.coil <= kArched || l.coil > kBentTight) return false;
  // An arc so much longer than its chord rises by this; what does not is a straight bar, wider than it is high.
  const double rise = std::sqrt(0.375 * (l.coil - 1)) * l.length;
  return l.width < kWidest * l.length && l.width - d.thickness > kLeastRise * rise;
}

double least_mm(const GarmentScale& g) {
  double mm = g.mm_per_unit;
  for (const UnitChance& u : g.unit_chances)
    if (u.probability > kWellBe) mm = std::min(mm, u.mm_per_unit);
  return mm;
}

double most_mm(const GarmentScale& g) {
  double mm = g.mm_per_unit;
  for (const UnitChance& u : g.unit_chances)
    if (u.probability > kWellBe) mm = std::max(mm, u.mm_per_unit);
  return mm;
}

bool is_rod(const Look& l, const Detail& d, const GarmentScale& g) {
  return is_stiff(d, g) && d.longest_edge > 0.5 * l.wire_length;
}

double doll_factor(const GarmentScale& g, double mm_per_unit, double largest_doll_mm) {
  const double whole = g.diagonal * mm_per_unit;
  return whole > 0 && whole < largest_doll_mm ? std::min(kAdultMm / whole, 6.0) : 1.0;
}

Look look_at(const Shape& s, const Detail& d) {
  Look l;
  l.length = s.extents[0];
  l.width = s.extents[1];
  l.depth = s.extents[2];
  l.round = d.roundness > 0.82;
  // The two ends of a closed wire add a right angle around each.
  const double ends = d.closed && d.euler == 2 ? 0.5 * std::numbers::pi * d.thickness : 0.0;
  const double whole_bend = d.bend / (2 * std::numbers::pi);
  const double bend_length = std::max(0.5 * whole_bend, whole_bend - ends);
  const double around = whole_bend > 0 && d.thickness > 0 ? s.area / (whole_bend * d.thickness) : 0;
  // Around a tube pi diameters fit, around a square bar 4 sides count as 2 after its corners' bend.
  const bool tube = (d.euler >= 0 || !d.closed) && d.facing_share > 0.6 && around > 1.7 && around < 4.5 &&
                    whole_bend > 5 * d.thickness && d.thickness_spread < 0.6;
  if (tube) {
    l.form = Form::Wire;
    l.wire_length = bend_length;
    l.slender = bend_length / d.thickness;
    l.coil = l.length > 0 ? bend_length / l.length : 1;
    return l;
  }
  const bool two_sheets = d.facing_share > 0.6 && d.thickness > 0 && d.thickness_spread < 0.6 &&
                          d.thickness < 0.3 * l.width && d.thickness < 0.14 * std::sqrt(s.area);
  if (two_sheets) {
    l.form = Form::Slab;
    return l;
  }
  if (d.boundary_edges == 0) return l;
  const bool dome = l.depth > 0.12 * l.width && l.round;
  const bool pyramid = l.depth > 0.2 * l.width && l.width > 0.6 * l.length && s.face_count <= 8;
  const bool cap = d.boundary_loops == 1 && d.curvature > 0.5 && (dome || pyramid);
  l.form = cap ? Form::OpenCap : (d.facing_share < 0.3 ? Form::OpenFlat : Form::OpenOther);
  return l;
}

Clues shape_clues(const Shape& s, const Detail& d, Index copies, const GarmentScale& g) {
  Clues c{};
  const Look l = look_at(s, d);
  const double mm = l.length * g.mm_per_unit;
  const bool small = mm < 90;
  const double sure = g.unit_confidence;
  // Strips of cloth by the dozen.
  const bool fringe = l.form == Form::Solid && l.length > 8 * l.width && mm > 15 && thickness_agrees(d, g, 0.12);
  clue_of(c, Clue::Size) = static_cast<float>((0.4 + 0.6 * sure) * ramp(mm, kSizeMm));
  clue_of(c, Clue::Share) =
      static_cast<float>((1.2 - 0.6 * sure) * ramp(l.length / std::max(g.diagonal, 1e-300), kShare));
  switch (l.form) {
    case Form::OpenFlat:
      clue_of(c, Clue::Sheet) = static_cast<float>(open_flat(l, g, copies));
      break;
    case Form::OpenCap:
      clue_of(c, Clue::Sheet) = small ? 1.5F : -1.0F;
      break;
    case Form::Slab:
      clue_of(c, Clue::Thickness) = static_cast<float>(slab(l, d, g));
      break;
    case Form::Wire:
      clue_of(c, Clue::Length) = static_cast<float>(wire(l, d, g, copies));
      break;
    case Form::Solid:
      clue_of(c, Clue::Sheet) = 2.5F;
      // A scrap of thick cloth is as thick as the panels, however small.
      if ((copies <= 8 || fringe) && !l.round && thickness_agrees(d, g, 0.12))
        clue_of(c, Clue::Thickness) = thickness_agrees(d, g, 0.03) ? -3.0F : -2.3F;
      break;
    case Form::OpenOther:
      clue_of(c, Clue::Sheet) = -0.5F;
      break;
  }
  const bool hollow =
      l.form != Form::Solid && l.form != Form::OpenCap && l.depth > 0.35 * l.width;  // a cuff is no disc
  if (mm < 60 && l.round && l.form != Form::Wire && l.width > 0.8 * l.length && !hollow)
    clue_of(c, Clue::Outline) = 2.0F;
  const bool matched = thickness_agrees(d, g, 0.2) && l.form == Form::Slab;
  const bool lace = d.euler < -8;  // more holes than any button has
  if (d.boundary_edges == 0 && d.euler < 2 && !lace && small && l.form != Form::Wire)
    clue_of(c, Clue::Holes) = matched ? 1.5F : 2.0F;
  const double aspect = l.width > 0 ? l.length / l.width : 1e9;
  if (l.form != Form::Wire && mm > 35 && aspect > 5)
    clue_of(c, Clue::Length) =
        static_cast<float>(-std::min(l.form == Form::Solid && mm < 80 ? 1.5 : 4.0, 0.4 * aspect));
  // Sheets (belt loops, labels) and slender straight strands (tassels, fringes) come in many copies, too.
  const bool strand = l.form == Form::Wire && l.slender > 9 && l.coil < 1.4 && d.euler == 2;
  const bool strip = l.form == Form::Slab && !l.round && l.length > 3 * l.width && d.thickness < 0.13 * l.width;
  const double copy_weight = strand || fringe ? 0.1 : (l.form == Form::OpenFlat || matched || strip ? 0.25 : 0.5);
  clue_of(c, Clue::Copies) = static_cast<float>(copy_weight * std::log2(std::min<double>(copies, 32)));
  const double expected = std::min(g.cloth_spacing, l.width);
  if (expected > 0 && d.mean_edge > 0 && !(l.form == Form::Wire && is_stiff(d, g)))
    clue_of(c, Clue::Spacing) = static_cast<float>(std::min(1.0, s.face_count / 20.0) *  // few edges tell little
                                                   ramp(d.mean_edge / expected, kSpacing));
  // Faces or edges much larger than the cloth's, although there would be room for particles: a plate out of a library.
  const double face_size = s.face_count > 0 && s.face_count < 40 ? std::sqrt(s.area / s.face_count) : 0;
  const bool coarse = face_size > 1.4 * g.cloth_spacing || d.longest_edge > 2.5 * g.cloth_spacing;
  if (l.form == Form::Slab && small && g.cloth_spacing > 0 && coarse) clue_of(c, Clue::Spacing) = 1.0F;
  if (d.boundary_edges == 0 && d.crease_share > 0.08 && l.form == Form::Solid) clue_of(c, Clue::Creases) = 0.5F;
  if (g.uv_scale > 0 && d.has_uv) {
    const bool same = std::abs(d.uv_scale / g.uv_scale - 1) < 0.06 && d.uv_stretch < 1.1 && d.uv_scale_spread < 0.12;
    const bool near = std::abs(d.uv_scale / g.uv_scale - 1) < 0.2;  // a flat piece on a wrinkle
    clue_of(c, Clue::Flattening) = same ? (l.round && small ? -1.0F : -2.5F)
                                        : (near ? -0.3F : (g.uv_pieces >= 3 && l.form != Form::Wire ? 1.0F : 0.2F));
  }
  return c;
}

NameWeights::NameWeights(const SourceMesh& mesh) : mesh_(mesh) {
  for (const auto& [names, weights] : {std::pair{&mesh.objects, &objects_}, std::pair{&mesh.groups, &groups_},
                                       std::pair{&mesh.materials, &materials_}})
    for (const std::string& name : *names) weights->push_back(word_weight(name));
}

double NameWeights::of(Index face) const {
  const FaceState state = state_of(mesh_, face);
  double w = 0;
  if (state.object < objects_.size()) w += objects_[state.object];
  if (state.group < groups_.size()) w += groups_[state.group];
  if (state.material < materials_.size()) w += materials_[state.material];
  return std::clamp(w, -0.8, 0.8);
}

}  // namespace trimtack
