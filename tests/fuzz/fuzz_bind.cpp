// SPDX-License-Identifier: MIT
// Laws of binding and following, on small meshes built from any bytes: the same table for any executor; the table can
// be written and opened; at rest every chosen pose is the identity; on any cloth every pose is finite and a proper
// rotation whose quaternion has norm 1 to 1e-7; rebinding to the same cloth carries every trim; measures of fit are no
// NaN.
#include <algorithm>
#include <cmath>
#include <cstdint>
#include <string>

#include "fuzz/byte_garment.hpp"
#include "fuzz/fuzz_check.hpp"
#include "support/reversed_executor.hpp"
#include "trimtack/fit.hpp"
#include "trimtack/follow.hpp"
#include "trimtack/footprint.hpp"
#include "trimtack/pipeline.hpp"
#include "trimtack/rebind.hpp"
#include "trimtack/version.h"

using namespace trimtack;

namespace {

struct Followed {
  std::vector<Pose> poses;
  std::vector<PoseQuality> quality;
};

Followed follow_all(const std::vector<std::byte>& bytes, std::size_t count, const std::vector<Vec3>& cloth) {
  Followed out{std::vector<Pose>(count), std::vector<PoseQuality>(count)};
  const Result<void> done = follow(bytes, cloth, out.poses, out.quality);
  require_law(done.has_value(), "a cloth of the right size can be followed");
  for (const Pose& pose : out.poses) {
    require_law(is_finite(pose.translation), "finite translation");
    const Quat q = to_quat(pose.rotation);
    const double norm = std::sqrt(q.x * q.x + q.y * q.y + q.z * q.z + q.w * q.w);
    require_law(std::abs(norm - 1) < 1e-7, "unit quaternion");
    require_law(dot(cross(pose.rotation.column(0), pose.rotation.column(1)), pose.rotation.column(2)) > 0.999,
                "a proper rotation");
  }
  return out;
}

void check_rest(const BoundGarment& bound, const Followed& rest) {
  const Box box = bounds(bound.cloth->positions);
  const double scale = std::max({length(box.max), length(box.min), 1e-300});
  for (std::size_t i = 0; i < rest.poses.size(); ++i) {
    if (rest.quality[i] != PoseQuality::Chosen) continue;
    require_law(rotation_angle_deg(rest.poses[i].rotation, Mat3{}) < 1e-5, "no turn at rest");
    const Vec3 o = bound.table.patches[bound.table.bindings[i].patch].origin;
    require_law(length(apply(rest.poses[i], o) - o) <= 1e-9 * scale, "no shift at rest");
  }
}

std::vector<Vec3> crumpled(const std::vector<Vec3>& cloth, fuzz::ByteSource& in) {
  std::vector<Vec3> out = cloth;
  const double size = std::max(length(bounds(cloth).max - bounds(cloth).min), 1e-6);
  std::uint64_t state = in.byte() + 256U * in.byte();
  for (Vec3& p : out) {
    for (int i = 0; i < 3; ++i) {
      state = state * 6364136223846793005ULL + 1442695040888963407ULL;
      p[i] += (static_cast<double>(state >> 40U) * 0x1.0p-24 - 0.5) * size * 0.1;
    }
  }
  return out;
}

void check_fit(const BoundGarment& bound, const Parts& parts, const std::vector<Vec3>& cloth, const Followed& now) {
  FitOptions options;
  const Footprints feet = find_footprints(*bound.index, bound.trims, bound.table);
  const FitModel model = prepare_fit(*bound.cloth, bound.trims, bound.table, feet, parts.rows, options);
  FitState state = begin_fit(model, options);
  std::vector<FitMeasures> measures(bound.table.bindings.size());
  measure_fit(model, cloth, now.poses, now.quality, 1, options, state, measures);
  for (const FitMeasures& one : measures) {
    for (const double value : one.value) require_law(!std::isnan(value), "measures are no NaN");
  }
  (void)finish_fit(model, std::move(state), options);
}

void check_rebind(const BoundGarment& bound) {
  RebindOptions options;
  Report report;
  const Result<Rebound> again = rebind(*bound.cloth, bound.table, bound.trims, *bound.index, options, report);
  require_law(again.has_value(), "a table is carried to its own cloth");
  require_law(again->by == RebindBy::Vertex, "the same cloth is known by its vertices");
  require_law(encode(again->table, TT_TABLE_FORMAT_LATEST).has_value(), "the new table can be written");
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size > 300) return 0;
  fuzz::ByteSource in(data, size);
  const std::uint8_t bits = in.byte();
  PipelineOptions options;
  options.bind.frame =
      (bits & 3U) == 1 ? FrameChoice::Triangle : ((bits & 3U) == 2 ? FrameChoice::Patch : FrameChoice::Auto);
  options.pieces = (bits & 4U) != 0;
  options.identify.unit = Unit{1, "mm", 1, {"declared"}};
  // The author's word: the first component is cloth, so that binding is reached often.
  options.identify.overrides.push_back({Role::Cloth, SelectorKind::Component, "0"});
  Report report;
  const Result<Garment> garment = take_apart(fuzz::make_byte_garment(in), options, report);
  if (!garment) return 0;
  const Result<BoundGarment> bound = bind_garment(*garment, options, report);
  PipelineOptions other = options;
  other.bind.executor = test::reversed_executor();
  Report other_report;
  const Result<BoundGarment> reversed = bind_garment(*garment, other, other_report);
  require_law(bound.has_value() == reversed.has_value(), "the same outcome for any executor");
  if (!bound) {
    require_law(bound.error().code == ErrorCode::BadInput && !bound.error().message.empty(), "errors say why");
    return 0;
  }
  require_law(bound->table == reversed->table, "the same table for any executor");
  require_law(bound->table.bindings.size() == garment->parts.trims.size(), "one binding a trim");
  const Result<std::vector<std::byte>> bytes = encode(bound->table, TT_TABLE_FORMAT_LATEST);
  require_law(bytes.has_value(), "the table can be written: " + (bytes ? std::string() : to_text(bytes.error())));
  const std::vector<Vec3>& rest = bound->cloth->positions;
  const std::size_t count = bound->table.bindings.size();
  const Followed at_rest = follow_all(*bytes, count, rest);
  check_rest(*bound, at_rest);
  const std::vector<Vec3> moved = crumpled(rest, in);
  const Followed now = follow_all(*bytes, count, moved);
  std::vector<Vec3> baked(bound->trims.vertices.size());
  bake(bound->trims, now.poses, baked);
  for (const Vec3& p : baked) require_law(is_finite(p), "baked vertices are finite");
  if ((bits & 8U) != 0) check_fit(*bound, garment->parts, moved, now);
  if ((bits & 16U) != 0) check_rebind(*bound);
  return 0;
}
