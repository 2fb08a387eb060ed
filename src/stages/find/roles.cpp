// SPDX-License-Identifier: MIT
// Independent clues, each a log-likelihood ratio, added up (naive Bayes; Good 1950, Probability and the weighing of
// evidence). Clues are not quite independent, so the sum is damped before it becomes a probability.
#include "trimtack/roles.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "core/memory.hpp"
#include "stages/find/clues.hpp"
#include "stages/find/contacts.hpp"
#include "stages/find/seams.hpp"

namespace trimtack {
namespace {

constexpr double kDamping = 0.8;
constexpr double kSureOdds = 3;
constexpr double kCarrierOdds = 0.8;  // of a part that others share the fate of
constexpr double kLeastChance = 0.02, kSurest = 1 - 1e-9;
constexpr double kThickCloth = 3;  // mm, where the panels' thickness is not known
constexpr double kUnclear = 4;     // log odds within which seams are looked for
constexpr std::size_t kMostSeamsLooked = 200;
constexpr Index kFewKin = 8;
constexpr Index kFewPlates = 8, kNumerousKin = 30;
constexpr Index kMostLoops = 60;  // down the back of a dress; turns of a coil are more
constexpr double kLeastScrapMm = 3;
constexpr Index kMostBoxFaces = 96;  // a cuff has more
constexpr double kFlatBox = 0.5, kTwoWalls = 1.6,
                 kLeastBoxMm = 3.5;      // buckles are 5 to 12 mm high (common practice, no source)
constexpr double kLeastCreased = 0.25;   // of the inner edges, diagonals among them
constexpr double kFlatButtonhole = 0.7;  // depth over width
constexpr double kDollMm = 380;
constexpr double kLongestPinMm = 70, kLongestPlateMm = 90, kLargestRingMm = 150;
constexpr double kKnownUnit = 0.7;
// Common practice, no source: hooks are short for their wire, or fine; hat pins, shawl sticks and bag frames are long;
// sequins and foils are thinner than felt, coins thicker.
constexpr double kMostHookSlender = 12, kThickestHookMm = 1.8;
// A hook and an eye end in rings to be sewn on by, loops of cord run into the seam (common practice, no source).
constexpr double kPlainLoop = 1.1;     // wire length over the way around its outline
constexpr double kFinestLoopMm = 0.8;  // finer ones are thread
constexpr double kLongestRodMm = 300;
constexpr double kLargeDiscMm = 20, kDiscCurvature = 0.3, kBodyCurvature = 1;
constexpr double kThinnestFeltMm = 0.6, kThickestFeltMm = 2.2;
// Kilt pins are up to 100 mm long, underwires 80 to 200 mm from end to end, of wire or flat steel (common practice, no
// source).
constexpr double kLongestBentMm = 220, kThickestBentMm = 4, kWidestGirthMm = 11, kLeastBent = 1.12, kFlatBent = 0.35;
// Cords through a toggle; what is thinner is thread.
constexpr double kThinnestCordMm = 0.9, kCordSlender = 9;
constexpr double kStrong = 2.5, kConflict = 0.4;
constexpr float kPlateGain = 2.5F;     // of one that is held apart from its like
constexpr double kOddsInConflict = 2;  // a confidence of 0.83

double box_diagonal(const Box& box) { return length(box.max - box.min); }

double weighted_median(std::vector<std::array<double, 2>>& items) {
  if (items.empty()) return 0;
  std::sort(items.begin(), items.end());
  double total = 0;
  for (const auto& [value, weight] : items) total += weight;
  double sum = 0;
  for (const auto& [value, weight] : items)
    if ((sum += weight) >= 0.5 * total) return value;
  return items.back()[0];
}

/// Thicknesses shared by pieces of more than the given area, from (thickness, area): a strap alone is a small part of a
/// bag, all its straps are not.
std::vector<double> common_thicknesses(std::vector<std::array<double, 2>> items, double least_area) {
  std::sort(items.begin(), items.end());
  std::vector<double> out;
  for (std::size_t i = 0; i < items.size();) {
    std::size_t end = i;
    double area = 0;
    for (; end < items.size() && items[end][0] < 1.05 * items[i][0]; ++end) area += items[end][1];
    if (area > least_area) out.push_back(items[(i + end) / 2][0]);
    i = end;
  }
  return out;
}

/// Whether strong clues speak on both sides.
bool conflicting(const Clues& clues) {
  double hard = 0;
  double soft = 0;
  for (const float w : clues) (w > 0 ? hard : soft) += std::abs(w);
  return std::min(hard, soft) >= kStrong && std::min(hard, soft) > kConflict * std::max(hard, soft);
}

/// Few small plates or bodies about as thick as cloth, without anything that only trims have: a plate, or a scrap of
/// cloth, or a patch of hook-and-loop.
bool could_be_scrap(const RoleInput& in, Index component, const Clues& clues) {
  const Index twin = in.families->twin_of_component[component];
  if (in.families->kin_count[in.families->kin_of_twin[twin]] > kNumerousKin) return false;
  for (const Clue c : {Clue::Outline, Clue::Holes, Clue::Carrier})
    if (clue_of(clues, c) > 0) return false;
  const Detail& d = in.twin_details[twin];
  const Look l = look_at(in.shapes[component], d);
  if (l.form == Form::Wire && d.closed && d.euler < 2) return false;
  if (l.form == Form::Wire && l.coil > 1.5 && !thickness_agrees(d, in.scale, 0.2)) return false;
  const double mm = in.scale.mm_per_unit;
  const double grown = l.length * std::max(mm * doll_factor(in.scale, mm, kDollMm), most_mm(in.scale));
  if (grown < kLeastScrapMm) return false;
  const bool plate = l.form == Form::Slab && grown > 12;
  // Flowers and leaves of felt come by the dozen, other scraps do not.
  const bool felt = plate && d.thickness * most_mm(in.scale) > kThinnestFeltMm;
  if (!felt && in.families->twin_count[twin] > kFewPlates) return false;
  if (!plate && (in.scale.thick_share < 0.1 || in.families->twin_count[twin] > 3)) return false;
  const double depth = in.shapes[component].extents[2];
  const double thick = in.scale.panel_thickness > 0 ? 2 * in.scale.panel_thickness : kThickCloth / mm;
  return (d.thickness > 0 ? std::min(d.thickness, depth) : depth) < thick;
}

/// A small piece taken for cloth, though flat as a plate.
bool could_be_plate(const RoleInput& in, Index component, const Clues& clues) {
  const Index twin = in.families->twin_of_component[component];
  const Detail& d = in.twin_details[twin];
  const Look l = look_at(in.shapes[component], d);
  if (d.boundary_edges > 0 || in.families->twin_count[twin] > kFewPlates) return false;
  if (clue_of(clues, Clue::Neighbours) < 0 || clue_of(clues, Clue::Flattening) < -1) return false;
  if (clue_of(clues, Clue::Share) < -2) return false;  // no plate is a large part of a garment
  if (l.form != Form::Slab && clue_of(clues, Clue::Thickness) >= 0) return false;
  return l.length * in.scale.mm_per_unit < kLongestPlateMm && l.depth < 1.1 * d.thickness;
}

/// A small piece open at both ends, the shell of a buckle's half or a loop of cloth pressed flat: of a few faces that
/// meet at sharp edges, or flat with its walls farther apart than any strap's.
bool could_be_box(const RoleInput& in, Index component) {
  const Detail& d = in.twin_details[in.families->twin_of_component[component]];
  const Shape& s = in.shapes[component];
  if (d.boundary_loops != 2 || s.extents[0] * least_mm(in.scale) > kLongestPlateMm) return false;
  if (d.crease_share > kLeastCreased && s.face_count <= kMostBoxFaces) return true;
  return s.extents[2] < kFlatBox * s.extents[1] && s.area > kTwoWalls * s.extents[0] * s.extents[1] &&
         s.extents[2] * most_mm(in.scale) > kLeastBoxMm;
}

/// A bar or wire bent in one plane, such as an underwire or a kilt pin, or else piping along a curve. A flat bar is two
/// sheets that fill little of their outline.
bool is_bent_bar(const Shape& s, const Look& l, const Detail& d, double mm) {
  if (d.boundary_edges > 0 || d.euler < 2 || l.length * mm > kLongestBentMm) return false;
  if (l.depth > kFlatBent * l.width + 2 * d.thickness || d.thickness * mm > kThickestBentMm) return false;
  if (l.form == Form::Wire) return l.coil > kLeastBent && l.width > 2.5 * d.thickness;
  const double girth = s.area / std::max(std::hypot(l.length, 2 * l.width), 1e-300);
  return l.width > 1.5 * girth && girth * mm < kWidestGirthMm;
}

/// Shapes that both a trim and a soft part have, so that no sum of clues is sure of them.
bool either_way(const RoleInput& in, Index component, const RoleVerdict& v) {
  const Index twin = in.families->twin_of_component[component];
  const Index copies = in.families->twin_count[twin];
  const Index kin = in.families->kin_count[in.families->kin_of_twin[twin]];
  const Detail& d = in.twin_details[twin];
  const Look l = look_at(in.shapes[component], d);
  const double mm = in.scale.mm_per_unit;
  // A large flat ring: a buckle's frame, or a loop of elastic.
  const bool ring = l.form == Form::Wire && d.boundary_edges == 0 && d.euler < 2 && l.depth < 1.5 * d.thickness;
  if (v.role == Role::Cloth && ring && l.length * least_mm(in.scale) < kLargestRingMm) return true;
  // A pin as long as a cord, but with no place to bend at.
  const bool rod = l.form == Form::Wire && is_rod(l, d, in.scale) && l.length * least_mm(in.scale) < kLongestRodMm;
  if (v.role == Role::Cloth && rod && kin < kFewKin) return true;
  if (v.role == Role::Cloth && kin < kFewKin && is_bent_bar(in.shapes[component], l, d, least_mm(in.scale)))
    return true;
  // Short cords may as well be pins, hooks or a buckle's prong, unless they hang in a tassel.
  if (v.role == Role::Cloth)
    return l.form == Form::Wire && l.length * least_mm(in.scale) < kLongestPinMm && kin < kFewKin;
  if (v.role != Role::Trim) return false;
  const bool closed = d.boundary_edges == 0;
  // A buttonhole sewn as one mesh, or a long link: both are flat, a bugle bead is round.
  const bool buttonhole =
      closed && d.euler == 0 && l.length > 2.5 * l.width && d.thickness * mm < 1 && l.depth < kFlatButtonhole * l.width;
  // A loop of cord, or a large hook, at any size that it may well have: in a garment of an unknown unit at all.
  const double grown = std::max(mm * doll_factor(in.scale, mm, kDollMm), most_mm(in.scale));
  const double thick = d.thickness * grown;
  const bool plain = l.wire_length < kPlainLoop * 0.5 * std::numbers::pi * (l.length + l.width);
  const double thickest = plain && kin < kMostLoops ? kFinestLoopMm : kThickestHookMm;
  const bool large = in.scale.unit_confidence < kKnownUnit || (l.length * grown > 20 && thick > 1.4) ||
                     (l.slender > kMostHookSlender && thick > thickest);
  const bool loop = l.form == Form::Wire && d.euler > 0 && l.coil > 1.5 && large;
  const bool lace = closed && d.euler < -8 && l.form == Form::Slab;  // or filigree
  // A round patch, or a sequin; few sequins are as wide as patches, which follow the body.
  const bool wide = l.width * mm > kLargeDiscMm;
  const bool disc = l.form == Form::OpenFlat && copies < (wide ? kNumerousKin : 3) &&
                    d.curvature < (wide ? kBodyCurvature : kDiscCurvature);
  // A dot of felt, or a coin: buttons without holes are thicker for their width. One bent onto the body is no coin.
  const double deepest = thickness_agrees(d, in.scale, 0.2) ? 0.3 * l.width : 1.3 * d.thickness;
  const bool dot = l.form == Form::Slab && l.round && closed && d.euler == 2 && l.width * grown > 12 &&
                   d.thickness < 0.1 * l.width && l.depth < deepest && thick > kThinnestFeltMm &&
                   d.thickness * mm < kThickestFeltMm;
  // A cord through a toggle, or a prong in a frame.
  const bool cord = l.form == Form::Wire && closed && d.euler > 0 && l.slender > kCordSlender && l.coil < 1.5 &&
                    thick > kThinnestCordMm && clue_of(v.clues, Clue::Carrier) > 0 && !is_rod(l, d, in.scale);
  return buttonhole || loop || lace || disc || dot || cord;
}

double sum_of(const Clues& clues) {
  double sum = 0;
  for (const float w : clues) sum += w;
  return sum;
}

double probability(double log_odds) { return 1.0 / (1.0 + std::exp(-kDamping * log_odds)); }

/// The scales at which the parts' sizes may have to be judged: the units it could be, also of models, and in each a
/// doll's.
std::vector<UnitChance> possible_scales(const GarmentScale& g) {
  std::vector<UnitChance> units;
  for (const UnitChance& u : g.unit_chances)
    if (u.probability > kLeastChance) units.push_back(u);
  if (units.empty()) units.push_back({g.mm_per_unit, 1.0});
  double total = 0;
  for (const UnitChance& u : units) total += u.probability;
  std::vector<UnitChance> out;
  for (const UnitChance& u : units) {
    const double doll = doll_factor(g, u.mm_per_unit, kDollMm);
    const double p = u.probability / total;
    if (doll > 1) out.push_back({u.mm_per_unit * doll, 0.5 * p});
    out.push_back({u.mm_per_unit, doll > 1 ? 0.5 * p : p});
  }
  return out;
}

/// Log odds from the component's own shape, over all scales it may have; `clues` are those at the likeliest unit.
double shape_odds(const RoleInput& in, Index twin, std::span<const UnitChance> scales, Clues& clues) {
  const Shape& shape = in.shapes[in.families->twin_representative[twin]];
  const Detail& detail = in.twin_details[twin];
  const Index copies = in.families->twin_count[twin];
  clues = shape_clues(shape, detail, copies, in.scale);
  if (scales.size() == 1 && scales[0].mm_per_unit == in.scale.mm_per_unit) return sum_of(clues);
  GarmentScale scale = in.scale;
  double hard = 0;
  for (const UnitChance& u : scales) {
    scale.mm_per_unit = u.mm_per_unit;
    hard += u.probability * probability(sum_of(shape_clues(shape, detail, copies, scale)));
  }
  return std::log(hard / (1.0 - std::min(hard, kSurest))) / kDamping;
}

/// Whether a guest lies on or in a part that may carry it, as far as their extents tell.
bool may_carry(const RoleInput& in, std::span<const RoleVerdict> verdicts, Index host, Index guest) {
  if (verdicts[host].log_odds < kCarrierOdds || verdicts[guest].log_odds > kSureOdds) return false;
  const Shape& h = in.shapes[host];
  const Shape& g = in.shapes[guest];
  if (!(g.area < 1.5 * h.area)) return false;
  const Vec3 d = g.centroid - h.centroid;
  for (int i = 0; i < 3; ++i) {
    const auto j = static_cast<std::size_t>(i);
    if (!(std::abs(dot(h.axes.column(i), d) - h.extent_mids[j]) <
          0.5 * h.extents[j] + 0.15 * h.extents[1] + 0.25 * g.extents[2]))
      return false;
  }
  return true;
}

/// Whether a hard body may be the bridge between plates that are larger than it.
bool may_bridge(const RoleInput& in, std::span<const RoleVerdict> verdicts, Index body, Index plate) {
  const Shape& b = in.shapes[body];
  const Shape& p = in.shapes[plate];
  if (verdicts[body].log_odds < kSureOdds || verdicts[plate].log_odds > kSureOdds) return false;
  if (b.area > p.area || p.extents[0] > 5 * b.extents[0]) return false;
  const auto look = [&](Index c) { return look_at(in.shapes[c], in.twin_details[in.families->twin_of_component[c]]); };
  const Look l = look(body);
  return l.form == Form::Solid && !l.round && look(plate).form == Form::Slab;
}

/// Two plates alike that a hard body between them holds apart, as a slider's or a clasp's: no two scraps of cloth are.
/// @param bridges  body and plate that touch, in any order. Of a body between more plates than any hardware has, only
/// the first are looked at.
void add_bridged_plates(const RoleInput& in, std::vector<std::array<Index, 2>> bridges, std::vector<float>& gain) {
  constexpr std::size_t kMostPlates = 16;
  const auto alike = [](double a, double b) { return a < 1.5 * b && b < 1.5 * a; };
  const auto held_apart = [&](const Shape& body, const Shape& one, const Shape& other) {
    const Vec3 normal = one.axes.column(2);
    return dot(normal, one.centroid - body.centroid) * dot(normal, other.centroid - body.centroid) < 0 &&
           std::abs(dot(normal, other.axes.column(2))) > 0.95 && alike(one.extents[0], other.extents[0]) &&
           alike(one.extents[1], other.extents[1]);
  };
  std::sort(bridges.begin(), bridges.end());
  for (std::size_t first = 0, end = 0; first < bridges.size(); first = end) {
    const Index body = bridges[first][0];
    while (end < bridges.size() && bridges[end][0] == body) ++end;
    const std::span<const std::array<Index, 2>> own(&bridges[first], std::min(end - first, kMostPlates));
    for (const auto& one : own)
      for (const auto& other : own)
        if (one[1] != other[1] && held_apart(in.shapes[body], in.shapes[one[1]], in.shapes[other[1]]))
          gain[one[1]] = std::max(gain[one[1]], kPlateGain);
  }
}

/// Parts that sit on or in a hard part share its fate: threads in a button, the prong in a buckle's frame.
void add_carriers(const RoleInput& in, std::vector<RoleVerdict>& verdicts) {
  const double mm = in.scale.mm_per_unit;
  std::vector<Index> candidates;
  for (Index c = 0; c < verdicts.size(); ++c)
    if (verdicts[c].log_odds > -7 && in.shapes[c].extents[0] * mm < 80 && verdicts[c].role != Role::Stitching)
      candidates.push_back(c);
  // Two that are sure of themselves have nothing to tell each other, nor have two that carry nothing.
  std::vector<std::uint8_t> camps(verdicts.size(), 0);
  for (const Index c : candidates)
    camps[c] = verdicts[c].log_odds > kSureOdds ? 1 : (verdicts[c].log_odds < kCarrierOdds ? 2 : 0);
  const auto limit = [&](Index a, Index b) {
    const bool any = may_carry(in, verdicts, a, b) || may_carry(in, verdicts, b, a) || may_bridge(in, verdicts, a, b) ||
                     may_bridge(in, verdicts, b, a);
    return any ? std::numeric_limits<double>::infinity() : -1;
  };
  const FaceView faces{in.mesh->positions, in.mesh->face_offsets, in.mesh->corner_position};
  std::vector<float> gain(verdicts.size(), 0.0F);
  std::vector<std::array<Index, 2>> bridges;
  for (const auto& [a, b] : find_contacts(faces, *in.components, in.shapes, candidates, 0.06, camps, {}, limit)) {
    for (const auto& [host, guest] : {std::pair{a, b}, std::pair{b, a}}) {
      if (may_bridge(in, verdicts, host, guest)) bridges.push_back({host, guest});
      if (!may_carry(in, verdicts, host, guest)) continue;
      // A sheet may lie under a trim by chance; only one that is small beside it counts, and less.
      const Look l = look_at(in.shapes[guest], in.twin_details[in.families->twin_of_component[guest]]);
      const bool sheet =
          l.form == Form::OpenFlat || l.form == Form::Slab || clue_of(verdicts[guest].clues, Clue::Thickness) < -1;
      if (!sheet)
        gain[guest] = std::max(gain[guest], verdicts[host].log_odds < 1.5 ? 2.0F : 3.0F);
      else if (l.length < 0.6 * in.shapes[host].extents[1])
        gain[guest] = std::max(gain[guest], 1.5F);
    }
  }
  add_bridged_plates(in, std::move(bridges), gain);
  for (Index c = 0; c < verdicts.size(); ++c) {
    if (gain[c] == 0) continue;
    clue_of(verdicts[c].clues, Clue::Carrier) = gain[c];
    verdicts[c].log_odds += gain[c];
  }
}

/// A border or rim that runs along other pieces' is a seam. Few sheets and shells that are not clear yet are looked at.
void add_seams(const RoleInput& in, std::vector<RoleVerdict>& verdicts) {
  const Families& fam = *in.families;
  std::size_t looked = 0;
  for (Index c = 0; c < verdicts.size() && looked < kMostSeamsLooked; ++c) {
    RoleVerdict& v = verdicts[c];
    const Shape& s = in.shapes[c];
    const Index twin = fam.twin_of_component[c];
    const bool shell = in.twin_details[twin].boundary_edges == 0;
    if (!may_be_sewn(in, c) || fam.kin_count[fam.kin_of_twin[twin]] > kFewKin) continue;
    if (v.log_odds < -kUnclear || v.log_odds > kUnclear || s.extents[0] > 0.3 * in.scale.diagonal) continue;
    ++looked;
    const double share = seam_share(in, c, 0.15 * std::min(in.scale.cloth_spacing, s.extents[1]));
    // A plate may lie along a hem with one of its sides.
    if (share < (shell ? 0.5 : 0.25)) continue;
    clue_of(v.clues, Clue::Neighbours) = share < (shell ? 0.7 : 0.5) ? -1.5F : -2.5F;
    v.log_odds += clue_of(v.clues, Clue::Neighbours);
  }
}

}  // namespace

GarmentScale find_scale(std::span<const Shape> shapes, const Families& families, std::span<const Detail> twin_details) {
  GarmentScale g;
  Box all;
  bool first = true;
  double largest = 0;
  for (const Shape& s : shapes) {
    if (first) all = s.box;
    first = false;
    for (int k = 0; k < 3; ++k) {
      all.min[k] = std::min(all.min[k], s.box.min[k]);
      all.max[k] = std::max(all.max[k], s.box.max[k]);
    }
    largest = std::max(largest, box_diagonal(s.box));
  }
  g.diagonal = box_diagonal(all);
  std::vector<std::array<double, 2>> spacing;
  std::vector<std::array<double, 2>> thickness;
  std::vector<std::array<double, 2>> scale;
  double large = 0;
  double thick = 0;
  for (std::size_t c = 0; c < shapes.size(); ++c) {
    if (box_diagonal(shapes[c].box) < 0.3 * largest) continue;
    const Detail& d = twin_details[families.twin_of_component[c]];
    const double area = shapes[c].area;
    large += area;
    if (d.mean_edge > 0) spacing.push_back({d.mean_edge, area});
    if (d.facing_share > 0.6 && d.thickness > 0 && d.thickness < 0.05 * shapes[c].extents[0] &&
        d.thickness_spread < 0.6) {
      thick += area;
      thickness.push_back({d.thickness, area});
    }
    if (d.has_uv && d.uv_stretch < 1.15 && d.uv_scale_spread < 0.2) scale.push_back({d.uv_scale, area});
  }
  g.cloth_spacing = weighted_median(spacing);
  g.thick_share = large > 0 ? thick / large : 0;
  g.panel_thicknesses = common_thicknesses(thickness, 0.02 * large);
  if (g.thick_share > 0.3) g.panel_thickness = weighted_median(thickness);
  double flat = 0;
  for (const auto& item : scale) flat += item[1];
  if (flat > 0.6 * large) {
    g.uv_scale = weighted_median(scale);
    double agree = 0;
    std::vector<double> sizes;
    for (const auto& [value, weight] : scale) {
      if (std::abs(value / g.uv_scale - 1) >= 0.05) continue;
      agree += weight;
      // Pieces of one size agree by themselves, even if each fills the whole square.
      const bool fresh =
          std::none_of(sizes.begin(), sizes.end(), [w = weight](double size) { return std::abs(size / w - 1) < 0.1; });
      if (fresh) sizes.push_back(weight);
    }
    g.uv_pieces = static_cast<Index>(sizes.size());
    if (agree < 0.6 * large) g.uv_scale = 0;
  }
  return g;
}

std::vector<RoleVerdict> assign_roles(const RoleInput& in) {
  const Families& fam = *in.families;
  std::vector<Clues> of_twin(fam.twins());
  std::vector<double> odds_of_twin(fam.twins());
  const std::vector<UnitChance> scales = possible_scales(in.scale);
  for (Index t = 0; t < fam.twins(); ++t) odds_of_twin[t] = shape_odds(in, t, scales, of_twin[t]);
  std::vector<RoleVerdict> verdicts = filled_large<RoleVerdict>(in.shapes.size(), {});
  const NameWeights names(*in.mesh);
  for (Index c = 0; c < verdicts.size(); ++c) {
    RoleVerdict& v = verdicts[c];
    v.clues = of_twin[fam.twin_of_component[c]];
    v.log_odds = odds_of_twin[fam.twin_of_component[c]];
    if (!in.use_names) continue;
    clue_of(v.clues, Clue::Name) = static_cast<float>(names.of(in.components->faces_of(c)[0]));
    v.log_odds += clue_of(v.clues, Clue::Name);
  }
  const std::vector<float> thread = stitching_odds(in, verdicts);
  for (Index c = 0; c < verdicts.size(); ++c) {
    RoleVerdict& v = verdicts[c];
    if (!(thread[c] > 0)) continue;
    v.role = Role::Stitching;
    clue_of(v.clues, Clue::Row) = 2 + thread[c];
    v.log_odds += clue_of(v.clues, Clue::Row);
  }
  add_seams(in, verdicts);
  add_carriers(in, verdicts);
  for (Index c = 0; c < verdicts.size(); ++c) {
    RoleVerdict& v = verdicts[c];
    double odds = std::abs(v.log_odds);
    if (v.log_odds <= 0)
      v.role = Role::Cloth;
    else if (v.role == Role::Stitching)
      odds = std::min(odds, 0.5 + static_cast<double>(thread[c]));
    else {
      v.role = Role::Trim;
      // Many slender small pieces that are hardly thread: as sure as that.
      if (thread[c] < 0) odds = std::min(odds, -0.7 * static_cast<double>(thread[c]));
    }
    // A name may raise a doubt, but makes nothing surer than it is without.
    const double name = clue_of(v.clues, Clue::Name) * (v.log_odds > 0 ? 1 : -1);
    if (name > 0) odds = std::max(0.0, odds - name);
    if (v.role == Role::Trim && could_be_scrap(in, c, v.clues)) odds = std::min(odds, kOddsInConflict);
    if (v.role == Role::Cloth && (could_be_plate(in, c, v.clues) || could_be_box(in, c)))
      odds = std::min(odds, kOddsInConflict);
    if (conflicting(v.clues) || either_way(in, c, v)) odds = std::min(odds, kOddsInConflict);
    v.confidence = probability(odds);
  }
  return verdicts;
}

}  // namespace trimtack
