// SPDX-License-Identifier: MIT
#include "trimtack/io/scene.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstddef>
#include <limits>
#include <map>
#include <set>
#include <tuple>
#include <utility>

namespace trimtack {
namespace {

Error bad(std::string message) { return {ErrorCode::BadInput, std::move(message), "parts.json", 0}; }

// Picks the faces of one trim out of the mesh that holds all trims of its role, without touching the rest: stamps tell
// which elements were met for the present trim.
class TrimPicker {
 public:
  TrimPicker(const SourceMesh& mesh, const SubsetMap& map) : mesh_(mesh), map_(map) {
    position_.stamp.resize(mesh.positions.size());
    texcoord_.stamp.resize(mesh.texcoords.size());
    normal_.stamp.resize(mesh.normals.size());
    for (Renumbered* r : {&position_, &texcoord_, &normal_}) r->local.resize(r->stamp.size());
  }

  /// False when a face of the trim is not in the mesh.
  bool pick(const Trim& trim, const std::vector<Component>& components) {
    faces_.clear();
    for (const Index component : trim.components) {
      if (component >= components.size()) return false;
      for (const IndexRange& range : components[component].faces) {
        const auto at = std::lower_bound(map_.faces.begin(), map_.faces.end(), range.first);
        const auto first = static_cast<std::size_t>(at - map_.faces.begin());
        for (Index k = 0; k < range.end - range.first; ++k) {
          const std::size_t face = first + k;
          if (face >= mesh_.face_count() || face >= map_.faces.size() || map_.faces[face] != range.first + k)
            return false;
          faces_.push_back(static_cast<Index>(face));
        }
      }
    }
    std::sort(faces_.begin(), faces_.end());
    faces_.erase(std::unique(faces_.begin(), faces_.end()), faces_.end());
    ++now_;
    for (Renumbered* r : {&position_, &texcoord_, &normal_}) r->items.clear();
    for (const Index face : faces_) {
      for (Index c = mesh_.face_offsets[face]; c < mesh_.face_offsets[face + 1]; ++c) {
        local(position_, mesh_.corner_position[c]);
        if (!mesh_.corner_texcoord.empty()) local(texcoord_, mesh_.corner_texcoord[c]);
        if (!mesh_.corner_normal.empty()) local(normal_, mesh_.corner_normal[c]);
      }
    }
    return !faces_.empty();
  }

  /// The trim's vertices in the order of their first corners.
  const std::vector<Index>& vertices() const { return position_.items; }

  /// What two trims must have in common to share a mesh, apart from the place of the vertices (FNV-1a, 64 bits).
  std::uint64_t signature() {
    std::uint64_t hash = 14695981039346656037U;
    const auto mix = [&hash](std::uint64_t value) {
      for (int i = 0; i < 8; ++i) hash = (hash ^ (value >> (8 * i) & 0xff)) * 1099511628211U;
    };
    for (const Index face : faces_) {
      const FaceState state = state_of(mesh_, face);
      mix(state.material);
      mix(state.smoothing);
      mix(mesh_.face_offsets[face + 1] - mesh_.face_offsets[face]);
      for (Index c = mesh_.face_offsets[face]; c < mesh_.face_offsets[face + 1]; ++c) {
        mix(local(position_, mesh_.corner_position[c]));
        if (!mesh_.corner_texcoord.empty()) {
          const Index t = mesh_.corner_texcoord[c];
          mix(t == kNone ? kNone : local(texcoord_, t));
          if (t != kNone) mix(std::bit_cast<std::uint64_t>(mesh_.texcoords[t].x));
          if (t != kNone) mix(std::bit_cast<std::uint64_t>(mesh_.texcoords[t].y));
        }
        if (!mesh_.corner_normal.empty()) mix(local(normal_, mesh_.corner_normal[c]));
      }
    }
    return hash;
  }

  /// The trim as a mesh of its own, in the coordinates of `placement`'s source.
  SourceMesh mesh(const Pose& placement, double scale) {
    SourceMesh out;
    out.file = mesh_.file;
    const Mat3 back = transposed(placement.rotation);
    for (const Index v : position_.items) {
      out.positions.push_back((1 / scale) * (back * (mesh_.positions[v] - placement.translation)));
    }
    if (!mesh_.colours.empty()) {
      for (const Index v : position_.items) out.colours.push_back(mesh_.colours[v]);
    }
    for (const Index t : texcoord_.items) out.texcoords.push_back(mesh_.texcoords[t]);
    for (const Index n : normal_.items) out.normals.push_back(back * mesh_.normals[n]);
    const bool has_texcoords = !out.texcoords.empty(), has_normals = !out.normals.empty();
    std::map<Index, Index> materials, smoothings;
    const auto name = [](std::map<Index, Index>& known, Index id, const std::vector<std::string>& from,
                         std::vector<std::string>& to) {
      if (id == kNone) return kNone;
      const auto [at, is_new] = known.emplace(id, static_cast<Index>(to.size()));
      if (is_new) to.push_back(from[id]);
      return at->second;
    };
    for (const Index face : faces_) {
      FaceState state;
      const FaceState source = state_of(mesh_, face);
      state.material = name(materials, source.material, mesh_.materials, out.materials);
      state.smoothing = name(smoothings, source.smoothing, mesh_.smoothings, out.smoothings);
      if ((out.states.empty() ? FaceState{} : out.states.back().state) != state) {
        out.states.push_back({out.face_count(), state});
      }
      for (Index c = mesh_.face_offsets[face]; c < mesh_.face_offsets[face + 1]; ++c) {
        out.corner_position.push_back(local(position_, mesh_.corner_position[c]));
        if (has_texcoords) out.corner_texcoord.push_back(local(texcoord_, mesh_.corner_texcoord[c]));
        if (has_normals) out.corner_normal.push_back(local(normal_, mesh_.corner_normal[c]));
      }
      out.face_offsets.push_back(static_cast<Index>(out.corner_position.size()));
    }
    if (!out.materials.empty()) out.material_libraries = mesh_.material_libraries;
    return out;
  }

  /// Largest distance between the trim's own vertices and the placed shape's.
  double deviation(const SourceMesh& shape, const Pose& placement, double scale) const {
    if (shape.positions.size() != position_.items.size()) return std::numeric_limits<double>::infinity();
    double largest = 0;
    for (std::size_t i = 0; i < position_.items.size(); ++i) {
      const Vec3 placed = apply(placement, scale * shape.positions[i]);
      largest = std::max(largest, length(placed - mesh_.positions[position_.items[i]]));
    }
    return largest;
  }

 private:
  struct Renumbered {
    std::vector<std::uint32_t> stamp;
    std::vector<Index> local, items;
  };
  // Number of an element within the present trim; met for the first time, it gets the next one.
  Index local(Renumbered& r, Index id) const {
    if (id == kNone) return kNone;
    if (r.stamp[id] != now_) {
      r.stamp[id] = now_;
      r.local[id] = static_cast<Index>(r.items.size());
      r.items.push_back(id);
    }
    return r.local[id];
  }

  const SourceMesh& mesh_;
  const SubsetMap& map_;
  std::vector<Index> faces_;
  Renumbered position_, texcoord_, normal_;
  std::uint32_t now_ = 0;
};

// The shapes found so far, by what their trims must have in common.
struct ShapeKey {
  Index prototype = kNone;
  bool mirrored = false;
  Role role = Role::Trim;
  std::uint64_t signature = 0;
  friend auto operator<=>(const ShapeKey&, const ShapeKey&) = default;  // NOLINT(modernize-use-nullptr): not ours
};

// A shape far from its own origin (a trim without a prototype stands where it stood) is brought back, since hosts keep
// it in float32. Returns how far it was moved.
Vec3 recentre(SourceMesh& shape) {
  const Box box = bounds(shape.positions);
  const Vec3 centre = 0.5 * (box.min + box.max);
  if (squared_length(centre) <= squared_length(box.max - box.min)) return {};
  for (Vec3& p : shape.positions) p -= centre;
  return centre;
}

Pose shifted(const Pose& placement, double scale, const Vec3& shift) {
  Pose pose = placement;
  pose.translation += pose.rotation * (scale * shift);
  return pose;
}

std::string distinct_name(std::set<std::string>& used, std::string name) {
  if (name.empty()) name = "shape";
  std::string candidate = name;
  for (int i = 2; !used.insert(candidate).second; ++i) candidate = name + "_" + std::to_string(i);
  return candidate;
}

}  // namespace

Result<Scene> build_scene(const SourceMesh& cloth, const SourceMesh& trims, const SourceMesh& stitching,
                          const Parts& parts, const SplitMaps& maps, std::span<const Index> order, Report& report,
                          double tolerance) {
  Scene scene;
  scene.cloth = &cloth;
  scene.unit = parts.unit;
  scene.up = parts.up;
  std::vector<Index> all;
  if (order.empty()) {
    for (Index t = 0; t < parts.trims.size(); ++t) all.push_back(t);
    order = all;
  }
  const Box box = bounds(cloth.positions);
  const double allowed = tolerance * length(box.max - box.min);
  TrimPicker trim_picker(trims, maps.trims), stitching_picker(stitching, maps.stitching);
  std::map<ShapeKey, std::vector<Index>> known;
  std::vector<Vec3> shifts;  // of each shape
  std::set<std::string> used_names;
  for (const Index id : order) {
    if (id >= parts.trims.size()) return bad("there is no trim " + std::to_string(id));
    const Trim& trim = parts.trims[id];
    if (trim.role == Role::Cloth) return bad("trim " + std::to_string(id) + " has the role cloth");
    TrimPicker& picker = trim.role == Role::Trim ? trim_picker : stitching_picker;
    if (!picker.pick(trim, parts.components)) {
      return bad("the faces of trim " + std::to_string(id) + " are not in the split meshes; run split again");
    }
    const double scale = trim.scale > 0 && std::isfinite(trim.scale) ? trim.scale : 1.0;
    Scene::Placed placed{trim.name, id, trim.role, kNone, trim.prototype, trim.mirrored, scale, trim.placement};
    std::vector<Index>& candidates = known[{trim.prototype, trim.mirrored, trim.role, picker.signature()}];
    for (const Index shape : candidates) {
      const Pose placement = shifted(trim.placement, scale, shifts[shape]);
      if (trim.prototype != kNone && picker.deviation(scene.shapes[shape], placement, scale) <= allowed) {
        placed.shape = shape;
        placed.placement = placement;
        break;
      }
    }
    if (placed.shape == kNone) {
      placed.shape = static_cast<Index>(scene.shapes.size());
      // A prototype whose copies differ has few kinds; beyond that the search would cost more than the sharing saves.
      if (candidates.size() < 8) candidates.push_back(placed.shape);
      scene.shapes.push_back(picker.mesh(trim.placement, scale));
      shifts.push_back(recentre(scene.shapes.back()));
      placed.placement = shifted(trim.placement, scale, shifts.back());
      const bool has_prototype = trim.prototype < parts.prototypes.size();
      std::string name = has_prototype ? parts.prototypes[trim.prototype].name : trim.name;
      if (trim.mirrored) name += "_mirrored";
      scene.shape_names.push_back(distinct_name(used_names, std::move(name)));
    }
    scene.trims.push_back(std::move(placed));
  }
  for (const SourceMesh* mesh : {&trims, &stitching}) {
    if (mesh->loose.empty()) continue;
    add(report, {Severity::Note, "scene-loose", "lines and points of trims are not part of a scene", mesh->file, 0,
                 mesh->loose.size()});
  }
  return scene;
}

}  // namespace trimtack
