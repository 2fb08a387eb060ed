// SPDX-License-Identifier: MIT
// Following and baking. All arithmetic of a pose happens in the runtime.
#include "trimtack/follow.hpp"

#include <algorithm>
#include <array>
#include <string>

#include "runtime/wide_apply.hpp"
#include "stages/fit/usable_cloth.hpp"
#include "trimtack/runtime.h"

namespace trimtack {
namespace {

/// Bindings per task: some hundred microseconds of work, so that starting a task costs nothing.
constexpr std::size_t kBindingsPerTask = 512;
/// Poses held on the stack at a time.
constexpr std::size_t kBatch = 64;

Error refused(runtime::Status status, const runtime::Table& table) {
  return {ErrorCode::BadInput, std::string(runtime::text(status)) + "; bind the garment again to get a whole table",
          "binding table, byte " + std::to_string(table.fault_offset()), 0};
}

Error wrong_count(std::size_t have, const tt_info& info) {
  return {ErrorCode::BadInput,
          "has " + std::to_string(have) + " vertices where the table's cloth has " +
              std::to_string(info.cloth_vertices) + "; give the cloth the table was made for, or run rebind",
          "frame", 0};
}

PoseQuality quality_of(std::uint32_t flags) {
  if ((flags & TT_POSE_LOST) != 0) return PoseQuality::Lost;
  if ((flags & TT_POSE_STRETCHED) != 0) return PoseQuality::Stretched;
  return (flags & TT_POSE_FALLBACK) != 0 ? PoseQuality::Fallback : PoseQuality::Chosen;
}

Pose to_pose(const tt_pose_f64& from) {
  std::array<double, 12> m{};
  tt_pose_matrix_f64(&from, m.data());
  return {Mat3{{m[0], m[1], m[2], m[4], m[5], m[6], m[8], m[9], m[10]}}, {m[3], m[7], m[11]}};
}

Result<runtime::Table> open(std::span<const std::byte> bytes) {
  runtime::Table table;
  const runtime::Status status = table.open(bytes);
  if (status != TT_OK) return refused(status, table);
  return table;
}

const double* numbers(std::span<const Vec3> points) { return points.empty() ? nullptr : &points[0].x; }

}  // namespace

const char* to_text(PoseQuality quality) {
  static constexpr const char* kWords[] = {"chosen", "fallback", "stretched", "lost"};
  return kWords[static_cast<std::size_t>(quality)];
}

Result<void> follow(std::span<const std::byte> table_bytes, std::span<const Vec3> deformed, std::span<Pose> out,
                    std::span<PoseQuality> quality, const Executor& executor) {
  const Result<runtime::Table> table = open(table_bytes);
  if (!table) return table.error();
  return follow(*table, deformed, out, quality, executor);
}

Result<void> follow(const runtime::Table& table, std::span<const Vec3> deformed, std::span<Pose> out,
                    std::span<PoseQuality> quality, const Executor& executor) {
  const tt_info info = table.info();
  if (info.format == 0) return refused(TT_NOT_OPEN, table);
  if (deformed.size() != info.cloth_vertices) return wrong_count(deformed.size(), info);
  const std::size_t count = info.binding_count;
  if (out.size() != count || (!quality.empty() && quality.size() != count))
    return Error{ErrorCode::Usage, "the table has " + std::to_string(count) + "; give room for one each",
                 std::to_string(out.size()) + " poses", 0};
  for_ranges(executor, count, kBindingsPerTask, [&](std::size_t begin, std::size_t end) {
    std::array<tt_pose_f64, kBatch> poses;
    for (std::size_t first = begin; first < end; first += kBatch) {
      const std::size_t n = std::min(kBatch, end - first);
      tt_evaluate_f64(table.c_table(), numbers(deformed), deformed.size(), sizeof(Vec3), first, n, poses.data());
      for (std::size_t i = 0; i < n; ++i) {
        out[first + i] = to_pose(poses[i]);
        if (!quality.empty()) quality[first + i] = quality_of(poses[i].flags);
      }
    }
  });
  return {};
}

Result<FrameState> check_frame(std::span<const std::byte> table_bytes, std::span<const Vec3> deformed) {
  const Result<runtime::Table> table = open(table_bytes);
  if (!table) return table.error();
  return check_frame(*table, deformed);
}

Result<FrameState> check_frame(const runtime::Table& table, std::span<const Vec3> deformed, bool all_usable) {
  const tt_info info = table.info();
  if (info.format == 0) return refused(TT_NOT_OPEN, table);
  if (deformed.size() != info.cloth_vertices) return wrong_count(deformed.size(), info);
  tt_cloth_state state;
  if (all_usable)
    state = check_usable_cloth(table.c_table(), numbers(deformed));
  else
    tt_check_cloth_f64(table.c_table(), numbers(deformed), deformed.size(), sizeof(Vec3), &state);
  FrameState out;
  out.mirrored = state.mirrored == TT_MIRRORED_YES
                     ? Mirrored::Yes
                     : (state.mirrored == TT_MIRRORED_NO ? Mirrored::No : Mirrored::Unknown);
  out.unusable_vertices = state.unusable_vertices;
  out.scale = state.scale;
  return out;
}

namespace {

/// apply() of each point.
void move_points(const Pose& pose, std::span<const Vec3> rest, std::span<Vec3> out) {
  std::size_t done = 0;
#ifdef TRIMTACK_WIDE
  if (!rest.empty() && __builtin_cpu_supports("avx512f")) {
    done = frame::wide::points_before_line(out.data(), sizeof(Vec3), rest.size());
    for (std::size_t i = 0; i < done; ++i) out[i] = apply(pose, rest[i]);
    const std::array<double, 3> t{pose.translation.x, pose.translation.y, pose.translation.z};
    done += frame::wide::apply_eight<frame::wide::Sum::InTurn>(pose.rotation.m.data(), t.data(), &rest.data()[done].x,
                                                               rest.size() - done, &out.data()[done].x);
  }
#endif
  for (std::size_t i = done; i < rest.size(); ++i) out[i] = apply(pose, rest[i]);
}

}  // namespace

void bake(const TrimShapes& trims, std::span<const Pose> poses, std::span<Vec3> out, const Executor& executor) {
  // Tasks are cut by trims, and trims differ in size; about this many vertices make one.
  constexpr std::size_t kVerticesPerTask = 16384;
  const std::size_t count = trims.id.size();
  const std::size_t mean = count == 0 ? 1 : std::max<std::size_t>(trims.vertices.size() / count, 1);
  for_ranges(executor, count, std::max<std::size_t>(kVerticesPerTask / mean, 1),
             [&](std::size_t begin, std::size_t end) {
               for (std::size_t trim = begin; trim < end; ++trim) {
                 const std::size_t first = trims.vertex_offsets[trim], size = trims.vertex_offsets[trim + 1] - first;
                 move_points(poses[trim], std::span(trims.vertices).subspan(first, size), out.subspan(first, size));
               }
             });
}

}  // namespace trimtack
