// SPDX-License-Identifier: MIT
// Colours are our own choice, kept apart in lightness as well as in hue; a test measures their distances as seen with
// each kind of dichromacy.
#include "trimtack/picture.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace trimtack {
namespace {

constexpr std::array<Colour, 8> kTints{{{0.82, 0.87, 0.94},
                                        {0.91, 0.89, 0.80},
                                        {0.85, 0.92, 0.88},
                                        {0.94, 0.87, 0.85},
                                        {0.88, 0.86, 0.94},
                                        {0.94, 0.92, 0.89},
                                        {0.80, 0.90, 0.93},
                                        {0.89, 0.93, 0.81}}};
constexpr std::array<Colour, 6> kStrong{{{0.05, 0.23, 0.74},
                                         {0.97, 0.62, 0.02},
                                         {0.13, 0.63, 0.50},
                                         {0.55, 0.02, 0.43},
                                         {0.29, 0.13, 0.12},
                                         {0.60, 0.50, 0.22}}};

/// Labels that many alike trims share: the text per trim, empty where another one speaks for it. Zippers, stitch lines
/// and other long rows have one label, and so has a crowd of one kind that is in no row.
std::vector<std::string> label_texts(const Parts& parts) {
  constexpr std::size_t kCrowd = 12;
  std::vector<std::string> text(parts.trims.size());
  for (Index t = 0; t < parts.trims.size(); ++t) text[t] = std::to_string(t);
  const auto share = [&](const std::vector<Index>& trims) {
    const auto [low, high] = std::minmax_element(trims.begin(), trims.end());
    const bool whole = *high - *low + 1U == trims.size();
    const std::string all = whole ? std::to_string(*low) + ".." + std::to_string(*high)
                                  : std::to_string(*low) + ".. (" + std::to_string(trims.size()) + ")";
    for (const Index t : trims) text[t].clear();
    text[trims[trims.size() / 2]] = all;
  };
  std::vector<std::vector<Index>> crowd(parts.prototypes.size());
  for (Index t = 0; t < parts.trims.size(); ++t) {
    const Trim& trim = parts.trims[t];
    const bool in_row =
        trim.row != kNone && (parts.rows[trim.row].kind != RowKind::Line || parts.rows[trim.row].trims.size() > kCrowd);
    if (!in_row && trim.prototype != kNone) crowd[trim.prototype].push_back(t);
  }
  for (const Row& row : parts.rows)
    if (!row.trims.empty() && (row.kind != RowKind::Line || row.trims.size() > kCrowd)) share(row.trims);
  for (const auto& trims : crowd)
    if (trims.size() > kCrowd) share(trims);
  return text;
}

/// Middle of the bounding box of every trim's vertices.
std::vector<Vec3> middles(const SourceMesh& mesh, const Parts& parts, std::span<const Vec3> positions) {
  std::vector<Box> boxes(parts.trims.size());
  std::vector<bool> seen(parts.trims.size(), false);
  for (Index f = 0; f < mesh.face_count(); ++f) {
    const Index trim = parts.components[parts.component_of_face[f]].trim;
    if (trim == kNone) continue;
    Box& box = boxes[trim];
    for (const Index v : mesh.face(f)) {
      const Vec3& p = positions[v];
      if (!seen[trim]) box = {p, p};
      seen[trim] = true;
      for (int k = 0; k < 3; ++k) {
        box.min[k] = std::min(box.min[k], p[k]);
        box.max[k] = std::max(box.max[k], p[k]);
      }
    }
  }
  std::vector<Vec3> out;
  out.reserve(boxes.size());
  for (const Box& box : boxes) out.push_back(0.5 * (box.min + box.max));
  return out;
}

}  // namespace

const char* to_text(Mark mark) {
  switch (mark) {
    case Mark::Good:
      return "good";
    case Mark::Close:
      return "close to a limit";
    case Mark::Fault:
      return "fault";
    case Mark::Uncertain:
      return "uncertain";
    default:
      return "";
  }
}

Colour colour_of(Mark mark) {
  switch (mark) {
    case Mark::Good:
      return {0.20, 0.33, 0.75};
    case Mark::Close:
      return {0.92, 0.58, 0.07};
    case Mark::Fault:
      return {0.58, 0.02, 0.16};
    case Mark::Uncertain:
      return {0.66, 0.48, 0.68};
    default:
      return {0.55, 0.55, 0.57};
  }
}

Colour cloth_tint(std::size_t i) { return kTints[i % kTints.size()]; }
Colour trim_colour(std::size_t i) { return kStrong[i % kStrong.size()]; }
Colour stitching_colour() { return {0.30, 0.30, 0.34}; }

PictureInput picture_of(const SourceMesh& mesh, const Parts& parts, std::span<const Vec3> positions) {
  PictureInput picture;
  picture.up = parts.up;
  if (positions.empty()) positions = mesh.positions;
  picture.positions.assign(positions.begin(), positions.end());
  Triangles triangles = triangulate({mesh.positions, mesh.face_offsets, mesh.corner_position});
  picture.part_of_triangle.reserve(triangles.face.size());
  for (const Index face : triangles.face) picture.part_of_triangle.push_back(parts.component_of_face[face]);
  picture.triangles = std::move(triangles.triangles);
  std::size_t pieces = 0;
  for (const Component& component : parts.components) {
    PicturePart part;
    part.role = component.role;
    part.group = component.trim;
    if (component.uncertain) part.mark = Mark::Uncertain;
    if (component.role == Role::Cloth) part.tint = pieces++;
    if (component.trim != kNone) {
      const Index prototype = parts.trims[component.trim].prototype;
      part.tint = prototype == kNone ? component.trim : prototype;
    }
    picture.parts.push_back(part);
  }
  const std::vector<Vec3> middle = middles(mesh, parts, positions);
  std::vector<Mark> mark(parts.trims.size(), Mark::Plain);
  for (const PicturePart& part : picture.parts)
    if (part.group != kNone && part.mark != Mark::Plain) mark[part.group] = part.mark;
  const std::vector<std::string> texts = label_texts(parts);
  for (Index t = 0; t < parts.trims.size(); ++t) {
    const Trim& trim = parts.trims[t];
    if (trim.role != Role::Trim && mark[t] == Mark::Plain) continue;
    const std::string& text = mark[t] == Mark::Plain ? texts[t] : std::to_string(t);
    if (!text.empty()) picture.labels.push_back({middle[t], text, mark[t], mark[t] == Mark::Plain ? 2 : 1, t});
  }
  return picture;
}

void mark_verdicts(PictureInput& picture, const Parts& parts, const FitSummary& summary,
                   std::span<const Index> trim_of_fit) {
  std::vector<Mark> mark(parts.trims.size(), Mark::Plain);
  std::vector<double> over(parts.trims.size(), 0.0);
  for (std::size_t i = 0; i < summary.trims.size() && i < trim_of_fit.size(); ++i) {
    const Index trim = trim_of_fit[i];
    if (trim >= mark.size()) continue;
    const Verdict verdict = summary.trims[i].verdict;
    mark[trim] = verdict == Verdict::Fault ? Mark::Fault : (verdict == Verdict::Close ? Mark::Close : Mark::Good);
    over[trim] = severity(summary.trims[i], summary.limits);
  }
  for (PicturePart& part : picture.parts)
    if (part.group != kNone && part.group < mark.size()) part.mark = mark[part.group];
  // Labels: every trim that is not good has one, the worst first; the good ones keep theirs if there is room.
  std::vector<bool> labelled(parts.trims.size(), false);
  for (PictureLabel& label : picture.labels) {
    if (label.group == kNone || label.group >= mark.size()) continue;
    label.mark = mark[label.group];
    label.rank = 1'000'000;
    labelled[label.group] = true;
  }
  std::vector<Index> bad;
  for (Index t = 0; t < mark.size(); ++t)
    if (mark[t] == Mark::Fault || mark[t] == Mark::Close) bad.push_back(t);
  std::stable_sort(bad.begin(), bad.end(),
                   [&](Index a, Index b) { return mark[a] != mark[b] ? mark[a] == Mark::Fault : over[a] > over[b]; });
  std::vector<int> rank(mark.size(), 1'000'000);
  for (std::size_t i = 0; i < bad.size(); ++i) rank[bad[i]] = static_cast<int>(i);
  for (PictureLabel& label : picture.labels)
    if (label.group != kNone && label.group < rank.size() && rank[label.group] < 1'000'000) {
      label.rank = rank[label.group];
      label.text = std::to_string(label.group);
    }
  for (const Index t : bad)
    if (!labelled[t]) picture.labels.push_back({{}, std::to_string(t), mark[t], rank[t], t});
}

void number_worst_first(PictureInput& picture, const FitSummary& summary, std::span<const Index> trim_of_fit) {
  picture.labels.clear();
  int number = 0;
  for (const Index t : worst_first(summary)) {
    const Verdict verdict = summary.trims[t].verdict;
    if (verdict == Verdict::Good || t >= trim_of_fit.size()) break;
    const Mark mark = verdict == Verdict::Fault ? Mark::Fault : Mark::Close;
    picture.labels.push_back({{}, std::to_string(number + 1), mark, number, trim_of_fit[t]});
    ++number;
  }
}

}  // namespace trimtack
