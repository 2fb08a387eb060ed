// SPDX-License-Identifier: MIT
#include "trimtack/split.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <limits>
#include <utility>

#include "core/memory.hpp"
#include "core/name_table.hpp"

namespace trimtack {
namespace {

constexpr double kAbsent = std::numeric_limits<double>::quiet_NaN();
constexpr Vec3 kNoColour{kAbsent, kAbsent, kAbsent};
constexpr std::array<Role, 3> kRoles{Role::Cloth, Role::Trim, Role::Stitching};

bool is_absent(double value) { return std::isnan(value); }
bool is_absent(const Vec3& value) { return std::isnan(value.x); }

// --- split ------------------------------------------------------------------------------------------------------

/// Which roles use an element: one bit each.
using RoleBits = std::vector<std::uint8_t>;

std::uint8_t bit_of(Role role) { return static_cast<std::uint8_t>(1U << static_cast<unsigned>(role)); }

void give_unused_to_cloth(RoleBits& bits) {
  for (std::uint8_t& b : bits) {
    if (b == 0) b = bit_of(Role::Cloth);
  }
}

std::vector<Index> indices_with(const RoleBits& bits, Role role) {
  const std::uint8_t bit = bit_of(role);
  const auto count = std::count_if(bits.begin(), bits.end(), [&](std::uint8_t b) { return (b & bit) != 0; });
  std::vector<Index> list;
  reserve_large(list, static_cast<std::size_t>(count));
  for (std::size_t i = 0; i < bits.size(); ++i) {
    if ((bits[i] & bit) != 0) list.push_back(static_cast<Index>(i));
  }
  return list;
}

struct Usage {
  RoleBits positions, texcoords, normals, faces;
};

/// Who uses each element of a kind. @param corners  of the faces; empty: nobody
void mark_corners(const SourceMesh& mesh, const RoleBits& faces, const std::vector<Index>& corners, RoleBits& bits) {
  if (corners.empty()) return;
  for (Index f = 0; f < mesh.face_count(); ++f)
    for (Index c = mesh.face_offsets[f]; c < mesh.face_offsets[f + 1]; ++c)
      if (corners[c] != kNone) bits[corners[c]] |= faces[f];
}

Usage use_of_faces(const SourceMesh& mesh, const Parts& parts, const Executor& executor) {
  Usage usage{RoleBits(mesh.positions.size()), RoleBits(mesh.texcoords.size()), RoleBits(normal_count(mesh)),
              RoleBits(mesh.face_count())};
  for (Index f = 0; f < mesh.face_count(); ++f)
    usage.faces[f] = bit_of(parts.components[parts.component_of_face[f]].role);
  const std::array<std::pair<const std::vector<Index>*, RoleBits*>, 3> kinds{{{&mesh.corner_position, &usage.positions},
                                                                              {&mesh.corner_texcoord, &usage.texcoords},
                                                                              {&mesh.corner_normal, &usage.normals}}};
  for_ranges(executor, kinds.size(), 1,
             [&](std::size_t k, std::size_t) { mark_corners(mesh, usage.faces, *kinds[k].first, *kinds[k].second); });
  give_unused_to_cloth(usage.positions);
  return usage;
}

std::string name_at(const std::vector<std::string>& table, Index i) { return i == kNone ? std::string() : table[i]; }

SpanningElement spanning_element(const SourceMesh& mesh, Index loose) {
  const LooseElement& element = mesh.loose[loose];
  return {loose,
          element.kind,
          element.vertices,
          element.texcoords,
          element.before_face,
          name_at(mesh.objects, element.state.object),
          name_at(mesh.groups, element.state.group),
          name_at(mesh.smoothings, element.state.smoothing),
          name_at(mesh.materials, element.state.material)};
}

SubsetMap& map_of(SplitMaps& maps, Role role) {
  return role == Role::Cloth ? maps.cloth : (role == Role::Trim ? maps.trims : maps.stitching);
}

/// Gives each loose element to the role that owns all its vertices, and that role its texture coordinates.
void split_loose(const SourceMesh& mesh, Usage& usage, SplitMaps& maps, Report& report) {
  for (Index i = 0; i < mesh.loose.size(); ++i) {
    const LooseElement& element = mesh.loose[i];
    std::uint8_t common = 0xff;
    for (const Index v : element.vertices) common &= usage.positions[v];
    const auto* owner =
        std::find_if(kRoles.begin(), kRoles.end(), [&](Role role) { return (common & bit_of(role)) != 0; });
    if (owner == kRoles.end()) {
      maps.spanning.push_back(spanning_element(mesh, i));
      add(report, {Severity::Warning, "split-spanning-element",
                   "a line or point element joins parts that go to different files; it is kept in parts.json only",
                   mesh.file.empty() ? "loose element " + std::to_string(i) : mesh.file, 0});
      continue;
    }
    SubsetMap& map = map_of(maps, *owner);
    map.loose.push_back(i);
    map.loose_before_face.push_back(element.before_face);
    for (const Index t : element.texcoords) {
      if (t != kNone) usage.texcoords[t] |= bit_of(*owner);
    }
  }
}

// --- extract ----------------------------------------------------------------------------------------------------

template <class T>
std::vector<T> pick(const std::vector<T>& from, const std::vector<Index>& which) {
  std::vector<T> out;
  if (from.empty()) return out;
  reserve_large(out, which.size());
  for (const Index i : which) out.push_back(from[i]);
  return out;
}

/// Like pick, but a list in which everything is absent becomes an empty one.
template <class T>
std::vector<T> pick_optional(const std::vector<T>& from, const std::vector<Index>& which) {
  if (from.empty()) return {};
  if (std::all_of(which.begin(), which.end(), [&](Index i) { return is_absent(from[i]); })) return {};
  return pick(from, which);
}

std::vector<Index> inverse(const std::vector<Index>& map, std::size_t count) {
  std::vector<Index> place = filled_large(count, kNone);
  for (std::size_t i = 0; i < map.size(); ++i) place[map[i]] = static_cast<Index>(i);
  return place;
}

/// The name tables of a mesh that is being put together.
struct StateTables {
  NameTable objects, groups, smoothings, materials;

  explicit StateTables(SourceMesh& to)
      : objects(to.objects), groups(to.groups), smoothings(to.smoothings), materials(to.materials) {}
};

/// Carries names of one table over to another, in order of first use.
struct NameCarrier {
  const std::vector<std::string>& from;
  NameTable& to;
  std::vector<Index> place;

  NameCarrier(const std::vector<std::string>& source, NameTable& target)
      : from(source), to(target), place(source.size(), kNone) {}

  Index carry(Index i) {
    if (i == kNone) return kNone;
    if (place[i] == kNone) place[i] = to.add(from[i]);
    return place[i];
  }
};

struct StateCarrier {
  NameCarrier objects, groups, smoothings, materials;

  StateCarrier(const SourceMesh& from, StateTables& to)
      : objects(from.objects, to.objects),
        groups(from.groups, to.groups),
        smoothings(from.smoothings, to.smoothings),
        materials(from.materials, to.materials) {}

  FaceState carry(const FaceState& state) {
    return {objects.carry(state.object), groups.carry(state.group), smoothings.carry(state.smoothing),
            materials.carry(state.material)};
  }
};

void append_state(std::vector<StateRun>& runs, Index face, const FaceState& state) {
  if (state != (runs.empty() ? FaceState{} : runs.back().state)) runs.push_back({face, state});
}

/// Corner indices of the faces in a map, renumbered by `place`; empty when all are none.
std::vector<Index> extract_corners(const SourceMesh& from, const std::vector<Index>& corners, const SubsetMap& map,
                                   const std::vector<Index>& place, std::size_t count) {
  std::vector<Index> out;
  if (corners.empty()) return out;
  reserve_large(out, count);
  bool any = false;
  for (const Index f : map.faces) {
    for (Index c = from.face_offsets[f]; c < from.face_offsets[f + 1]; ++c) {
      const Index old = corners[c];
      any = any || old != kNone;
      out.push_back(old == kNone ? kNone : place[old]);
    }
  }
  if (!any) out.clear();
  return out;
}

void extract_faces(const SourceMesh& from, const SubsetMap& map, StateCarrier& carrier, SourceMesh& to) {
  const std::vector<Index> position = inverse(map.positions, from.positions.size());
  const std::vector<Index> texcoord = inverse(map.texcoords, from.texcoords.size());
  const std::vector<Index> normal = inverse(map.normals, from.normals.size());
  std::size_t run = 0;
  FaceState state;
  reserve_large(to.face_offsets, map.faces.size() + 1);
  for (std::size_t i = 0; i < map.faces.size(); ++i) {
    const Index f = map.faces[i];
    if (run < from.states.size() && from.states[run].first_face <= f) {
      while (run < from.states.size() && from.states[run].first_face <= f) ++run;
      state = carrier.carry(from.states[run - 1].state);
    }
    append_state(to.states, static_cast<Index>(i), state);
    to.face_offsets.push_back(to.face_offsets.back() + from.face_offsets[f + 1] - from.face_offsets[f]);
  }
  const std::size_t corners = to.face_offsets.back();
  to.corner_position = extract_corners(from, from.corner_position, map, position, corners);
  to.corner_texcoord = extract_corners(from, from.corner_texcoord, map, texcoord, corners);
  to.corner_normal = extract_corners(from, from.corner_normal, map, normal, corners);
  const auto renumbered = [](Index i, const std::vector<Index>& place) { return i == kNone ? kNone : place[i]; };
  for (const Index i : map.loose) {
    LooseElement element = from.loose[i];
    for (Index& v : element.vertices) v = position[v];
    for (Index& t : element.texcoords) t = renumbered(t, texcoord);
    const auto faces_before = std::lower_bound(map.faces.begin(), map.faces.end(), element.before_face);
    element.before_face = static_cast<Index>(faces_before - map.faces.begin());
    element.state = carrier.carry(element.state);
    to.loose.push_back(std::move(element));
  }
}

// --- join -------------------------------------------------------------------------------------------------------

Error bad_maps(std::string message) {
  return {ErrorCode::BadInput, std::move(message) + "; split the combined export again", "maps of the split", 0};
}

struct Output {
  const SourceMesh& mesh;
  const SubsetMap& map;
};
using Outputs = std::array<Output, 3>;

/// Number of elements that the lists cover, or an error when they leave a gap.
template <class List>
Result<std::size_t> covered(const Outputs& outputs, List list_of, const char* what) {
  std::size_t most = 0;
  std::size_t sum = 0;
  for (const Output& output : outputs) {
    const std::vector<Index>& list = list_of(output.map);
    for (std::size_t i = 1; i < list.size(); ++i) {
      if (list[i - 1] >= list[i]) return bad_maps(std::string(what) + " are not in ascending order");
    }
    if (!list.empty()) most = std::max<std::size_t>(most, std::size_t{list.back()} + 1);
    sum += list.size();
  }
  // Every place once needs as many entries as places: so nothing is allocated on the word of a single number.
  if (most > sum) return bad_maps(std::string(what) + " have gaps");
  std::vector<std::uint8_t> seen(most, 0);
  for (const Output& output : outputs) {
    for (const Index i : list_of(output.map)) seen[i] = 1;
  }
  if (std::find(seen.begin(), seen.end(), 0) != seen.end()) return bad_maps(std::string(what) + " have gaps");
  return most;
}

bool same_bits(double a, double b) {
  return std::bit_cast<std::uint64_t>(a) == std::bit_cast<std::uint64_t>(b) || (std::isnan(a) && std::isnan(b));
}
bool same_bits(const Vec2& a, const Vec2& b) { return same_bits(a.x, b.x) && same_bits(a.y, b.y); }
bool same_bits(const Vec3& a, const Vec3& b) {
  return same_bits(a.x, b.x) && same_bits(a.y, b.y) && same_bits(a.z, b.z);
}

/// Puts one list of every output in its places. Shared elements must agree. Optional lists may be empty.
template <class T>
Result<void> scatter(const Outputs& outputs, std::vector<T> SourceMesh::*values, std::vector<Index> SubsetMap::*places,
                     std::size_t count, const T& absent, const char* what, SourceMesh& to) {
  const bool any =
      std::any_of(outputs.begin(), outputs.end(), [&](const Output& output) { return !(output.mesh.*values).empty(); });
  if (!any) return {};
  std::vector<T>& list = to.*values;
  list = filled_large(count, absent);
  std::vector<std::uint8_t> seen(count, 0);
  for (const Output& output : outputs) {
    const std::vector<T>& from = output.mesh.*values;
    const std::vector<Index>& map = output.map.*places;
    for (std::size_t i = 0; i < map.size(); ++i) {
      const T& value = from.empty() ? absent : from[i];
      T& place = list[map[i]];
      if (seen[map[i]] != 0 && !same_bits(place, value)) {
        return bad_maps(std::string(what) + " " + std::to_string(map[i]) + " differs between two outputs");
      }
      seen[map[i]] = 1;
      place = value;
    }
  }
  return {};
}

Result<void> check_sizes(const Outputs& outputs) {
  for (const Output& output : outputs) {
    const SourceMesh& mesh = output.mesh;
    const SubsetMap& map = output.map;
    const std::pair<std::size_t, std::size_t> sizes[] = {
        {mesh.positions.size(), map.positions.size()}, {mesh.texcoords.size(), map.texcoords.size()},
        {mesh.normals.size(), map.normals.size()},     {mesh.face_count(), map.faces.size()},
        {mesh.loose.size(), map.loose.size()},         {mesh.loose.size(), map.loose_before_face.size()}};
    static constexpr const char* kNames[] = {"positions", "texture coordinates", "normals",
                                             "faces",     "loose elements",      "loose elements"};
    for (std::size_t i = 0; i < std::size(sizes); ++i) {
      if (sizes[i].first != sizes[i].second) {
        return bad_maps((mesh.file.empty() ? std::string("an output") : mesh.file) + " has " +
                        std::to_string(sizes[i].first) + " " + kNames[i] + ", its map " +
                        std::to_string(sizes[i].second));
      }
    }
  }
  return {};
}

/// Where a combined face comes from.
struct FaceSource {
  std::uint8_t output = 0;
  Index face = kNone;
};

Result<void> join_faces(const Outputs& outputs, std::size_t count, std::array<StateCarrier, 3>& carriers,
                        SourceMesh& to) {
  std::vector<FaceSource> source = filled_large(count, FaceSource{});
  for (std::size_t o = 0; o < outputs.size(); ++o) {
    for (std::size_t i = 0; i < outputs[o].map.faces.size(); ++i) {
      FaceSource& place = source[outputs[o].map.faces[i]];
      if (place.face != kNone) {
        return bad_maps("face " + std::to_string(outputs[o].map.faces[i]) + " is in two outputs");
      }
      place = {static_cast<std::uint8_t>(o), static_cast<Index>(i)};
    }
  }
  const bool texcoords = std::any_of(outputs.begin(), outputs.end(),
                                     [](const Output& output) { return !output.mesh.corner_texcoord.empty(); });
  const bool normals = std::any_of(outputs.begin(), outputs.end(),
                                   [](const Output& output) { return !output.mesh.corner_normal.empty(); });
  const auto back = [](const std::vector<Index>& corners, Index c, const std::vector<Index>& map) {
    return corners.empty() || corners[c] == kNone ? kNone : map[corners[c]];
  };
  std::size_t corners = 0;
  for (const Output& output : outputs) corners += output.mesh.corner_position.size();
  reserve_large(to.face_offsets, count + 1);
  reserve_large(to.corner_position, corners);
  if (texcoords) reserve_large(to.corner_texcoord, corners);
  if (normals) reserve_large(to.corner_normal, corners);
  std::array<std::size_t, 3> run{};
  std::array<FaceState, 3> state;
  for (Index f = 0; f < count; ++f) {
    const std::size_t o = source[f].output;
    const Output& output = outputs[o];
    const SourceMesh& mesh = output.mesh;
    bool changed = false;
    for (; run[o] < mesh.states.size() && mesh.states[run[o]].first_face <= source[f].face; ++run[o]) changed = true;
    if (changed) state[o] = carriers[o].carry(mesh.states[run[o] - 1].state);
    append_state(to.states, f, state[o]);
    for (Index c = mesh.face_offsets[source[f].face]; c < mesh.face_offsets[source[f].face + 1]; ++c) {
      to.corner_position.push_back(output.map.positions[mesh.corner_position[c]]);
      if (texcoords) to.corner_texcoord.push_back(back(mesh.corner_texcoord, c, output.map.texcoords));
      if (normals) to.corner_normal.push_back(back(mesh.corner_normal, c, output.map.normals));
    }
    to.face_offsets.push_back(static_cast<Index>(to.corner_position.size()));
  }
  return {};
}

bool fits(const LooseElement& element, const SourceMesh& mesh) {
  const auto below = [](std::size_t count) { return [count](Index i) { return i < count; }; };
  const auto texcoord_good = [&](Index t) { return t == kNone || t < mesh.texcoords.size(); };
  return element.before_face <= mesh.face_count() &&
         std::all_of(element.vertices.begin(), element.vertices.end(), below(mesh.positions.size())) &&
         std::all_of(element.texcoords.begin(), element.texcoords.end(), texcoord_good) &&
         (element.texcoords.empty() || element.texcoords.size() == element.vertices.size());
}

Result<void> join_loose(const Outputs& outputs, const SplitMaps& maps, std::array<StateCarrier, 3>& carriers,
                        StateTables& tables, SourceMesh& to) {
  std::size_t count = maps.spanning.size();
  for (const Output& output : outputs) count += output.map.loose.size();
  to.loose.resize(count);
  std::vector<std::uint8_t> seen(count, 0);
  const auto take = [&](Index place) { return place < count && std::exchange(seen[place], 1) == 0; };
  for (std::size_t o = 0; o < outputs.size(); ++o) {
    const SubsetMap& map = outputs[o].map;
    for (std::size_t i = 0; i < map.loose.size(); ++i) {
      if (!take(map.loose[i])) return bad_maps("loose elements have gaps or repeats");
      LooseElement element = outputs[o].mesh.loose[i];
      for (Index& v : element.vertices) v = map.positions[v];
      for (Index& t : element.texcoords) t = t == kNone ? kNone : map.texcoords[t];
      element.before_face = map.loose_before_face[i];
      element.state = carriers[o].carry(element.state);
      to.loose[map.loose[i]] = std::move(element);
    }
  }
  const auto number = [](NameTable& table, const std::string& name) { return name.empty() ? kNone : table.add(name); };
  for (const SpanningElement& spanning : maps.spanning) {
    if (!take(spanning.loose)) return bad_maps("loose elements have gaps or repeats");
    const FaceState state{number(tables.objects, spanning.object), number(tables.groups, spanning.group),
                          number(tables.smoothings, spanning.smoothing), number(tables.materials, spanning.material)};
    to.loose[spanning.loose] = {spanning.kind, spanning.vertices, spanning.texcoords, spanning.before_face, state};
  }
  for (std::size_t i = 0; i < count; ++i) {
    if (!fits(to.loose[i], to) || (i > 0 && to.loose[i].before_face < to.loose[i - 1].before_face)) {
      return bad_maps("loose element " + std::to_string(i) + " does not fit the mesh");
    }
  }
  return {};
}

}  // namespace

SplitMaps split(const SourceMesh& combined, const Parts& parts, Report& report, const Executor& executor) {
  Usage usage = use_of_faces(combined, parts, executor);
  SplitMaps maps;
  split_loose(combined, usage, maps, report);
  give_unused_to_cloth(usage.texcoords);
  give_unused_to_cloth(usage.normals);
  const std::array<std::pair<const RoleBits*, std::vector<Index> SubsetMap::*>, 4> kinds{
      {{&usage.positions, &SubsetMap::positions},
       {&usage.texcoords, &SubsetMap::texcoords},
       {&usage.normals, &SubsetMap::normals},
       {&usage.faces, &SubsetMap::faces}}};
  for_ranges(executor, kRoles.size() * kinds.size(), 1, [&](std::size_t i, std::size_t) {
    const Role role = kRoles[i / kinds.size()];
    const auto& [bits, list] = kinds[i % kinds.size()];
    map_of(maps, role).*list = indices_with(*bits, role);
  });
  return maps;
}

SourceMesh extract(const SourceMesh& combined, const SubsetMap& map) {
  SourceMesh mesh;
  mesh.file = combined.file;
  mesh.positions = pick(combined.positions, map.positions);
  mesh.position_weights = pick_optional(combined.position_weights, map.positions);
  mesh.colours = pick_optional(combined.colours, map.positions);
  mesh.colour_alpha = pick_optional(combined.colour_alpha, map.positions);
  mesh.texcoords = pick(combined.texcoords, map.texcoords);
  mesh.texcoord_w = pick_optional(combined.texcoord_w, map.texcoords);
  mesh.normals = pick(combined.normals, map.normals);
  mesh.material_libraries = combined.material_libraries;
  StateTables tables(mesh);
  StateCarrier carrier(combined, tables);
  extract_faces(combined, map, carrier, mesh);
  return mesh;
}

Result<SourceMesh> join(const SourceMesh& cloth, const SourceMesh& trims, const SourceMesh& stitching,
                        const SplitMaps& maps) {
  const Outputs outputs{{{cloth, maps.cloth}, {trims, maps.trims}, {stitching, maps.stitching}}};
  if (Result<void> good = check_sizes(outputs); !good) return good.error();
  const auto positions = covered(
      outputs, [](const SubsetMap& m) -> auto& { return m.positions; }, "positions");
  if (!positions) return positions.error();
  const auto texcoords = covered(
      outputs, [](const SubsetMap& m) -> auto& { return m.texcoords; }, "texture coordinates");
  if (!texcoords) return texcoords.error();
  const auto normals = covered(
      outputs, [](const SubsetMap& m) -> auto& { return m.normals; }, "normals");
  if (!normals) return normals.error();
  const auto faces = covered(
      outputs, [](const SubsetMap& m) -> auto& { return m.faces; }, "faces");
  if (!faces) return faces.error();

  SourceMesh mesh;
  const Result<void> parts[] = {
      scatter(outputs, &SourceMesh::positions, &SubsetMap::positions, *positions, Vec3{}, "position", mesh),
      scatter(outputs, &SourceMesh::position_weights, &SubsetMap::positions, *positions, kAbsent, "weight", mesh),
      scatter(outputs, &SourceMesh::colours, &SubsetMap::positions, *positions, kNoColour, "colour", mesh),
      scatter(outputs, &SourceMesh::colour_alpha, &SubsetMap::positions, *positions, kAbsent, "colour alpha", mesh),
      scatter(outputs, &SourceMesh::texcoords, &SubsetMap::texcoords, *texcoords, Vec2{}, "texture coordinate", mesh),
      scatter(outputs, &SourceMesh::texcoord_w, &SubsetMap::texcoords, *texcoords, kAbsent, "texture w", mesh),
      scatter(outputs, &SourceMesh::normals, &SubsetMap::normals, *normals, Vec3{}, "normal", mesh)};
  for (const Result<void>& good : parts) {
    if (!good) return good.error();
  }
  NameTable libraries(mesh.material_libraries);
  for (const Output& output : outputs) {
    for (const std::string& name : output.mesh.material_libraries) libraries.add(name);
  }
  StateTables tables(mesh);
  std::array<StateCarrier, 3> carriers{StateCarrier(cloth, tables), StateCarrier(trims, tables),
                                       StateCarrier(stitching, tables)};
  if (Result<void> good = join_faces(outputs, *faces, carriers, mesh); !good) return good.error();
  if (Result<void> good = join_loose(outputs, maps, carriers, tables, mesh); !good) return good.error();
  return mesh;
}

}  // namespace trimtack
