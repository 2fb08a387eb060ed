// SPDX-License-Identifier: MIT
#include "stages/find/cut.hpp"

#include <algorithm>
#include <map>
#include <string>
#include <utility>

#include "core/union_find.hpp"
#include "stages/find/pinches.hpp"

namespace trimtack {
namespace {

// Fewer faces a piece than this in the mean: single faces that touch at corners, in which nothing can be told apart.
constexpr std::size_t kFewestMean = 4;

WeldedTrim welded_trim(const SourceMesh& mesh, Index component, std::vector<Index> faces) {
  std::vector<Vec3> points;
  for (const Index f : faces)
    for (const Index v : mesh.face(f)) points.push_back(mesh.positions[v]);
  const Box box = bounds(points);
  const Vec3 size = box.max - box.min;
  return {component, std::move(faces), 0.5 * (box.min + box.max), std::max({size.x, size.y, size.z})};
}

/// A component that falls apart over its edges.
struct Loose {
  Index component = kNone;
  EdgePieces pieces;
};

/// But for sure trims: those are rigid as a whole, whatever they are put together of.
std::vector<Loose> find_loose(const SourceMesh& mesh, const Study& whole, const WhatToCut& what) {
  std::vector<Loose> out;
  for (Index c = 0; c < whole.components.count(); ++c) {
    const RoleVerdict& verdict = whole.verdicts[c];
    if (verdict.role == Role::Trim && verdict.confidence >= what.sure_from) continue;
    if (whole.details[whole.families.twin_of_component[c]].loose_pieces == 0) continue;
    const IndexList faces = whole.components.faces_of(c);
    EdgePieces pieces = pieces_over_edges(mesh, whole.welded, faces);
    if (pieces.faces.size() < 2 || kFewestMean * pieces.faces.size() > faces.size()) continue;
    out.push_back({c, std::move(pieces)});
  }
  return out;
}

/// Doubles the vertices that a trim shares with others. @param trims  without faces in common
CutMesh cut_off(const SourceMesh& mesh, std::vector<WeldedTrim> trims) {
  CutMesh cut;
  cut.mesh = mesh;
  forget_position_text(cut.mesh);
  cut.original_vertices = static_cast<Index>(mesh.positions.size());
  cut.trims = std::move(trims);
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
          if (!mesh.colour_alpha.empty()) cut.mesh.colour_alpha.push_back(mesh.colour_alpha[v]);
          cut.double_of.push_back(v);
          cut.weld_groups.push_back(owner[f]);
        }
        cut.mesh.corner_position[k] = it->second;
      }
  return cut;
}

Result<Study> study_apart(const CutMesh& cut, const IdentifyOptions& options, Report& report) {
  IdentifyOptions how = options;
  how.weld_groups = cut.weld_groups;
  return study(cut.mesh, how, report);
}

/// Two layers with nothing between them, as where the ends of two thick panels were merged: no trim.
bool lies_on_itself(const Study& apart, Index component) {
  const Detail& detail = apart.details[apart.families.twin_of_component[component]];
  return detail.boundary_edges == 0 && detail.thickness <= 1e-3 * apart.shapes[component].extents[1];
}

/// What is cut off of one component: trims that hang on cloth, or on one another so that they seem cloth together, each
/// with the rigid pieces that it shares edges with. What is all rigid stays one trim else, but stitches stay stitches.
/// @param apart  each piece is a component of it
void choose_trims(const SourceMesh& mesh, const Loose& loose, bool seems_cloth, const Study& apart,
                  std::vector<WeldedTrim>& out) {
  const std::vector<std::vector<Index>>& pieces = loose.pieces.faces;
  const auto component = [&](Index piece) { return apart.components.of_face[pieces[piece].front()]; };
  const auto role = [&](Index piece) {
    const Index c = component(piece);
    return lies_on_itself(apart, c) ? Role::Cloth : apart.verdicts[c].role;
  };
  const auto count = static_cast<Index>(pieces.size());
  bool hang_on_cloth = seems_cloth;
  for (Index i = 0; i < count; ++i) hang_on_cloth = hang_on_cloth || role(i) == Role::Cloth;
  UnionFind rigid(count);
  for (const auto& [a, b] : loose.pieces.touching)
    if (role(a) != Role::Cloth && role(b) != Role::Cloth) rigid.join(a, b);
  struct Trim {
    std::vector<Index> faces;
    bool wanted = false;
  };
  std::map<Index, Trim> trims;
  for (Index i = 0; i < count; ++i) {
    if (role(i) == Role::Cloth) continue;
    Trim& trim = trims[rigid.find(i)];
    trim.faces.insert(trim.faces.end(), pieces[i].begin(), pieces[i].end());
    trim.wanted = trim.wanted || hang_on_cloth || role(i) == Role::Stitching;
  }
  if (!hang_on_cloth && trims.size() < 2) return;
  for (auto& [first, trim] : trims) {
    if (!trim.wanted) continue;
    std::sort(trim.faces.begin(), trim.faces.end());
    out.push_back(welded_trim(mesh, loose.component, std::move(trim.faces)));
  }
}

/// Trims that hang on cloth by single vertices, or by edges where more than two faces meet.
Result<std::vector<WeldedTrim>> find_hanging_trims(const SourceMesh& mesh, const Study& whole,
                                                   const IdentifyOptions& options, const WhatToCut& what) {
  std::vector<WeldedTrim> out;
  const std::vector<Loose> found = find_loose(mesh, whole, what);
  if (found.empty()) return out;
  std::vector<WeldedTrim> pieces;
  for (const Loose& loose : found)
    for (const std::vector<Index>& piece : loose.pieces.faces) pieces.push_back({loose.component, piece, {}, 0});
  Report unused;
  const Result<Study> apart = study_apart(cut_off(mesh, std::move(pieces)), options, unused);
  if (!apart) return apart.error();
  for (const Loose& loose : found)
    choose_trims(mesh, loose, whole.verdicts[loose.component].role == Role::Cloth, *apart, out);
  return out;
}

}  // namespace

Result<StudiedMesh> study_and_cut(SourceMesh mesh, const IdentifyOptions& options, const WhatToCut& what,
                                  Report& report) {
  Report of_whole;  // counts only if nothing is cut
  Result<Study> whole = study(mesh, options, of_whole);
  if (!whole) return whole.error();
  std::vector<WeldedTrim> trims;
  if (what.hanging) {
    Result<std::vector<WeldedTrim>> hanging = find_hanging_trims(mesh, *whole, options, what);
    if (!hanging) return hanging.error();
    trims = std::move(*hanging);
  }
  StudiedMesh out;
  out.hanging = static_cast<Index>(trims.size());
  CutMesh cut;
  if (!trims.empty()) {
    cut = cut_off(mesh, trims);
    of_whole = {};
    whole = study_apart(cut, options, of_whole);
    if (!whole) return whole.error();
  }
  if (what.creased) {
    const SourceMesh& now = trims.empty() ? mesh : cut.mesh;
    std::vector<WeldedTrim> creased = find_welded_trims(whole->input(now, options.use_names), whole->verdicts);
    if (!creased.empty()) {
      trims.insert(trims.end(), std::make_move_iterator(creased.begin()), std::make_move_iterator(creased.end()));
      cut = cut_off(mesh, trims);
      of_whole = {};
      whole = study_apart(cut, options, of_whole);
      if (!whole) return whole.error();
    }
  }
  for (Finding& finding : of_whole.findings) add(report, std::move(finding));
  if (trims.empty()) {
    out.mesh.mesh = std::move(mesh);
    out.mesh.original_vertices = static_cast<Index>(out.mesh.mesh.positions.size());
  } else {
    out.mesh = std::move(cut);
  }
  out.study = std::move(*whole);
  return out;
}

Result<CutMesh> cut_welded_trims(const SourceMesh& mesh, const IdentifyOptions& options, Report& report) {
  Result<StudiedMesh> studied = study_and_cut(mesh, options, {.hanging = true, .creased = true}, report);
  if (!studied) return studied.error();
  return std::move(studied->mesh);
}

}  // namespace trimtack
