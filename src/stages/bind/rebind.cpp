// SPDX-License-Identifier: MIT
// Carrying bindings over: the old anchor's place is found on the new cloth, the trim moves there rigidly, and is bound
// again on the sheet of that place.
#include "trimtack/rebind.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "core/phrase.hpp"
#include "runtime/frame.hpp"
#include "stages/bind/layer.hpp"
#include "stages/bind/trim_collisions.hpp"
#include "stages/bind/uv_charts.hpp"
#include "trimtack/fit_result.hpp"

namespace trimtack {

const char* to_text(RebindBy by) {
  static constexpr const char* kWords[] = {"auto", "vertex", "position", "uv"};
  return kWords[static_cast<int>(by)];
}

namespace {

// Chords of 20 mm edges lie within 1.7 mm of a cloth rolled to 30 mm (h^2 / 8R); boxes shrink by as much.
constexpr double kSameSurfaceMm = 1.7, kSameBoxMm = 4;
// A place that matched charts lead to is doubted when it lies so much of the garment's diagonal from where it was: more
// than another size or another stance moves it.
constexpr double kOtherPart = 0.2;
// The cloth under a trim faces the other way when its normal is more than 120 degrees off: no fold of cloth that was
// smooth under the trim before leaves as much between the two.
constexpr double kTurnedOver = -0.5;

struct Context {
  const ClothMesh* old_cloth;
  const BindTable* old_table;
  const TrimShapes* trims;
  const ClothIndex* new_index;
  const RebindOptions* options;
  ClothTopology old_topology, new_topology;
  std::optional<UvPattern> old_pattern, new_pattern;
  std::vector<ChartMatch> chart_match;  ///< empty: UVs are the same in both
  double mm = 1;                        ///< one millimetre in file units
};

/// The old anchor of a binding as a place on the old cloth; kNone when it has none.
Surface old_anchor(const Context& context, const Binding& binding) {
  Surface out;
  if (binding.patch == kNone || binding.anchor_face == kNone) return out;
  const auto& triangles = context.old_cloth->triangles;
  for (Index t = context.old_topology.triangles_of_face[binding.anchor_face];
       t < context.old_topology.triangles_of_face[binding.anchor_face + 1]; ++t)
    if (triangles.triangles[t] == binding.anchor_triangle) out.triangle = t;
  if (out.triangle == kNone) return out;
  out.bary = binding.anchor_weights;
  for (std::size_t k = 0; k < 3; ++k)
    out.point += out.bary[k] * context.old_cloth->positions[binding.anchor_triangle[k]];
  return out;
}

struct Found {
  Surface surface;  ///< kNone: not found
  Pose motion;
};

Mat3 smallest_turn(const Vec3& from, const Vec3& to) {
  const Vec3 axis = cross(from, to);
  const double c = dot(from, to);
  if (c < -0.999999) return Mat3{};
  const double k = 1 / (1 + c);
  return Mat3{{c + k * axis.x * axis.x, k * axis.x * axis.y - axis.z, k * axis.x * axis.z + axis.y,
               k * axis.x * axis.y + axis.z, c + k * axis.y * axis.y, k * axis.y * axis.z - axis.x,
               k * axis.x * axis.z - axis.y, k * axis.y * axis.z + axis.x, c + k * axis.z * axis.z}};
}

Pose motion_between(const Mat3& rotation, const Vec3& from, const Vec3& to) { return {rotation, to - rotation * from}; }

/// The nearest cloth within reach whose normal agrees with the old one; the trim stays where it is.
Found by_position(const Context& context, const Surface& anchor) {
  const Vec3 normal = smooth_normal(context.old_topology, anchor);
  Found out;
  for (const Surface& s : context.new_index->within(anchor.point, context.options->reach_mm * context.mm)) {
    if (dot(smooth_normal(context.new_topology, s), normal) < 0.5) continue;
    out.surface = s;
    break;
  }
  return out;
}

Found by_uv(const Context& context, const Surface& anchor) {
  Found out;
  const UvPattern &from = *context.old_pattern, &to = *context.new_pattern;
  Vec2 uv = uv_at(from, anchor);
  ChartMatch match;
  if (!context.chart_match.empty()) {
    const Index old_chart = from.chart_of_face[context.old_cloth->triangles.face[anchor.triangle]];
    match = context.chart_match[old_chart];
    if (match.chart == kNone) return out;
    uv = mapped_uv(from.charts[old_chart], to.charts[match.chart], match.turn, uv);
  }
  const Vec3 normal = smooth_normal(context.old_topology, anchor);
  out.surface = place_of_uv(to, uv, from.garment_place(anchor.point), normal, match.chart);
  if (out.surface.triangle == kNone) return out;
  const auto old_frame = uv_frame(from, anchor), new_frame = uv_frame(to, out.surface);
  const Mat3 rotation = old_frame && new_frame
                            ? turned_frame(*new_frame, match.turn) * transposed(*old_frame)
                            : smallest_turn(normal, smooth_normal(context.new_topology, out.surface));
  out.motion = motion_between(rotation, anchor.point, out.surface.point);
  return out;
}

/// How far a place found by UV is from where it was on the garment, in shares of its diagonal; 1 where there is none.
double uv_stray(const Context& context, const Surface& anchor, const Found& found) {
  if (found.surface.triangle == kNone) return 1;
  const Box& box = context.new_pattern->box;
  const Vec3 size = box.max - box.min;
  const Vec3 off =
      context.new_pattern->garment_place(found.surface.point) - context.old_pattern->garment_place(anchor.point);
  const double share = length({off.x * size.x, off.y * size.y, off.z * size.z}) / length(size);
  return share < 1 ? share : 1;
}

/// The old weights on the new positions, through the one frame maths.
Found by_vertex(const Context& context, const Binding& binding, const Surface& anchor) {
  Found out;
  const BindTable& table = *context.old_table;
  const std::vector<Vec3>& positions = context.new_index->cloth().positions;
  for (const Index which : {binding.patch, binding.fallback}) {
    if (which == kNone) continue;
    const Patch& patch = table.patches[which];
    const auto sums = frame::weighted_sums<double>(
        reinterpret_cast<const double*>(positions.data()), sizeof(Vec3), table.vertices.data() + patch.first,
        patch.count, table.c.data() + patch.first, table.a.data() + patch.first, table.b.data() + patch.first, 1);
    Mat3 now;
    if (frame::polar_frame(sums.t, sums.b, now.m.data()) != frame::FrameStatus::Good) continue;
    const std::array<double, 3> rest{patch.origin.x, patch.origin.y, patch.origin.z};
    std::array<double, 3> moved{};
    frame::relative_rotation(now.m.data(), patch.frame.m.data(), out.motion.rotation.m.data());
    frame::translation_of(out.motion.rotation.m.data(), sums.base, sums.offset, rest.data(), moved.data());
    out.motion.translation = {moved[0], moved[1], moved[2]};
    out.surface = anchor;
    out.surface.point = {};
    for (std::size_t k = 0; k < 3; ++k) out.surface.point += anchor.bary[k] * positions[binding.anchor_triangle[k]];
    return out;
  }
  return out;
}

/// Share of the bound trims whose old UV is covered by the new layout.
double uv_cover(const Context& context, std::span<const Surface> anchors) {
  std::size_t asked = 0, found = 0;
  for (const Surface& a : anchors) {
    if (a.triangle == kNone) continue;
    ++asked;
    const Vec2 uv = uv_at(*context.old_pattern, a);
    found += context.new_pattern->index->within({uv.x, uv.y, 0}, 1e-6 * context.new_pattern->diagonal).empty() ? 0 : 1;
  }
  return asked == 0 ? 1 : static_cast<double>(found) / static_cast<double>(asked);
}

bool same_faces(const Context& context) {
  const ClothMesh& mesh = context.new_index->cloth();
  return mesh.positions.size() == context.old_table->cloth_vertices &&
         cloth_fingerprint(context.old_table->cloth_vertices, mesh.face_offsets, mesh.face_corners) ==
             context.old_table->fingerprint;
}

/// uv_stray of all anchors, on the mean.
double uv_strays(const Context& context, std::span<const Surface> anchors) {
  double sum = 0;
  std::size_t asked = 0;
  for (const Surface& a : anchors) {
    if (a.triangle == kNone) continue;
    ++asked;
    sum += uv_stray(context, a, by_uv(context, a));
  }
  return asked == 0 ? 0 : sum / static_cast<double>(asked);
}

/// Pattern pieces that kept their UVs have the same layout; else charts are matched. A layout packed anew into the same
/// square has UVs everywhere, too: those of other pieces.
void settle_patterns(Context& context, std::span<const Surface> anchors) {
  constexpr double kOtherPlaces = 0.1;
  context.old_pattern = build_pattern(context.old_topology);
  context.new_pattern = build_pattern(context.new_topology);
  if (!context.old_pattern || !context.new_pattern) return;
  for (UvPattern* p : {&*context.old_pattern, &*context.new_pattern}) p->index = std::make_unique<ClothIndex>(p->flat);
  const double ratio = context.new_pattern->diagonal / context.old_pattern->diagonal;
  const bool same = uv_cover(context, anchors) >= 0.9 && std::abs(std::log(ratio)) <= 0.01;
  const double strays = same ? uv_strays(context, anchors) : 0;
  if (same && strays < kOtherPlaces) return;
  context.chart_match = match_charts(*context.old_pattern, *context.new_pattern);
  if (same && uv_strays(context, anchors) > strays - kOtherPlaces) context.chart_match.clear();
}

/// The boxes of the two cloths agree and nine anchors in ten lie on the new cloth but for what other edges cut off a
/// curve. (A flat panel of another size lies in the plane of the old one: the box tells.)
bool same_shape(const Context& context, std::span<const Surface> anchors) {
  const Box p = bounds(context.old_cloth->positions), q = bounds(context.new_index->cloth().positions);
  for (int k = 0; k < 3; ++k)
    if (std::abs(p.min[k] - q.min[k]) > kSameBoxMm * context.mm ||
        std::abs(p.max[k] - q.max[k]) > kSameBoxMm * context.mm)
      return false;
  std::size_t asked = 0, near = 0;
  for (const Surface& a : anchors) {
    if (a.triangle == kNone) continue;
    ++asked;
    const Found found = by_position(context, a);
    near += found.surface.triangle != kNone && found.surface.distance < kSameSurfaceMm * context.mm ? 1 : 0;
  }
  return static_cast<double>(near) >= 0.9 * static_cast<double>(asked);
}

Result<RebindBy> settle_way(const Context& context, std::span<const Surface> anchors) {
  const bool uv = context.old_pattern && context.new_pattern;
  const RebindBy wish = context.options->by;
  if (wish == RebindBy::Uv && !uv)
    return Error{ErrorCode::Usage, "one of the two cloths has no texture coordinates; rebind by position instead", "uv",
                 0};
  if (wish == RebindBy::Vertex && !same_faces(context))
    return Error{ErrorCode::Usage, "the new cloth has other faces or vertices; rebind by position or by uv", "vertex",
                 0};
  if (wish != RebindBy::Auto) return wish;
  if (same_faces(context)) return RebindBy::Vertex;
  return !uv || same_shape(context, anchors) ? RebindBy::Position : RebindBy::Uv;
}

void move_trim(TrimShapes& trims, Index t, const Pose& motion) {
  for (Index v = trims.vertex_offsets[t]; v < trims.vertex_offsets[t + 1]; ++v)
    trims.vertices[v] = apply(motion, trims.vertices[v]);
  trims.placement[t] = {motion.rotation * trims.placement[t].rotation, apply(motion, trims.placement[t].translation)};
}

CarriedTrim carry(const Context& context, RebindBy by, const Binding& binding, const Surface& anchor, Index& face) {
  CarriedTrim out;
  face = kNone;
  if (anchor.triangle == kNone) {
    out.why = "it was not bound before";
    return out;
  }
  const Found found = by == RebindBy::Vertex ? by_vertex(context, binding, anchor)
                      : by == RebindBy::Uv   ? by_uv(context, anchor)
                                             : by_position(context, anchor);
  if (found.surface.triangle == kNone) {
    out.why = by == RebindBy::Vertex ? "the new cloth is collapsed or not finite there"
              : by == RebindBy::Uv   ? "no cloth of the new pattern has its texture coordinates"
                                     : "no cloth that faces the same way is within reach of its place";
    return out;
  }
  face = context.new_index->cloth().triangles.face[found.surface.triangle];
  out.carried = true;
  out.motion = found.motion;
  out.moved_mm = length(apply(found.motion, anchor.point) - anchor.point) / context.mm;
  out.turned_deg = rotation_angle_deg(found.motion.rotation, Mat3{});
  const Vec3 facing = smooth_normal(context.new_topology, found.surface);
  out.turned_over = dot(found.motion.rotation * smooth_normal(context.old_topology, anchor), facing) < kTurnedOver;
  if (by == RebindBy::Uv && !context.chart_match.empty() && uv_stray(context, anchor, found) > kOtherPart)
    out.why = "its pattern piece lies otherwise in the new layout and leads to another part of the garment";
  if (by == RebindBy::Position && context.old_pattern && context.new_pattern) {
    const Found other = by_uv(context, anchor);
    if (other.surface.triangle != kNone)
      out.disagreement_mm = length(other.surface.point - found.surface.point) / context.mm;
    if (out.disagreement_mm > context.options->disagree_mm)
      out.why = "position and texture coordinates name places " + std::to_string(std::lround(out.disagreement_mm)) +
                " mm apart";
  }
  return out;
}

/// What the author has to look at; first why many are lost, when that is known.
void report_carried(const Context& context, const Rebound& rebound, Report& report) {
  const std::vector<CarriedTrim>& carried = rebound.carried;
  const bool lost = std::any_of(carried.begin(), carried.end(), [](const CarriedTrim& t) { return !t.carried; });
  if (lost && rebound.by == RebindBy::Position && !(context.old_pattern && context.new_pattern))
    add_separate(report, {Severity::Warning, "rebind-no-uv",
                          std::string(context.old_pattern ? "the new" : "the old") +
                              " cloth has no texture coordinates, so places are found by position alone; another size "
                              "or shape needs them in both",
                          "cloth", 0, 1});
  for (std::size_t t = 0; t < carried.size(); ++t) {
    const std::string& name = context.old_table->bindings[t].name;
    if (!carried[t].carried)
      add_separate(report, {Severity::Problem, "rebind-lost", carried[t].why + "; it is bound where it was: check it",
                            name, 0, 1});
    else if (!carried[t].why.empty())
      add_separate(report, {Severity::Warning, "rebind-disagrees",
                            carried[t].why + "; check that it sits where it should", name, 0, 1});
  }
}

/// On faces that were turned over trims lie on the inner side.
void report_turned_over(const Context& context, Rebound& rebound, Report& report) {
  for (std::size_t t = 0; t < rebound.carried.size(); ++t) {
    CarriedTrim& trim = rebound.carried[t];
    if (!trim.turned_over) continue;
    const std::string what = "the new cloth faces the other way under it";
    trim.why += (trim.why.empty() ? "" : "; ") + what;
    add(report, {Severity::Warning, "rebind-turned-over",
                 what + "; check that it lies on the right side, or turn the faces over and rebind",
                 context.old_table->bindings[t].name, 0, 1});
  }
}

/// Trims keep their size: on a smaller cloth neighbours may run into one another, which no pose of it shows any more.
void report_collisions(const Context& context, Rebound& rebound, Report& report) {
  const TrimShapes& trims = *context.trims;
  std::vector<Pose> motions;
  std::vector<Box> boxes;
  for (std::size_t t = 0; t < rebound.carried.size(); ++t) {
    motions.push_back(rebound.carried[t].motion);
    boxes.push_back(bounds(vertices_of(rebound.trims, t)));
  }
  std::vector<std::pair<double, Index>> deepest(motions.size(), {FitLimits{}[Measure::Collision] * context.mm, kNone});
  for (const TrimContact& c : measure_collisions(trims, boxes, motions, context.options->bind.executor)) {
    if (c.depth > deepest[c.first].first) deepest[c.first] = {c.depth, c.second};
    if (c.depth > deepest[c.second].first) deepest[c.second] = {c.depth, c.first};
  }
  Finding worst{Severity::Warning, "rebind-collision", {}, {}, 0, 0};
  double depth = 0;
  for (std::size_t t = 0; t < deepest.size(); ++t) {
    const auto [deep, other] = deepest[t];
    if (other == kNone) continue;
    std::string& why = rebound.carried[t].why;
    const std::string what =
        "runs into " + trims.name[other] + phrase(" by %.1f mm more than before", {deep / context.mm});
    why += (why.empty() ? "" : "; ") + what;
    ++worst.count;
    if (deep <= depth) continue;
    depth = deep;
    worst.subject = trims.name[t];
    worst.message = what + ", for trims keep their size; widen their spacing or leave some out";
  }
  if (worst.count > 0) add(report, std::move(worst));
}

Result<void> check_input(const Context& context) {
  const BindTable& table = *context.old_table;
  if (context.trims->id.size() != table.bindings.size())
    return Error{ErrorCode::BadInput,
                 "there are " + std::to_string(context.trims->id.size()) + " trims and " +
                     std::to_string(table.bindings.size()) + " bindings; give the trims of this table",
                 "trims", 0};
  const ClothMesh& cloth = *context.old_cloth;
  if (cloth.positions.size() != table.cloth_vertices || cloth.face_offsets.size() - 1 != table.cloth_faces)
    return Error{ErrorCode::BadInput, "the old cloth is not the one that the table was made for", "cloth", 0};
  for (const Binding& b : table.bindings)
    if (b.anchor_face != kNone && b.anchor_face >= table.cloth_faces)
      return Error{ErrorCode::BadInput, "the anchor's face is not one of the old cloth", b.name, 0};
  return {};
}

}  // namespace

Result<Rebound> rebind(const ClothMesh& old_cloth, const BindTable& old_table, const TrimShapes& trims,
                       const ClothIndex& new_cloth, const RebindOptions& options, Report& report) {
  Context context{&old_cloth, &old_table, &trims, &new_cloth, &options, {}, {}, {}, {}, {}, 1};
  if (const auto good = check_input(context); !good) return good.error();
  context.mm = old_table.unit.mm_per_unit > 0 ? 1 / old_table.unit.mm_per_unit : 1;
  context.old_topology = build_topology(old_cloth);
  context.new_topology = build_topology(new_cloth.cloth());
  std::vector<Surface> anchors;
  for (const Binding& b : old_table.bindings) anchors.push_back(old_anchor(context, b));
  settle_patterns(context, anchors);
  const auto way = settle_way(context, anchors);
  if (!way) return way.error();

  Rebound out;
  out.by = *way;
  out.trims = trims;
  BindOptions bind_options = options.bind;
  for (Index t = 0; t < anchors.size(); ++t) {
    Index face = kNone;
    out.carried.push_back(carry(context, out.by, old_table.bindings[t], anchors[t], face));
    if (face != kNone) bind_options.face[t] = face;
    if (out.carried.back().carried) move_trim(out.trims, t, out.carried.back().motion);
  }
  report_carried(context, out, report);
  report_turned_over(context, out, report);
  report_collisions(context, out, report);
  auto table = bind(new_cloth, out.trims, old_table.unit, bind_options, report);
  if (!table) return table.error();
  out.table = std::move(*table);
  out.table.up = old_table.up;
  for (Index t = 0; t < anchors.size(); ++t) {
    out.table.bindings[t].layer = old_table.bindings[t].layer;
    out.table.bindings[t].runner_up = old_table.bindings[t].runner_up;
  }
  return out;
}

}  // namespace trimtack
