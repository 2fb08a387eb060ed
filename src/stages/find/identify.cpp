// SPDX-License-Identifier: MIT
#include "trimtack/identify.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "core/memory.hpp"
#include "core/phrase.hpp"
#include "core/union_find.hpp"
#include "stages/find/clues.hpp"
#include "stages/find/part_names.hpp"
#include "stages/find/settle.hpp"
#include "stages/find/study.hpp"
#include "stages/find/trade_sizes.hpp"
#include "trimtack/prototypes.hpp"
#include "trimtack/rows.hpp"
#include "trimtack/welded_trims.hpp"

namespace trimtack {
namespace {

// Copies in exports agree to some thousandths of their size; a button 0.5 mm larger differs by more (0.25 mm on the
// radius of one of 40 mm is 0.006).
constexpr double kCongruent = 2.5e-3;

void report_welded_trims(const RoleInput& input, std::span<const WeldedTrim> found, Report& report) {
  for (const WeldedTrim& w : found) {
    const std::string text = "a part of " + std::to_string(w.faces.size()) + " faces, " +
                             phrase("%.3g mm long, at %.6g %.6g %.6g",
                                    {w.length * input.scale.mm_per_unit, w.place.x, w.place.y, w.place.z}) +
                             " looks like a trim but is welded to cloth component " + std::to_string(w.component) +
                             ", so it stays with the cloth; cut it off along its border to bind it";
    add_separate(report, {Severity::Warning, "trim-welded", text, input.mesh->file});
  }
}

struct PartlyNamed {
  const Override* by;
  Index component;
};

/// The author names as hard what stays cloth with the rest of its component; those told of as welded are left out.
void report_partly_named(std::span<const PartlyNamed> partly, std::span<const RoleVerdict> verdicts,
                         std::span<const WeldedTrim> welded, const std::string& file, Report& report) {
  for (const PartlyNamed& p : partly) {
    const bool told =
        std::any_of(welded.begin(), welded.end(), [&](const WeldedTrim& w) { return w.component == p.component; });
    if (told || verdicts[p.component].role != Role::Cloth) continue;
    add_separate(report,
                 {Severity::Warning, "selector-partly",
                  "'" + p.by->pattern + "' also names a smaller part of component " + std::to_string(p.component) +
                      ", which is joined to the rest and stays cloth with it; "
                      "part the two in the export, or select the whole component",
                  file});
  }
}

void list_ranges(const IndexList& list, std::vector<IndexRange>& out) {
  list.each_run([&](Index first, Index end) { out.push_back({first, end}); });
}

/// Ranges of all vertices of each component, those that coincide with an earlier one included.
void list_all_vertices(std::span<const Index> component_of_vertex, std::vector<Component>& components) {
  for (std::size_t v = 0; v < component_of_vertex.size();) {
    const Index c = component_of_vertex[v];
    const std::size_t first = v++;
    while (v < component_of_vertex.size() && component_of_vertex[v] == c) ++v;
    if (c != kNone) components[c].vertices.push_back({static_cast<Index>(first), static_cast<Index>(v)});
  }
}

/// Takes the lists of whose each face and vertex is.
void list_components(Study& m, Parts& parts) {
  const Index count = m.components.count();
  reserve_large(parts.components, count);
  parts.components.resize(count);
  for (Index c = 0; c < count; ++c) {
    list_ranges(m.components.faces_of(c), parts.components[c].faces);
    if (m.welded.later.empty()) list_ranges(m.components.vertices_of(c), parts.components[c].vertices);
  }
  if (!m.welded.later.empty()) list_all_vertices(m.components.of_vertex, parts.components);
  parts.component_of_face = std::move(m.components.of_face);
  parts.component_of_vertex = std::move(m.components.of_vertex);
}

/// Roles, reasons and confidence; what the author settled is certain.
void describe_components(const RoleInput& input, std::span<const RoleVerdict> verdicts, const TrimGroups& groups,
                         std::span<const std::uint8_t> settled, double uncertain_below, Parts& parts) {
  Reasons reasons(input);
  for (Index c = 0; c < parts.components.size(); ++c) {
    Component& part = parts.components[c];
    part.role = verdicts[c].role;
    part.trim = groups.of_component[c];
    if (settled[c] != 0) {
      part.confidence = 1;
      part.reasons = {"settled by the author"};
      continue;
    }
    part.confidence = verdicts[c].confidence;
    part.uncertain = part.confidence < uncertain_below;
    part.reasons = reasons.of(c, verdicts[c]);
  }
}

/// The component that stands for a trim's size.
Index largest_of(const Study& m, std::span<const Index> components) {
  Index largest = components[0];
  for (const Index c : components)
    if (m.shapes[c].extents[0] > m.shapes[largest].extents[0]) largest = c;
  return largest;
}

bool is_round(const Study& m, Index component) {
  const Detail& d = m.details[m.families.twin_of_component[component]];
  const Shape& s = m.shapes[component];
  return d.roundness > 0.85 && s.extents[1] > 0.85 * s.extents[0];
}

// Jeans rivets are 7 to 10 mm wide (common practice), caps of snaps start at 16L.
constexpr double kRivetMm = 10.1;

/// Two round parts without sewing holes: a front and a back.
bool has_two_sides(const Study& m, std::span<const Index> components) {
  const auto half = [&](Index c) {
    const Detail& d = m.details[m.families.twin_of_component[c]];
    return is_round(m, c) && !(d.closed && d.euler <= -2);
  };
  return components.size() == 2 && half(components[0]) && half(components[1]);
}

struct Lines {  // what rows are found from
  std::vector<Vec3> centres;
  std::vector<double> sizes;
  std::vector<std::uint8_t> rounds;
  std::vector<Index> alike;
};

constexpr double kSameSize = 1.015;  // noise on the corners hardly changes their spread

/// A trim, and what it is sorted by: how many parts it has, whose kin the largest of them is, and how large that is.
struct LikeTrim {
  std::size_t parts;
  Index kin, trim;
  double size;
  friend bool operator<(const LikeTrim& x, const LikeTrim& y) {
    if (x.parts != y.parts) return x.parts < y.parts;
    if (x.kin != y.kin) return x.kin < y.kin;
    return x.size != y.size ? x.size < y.size : x.trim < y.trim;
  }
};

/// Buttons that were scanned or shaken one by one are no copies of each other, but still a row.
void share_rows(const Parts& parts, std::vector<LikeTrim> like, Lines& lines) {
  std::sort(like.begin(), like.end());
  UnionFind joined(static_cast<Index>(parts.prototypes.size()));
  for (std::size_t i = 1; i < like.size(); ++i) {
    const LikeTrim& before = like[i - 1];
    const LikeTrim& l = like[i];
    if (l.parts == before.parts && l.kin == before.kin && l.size <= kSameSize * before.size)
      joined.join(parts.trims[before.trim].prototype, parts.trims[l.trim].prototype);
  }
  for (const LikeTrim& l : like) lines.alike[l.trim] = joined.find(lines.alike[l.trim]);
}

void list_trims(const RoleInput& input, const Study& m, std::span<const RoleVerdict> verdicts, const TrimGroups& groups,
                const Executor& executor, Parts& parts, Lines& lines) {
  const PrototypeMap found = find_prototypes(input, groups, kCongruent, executor);
  const Index count = groups.count();
  reserve_large(parts.trims, count);
  parts.trims.resize(count);
  reserve_large(lines.centres, count);
  reserve_large(lines.sizes, count);
  reserve_large(lines.alike, count);
  parts.prototypes.resize(found.first_trim.size());
  std::vector<LikeTrim> like;
  reserve_large(like, count);
  for (Index t = 0; t < count; ++t) {
    Trim& trim = parts.trims[t];
    const auto own = groups.components_of(t);
    trim.components.assign(own.begin(), own.end());
    trim.role = Role::Stitching;
    for (const Index c : own)
      if (verdicts[c].role == Role::Trim) trim.role = Role::Trim;
    trim.prototype = found.of_trim[t];
    trim.mirrored = found.mirrored[t] != 0;
    trim.scale = found.scale[t];
    trim.placement = found.placement[t];
    Prototype& prototype = parts.prototypes[trim.prototype];
    ++prototype.count;
    prototype.residual = std::max(prototype.residual, found.residual[t]);
    const Index largest = largest_of(m, own);
    lines.centres.push_back(m.shapes[largest].centroid);
    lines.sizes.push_back(m.shapes[largest].extents[0]);
    lines.rounds.push_back(is_round(m, largest) ? 1 : 0);
    // Stitches bent onto the cloth are no copies, but still a line.
    const Index kin = m.families.kin_of_twin[m.families.twin_of_component[largest]];
    lines.alike.push_back(trim.role == Role::Stitching ? static_cast<Index>(found.first_trim.size()) + kin
                                                       : trim.prototype);
    if (trim.role == Role::Trim) like.push_back({own.size(), kin, t, m.shapes[largest].spread[0]});
  }
  share_rows(parts, std::move(like), lines);
  for (Index p = 0; p < parts.prototypes.size(); ++p) {
    Prototype& prototype = parts.prototypes[p];
    prototype.trim = found.first_trim[p];
    const auto own = groups.components_of(prototype.trim);
    const Index largest = largest_of(m, own);
    const Shape& s = m.shapes[largest];
    prototype.size = {s.extents[0], s.extents[1], s.extents[2]};
    const Detail& d = m.details[m.families.twin_of_component[largest]];
    const bool ring = look_at(s, d).form == Form::Wire;
    if (parts.trims[prototype.trim].role != Role::Trim || !is_round(m, largest) || ring ||
        s.extents[2] > 0.6 * s.extents[0])
      continue;
    const double mm = s.extents[0] * parts.unit.mm_per_unit;
    const TradeSize trade = mm < kRivetMm && has_two_sides(m, own) ? metric_size(mm) : ligne_size(mm);
    prototype.trade_size = trade.name;
    prototype.trade_confidence = trade.confidence * parts.unit.confidence;
  }
}

void list_rows(const Lines& lines, const Executor& executor, Parts& parts) {
  const RowInput input{parts.trims, lines.centres, lines.sizes, lines.rounds, lines.alike};
  parts.rows = find_rows(input, executor);
  const std::vector<Index> facing = facing_rows(input, parts.rows);
  for (Index r = 0; r < parts.rows.size(); ++r) {
    for (const Index t : parts.rows[r].trims) parts.trims[t].row = r;
    if (facing[r] == kNone || facing[r] < r) continue;
    // Chain width: from the back of one side to the back of the other, across the row.
    const Row& row = parts.rows[r];
    const Vec3 along = normalized(lines.centres[row.trims.back()] - lines.centres[row.trims.front()]);
    const Vec3 p = lines.centres[row.trims[row.trims.size() / 2]];
    double across = 0;
    double nearest = 1e300;
    for (const Index t : parts.rows[facing[r]].trims) {
      const Vec3 d = lines.centres[t] - p;
      if (length(d) >= nearest) continue;
      nearest = length(d);
      across = length(d - dot(d, along) * along);
    }
    const TradeSize trade = zipper_gauge((across + lines.sizes[row.trims.front()]) * parts.unit.mm_per_unit);
    for (const Index side : {r, facing[r]}) {
      Prototype& prototype = parts.prototypes[parts.trims[parts.rows[side].trims.front()].prototype];
      prototype.trade_size = trade.name;
      prototype.trade_confidence = trade.confidence * parts.unit.confidence;
    }
  }
}

void name_all(const SourceMesh& mesh, const Study& m, const TrimGroups& groups, const Parts* edited, Parts& parts) {
  const std::vector<std::string> names = name_trims(mesh, m.components, parts);
  for (Index t = 0; t < parts.trims.size(); ++t) {
    parts.trims[t].name = names[t];
    if (edited == nullptr) continue;
    const Index id = edited->components[groups.components_of(t)[0]].trim;
    if (id < edited->trims.size() && !edited->trims[id].name.empty()) parts.trims[t].name = edited->trims[id].name;
  }
  for (Prototype& p : parts.prototypes) p.name = parts.trims[p.trim].name;
}

}  // namespace

Result<Parts> identify(const SourceMesh& mesh, const IdentifyOptions& options, Report& report) {
  Result<Study> studied = study(mesh, options, report);
  if (!studied) return studied.error();
  return list_parts(mesh, *studied, options, report);
}

Result<Parts> list_parts(const SourceMesh& mesh, Study& m, const IdentifyOptions& options, Report& report) {
  const RoleInput input = m.input(mesh, options.use_names);
  std::vector<RoleVerdict> verdicts = std::move(m.verdicts);
  Parts parts;
  parts.source_file = mesh.file;
  parts.source_faces = mesh.face_count();
  parts.source_vertices = static_cast<Index>(mesh.positions.size());
  parts.unit = m.unit;
  const Vec3 size = m.box.max - m.box.min;
  parts.up = options.up ? *options.up : (size.z > size.y ? UpAxis::Z : UpAxis::Y);
  std::vector<std::uint8_t> settled(verdicts.size(), 0);
  if (options.edited != nullptr) {
    const Result<void> taken = take_edited_roles(m.components, *options.edited, verdicts, settled);
    if (!taken) return taken.error();
  }
  std::vector<PartlyNamed> partly;
  for (const Override& o : options.overrides) {
    Result<Selection> chosen = select(mesh, m.components, o);
    if (!chosen) return chosen.error();
    if (o.role != Role::Cloth)
      for (const Index c : chosen->partly) partly.push_back({&o, c});
    for (const Index c : chosen->components) {
      verdicts[c].role = o.role;
      verdicts[c].confidence = 1;
      settled[c] = 1;
    }
  }
  std::vector<WeldedTrim> welded_trims;
  for_ranges(options.executor, 2, 1, [&](std::size_t which, std::size_t) {
    if (which == 0)
      welded_trims = find_welded_trims(input, verdicts);
    else
      list_components(m, parts);
  });
  report_welded_trims(input, welded_trims, report);
  report_partly_named(partly, verdicts, welded_trims, mesh.file, report);
  const TrimGroups groups = options.edited != nullptr ? edited_trims(*options.edited, verdicts)
                                                      : group_trims(input, verdicts, options.executor);
  Lines lines;
  for_ranges(options.executor, 2, 1, [&](std::size_t which, std::size_t) {
    if (which == 0)
      list_trims(input, m, verdicts, groups, options.executor, parts, lines);
    else
      describe_components(input, verdicts, groups, settled, options.uncertain_below, parts);
  });
  for_ranges(options.executor, 2, 1, [&](std::size_t which, std::size_t) {
    if (which == 0)
      list_rows(lines, options.executor, parts);
    else
      name_all(mesh, m, groups, options.edited, parts);
  });
  return parts;
}

}  // namespace trimtack
