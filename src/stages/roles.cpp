// SPDX-License-Identifier: MIT
// Independent clues, each a log-likelihood ratio, added up (naive Bayes; Good 1950, Probability and the weighing of
// evidence).
#include "trimtack/roles.hpp"

#include <algorithm>
#include <cctype>
#include <cmath>
#include <cstdio>

#include <nanoflann.hpp>

namespace trimtack {
namespace {

float& clue(Clues& clues, Clue c) { return clues[static_cast<std::size_t>(c)]; }
float clue(const Clues& clues, Clue c) { return clues[static_cast<std::size_t>(c)]; }

double box_diagonal(const Box& box) { return length(box.max - box.min); }

/// Piecewise linear through (x, y) points of ascending x.
double ramp(double x, std::span<const std::array<double, 2>> points) {
  if (x <= points.front()[0]) return points.front()[1];
  for (std::size_t i = 1; i < points.size(); ++i)
    if (x <= points[i][0]) {
      const double t = (x - points[i - 1][0]) / (points[i][0] - points[i - 1][0]);
      return points[i - 1][1] + t * (points[i][1] - points[i - 1][1]);
    }
  return points.back()[1];
}

bool is_slab(const Shape& s, const Detail& d) {
  return d.facing_share > 0.7 && d.thickness > 0 && d.thickness_spread < 0.6 && d.thickness < 0.3 * s.extents[1];
}

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

constexpr std::array<const char*, 26> kHardWords{
    "button", "snap",  "rivet",  "eyelet",     "grommet", "zip",    "slider",  "puller", "hook",
    "buckle", "bead",  "sequin", "rhinestone", "stud",    "toggle", "thread",  "stitch", "trim",
    "teeth",  "tooth", "d-ring", "dring",      "metal",   "aglet",  "stopper", "crystal"};
constexpr std::array<const char*, 24> kSoftWords{"cloth",  "fabric", "panel",  "sleeve",    "collar", "cuff",
                                                 "pocket", "body",   "shirt",  "jacket",    "label",  "strap",
                                                 "cord",   "lace",   "tassel", "tape",      "lining", "placket",
                                                 "loop",   "denim",  "cotton", "waistband", "yoke",   "hem"};

bool holds_word(const std::string& text, const char* word) {
  const std::string_view w(word);
  const auto it = std::search(text.begin(), text.end(), w.begin(), w.end(),
                              [](char a, char b) { return std::tolower(static_cast<unsigned char>(a)) == b; });
  return it != text.end();
}

double name_weight(const std::string& name) {
  double w = 0;
  for (const char* word : kHardWords)
    if (holds_word(name, word)) w = std::max(w, 0.5);
  for (const char* word : kSoftWords)
    if (holds_word(name, word)) return w > 0 ? 0.0 : -0.5;
  return w;
}

FaceState state_at(const SourceMesh& mesh, Index face) {
  const auto it = std::upper_bound(mesh.states.begin(), mesh.states.end(), face,
                                   [](Index f, const StateRun& run) { return f < run.first_face; });
  return it == mesh.states.begin() ? FaceState{} : (it - 1)->state;
}

double names_of_component(const SourceMesh& mesh, Index first_face) {
  const FaceState state = state_at(mesh, first_face);
  double w = 0;
  if (state.object < mesh.objects.size()) w += name_weight(mesh.objects[state.object]);
  if (state.group < mesh.groups.size()) w += name_weight(mesh.groups[state.group]);
  if (state.material < mesh.materials.size()) w += name_weight(mesh.materials[state.material]);
  return std::clamp(w, -0.8, 0.8);
}

void shape_clues(const Shape& s, const Detail& d, Index twins, const GarmentScale& g, Clues& c) {
  const double mm = g.mm_per_unit;
  const double size = s.extents[0];
  const double size_mm = size * mm;
  clue(c, Clue::Prior) = -0.3F;
  clue(c, Clue::Size) = static_cast<float>(
      ramp(size_mm, std::array<std::array<double, 2>, 7>{
                        {{4, 1.5}, {10, 1.5}, {30, 1.0}, {60, 0}, {100, -2}, {200, -4}, {400, -6}}}));
  clue(c, Clue::Share) =
      static_cast<float>(ramp(size / std::max(g.diagonal, 1e-300),
                              std::array<std::array<double, 2>, 4>{{{0.05, 0.3}, {0.1, 0}, {0.3, -3}, {0.6, -6}}}));
  const bool slab = is_slab(s, d);
  const double flat = s.extents[1] > 0 ? s.extents[2] / s.extents[1] : 0;
  if (d.boundary_edges > 0) {
    clue(c, Clue::Sheet) = flat < 0.15 ? -1.5F : -0.3F;
  } else {
    clue(c, Clue::Sheet) = slab ? 0.3F : 2.0F;
    if (d.euler < 2 && size_mm < 90) clue(c, Clue::Holes) = 2.0F;
    clue(c, Clue::Creases) = d.crease_share > 0.08 ? 0.6F : 0.0F;
  }
  if (slab && g.panel_thickness > 0 && std::abs(d.thickness / g.panel_thickness - 1) < 0.25)
    clue(c, Clue::Thickness) = -2.5F;
  else if (d.boundary_edges == 0 && g.thick_share < 0.05)
    clue(c, Clue::Thickness) = 1.0F;
  if (size_mm < 60 && d.roundness > 0.83) clue(c, Clue::Outline) = 2.5F;
  const double aspect = s.extents[1] > 0 ? s.extents[0] / s.extents[1] : 1e9;
  if (size_mm > 35 && aspect > 6) clue(c, Clue::Length) = static_cast<float>(-std::min(3.0, 0.35 * aspect));
  clue(c, Clue::Copies) = static_cast<float>(0.5 * std::log2(std::min<double>(twins, 64)));
  const double expected = std::min(g.cloth_spacing, std::max(s.extents[1], 1e-300));
  if (expected > 0 && d.mean_edge > 0)
    clue(c, Clue::Spacing) = static_cast<float>(
        ramp(d.mean_edge / expected,
             std::array<std::array<double, 2>, 4>{{{0.1, 1.5}, {0.35, 1.0}, {0.6, 0}, {0.9, -0.7}}}));
  if (g.uv_scale > 0 && d.has_uv) {
    const bool same = std::abs(d.uv_scale / g.uv_scale - 1) < 0.05 && d.uv_stretch < 1.1 && d.uv_scale_spread < 0.1;
    clue(c, Clue::Flattening) = same ? -2.0F : 1.5F;
  }
}

struct Cloud {
  std::span<const Vec3> points;
  std::size_t kdtree_get_point_count() const { return points.size(); }
  double kdtree_get_pt(std::size_t i, std::size_t k) const { return points[i][static_cast<int>(k)]; }
  template <class B>
  bool kdtree_get_bbox(B&) const {
    return false;
  }
};
using Tree = nanoflann::KDTreeSingleIndexAdaptor<nanoflann::L2_Simple_Adaptor<double, Cloud>, Cloud, 3, std::size_t>;

/// Stitches: many small slender kin, each with a neighbour ahead along its own length.
void find_stitching(const RoleInput& in, std::vector<Verdict>& verdicts) {
  const Families& fam = *in.families;
  const double mm = in.scale.mm_per_unit;
  std::vector<std::vector<Index>> members(fam.kin_count.size());
  for (Index c = 0; c < in.shapes.size(); ++c) {
    const Index kin = fam.kin_of_twin[fam.twin_of_component[c]];
    const Shape& s = in.shapes[c];
    if (fam.kin_count[kin] >= 12 && s.extents[0] * mm < 12 && s.extents[0] > 2.2 * s.extents[1])
      members[kin].push_back(c);
  }
  for (const auto& list : members) {
    if (list.size() < 12) continue;
    std::vector<Vec3> centres;
    for (const Index c : list) centres.push_back(in.shapes[c].centroid);
    const Cloud cloud{centres};
    Tree tree(3, cloud, nanoflann::KDTreeSingleIndexAdaptorParams(10));
    std::size_t aligned = 0;
    for (std::size_t i = 0; i < list.size(); ++i) {
      std::array<std::size_t, 2> index{};
      std::array<double, 2> squared{};
      const Vec3& p = centres[i];
      const std::array<double, 3> query{p.x, p.y, p.z};
      if (tree.knnSearch(query.data(), 2, index.data(), squared.data()) < 2) continue;
      const std::size_t other = index[0] == i ? index[1] : index[0];
      const Vec3 d = normalized(centres[other] - p);
      const Shape& s = in.shapes[list[i]];
      if (std::abs(dot(d, s.axes.column(0))) > 0.7 && length(centres[other] - p) < 4 * s.extents[0]) ++aligned;
    }
    if (2 * aligned < list.size()) continue;
    for (const Index c : list) {
      verdicts[c].role = Role::Stitching;
      clue(verdicts[c].clues, Clue::Row) = 3;
      verdicts[c].log_odds += 3;
    }
  }
}

}  // namespace

GarmentScale find_scale(std::span<const Shape> shapes, const Families& families, std::span<const Detail> twin_details) {
  GarmentScale g;
  Box all;
  bool first = true;
  for (const Shape& s : shapes) {
    if (first) all = s.box;
    first = false;
    for (int k = 0; k < 3; ++k) {
      all.min[k] = std::min(all.min[k], s.box.min[k]);
      all.max[k] = std::max(all.max[k], s.box.max[k]);
    }
  }
  g.diagonal = box_diagonal(all);
  std::vector<std::array<double, 2>> spacing, thickness, scale;
  double large = 0;
  double thick = 0;
  double largest = 0;
  for (const Shape& s : shapes) largest = std::max(largest, box_diagonal(s.box));
  for (std::size_t c = 0; c < shapes.size(); ++c) {
    if (box_diagonal(shapes[c].box) < 0.3 * largest) continue;
    const Detail& d = twin_details[families.twin_of_component[c]];
    const double area = shapes[c].area;
    large += area;
    if (d.mean_edge > 0) spacing.push_back({d.mean_edge, area});
    if (is_slab(shapes[c], d) && d.thickness < 0.05 * shapes[c].extents[0]) {
      thick += area;
      thickness.push_back({d.thickness, area});
    }
    if (d.has_uv && d.uv_stretch < 1.15 && d.uv_scale_spread < 0.2) scale.push_back({d.uv_scale, area});
  }
  g.cloth_spacing = weighted_median(spacing);
  g.thick_share = large > 0 ? thick / large : 0;
  if (g.thick_share > 0.3) g.panel_thickness = weighted_median(thickness);
  double isometric = 0;
  for (const auto& item : scale) isometric += item[1];
  if (isometric > 0.6 * large) {
    g.uv_scale = weighted_median(scale);
    double agree = 0;
    for (const auto& [value, weight] : scale)
      if (std::abs(value / g.uv_scale - 1) < 0.05) agree += weight;
    if (agree < 0.6 * large) g.uv_scale = 0;
  }
  return g;
}

std::vector<Verdict> assign_roles(const RoleInput& in) {
  const Families& fam = *in.families;
  std::vector<Clues> of_twin(fam.twins());
  for (Index t = 0; t < fam.twins(); ++t)
    shape_clues(in.shapes[fam.twin_representative[t]], in.twin_details[t], fam.twin_count[t], in.scale, of_twin[t]);
  std::vector<Verdict> verdicts(in.shapes.size());
  for (Index c = 0; c < verdicts.size(); ++c) {
    Verdict& v = verdicts[c];
    v.clues = of_twin[fam.twin_of_component[c]];
    if (in.use_names)
      clue(v.clues, Clue::Name) = static_cast<float>(names_of_component(*in.mesh, in.components->faces_of(c)[0]));
    for (const float w : v.clues) v.log_odds += w;
    v.role = v.log_odds > 0 ? Role::Trim : Role::Cloth;
  }
  find_stitching(in, verdicts);
  for (Verdict& v : verdicts) {
    if (v.log_odds <= 0) v.role = Role::Cloth;
    v.confidence = 1.0 / (1.0 + std::exp(-std::abs(v.log_odds)));
  }
  return verdicts;
}

std::vector<std::string> reasons_of(const RoleInput& in, Index component, const Verdict& verdict) {
  const Shape& s = in.shapes[component];
  const Index twin = in.families->twin_of_component[component];
  const Detail& d = in.twin_details[twin];
  const double mm = in.scale.mm_per_unit;
  const auto text = [&](Clue which) -> std::string {
    std::array<char, 128> b{};
    const bool hard = clue(verdict.clues, which) > 0;
    const char* format = nullptr;
    double x = 0;
    switch (which) {
      case Clue::Size:
        format = "%.3g mm long";
        x = s.extents[0] * mm;
        break;
      case Clue::Share:
        format = "%.3g of the garment's size";
        x = s.extents[0] / in.scale.diagonal;
        break;
      case Clue::Sheet:
        format = d.boundary_edges > 0 ? "open sheet, %.3g as thick as wide" : "closed surface, %.3g as thick as wide";
        x = s.extents[1] > 0 ? s.extents[2] / s.extents[1] : 0;
        break;
      case Clue::Thickness:
        format = hard ? "closed although the panels are single sheets" : "two sheets %.3g mm apart, as the panels";
        x = d.thickness * mm;
        break;
      case Clue::Outline:
        format = "round outline (%.2f of a circle)";
        x = d.roundness;
        break;
      case Clue::Holes:
        format = "%.0f holes";
        x = (2 - d.euler) / 2;
        break;
      case Clue::Length:
        format = "%.3g times as long as wide";
        x = s.extents[0] / std::max(s.extents[1], 1e-300);
        break;
      case Clue::Copies:
        format = "%.0f congruent ones";
        x = in.families->twin_count[twin];
        break;
      case Clue::Spacing:
        format = "edges %.3g mm";
        x = d.mean_edge * mm;
        break;
      case Clue::Creases:
        format = "sharp edges (%.2f of the edge length)";
        x = d.crease_share;
        break;
      case Clue::Flattening:
        format = hard ? "UVs at another scale than the panels' (%.3g times)" : "UVs at the panels' scale (%.3g times)";
        x = d.uv_scale / in.scale.uv_scale;
        break;
      case Clue::Name:
        return hard ? "its name says a trim" : "its name says cloth";
      case Clue::Row:
        return "slender pieces in rows along their length";
      default:
        return {};
    }
    std::snprintf(b.data(), b.size(), format, x);
    return b.data();
  };
  std::array<std::size_t, kClueCount> order{};
  for (std::size_t i = 0; i < kClueCount; ++i) order[i] = i;
  const float sign = verdict.log_odds > 0 ? 1.0F : -1.0F;
  std::stable_sort(order.begin(), order.end(),
                   [&](std::size_t a, std::size_t b) { return sign * verdict.clues[a] > sign * verdict.clues[b]; });
  std::vector<std::string> reasons;
  for (const std::size_t i : order) {
    if (sign * verdict.clues[i] < 0.25F || reasons.size() == 4) break;
    std::string r = text(static_cast<Clue>(i));
    if (!r.empty()) reasons.push_back(std::move(r));
  }
  return reasons;
}

}  // namespace trimtack
