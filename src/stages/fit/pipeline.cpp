// SPDX-License-Identifier: MIT
#include "trimtack/pipeline.hpp"

#include <algorithm>
#include <map>
#include <utility>

#include "core/phrase.hpp"
#include "stages/bind/cloth_faces.hpp"
#include "stages/bind/pieces.hpp"
#include "stages/find/cut.hpp"

namespace trimtack {
namespace {

/// Keeps the trims that `keep` marks; ids of trims, prototypes and rows follow. Prototypes and rows without trims go.
void keep_trims(Parts& parts, const std::vector<bool>& keep) {
  std::vector<Index> new_trim(parts.trims.size(), kNone);
  std::vector<Index> new_prototype(parts.prototypes.size(), kNone), new_row(parts.rows.size(), kNone);
  std::vector<Trim> trims;
  for (Index t = 0; t < parts.trims.size(); ++t) {
    if (!keep[t]) continue;
    new_trim[t] = static_cast<Index>(trims.size());
    trims.push_back(std::move(parts.trims[t]));
  }
  for (Prototype& prototype : parts.prototypes) prototype.count = 0;
  for (const Trim& trim : trims) {
    if (trim.prototype != kNone) ++parts.prototypes[trim.prototype].count;
  }
  std::vector<Prototype> prototypes;
  for (Index p = 0; p < parts.prototypes.size(); ++p) {
    Prototype& prototype = parts.prototypes[p];
    if (prototype.trim != kNone) prototype.trim = new_trim[prototype.trim];
    if (prototype.count == 0 || prototype.trim == kNone) continue;
    new_prototype[p] = static_cast<Index>(prototypes.size());
    prototypes.push_back(std::move(prototype));
  }
  std::vector<Row> rows;
  for (Index r = 0; r < parts.rows.size(); ++r) {
    Row& row = parts.rows[r];
    for (Index& t : row.trims) t = t < new_trim.size() ? new_trim[t] : kNone;
    std::erase(row.trims, kNone);
    if (row.trims.empty()) continue;
    new_row[r] = static_cast<Index>(rows.size());
    rows.push_back(std::move(row));
  }
  for (Trim& trim : trims) {
    if (trim.prototype != kNone) trim.prototype = new_prototype[trim.prototype];
    if (trim.row != kNone) trim.row = new_row[trim.row];
  }
  for (Component& component : parts.components) {
    if (component.trim != kNone) component.trim = component.trim < new_trim.size() ? new_trim[component.trim] : kNone;
  }
  parts.trims = std::move(trims);
  parts.prototypes = std::move(prototypes);
  parts.rows = std::move(rows);
}

void report_hanging_trims(const StudiedMesh& studied, const Unit& unit, Report& report) {
  if (studied.hanging == 0) return;
  const WeldedTrim& first = studied.mesh.trims.front();
  const std::string text =
      std::to_string(studied.hanging) +
      (studied.hanging == 1 ? " part that looks like a trim hangs" : " parts that look like trims hang") +
      " on the rest by single vertices or by edges where more than two faces meet, as after close vertices were "
      "merged; " +
      phrase("cut off there (the first is %.3g mm long, at %.6g %.6g %.6g)",
             {first.length * unit.mm_per_unit, first.place.x, first.place.y, first.place.z});
  add(report, {Severity::Note, "trims-cut-off", text, studied.mesh.mesh.file});
}

/// --layer names trims and components by id: both must exist.
Result<void> check_layers(const Parts& parts, const std::map<Index, Index>& layers) {
  for (const auto& [trim, component] : layers) {
    const std::string what = std::to_string(trim) + "=" + std::to_string(component);
    if (trim >= parts.trims.size()) {
      return Error{ErrorCode::Usage,
                   "there is no trim " + std::to_string(trim) + ", the last is " +
                       std::to_string(static_cast<long long>(parts.trims.size()) - 1) + "; see parts.json",
                   "--layer " + what, 0};
    }
    if (component >= parts.components.size() || parts.components[component].role != Role::Cloth) {
      return Error{ErrorCode::Usage, "component " + std::to_string(component) + " is no cloth; see parts.json",
                   "--layer " + what, 0};
    }
  }
  return {};
}

}  // namespace

void keep_stitching_with_cloth(Parts& parts) {
  std::vector<bool> keep(parts.trims.size());
  for (std::size_t t = 0; t < keep.size(); ++t) keep[t] = parts.trims[t].role != Role::Stitching;
  for (Component& component : parts.components) {
    if (component.role != Role::Stitching) continue;
    component.role = Role::Cloth;
    component.trim = kNone;
    component.reasons.push_back("stitching kept with the cloth, as asked");
  }
  keep_trims(parts, keep);
}

namespace {

/// Components of each entry of `shapes`, ascending.
std::vector<std::vector<Index>> components_of(const TrimShapes& shapes) {
  std::vector<std::vector<Index>> components(shapes.id.size());
  for (std::size_t t = 0; t < shapes.id.size(); ++t) {
    std::vector<Index>& own = components[t];
    own.assign(shapes.component_of_triangle.begin() + shapes.triangle_offsets[t],
               shapes.component_of_triangle.begin() + shapes.triangle_offsets[t + 1]);
    std::sort(own.begin(), own.end());
    own.erase(std::unique(own.begin(), own.end()), own.end());
  }
  return components;
}

}  // namespace

void split_into_pieces(Parts& parts, const TrimShapes& pieces) {
  std::vector<std::vector<Index>> pieces_of(parts.trims.size());  // new ids of each old trim
  for (Index t = 0; t < pieces.id.size(); ++t) pieces_of[pieces.id[t]].push_back(t);
  const std::vector<std::vector<Index>> components = components_of(pieces);
  std::vector<Trim> trims;
  std::vector<Prototype> prototypes;  // of the pieces, numbered after the old ones
  const auto old_prototypes = static_cast<Index>(parts.prototypes.size());
  for (Index t = 0; t < pieces.id.size(); ++t) {
    Trim trim = parts.trims[pieces.id[t]];
    if (pieces_of[pieces.id[t]].size() > 1) {
      trim.name = pieces.name[t];
      trim.components = components[t];
      trim.prototype = old_prototypes + static_cast<Index>(prototypes.size());
      Prototype prototype;
      prototype.name = trim.name;
      prototype.trim = t;
      prototypes.push_back(std::move(prototype));
    }
    for (const Index c : trim.components) parts.components[c].trim = t;
    trims.push_back(std::move(trim));
  }
  for (Prototype& prototype : parts.prototypes) {
    if (prototype.trim == kNone) continue;
    const std::vector<Index>& of = pieces_of[prototype.trim];
    prototype.trim = of.size() == 1 ? of[0] : kNone;
  }
  parts.prototypes.insert(parts.prototypes.end(), prototypes.begin(), prototypes.end());
  for (Row& row : parts.rows) {
    std::vector<Index> own;
    for (const Index t : row.trims) own.insert(own.end(), pieces_of[t].begin(), pieces_of[t].end());
    row.trims = std::move(own);
  }
  parts.trims = std::move(trims);
  keep_trims(parts, std::vector<bool>(parts.trims.size(), true));
}

Result<Garment> take_apart(SourceMesh combined, const PipelineOptions& options, Report& report) {
  IdentifyOptions how = options.identify;
  // What the author edited lists components: they stay as they are.
  const WhatToCut what{how.edited == nullptr, options.cut, how.uncertain_below};
  Result<StudiedMesh> studied = study_and_cut(std::move(combined), how, what, report);
  if (!studied) return studied.error();
  combined = std::move(studied->mesh.mesh);
  if (!studied->mesh.weld_groups.empty()) how.weld_groups = studied->mesh.weld_groups;
  Result<Parts> parts = list_parts(combined, studied->study, how, report);
  if (!parts) return parts.error();
  report_hanging_trims(*studied, parts->unit, report);
  parts->doubled_vertices = how.edited != nullptr ? how.edited->doubled_vertices : std::move(studied->mesh.double_of);
  Garment garment;
  garment.parts = std::move(*parts);
  if (options.stitching == StitchingChoice::Cloth) keep_stitching_with_cloth(garment.parts);
  garment.maps = split(combined, garment.parts, report, options.bind.executor);
  if (options.pieces) {
    const TrimShapes whole = gather_trims(combined, garment.parts, garment.maps, options.bind.executor);
    const TrimShapes pieces = cut_long_trims(whole, garment.parts.unit, options.bind, report);
    if (pieces.id.size() != whole.id.size()) split_into_pieces(garment.parts, pieces);
  }
  garment.combined = std::move(combined);
  return garment;
}

Result<TrimShapes> select_trims(const TrimShapes& trims, std::span<const Index> ids) {
  std::map<Index, Index> place;
  for (Index t = 0; t < trims.id.size(); ++t) place.emplace(trims.id[t], t);
  TrimShapes chosen;
  for (const Index id : ids) {
    const auto found = place.find(id);
    if (found == place.end()) {
      return Error{ErrorCode::BadInput,
                   "the table binds trim " + std::to_string(id) + ", which parts.json does not hold", "", 0};
    }
    append_trim(trims, found->second, chosen);
  }
  return chosen;
}

Result<BoundGarment> begin_binding(const Garment& garment, const PipelineOptions& options, TrimLists lists) {
  if (garment.maps.cloth.faces.empty()) {
    return Error{ErrorCode::BadInput,
                 "no cloth was found; name it with --cloth, or edit parts.json and bind the folder",
                 garment.combined.file, 0};
  }
  if (auto checked = check_layers(garment.parts, options.bind.layer); !checked) return checked.error();
  BoundGarment bound;
  bound.cloth = std::make_unique<ClothMesh>(
      gather_cloth_faces(garment.combined, garment.parts, garment.maps, lists == TrimLists::All));
  return bound;
}

Result<void> gather_for_binding(BoundGarment& bound, const Garment& garment, const PipelineOptions& options,
                                TrimLists lists) {
  if (auto checked = check_reach(bound.cloth->positions, garment.combined.file); !checked) return checked;
  if (options.stitching == StitchingChoice::Drop) lists = TrimLists::All;  // copies may lose their models
  // The cloth with its index and the trims know nothing of each other.
  const auto gather_one = [&](std::size_t which) {
    if (which == 1) {
      bound.trims = gather_trims(garment.combined, garment.parts, garment.maps, options.bind.executor, lists);
      return;
    }
    complete_cloth(*bound.cloth);
    bound.index = std::make_unique<ClothIndex>(*bound.cloth, options.bind.executor);
  };
  for_ranges(options.bind.executor, 2, 1, [&](std::size_t begin, std::size_t end) {
    for (std::size_t i = begin; i < end; ++i) gather_one(i);
  });
  if (options.stitching == StitchingChoice::Drop) {
    std::vector<Index> kept;
    for (std::size_t t = 0; t < bound.trims.id.size(); ++t) {
      if (bound.trims.role[t] != Role::Stitching) kept.push_back(bound.trims.id[t]);
    }
    Result<TrimShapes> chosen = select_trims(bound.trims, kept);
    if (!chosen) return chosen.error();
    bound.trims = std::move(*chosen);
  }
  return {};
}

Result<void> bind_gathered(BoundGarment& bound, const Parts& parts, const PipelineOptions& options, Report& report) {
  Result<BindTable> table = bind(*bound.index, bound.trims, parts.unit, options.bind, report);
  if (!table) return table.error();
  bound.table = std::move(*table);
  bound.table.up = parts.up;
  return {};
}

Result<BoundGarment> bind_garment(const Garment& garment, const PipelineOptions& options, Report& report) {
  Result<BoundGarment> bound = begin_binding(garment, options);
  if (!bound) return bound;
  if (auto done = gather_for_binding(*bound, garment, options); !done) return done.error();
  if (auto done = bind_gathered(*bound, garment.parts, options, report); !done) return done.error();
  return bound;
}

}  // namespace trimtack
