// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <limits>
#include <map>
#include <span>

#include "cli/folder.hpp"
#include "cli/following.hpp"
#include "cli/summary.hpp"
#include "trimtack/components.hpp"
#include "trimtack/io/poses.hpp"
#include "trimtack/rebind.hpp"
#include "trimtack/trims_again.hpp"
#include "trimtack/weld.hpp"

namespace trimtack::cli {
namespace {

/// Another size is up to a doll's; beyond that the file is in another unit, and no trim would find its place.
Result<void> check_size(const SourceMesh& mesh, const ClothMesh& old_cloth) {
  constexpr double kMost = 8;
  const Box now = bounds(mesh.positions), before = bounds(old_cloth.positions);
  const double ratio = length(now.max - now.min) / length(before.max - before.min);
  if (!(ratio > kMost || ratio < 1 / kMost)) return {};
  std::array<char, 32> text{};
  std::snprintf(text.data(), text.size(), "%.3g", ratio);
  return Error{ErrorCode::BadInput,
               std::string("is ") + text.data() + " times as large as the old cloth; scale it to the old one's unit",
               mesh.file, 0};
}

/// A whole export instead of its cloth would become a cloth with trims in it: most of the trims' parts are there again.
Result<void> check_trimless(const SourceMesh& mesh, const Garment& old, const Executor& executor) {
  const TrimsAgain again = find_trims_again(old.combined, old.parts, mesh, executor);
  if (again.wanted == 0 || 2 * std::size_t{again.seen} < again.wanted) return {};
  return Error{ErrorCode::BadInput,
               "holds " + plural(again.seen, "part", "parts") +
                   " meshed like the trims; give the cloth alone: cloth.obj of " + "trimtack split " + mesh.file +
                   " -o FOLDER",
               mesh.file, 0};
}

/// The new cloth as the solver sees it. Its connected pieces take the component ids of the old pieces they lie on.
ClothMesh cloth_of(const SourceMesh& mesh, const ClothMesh& old_cloth, const Executor& executor) {
  ClothMesh cloth;
  cloth.positions = mesh.positions;
  cloth.face_offsets = mesh.face_offsets;
  cloth.face_corners = mesh.corner_position;
  const bool has_uv =
      !mesh.corner_texcoord.empty() &&
      std::find(mesh.corner_texcoord.begin(), mesh.corner_texcoord.end(), kNone) == mesh.corner_texcoord.end();
  if (has_uv) {
    for (const Index vt : mesh.corner_texcoord) cloth.corner_uv.push_back(mesh.texcoords[vt]);
  }
  if (mesh.face_offsets == old_cloth.face_offsets && mesh.corner_position == old_cloth.face_corners) {
    cloth.component_of_face = old_cloth.component_of_face;
    complete_cloth(cloth);
    return cloth;
  }
  std::vector<Vec3> centres(mesh.face_count());
  for (Index f = 0; f < mesh.face_count(); ++f) {
    for (const Index v : mesh.face(f)) centres[f] += mesh.positions[v];
    centres[f] = (1.0 / static_cast<double>(mesh.face(f).size())) * centres[f];
  }
  std::vector<Surface> nearest(centres.size());
  const ClothIndex index(old_cloth, executor);
  index.closest_points(centres, 1e300, nearest, executor);
  const ComponentMap pieces = find_components(view(mesh), weld(mesh.positions));
  std::vector<std::map<Index, Index>> votes(pieces.count());
  for (Index f = 0; f < mesh.face_count(); ++f) {
    if (nearest[f].triangle == kNone) continue;
    ++votes[pieces.of_face[f]][old_cloth.component_of_face[old_cloth.triangles.face[nearest[f].triangle]]];
  }
  cloth.component_of_face.resize(mesh.face_count());
  for (Index f = 0; f < mesh.face_count(); ++f) {
    const std::map<Index, Index>& vote = votes[pieces.of_face[f]];
    const auto most =
        std::max_element(vote.begin(), vote.end(), [](const auto& a, const auto& b) { return a.second < b.second; });
    cloth.component_of_face[f] = most == vote.end() ? old_cloth.component_of_face.front() : most->first;
  }
  complete_cloth(cloth);
  return cloth;
}

/// trims.obj or stitching.obj with every trim at its new rest place. A normal that several trims share turns with the
/// first.
void move_part(SourceMesh& mesh, const SubsetMap& map, const std::vector<Index>& trim_of_vertex,
               const std::vector<CarriedTrim>& carried) {
  std::vector<Vec3> positions = mesh.positions;
  const auto motion_of = [&](Index local) -> const Pose* {
    const Index trim = trim_of_vertex[map.positions[local]];
    return trim == kNone ? nullptr : &carried[trim].motion;
  };
  for (Index v = 0; v < positions.size(); ++v) {
    if (const Pose* motion = motion_of(v)) positions[v] = apply(*motion, positions[v]);
  }
  std::vector<bool> turned(mesh.normals.size(), false);
  for (std::size_t c = 0; c < mesh.corner_normal.size(); ++c) {
    const Index normal = mesh.corner_normal[c];
    const Pose* motion = motion_of(mesh.corner_position[c]);
    if (normal == kNone || turned[normal] || motion == nullptr) continue;
    turned[normal] = true;
    mesh.normals[normal] = motion->rotation * mesh.normals[normal];
  }
  set_positions(mesh, std::move(positions));
  mesh.text.reset();
}

/// The same numbers of everything and the same faces: then the old maps hold for the new cloth.
bool fits(const SourceMesh& now, const SourceMesh& before) {
  return now.positions.size() == before.positions.size() && now.texcoords.size() == before.texcoords.size() &&
         now.normals.size() == before.normals.size() && now.loose.size() == before.loose.size() &&
         now.face_offsets == before.face_offsets && now.corner_position == before.corner_position;
}

/// Appends a mesh's index spaces behind those of the meshes before it.
SubsetMap map_behind(const SourceMesh& mesh, std::array<Index, 5>& next) {
  const auto range = [](Index& from, std::size_t count) {
    std::vector<Index> out(count);
    for (Index& i : out) i = from++;
    return out;
  };
  SubsetMap map;
  map.positions = range(next[0], mesh.positions.size());
  map.texcoords = range(next[1], mesh.texcoords.size());
  map.normals = range(next[2], mesh.normals.size());
  for (const LooseElement& loose : mesh.loose) map.loose_before_face.push_back(next[3] + loose.before_face);
  map.faces = range(next[3], mesh.face_count());
  map.loose = range(next[4], mesh.loose.size());
  return map;
}

std::vector<IndexRange> to_ranges(std::vector<Index>& indices) {
  std::sort(indices.begin(), indices.end());
  indices.erase(std::unique(indices.begin(), indices.end()), indices.end());
  std::vector<IndexRange> ranges;
  for (const Index i : indices) {
    if (!ranges.empty() && ranges.back().end == i) {
      ++ranges.back().end;
    } else {
      ranges.push_back({i, i + 1});
    }
  }
  return ranges;
}

/// Faces and vertices of every component in the new combined mesh.
void renumber(Garment& garment, const Garment& old, const ClothMesh& cloth) {
  Parts& parts = garment.parts;
  parts.source_faces = garment.combined.face_count();
  parts.source_vertices = static_cast<Index>(garment.combined.positions.size());
  parts.doubled_vertices.clear();
  parts.component_of_face.assign(parts.source_faces, kNone);
  for (std::size_t f = 0; f < cloth.component_of_face.size(); ++f) {
    parts.component_of_face[garment.maps.cloth.faces[f]] = cloth.component_of_face[f];
  }
  for (const auto& [now, before] :
       {std::pair{&garment.maps.trims, &old.maps.trims}, {&garment.maps.stitching, &old.maps.stitching}}) {
    for (std::size_t f = 0; f < now->faces.size(); ++f) {
      parts.component_of_face[now->faces[f]] = old.parts.component_of_face[before->faces[f]];
    }
  }
  std::vector<std::vector<Index>> faces(parts.components.size()), vertices(parts.components.size());
  parts.component_of_vertex.assign(parts.source_vertices, kNone);
  for (Index f = 0; f < parts.source_faces; ++f) {
    const Index c = parts.component_of_face[f];
    faces[c].push_back(f);
    for (const Index v : garment.combined.face(f)) {
      if (parts.component_of_vertex[v] != kNone) continue;
      parts.component_of_vertex[v] = c;
      vertices[c].push_back(v);
    }
  }
  for (std::size_t c = 0; c < parts.components.size(); ++c) {
    parts.components[c].faces = to_ranges(faces[c]);
    parts.components[c].vertices = to_ranges(vertices[c]);
  }
}

/// On a mirror image with the faces as they were these face inwards, and the trims with them.
void warn_of_mirror(Session& session, const Following& following, const ClothMesh& cloth) {
  const Result<FrameState> state = check_frame(following.folder().view, cloth.positions);
  if (!state || state->mirrored != Mirrored::Yes) return;
  add(session.report(), {Severity::Warning, "rebind-mirrored",
                         "it is a mirror image of the old one with the same faces, which therefore face inwards, and "
                         "the trims lie on that side; turn its faces over and rebind, or export it without mirroring",
                         "cloth", 0, 1});
}

std::string carried_csv(const Rebound& rebound) {
  std::string out = "trim,name,carried,moved_mm,turned_deg,disagreement_mm,remark\n";
  for (std::size_t i = 0; i < rebound.carried.size(); ++i) {
    const CarriedTrim& trim = rebound.carried[i];
    out += std::to_string(rebound.trims.id[i]) + ",";
    append_csv_field(out, rebound.trims.name[i]);
    out += trim.carried ? ",yes," : ",no,";
    json_text::append_number(out, trim.moved_mm);
    out += ',';
    json_text::append_number(out, trim.turned_deg);
    out += ',';
    json_text::append_number(out, trim.disagreement_mm);
    out += ',';
    append_csv_field(out, trim.why);
    out += '\n';
  }
  return out;
}

/// The garment on its new cloth: cloth, then trims, then stitching, as one combined mesh.
Result<Garment> assemble(const SourceMesh& new_cloth, const ClothMesh& cloth, const Following& following,
                         const Rebound& rebound) {
  const Garment& old = following.folder().garment;
  std::vector<Index> trim_of_vertex(old.combined.positions.size(), kNone);
  const TrimShapes& trims = following.trims();
  for (Index t = 0; t < trims.id.size(); ++t) {
    for (Index v = trims.vertex_offsets[t]; v < trims.vertex_offsets[t + 1]; ++v)
      trim_of_vertex[trims.source_vertex[v]] = t;
  }
  SourceMesh moved_trims = following.folder().trims, moved_stitching = following.folder().stitching;
  move_part(moved_trims, old.maps.trims, trim_of_vertex, rebound.carried);
  move_part(moved_stitching, old.maps.stitching, trim_of_vertex, rebound.carried);
  Garment garment;
  if (fits(new_cloth, following.folder().cloth)) {
    garment.maps = old.maps;  // the combined export's own order: its frames stay valid
  } else {
    std::array<Index, 5> next{};
    garment.maps.cloth = map_behind(new_cloth, next);
    garment.maps.trims = map_behind(moved_trims, next);
    garment.maps.stitching = map_behind(moved_stitching, next);
  }
  Result<SourceMesh> combined = join(new_cloth, moved_trims, moved_stitching, garment.maps);
  if (!combined) return combined.error();
  garment.combined = std::move(*combined);
  garment.combined.file = new_cloth.file;
  garment.combined.attached = new_cloth.attached;
  garment.parts = old.parts;
  garment.parts.source_file = new_cloth.file;
  renumber(garment, old, cloth);
  for (std::size_t i = 0; i < rebound.carried.size(); ++i) {
    Pose& placement = garment.parts.trims[rebound.trims.id[i]].placement;
    const Pose& motion = rebound.carried[i].motion;
    placement = {motion.rotation * placement.rotation, apply(motion, placement.translation)};
  }
  return garment;
}

}  // namespace

int run(const RebindCommandOptions& options) {
  Session session("rebind", options.common);
  Result<FileSet> files = FileSet::open(options.output);
  if (!files) return session.fail(files.error());
  const Result<Following> following = Following::open(session, options.input);
  if (!following) return session.fail(following.error());
  const Result<SourceMesh> new_cloth = read_combined(session, options.cloth);
  if (!new_cloth) return session.fail(new_cloth.error());
  if (new_cloth->face_count() == 0) {
    return session.fail({ErrorCode::BadInput, "the new cloth has no faces; export it as polygons", options.cloth, 0});
  }
  if (auto sized = check_size(*new_cloth, following->cloth()); !sized) return session.fail(sized.error());
  if (auto bare = check_trimless(*new_cloth, following->folder().garment, session.executor()); !bare)
    return session.fail(bare.error());
  session.progress("rebinding");
  const ClothMesh cloth = cloth_of(*new_cloth, following->cloth(), session.executor());
  const ClothIndex index(cloth, session.executor());
  RebindOptions how;
  how.by = options.by == "vertex"
               ? RebindBy::Vertex
               : (options.by == "position" ? RebindBy::Position : (options.by == "uv" ? RebindBy::Uv : RebindBy::Auto));
  how.reach_mm = options.reach_mm;
  how.bind.executor = session.executor();
  Result<Rebound> rebound =
      rebind(following->cloth(), following->table(), following->trims(), index, how, session.report());
  if (!rebound) return session.fail(rebound.error());
  if (rebound->by == RebindBy::Vertex) warn_of_mirror(session, *following, cloth);
  const Result<Garment> garment = assemble(*new_cloth, cloth, *following, *rebound);
  if (!garment) return session.fail(garment.error());

  rebound->table.up = following->table().up;
  const std::vector<std::filesystem::path> materials = {std::filesystem::path(options.cloth).parent_path(),
                                                        options.input};
  auto written = write_split(session, *files, *garment, materials, session.report());
  if (written) written = write_tables(session, *files, rebound->table);
  if (written) written = files->write("rebind.csv", carried_csv(*rebound));
  if (written) written = files->commit(session.executor());
  if (!written) return session.fail(written.error());

  std::size_t carried = 0;
  double most_moved = 0;
  for (const CarriedTrim& trim : rebound->carried) {
    carried += trim.carried ? 1U : 0U;
    most_moved = std::max(most_moved, trim.moved_mm);
  }
  session.say(plural(carried, "trim", "trims") + " of " + std::to_string(rebound->carried.size()) + " carried by " +
              to_text(rebound->by) + ", moved by at most " + fixed(most_moved, 2) + " mm; rebind.csv lists them");
  say_files(session, options.output, *files);
  JsonObject answer;
  answer.text("folder", options.input)
      .text("output", options.output)
      .text("by", to_text(rebound->by))
      .whole("trims", rebound->carried.size())
      .whole("carried", carried)
      .number("most_moved_mm", most_moved)
      .raw("files", files_json(*files));
  return session.finish(answer);
}

}  // namespace trimtack::cli
