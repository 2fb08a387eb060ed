// SPDX-License-Identifier: MIT
// One binding per trim: layer, anchor, patch, weights.
#include "trimtack/bind.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "core/memory.hpp"
#include "core/phrase.hpp"
#include "core/scratch_pool.hpp"
#include "runtime/frame.hpp"
#include "stages/bind/choice.hpp"
#include "stages/bind/cords.hpp"
#include "stages/bind/layer.hpp"
#include "stages/bind/patch.hpp"
#include "stages/bind/pieces.hpp"
#include "stages/bind/stems.hpp"
#include "stages/find/copies.hpp"

namespace trimtack {
namespace {

constexpr double kDegPerRad = 57.295779513082320877;
constexpr double kFixedRadiusMm = 12, kLargestRadiusMm = 25;
// Trims are bound by ranges, and so many ranges at a time: what they give is put together while it is in the caches.
constexpr std::size_t kTrimsPerRange = 32, kRangesPerRound = 64;
// A trim so small is good enough where its rim moves by a quarter of the noise to be expected of the cloth itself, a
// stitch where its ends move by as much as the cloth: nobody can see more, and garments have thousands of them.
constexpr double kUnseenNoise = 0.25, kUnseenStitchNoise = 1;
// Patches of tiny trims are grown in these steps; most need no more.
constexpr std::array<Index, 2> kTinyPatches{12, 24};
// Bends in frames are measured on this many vertices at most, and limited to what cloth does.
constexpr std::size_t kCurvatureVertices = 32;
constexpr double kSharpestBendMm = 5, kGentlestBendMm = 2000;

/// Bindings of one range of trims with their own item arrays, merged in order afterwards.
struct RangeResult {
  std::vector<Binding> bindings;
  std::vector<Patch> patches;
  std::vector<Index> vertices;
  std::vector<double> c, a, b;
  Report report;
};

struct Job {
  const ClothIndex* index;
  const ClothTopology* topology;
  const TrimShapes* trims;
  const BindOptions* options;
  const SharedShapes* shared;
  double mm_per_unit;
};

Index add_patch(RangeResult& out, const ClothMesh& cloth, const FrameWeights& weights, std::span<const Foot> feet) {
  Patch patch;
  patch.first = static_cast<Index>(out.vertices.size());
  patch.count = static_cast<Index>(weights.vertices.size());
  out.vertices.insert(out.vertices.end(), weights.vertices.begin(), weights.vertices.end());
  out.a.insert(out.a.end(), weights.a.begin(), weights.a.end());
  out.b.insert(out.b.end(), weights.b.begin(), weights.b.end());
  out.c.resize(out.c.size() + weights.vertices.size(), 0.0);
  const std::span<double> c(out.c.data() + patch.first, patch.count);
  for (const Foot& foot : feet)
    for (std::size_t k = 0; k < 3; ++k) {
      const Index vertex = cloth.triangles.triangles[foot.surface.triangle][k];
      const auto at = std::find(weights.vertices.begin(), weights.vertices.end(), vertex);
      c[static_cast<std::size_t>(at - weights.vertices.begin())] += foot.share * foot.surface.bary[k];
    }
  const auto sums = frame::weighted_sums<double>(reinterpret_cast<const double*>(cloth.positions.data()), sizeof(Vec3),
                                                 weights.vertices.data(), patch.count, c.data(), weights.a.data(),
                                                 weights.b.data(), 1);
  frame::polar_frame(sums.t, sums.b, patch.frame.m.data());
  patch.origin = {sums.base[0] + sums.offset[0], sums.base[1] + sums.offset[1], sums.base[2] + sums.offset[2]};
  patch.reach = std::sqrt(sums.squared_reach);
  out.patches.push_back(patch);
  return static_cast<Index>(out.patches.size() - 1);
}

/// The corners of the anchor triangles, each vertex once.
std::vector<Index> anchor_corners(const ClothMesh& cloth, std::span<const Foot> feet) {
  std::vector<Index> out;
  for (const Foot& foot : feet)
    for (const Index v : cloth.triangles.triangles[foot.surface.triangle])
      if (std::find(out.begin(), out.end(), v) == out.end()) out.push_back(v);
  return out;
}

/// The sharpest change of curvature (largest principal one, absolute) that the frames show round an anchor.
/// @return a negative number when no frame can tell
double curvature_in_frames(std::span<const GrownVertex> grown, std::span<const std::span<const Vec3>> frames,
                           const std::vector<Vec3>& rest, double radius) {
  std::vector<FitPoint> points;
  for (const GrownVertex& g : grown) {
    if (points.size() >= kCurvatureVertices || (points.size() >= 10 && g.distance > radius)) break;
    points.push_back({g.x, g.y, g.z});
  }
  const std::size_t n = points.size();
  std::vector<double> a(n), b(n), xx(n), xy(n), yy(n);
  if (!fit_frame(points, 2, a, b) || !fit_curvature(points, xx, xy, yy)) return -1;
  // Second fundamental form along the deformed normal; stretch is small, so the rest metric will do.
  const auto form = [&](std::span<const Vec3> q, std::array<double, 3>& out) {
    Vec3 t, v, dxx, dxy, dyy;
    for (std::size_t i = 0; i < n; ++i) {
      const Vec3 p = q[grown[i].vertex] - q[grown[0].vertex];
      t += a[i] * p, v += b[i] * p, dxx += xx[i] * p, dxy += xy[i] * p, dyy += yy[i] * p;
    }
    const Vec3 normal = normalized(cross(t, v));
    out = {dot(dxx, normal), dot(dxy, normal), dot(dyy, normal)};
    return normal != Vec3{} && std::isfinite(out[0] + out[1] + out[2]);
  };
  std::array<double, 3> at_rest{}, now{};
  if (!form(rest, at_rest)) return -1;
  double sharpest = -1;
  for (const auto& frame : frames) {
    if (!form(frame, now)) continue;
    const double e = now[0] - at_rest[0], f = now[1] - at_rest[1], g = now[2] - at_rest[2];
    sharpest = std::max(sharpest, std::abs(0.5 * (e + g)) + std::hypot(0.5 * (e - g), f));
  }
  return sharpest;
}

/// @param size  diagonal of the trim: under a large one a larger patch is the cloth that it stands on
/// @param wide  false for stitches
Expectation expectation(const Job& job, double size, bool wide) {
  Expectation out;
  out.curvature = job.options->bend_radius_mm > 0 ? job.mm_per_unit / job.options->bend_radius_mm : 0;
  out.noise = job.options->noise_mm / job.mm_per_unit;
  const double size_mm = size * job.mm_per_unit;
  out.fixed_radius = std::clamp(size_mm / 3, kFixedRadiusMm, kLargestRadiusMm) / job.mm_per_unit;
  const double unseen = (wide ? kUnseenNoise : kUnseenStitchNoise) * job.options->noise_mm;
  if (size_mm > 0 && size_mm < kTinyTrimMm) out.good_enough = unseen / (0.5 * size_mm);
  return out;
}

/// Says when the trim is too long for the bend it must expect, and into how many pieces it would have to be cut.
void note_length(const Job& job, Index t, const Vec3& normal, double curvature, Binding& binding, Report& report) {
  if (!(curvature > 0) || binding.role == Role::Stitching) return;
  const double bend_mm = job.mm_per_unit / curvature;
  const std::span<const Vec3> vertices = vertices_of(*job.trims, t);
  const Box box = bounds(vertices);
  if (bend_standoff(length(box.max - box.min) * job.mm_per_unit, bend_mm) <= job.options->gap_limit_mm) return;
  const double length_mm = length_along(vertices, normal) * job.mm_per_unit;
  const double standoff = bend_standoff(length_mm, bend_mm);
  if (standoff <= job.options->gap_limit_mm) return;
  const Index pieces = pieces_within(length_mm, bend_mm, job.options->gap_limit_mm);
  const std::string text = phrase(
      "%.1f mm long on a bend of radius %.0f mm: stands off by %.1f mm; %.0f rigid pieces would keep within %.1f mm",
      {length_mm, bend_mm, standoff, static_cast<double>(pieces), job.options->gap_limit_mm});
  binding.notes.emplace_back(text);
  add(report, {Severity::Note, "trim-too-long", text, binding.name, 0, 1});
}

// Cloth whose angles at a vertex miss a full turn by this much (45 degrees) comes to a point there and has no plane.
constexpr double kPointedCloth = 0.785;

/// Says when the anchor lies at the tip of a cone or in a ruffle, where no frame of the cloth is the right one.
void note_point(const Job& job, std::span<const Index> corners, Binding& binding, Report& report) {
  if (binding.role == Role::Stitching) return;
  double most = 0;
  for (const Index v : corners) {
    const Index w = job.topology->welded(v);
    if (!surely_flat(*job.topology, w, kPointedCloth)) most = std::max(most, std::abs(angle_deficit(*job.topology, w)));
  }
  if (most < kPointedCloth) return;
  char text[160];
  std::snprintf(
      text, sizeof text,
      "the cloth comes to a point under it (its angles miss a full turn by %.0f degrees): no frame follows it "
      "well; move the trim off the point",
      most * kDegPerRad);
  binding.notes.emplace_back(text);
  add(report, {Severity::Warning, "cloth-pointed", text, binding.name, 0, 1});
}

/// Everything that is reused from trim to trim.
struct Scratch {
  ShapeSampler sampler;
  double size = 0;  ///< of the trim at hand
  LayerFinder finder;
  StemFinder stems;
  Stem stem;  ///< of the trim at hand
  CordFinder cords;
  Cord cord;  ///< through the trim at hand
  PatchGrower grower;
  FrameChooser chooser;
  explicit Scratch(const Job& job)
      : finder(*job.index, *job.topology, job.mm_per_unit),
        stems(*job.index, *job.topology, job.mm_per_unit),
        cords(*job.index, *job.topology, job.mm_per_unit),
        grower(*job.topology) {}
};

const Standing& find_standing(const Job& job, Index t, Scratch& scratch, Report& report) {
  const TrimShapes& trims = *job.trims;
  const TrimSampler& shape = scratch.sampler.sample(*job.shared, trims, t, job.mm_per_unit);
  scratch.size = shape.size();
  scratch.stem = {};
  scratch.cord = {};
  LayerWish wish;
  wish.one_sheet = keeps_to_one_sheet(trims, t);
  if (const auto it = job.options->face.find(t); it != job.options->face.end()) wish.face = it->second;
  if (const auto it = job.options->layer.find(trims.id[t]); it != job.options->layer.end()) wish.component = it->second;
  const Standing& standing = scratch.finder.find(shape, wish);
  if (standing.layer_missing) {
    add_separate(report,
                 {Severity::Problem, "layer-not-cloth",
                  "component " + std::to_string(wish.component) +
                      " has no cloth to carry this trim, so the layer was chosen instead; name another component",
                  trims.name[t], 0, 1});
    scratch.finder.find(shape, {kNone, kNone, wish.one_sheet});
  }
  const bool chosen = wish.component == kNone && wish.face == kNone;
  if (!chosen || wish.one_sheet || standing.two_sided || trims.role[t] == Role::Stitching ||
      shape.size() * job.mm_per_unit < kTinyTrimMm)
    return standing;
  scratch.cord = scratch.cords.find(vertices_of(trims, t), shape, standing);
  if (scratch.cord.carries) return scratch.finder.find(shape, {scratch.cord.component, kNone, false});
  scratch.stem = scratch.stems.find(vertices_of(trims, t), shape, standing);
  if (scratch.stem.face != kNone && scratch.stem.opening) {
    scratch.finder.find(shape, {kNone, scratch.stem.face, false});
  }
  return standing;
}

/// A triangle this thin (height over longest edge) gives no frame worth having.
constexpr double kThinnest = 1e-4;

bool has_frame(const ClothMesh& cloth, Index triangle) {
  const Tri& c = cloth.triangles.triangles[triangle];
  const Vec3 ab = cloth.positions[c[1]] - cloth.positions[c[0]], ac = cloth.positions[c[2]] - cloth.positions[c[0]];
  const double longest = std::max({squared_length(ab), squared_length(ac), squared_length(ac - ab)});
  return length(cross(ab, ac)) > kThinnest * longest;
}

/// The one triangle that a trim follows when triangles are asked for: that of the foot with the largest share, or the
/// nearest to it that has an area.
Foot single_foot(const Job& job, const Standing& standing) {
  const ClothMesh& cloth = *job.topology->cloth;
  Foot best = standing.feet.front();
  for (const Foot& foot : standing.feet)
    if (foot.share > best.share * (1 + 1e-9)) best = foot;
  best.share = 1;
  if (has_frame(cloth, best.surface.triangle)) return best;
  for (const double reach_mm : {0.1, 1.0, 10.0, 100.0})
    for (const Surface& near : job.index->within(best.surface.point, reach_mm / job.mm_per_unit))
      if (has_frame(cloth, near.triangle)) {
        best.surface = near;
        return best;
      }
  return best;
}

/// What a trim stands on, ready for growing a patch.
struct Ground {
  AnchorFrame frame;
  std::vector<PatchSeed> seeds;
};

Ground ground_of(const Job& job, std::span<const Foot> feet) {
  Ground out;
  Vec3 origin, normal;
  const Vec3 start = feet.front().surface.point;
  for (const Foot& foot : feet) {
    const Vec3 n = smooth_normal(*job.topology, foot.surface);
    origin += foot.share * (foot.surface.point - start);
    normal += foot.share * (dot(n, normal) < 0 ? -n : n);
    out.seeds.push_back({job.topology->cloth->triangles.face[foot.surface.triangle], foot.surface.point});
  }
  normal = normalized(normal);
  if (normal == Vec3{}) normal = {0, 0, 1};
  out.frame = frame_about(start + origin, normal);
  return out;
}

// What nothing holds nearer to the cloth than this (mm) hangs or floats: thread shanks of coat buttons are up to 3 mm.
constexpr double kFloatsMm = 3;

void note_standing(const Job& job, const Standing& standing, bool triangle_only, bool on_cord, Binding& binding,
                   Report& report) {
  binding.layer = standing.layer;
  binding.runner_up = standing.runner_up;
  binding.gap = standing.gap;
  if (standing.two_sided) binding.notes.emplace_back("two-sided: clamps its layer");
  if (standing.feet.size() > 1)
    binding.notes.push_back("bridges " + std::to_string(standing.feet.size()) + " panels" +
                            (triangle_only ? ", follows one of them" : ""));
  if (standing.same_cloth_contest) binding.notes.emplace_back("another sheet of the same cloth is near");
  const double gap = standing.gap * job.mm_per_unit;
  if (standing.feet.empty() || standing.two_sided || on_cord || gap <= kFloatsMm || binding.role == Role::Stitching)
    return;
  binding.notes.push_back(phrase(
      "stands %.1f mm off its cloth at rest; unless it hangs there, move it onto the cloth in the export", {gap}));
  add(report, {Severity::Note, "trim-floats", binding.notes.back(), binding.name, 0, 1});
}

/// Grows the patch and chooses the frames; of tiny trims in steps, for most need little.
const ChosenFrames& choose_frames(const Job& job, Index t, const Ground& ground, std::span<const Index> corners,
                                  Scratch& scratch, Binding& binding, Report& report) {
  const bool wide = binding.role != Role::Stitching;
  Expectation expect = expectation(job, scratch.size, wide);
  const bool triangle_only = job.options->frame == FrameChoice::Triangle;
  GrowLimits limits = grow_limits(expect, wide);
  if (triangle_only) limits.most = std::min(limits.most, kTinyPatches.back());  // for the fallback
  PatchGrower& grower = scratch.grower;
  FrameChooser& chooser = scratch.chooser;
  std::span<const GrownVertex> grown;
  if (expect.good_enough > 0 && job.options->frames.empty() && !triangle_only) {
    for (const Index most : kTinyPatches) {
      if (most >= limits.most) break;
      grown = grown.empty() ? grower.grow(ground.frame, ground.seeds, most, limits.distance, limits.enough)
                            : grower.grow_on(most, limits.distance, limits.enough);
      const ChosenFrames& frames = chooser.choose(grown, corners, expect, job.options->frame, wide, true);
      if (frames.chosen.valid) {
        note_length(job, t, ground.frame.normal, expect.curvature, binding, report);
        return frames;
      }
    }
  }
  grown = grown.empty() ? grower.grow(ground.frame, ground.seeds, limits.most, limits.distance, limits.enough)
                        : grower.grow_on(limits.most, limits.distance, limits.enough);
  if (!job.options->frames.empty()) {
    const double seen =
        curvature_in_frames(grown, job.options->frames, job.topology->cloth->positions, expect.fixed_radius);
    if (seen >= 0)
      expect.curvature = std::clamp(seen, job.mm_per_unit / kGentlestBendMm, job.mm_per_unit / kSharpestBendMm);
  }
  note_length(job, t, ground.frame.normal, expect.curvature, binding, report);
  const ChosenFrames& frames = chooser.choose(grown, corners, expect, job.options->frame, wide);
  if (!frames.misses_bend || grown.size() < limits.enough) return frames;
  grown = grower.grow_on(limits.most, limits.distance, kEnoughForBend);
  return chooser.choose(grown, corners, expect, job.options->frame, wide);
}

Binding bind_one(const Job& job, Index t, Scratch& scratch, RangeResult& out) {
  const ClothMesh& cloth = *job.topology->cloth;
  const TrimShapes& trims = *job.trims;
  const bool triangle_only = job.options->frame == FrameChoice::Triangle;
  Binding binding;
  binding.trim = trims.id[t];
  binding.name = trims.name[t];
  binding.role = trims.role[t];
  const Standing& standing = find_standing(job, t, scratch, out.report);
  note_standing(job, standing, triangle_only, scratch.cord.carries, binding, out.report);
  note_stem(scratch.stem, cloth, binding, out.report);
  note_cord(scratch.cord, binding, out.report);
  if (standing.feet.empty()) {
    add(out.report,
        {Severity::Problem, "trim-unbound",
         "this trim has no area, so there is nothing to bind; leave it out or give it faces", trims.name[t], 0, 1});
    return binding;
  }
  std::span<const Foot> feet(standing.feet);
  Foot one;
  if (triangle_only) {
    one = single_foot(job, standing);
    feet = {&one, 1};
  }
  const Surface& anchor = feet.front().surface;
  binding.anchor_face = cloth.triangles.face[anchor.triangle];
  binding.anchor_triangle = cloth.triangles.triangles[anchor.triangle];
  binding.anchor_weights = anchor.bary;
  const std::vector<Index> corners = anchor_corners(cloth, feet);
  note_point(job, corners, binding, out.report);
  const ChosenFrames& frames = choose_frames(job, t, ground_of(job, feet), corners, scratch, binding, out.report);
  if (!frames.chosen.valid) return binding;
  binding.patch = add_patch(out, cloth, frames.chosen, feet);
  if (frames.fallback.valid) binding.fallback = add_patch(out, cloth, frames.fallback, feet);
  binding.order = frames.chosen.order;
  binding.radius = frames.chosen.radius;
  binding.jitter_deg_per_mm = frames.chosen.jitter * kDegPerRad / job.mm_per_unit;
  binding.bias_deg = frames.chosen.bias * kDegPerRad;
  binding.error_deg = frames.chosen.error * kDegPerRad;
  return binding;
}

/// Moves what ranges gave to the end of the table, in order; lists that know nothing of each other by one call each.
struct Append {
  BindTable& table;
  std::span<RangeResult> parts;
  Report& report;
  Index patch_shift;  ///< patches that the table held before

  static constexpr std::size_t kCalls = 3;
  void operator()(std::size_t call) const { call == 0 ? bindings() : (call == 1 ? items() : weights()); }

 private:
  void bindings() const {
    Index shift = patch_shift;
    for (RangeResult& part : parts) {
      for (Binding& b : part.bindings) {
        if (b.patch != kNone) b.patch += shift;
        if (b.fallback != kNone) b.fallback += shift;
        table.bindings.push_back(std::move(b));
      }
      for (Finding& f : part.report.findings) add(report, std::move(f));
      shift += static_cast<Index>(part.patches.size());
    }
  }
  void items() const {
    for (RangeResult& part : parts) {
      for (Patch& p : part.patches) p.first += static_cast<Index>(table.vertices.size());
      table.patches.insert(table.patches.end(), part.patches.begin(), part.patches.end());
      table.vertices.insert(table.vertices.end(), part.vertices.begin(), part.vertices.end());
      table.c.insert(table.c.end(), part.c.begin(), part.c.end());
    }
  }
  void weights() const {
    for (const RangeResult& part : parts) {
      table.a.insert(table.a.end(), part.a.begin(), part.a.end());
      table.b.insert(table.b.end(), part.b.begin(), part.b.end());
    }
  }
};

/// Empties a range, which keeps its room.
void clear(RangeResult& part) {
  part.bindings.clear();
  part.patches.clear();
  part.vertices.clear();
  for (auto* list : {&part.c, &part.a, &part.b}) list->clear();
  part.report = {};
}

/// Room for the whole table, as far as the first round lets guess.
void reserve_table(BindTable& table, std::span<const RangeResult> parts, double rounds) {
  std::size_t items = 0, patches = 0;
  for (const RangeResult& part : parts) {
    items += part.vertices.size();
    patches += part.patches.size();
  }
  const auto whole = [rounds](std::size_t count) {
    return static_cast<std::size_t>(rounds * static_cast<double>(count)) + count / 8;
  };
  for (auto* list : {&table.c, &table.a, &table.b}) reserve_large(*list, whole(items));
  reserve_large(table.vertices, whole(items));
  table.patches.reserve(whole(patches));
}

/// Binds all trims; while one round is bound the one before is put together.
void bind_all(const Job& job, BindTable& table, Report& report) {
  const Executor& executor = job.options->executor;
  const std::size_t count = job.trims->id.size();
  ScratchPool<Scratch> pool;
  const auto bind_range = [&](std::size_t begin, std::size_t end, RangeResult& out) {
    clear(out);
    pool.with([&] { return std::make_unique<Scratch>(job); },
              [&](Scratch& scratch) {
                for (std::size_t t = begin; t < end; ++t)
                  out.bindings.push_back(bind_one(job, static_cast<Index>(t), scratch, out));
              });
  };
  reserve_large(table.bindings, count);
  std::vector<RangeResult> bound, before;
  for (std::size_t first = 0; first < count || !before.empty();) {
    const std::size_t last = std::min(first + kTrimsPerRange * kRangesPerRound, count);
    bound.resize((last - first + kTrimsPerRange - 1) / kTrimsPerRange);
    const Append append{table, before, report, static_cast<Index>(table.patches.size())};
    const std::size_t calls = before.empty() ? 0 : Append::kCalls;
    for_ranges(executor, calls + bound.size(), 1, [&](std::size_t task, std::size_t) {
      if (task < calls) return append(task);
      const std::size_t begin = first + (task - calls) * kTrimsPerRange;
      bind_range(begin, std::min(begin + kTrimsPerRange, last), bound[task - calls]);
    });
    if (first == 0) reserve_table(table, bound, static_cast<double>(count) / static_cast<double>(last));
    first = last;
    std::swap(bound, before);
  }
}

/// Numbers that the solver can work with, as many as there must be.
Result<void> check_bounds(const ClothMesh& mesh, const TrimShapes& trims, const BindOptions& options) {
  if (auto checked = check_reach(mesh.positions, "cloth"); !checked) return checked;
  if (auto checked = check_reach(trims.vertices, "trims"); !checked) return checked;
  for (std::size_t k = 0; k < options.frames.size(); ++k) {
    const std::string name = "frame " + std::to_string(k);
    if (options.frames[k].size() != mesh.positions.size()) {
      return Error{ErrorCode::BadInput,
                   "frame has " + std::to_string(options.frames[k].size()) + " vertices, the cloth has " +
                       std::to_string(mesh.positions.size()) + "; give frames of this cloth",
                   name, 0};
    }
    if (auto checked = check_reach(options.frames[k], name); !checked) return checked;
  }
  return {};
}

}  // namespace

Result<BindTable> bind(const ClothIndex& cloth, const TrimShapes& trims, const Unit& unit, const BindOptions& options,
                       Report& report) {
  const ClothMesh& mesh = cloth.cloth();
  BindTable table;
  table.unit = unit;
  table.cloth_vertices = static_cast<Index>(mesh.positions.size());
  table.cloth_faces = static_cast<Index>(mesh.face_offsets.size() - 1);
  if (auto checked = check_bounds(mesh, trims, options); !checked) return checked.error();
  ClothTopology topology;
  for_ranges(options.executor, 2, 1, [&](std::size_t task, std::size_t) {
    if (task == 0)
      topology = build_topology(mesh, options.executor);
    else
      table.fingerprint = cloth_fingerprint(table.cloth_vertices, mesh.face_offsets, mesh.face_corners);
  });
  const bool usable =
      std::any_of(topology.face_normal.begin(), topology.face_normal.end(), [](const Vec3& n) { return n != Vec3{}; });
  if (!usable)
    return Error{ErrorCode::BadInput, "the cloth has no face with an area; nothing can be bound to it", "cloth", 0};
  const SharedShapes shared(trims);
  const Job job{&cloth, &topology, &trims, &options, &shared, unit.mm_per_unit > 0 ? unit.mm_per_unit : 1};
  for (const auto& [trim, face] : options.face)
    if (face >= table.cloth_faces)
      return Error{ErrorCode::Usage, "face " + std::to_string(face) + " is not one of the cloth", std::to_string(trim),
                   0};
  bind_all(job, table, report);
  return table;
}

}  // namespace trimtack
