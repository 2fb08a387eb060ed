// SPDX-License-Identifier: MIT
#include "cli/frame_source.hpp"

#include <algorithm>
#include <array>
#include <numeric>

namespace trimtack::cli {
namespace {

constexpr std::size_t kPerRange = 16384;

}  // namespace

Result<FrameSource> FrameSource::open(const FrameOptions& options, const Garment& garment) {
  Result<std::vector<FrameRef>> frames = list_frames(options.frames, options.frames_per_second);
  if (!frames) return frames.error();
  FrameSource source;
  source.garment_ = &garment;
  const std::vector<Index>& map = garment.maps.cloth.positions;
  source.cloth_in_one_ =
      std::adjacent_find(map.begin(), map.end(), [](Index a, Index b) { return b != a + 1; }) == map.end();
  const std::uint64_t first = options.first.value_or(0), last = options.last.value_or(UINT64_MAX);
  for (FrameRef& frame : *frames) {
    if (frame.number >= first && frame.number <= last) source.frames_.push_back(std::move(frame));
  }
  if (source.frames_.empty()) {
    return Error{ErrorCode::Usage,
                 "no frame has a number from " + std::to_string(first) + " to " + std::to_string(last) +
                     "; the first is " + std::to_string(frames->front().number) + ", the last " +
                     std::to_string(frames->back().number),
                 "--frames", 0};
  }
  return source;
}

/// A combined frame has the vertices of its file: those that were doubled where trims were cut off are added.
void FrameSource::double_vertices() {
  const std::vector<Index>& doubled = garment_->parts.doubled_vertices;
  if (doubled.empty() || all_.size() + doubled.size() != garment_->parts.source_vertices) return;
  if (all_.size() == garment_->maps.cloth.positions.size()) return;
  doubled_.assign(all_.begin(), all_.end());
  for (const Index v : doubled) doubled_.push_back(all_[v]);
  all_ = doubled_;
}

bool FrameSource::same_faces(const SourceMesh& faces) const {
  const SourceMesh& combined = garment_->combined;
  const SubsetMap& map = garment_->maps.cloth;
  if (is_combined()) {
    // Where trims were cut off, their corners are doubles of those of the file.
    const std::vector<Index>& doubled = garment_->parts.doubled_vertices;
    const std::size_t own = combined.positions.size() - doubled.size();
    const auto same_corner = [&](Index a, Index b) { return a == b || (b >= own && a == doubled[b - own]); };
    return faces.face_offsets == combined.face_offsets &&
           std::equal(faces.corner_position.begin(), faces.corner_position.end(), combined.corner_position.begin(),
                      combined.corner_position.end(), same_corner);
  }
  bool same = faces.face_count() == map.faces.size();
  for (Index f = 0; same && f < faces.face_count(); ++f) {
    const std::span<const Index> face = faces.face(f), rest = combined.face(map.faces[f]);
    same = std::equal(face.begin(), face.end(), rest.begin(), rest.end(),
                      [&](Index a, Index b) { return a < map.positions.size() && map.positions[a] == b; });
  }
  return same;
}

/// A glTF holds triangles, in the order of its materials: each between vertices of the cloth must lie in one of its
/// faces.
bool FrameSource::cloth_triangles_fit(const SourceMesh& faces) const {
  const SourceMesh& combined = garment_->combined;
  const SubsetMap& map = garment_->maps.cloth;
  std::vector<Index> first(combined.positions.size() + 1, 0);
  for (const Index f : map.faces) {
    for (const Index v : combined.face(f)) ++first[v];
  }
  std::partial_sum(first.begin(), first.end(), first.begin());
  std::vector<Index> face_at(first.back());
  for (const Index f : map.faces) {
    for (const Index v : combined.face(f)) face_at[--first[v]] = f;
  }
  const auto corner = [&](Index v) { return is_combined() ? v : map.positions[v]; };
  const auto faces_of = [&](Index v) { return std::span(face_at).subspan(first[v], first[v + 1] - first[v]); };
  const auto holds = [&](Index f, Index v) {
    const std::span<const Index> face = combined.face(f);
    return std::find(face.begin(), face.end(), v) != face.end();
  };
  for (Index f = 0; f < faces.face_count(); ++f) {
    const std::span<const Index> t = faces.face(f);
    const std::array<Index, 3> v{corner(t[0]), corner(t[1]), corner(t[2])};
    if (faces_of(v[0]).empty() || faces_of(v[1]).empty() || faces_of(v[2]).empty()) continue;
    const std::span<const Index> near = faces_of(v[0]);
    if (std::none_of(near.begin(), near.end(), [&](Index face) { return holds(face, v[1]) && holds(face, v[2]); }))
      return false;
  }
  return true;
}

/// Other faces usually mean another order of vertices, which no count can tell.
void FrameSource::compare_faces(const SourceMesh& faces, const FrameRef& frame, Report& report) const {
  if (faces.face_count() == 0 || same_faces(faces) || (frame.in_array && cloth_triangles_fit(faces))) return;
  add(report, {Severity::Warning, "frame-faces",
               "its faces are not those of the garment at rest; if its vertices come in another order, the results are "
               "wrong: export frames with the same topology and order",
               frame.path.string(), 0, 1});
}

double FrameSource::size_of(std::span<const Vec3> cloth) const {
  const SourceMesh& combined = garment_->combined;
  const SubsetMap& map = garment_->maps.cloth;
  std::vector<Index> place(combined.positions.size(), 0);
  for (Index i = 0; i < map.positions.size(); ++i) place[map.positions[i]] = i;
  double now = 0, rest = 0;
  for (const Index f : map.faces) {
    const std::span<const Index> face = combined.face(f);
    Index from = face.back();
    for (const Index to : face) {
      now += length(cloth[place[to]] - cloth[place[from]]);
      rest += length(combined.positions[to] - combined.positions[from]);
      from = to;
    }
  }
  return rest > 0 ? now / rest : 1;
}

/// glTF demands metres, but not every exporter obeys: the cloth's own size decides.
void FrameSource::settle_scale(const FrameRef& frame, std::span<const Vec3> cloth, Report& report) {
  constexpr double kSameUnit = 2;  // cloth stretches by less
  const auto alike = [](double size) { return size < kSameUnit && size > 1 / kSameUnit; };
  scaled_file_ = frame.path.string();
  scale_ = 1;
  const Unit& unit = garment_->parts.unit;
  const double metre = 1000 / unit.mm_per_unit, size = size_of(cloth);
  if (alike(size) || !alike(metre * size)) return;
  scale_ = metre;
  add(report, {Severity::Note, "frame-metres", "its positions, in metres, are brought to the garment's " + unit.name,
               scaled_file_, 0, 1});
}

void FrameSource::scale_frame(const Executor& executor) {
  scaled_.resize(all_.size());
  for_ranges(executor, all_.size(), kPerRange, [&](std::size_t begin, std::size_t end) {
    for (std::size_t k = begin; k < end; ++k) scaled_[k] = scale_ * all_[k];
  });
  all_ = scaled_;
}

std::span<const Vec3> FrameSource::pick_cloth(const Executor& executor) {
  const std::vector<Index>& map = garment_->maps.cloth.positions;
  if (all_.size() == map.size()) return all_;
  if (cloth_in_one_) return map.empty() ? std::span<const Vec3>{} : all_.subspan(map.front(), map.size());
  cloth_.resize(map.size());
  for_ranges(executor, map.size(), kPerRange, [&](std::size_t begin, std::size_t end) {
    for (std::size_t k = begin; k < end; ++k) cloth_[k] = all_[map[k]];
  });
  return cloth_;
}

Result<std::span<const Vec3>> FrameSource::cloth(std::size_t i, const Executor& executor, Report& report) {
  const FrameRef& frame = frames_[i];
  const bool compare = !compared_ && may_have_faces(frame.path.string());
  SourceMesh faces;
  Result<std::span<const Vec3>> read = reader_.read(frame, compare ? &faces : nullptr, executor);
  if (!read) return read.error();
  all_ = *read;
  double_vertices();
  const std::vector<Index>& map = garment_->maps.cloth.positions;
  if (all_.size() != map.size() && !is_combined()) {
    return Error{ErrorCode::BadInput,
                 "frame " + std::to_string(frame.number) + " has " + std::to_string(all_.size()) +
                     " vertices; the cloth has " + std::to_string(map.size()) + " and the combined export " +
                     std::to_string(garment_->parts.source_vertices - garment_->parts.doubled_vertices.size()) +
                     "; export it with the same topology",
                 frame.path.string(), 0};
  }
  if (compare) compare_faces(faces, frame, report);
  compared_ = compared_ || compare;
  if (in_metres(frame.path.string())) {
    if (scaled_file_ != frame.path.string()) settle_scale(frame, pick_cloth(executor), report);
    if (scale_ != 1) scale_frame(executor);
  }
  return pick_cloth(executor);
}

}  // namespace trimtack::cli
