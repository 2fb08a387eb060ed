// SPDX-License-Identifier: MIT
#include <map>
#include <utility>

#include "stages/study.hpp"
#include "trimtack/welded_trims.hpp"

namespace trimtack {

Result<CutMesh> cut_welded_trims(const SourceMesh& mesh, const IdentifyOptions& options, Report& report) {
  const Result<Study> studied = study(mesh, options, report);
  if (!studied) return studied.error();
  CutMesh cut;
  cut.mesh = mesh;
  cut.mesh.text = nullptr;
  cut.original_vertices = static_cast<Index>(mesh.positions.size());
  cut.trims = find_welded_trims(studied->input(mesh, options.use_names), studied->verdicts);
  cut.weld_groups.assign(mesh.positions.size(), 0);
  std::vector<Index> owner(mesh.face_count(), 0);  // 0: stays, else the number of the trim plus one
  for (std::size_t k = 0; k < cut.trims.size(); ++k)
    for (const Index f : cut.trims[k].faces) owner[f] = static_cast<Index>(k + 1);
  // A vertex goes to the trim that alone uses it; where several want it, the trims get doubles.
  constexpr Index unused = kNone;
  constexpr Index shared = kNone - 1;
  std::vector<Index> user(mesh.positions.size(), unused);
  for (Index f = 0; f < mesh.face_count(); ++f)
    for (const Index v : mesh.face(f)) {
      if (user[v] == unused)
        user[v] = owner[f];
      else if (user[v] != owner[f])
        user[v] = shared;
    }
  for (std::size_t v = 0; v < user.size(); ++v)
    if (user[v] != unused && user[v] != shared) cut.weld_groups[v] = user[v];
  std::map<std::pair<Index, Index>, Index> doubles;  // (trim, vertex)
  for (const WeldedTrim& trim : cut.trims)
    for (const Index f : trim.faces)
      for (Index k = mesh.face_offsets[f]; k < mesh.face_offsets[f + 1]; ++k) {
        const Index v = mesh.corner_position[k];
        if (user[v] != shared) continue;
        const auto [it, fresh] = doubles.try_emplace({owner[f], v}, static_cast<Index>(cut.mesh.positions.size()));
        if (fresh) {
          cut.mesh.positions.push_back(mesh.positions[v]);
          if (!mesh.position_weights.empty()) cut.mesh.position_weights.push_back(mesh.position_weights[v]);
          if (!mesh.colours.empty()) cut.mesh.colours.push_back(mesh.colours[v]);
          cut.double_of.push_back(v);
          cut.weld_groups.push_back(owner[f]);
        }
        cut.mesh.corner_position[k] = it->second;
      }
  return cut;
}

}  // namespace trimtack
