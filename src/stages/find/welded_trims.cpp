// SPDX-License-Identifier: MIT
// Only faces of another material or much finer than the cloth are looked at. They are joined across smooth edges of one
// material; what stays small and lies together is a candidate, and its border to the rest decides.
#include "trimtack/welded_trims.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <numbers>
#include <numeric>

#include "core/area_vector.hpp"
#include "core/memory.hpp"
#include "core/union_find.hpp"
#include "stages/find/edge_sides.hpp"

namespace trimtack {
namespace {

constexpr double kCrease = 40.0 * std::numbers::pi / 180.0;
constexpr double kLongestMm = 60;
constexpr double kLargestShare = 0.12;  // of the garment
constexpr std::size_t kMost = 1000;
constexpr double kFine = 0.5;                        // of the cloth's edges
constexpr std::size_t kFewest = 4, kFewestFine = 8;  // faces
constexpr double kFlat = 0.93, kLow = 0.8;           // length of the summed area vectors over the area: 1 is flat

template <class Faces>
std::vector<Index> materials_of(const SourceMesh& mesh, const Faces& faces) {
  std::vector<Index> out;
  out.reserve(faces.size());
  std::size_t run = 0;
  Index material = kNone;
  for (const Index f : faces) {
    while (run < mesh.states.size() && mesh.states[run].first_face <= f) material = mesh.states[run++].state.material;
    out.push_back(material);
  }
  return out;
}

class Finder {
 public:
  /// @param marked  one flag per vertex, all unset; they are unset again at the end
  Finder(const RoleInput& in, Index component, std::vector<std::uint8_t>& marked)
      : in_(in), mesh_(*in.mesh), component_(component) {
    const Detail& d = in.twin_details[in.families->twin_of_component[component]];
    own_edge_ = d.mean_edge;
    choose_faces(marked, d.crease_share > 0 || d.non_manifold_edges > 0);
    material_ = materials_of(mesh_, faces_);
  }

  void find(std::vector<WeldedTrim>& out) {
    if (faces_.empty()) return;
    list_edges();
    UnionFind smooth(static_cast<Index>(faces_.size()));
    each_inner_edge([&](std::span<const FaceSide> uses) {
      // Where more than two faces meet, those that go on smoothly belong together.
      for (std::size_t i = 0; i < std::min<std::size_t>(uses.size(), 8); ++i)
        for (std::size_t k = i + 1; k < std::min<std::size_t>(uses.size(), 8); ++k)
          if (goes_on(uses[i].face, uses[k].face)) smooth.join(uses[i].face, uses[k].face);
    });
    const std::vector<std::uint8_t> small = small_regions(smooth);
    UnionFind blobs(static_cast<Index>(faces_.size()));
    each_inner_edge([&](std::span<const FaceSide> uses) {
      for (std::size_t k = 1; k < uses.size(); ++k)
        if (small[uses[0].face] != 0 && small[uses[k].face] != 0) blobs.join(uses[0].face, uses[k].face);
    });
    judge(small, blobs, out);
  }

 private:
  /// Faces that may belong to a trim: of a material other than the component's first, or meshed much finer than the
  /// cloth where there are creases; and those around them, which are outside.
  void choose_faces(std::vector<std::uint8_t>& marked, bool creased) {
    const auto all = in_.components->faces_of(component_);
    component_faces_ = all.size();
    const Index first = state_of(mesh_, all.front()).material;
    const bool one_state = std::none_of(mesh_.states.begin(), mesh_.states.end(), [&](const StateRun& run) {
      return run.first_face > all.front() && run.first_face <= all.back() && run.state.material != first;
    });
    std::vector<Index> materials;
    if (!one_state) materials = materials_of(mesh_, all);
    if (one_state && !creased) return;
    const Index ground = one_state ? first : most_common(materials);
    std::vector<std::uint8_t> inside(all.size(), 0);
    std::size_t count = 0;
    const double limit = (1.4 * kFine * own_edge_) * (1.4 * kFine * own_edge_);
    std::size_t at = 0;
    all.each_run([&](Index from, Index end) {
      for (Index f = from; f < end; ++f, ++at) {
        if (!(!one_state && materials[at] != ground) && !(creased && is_fine(f, limit))) continue;
        inside[at] = 1;
        ++count;
      }
    });
    if (count < kFewest) return;
    const auto mark_inside = [&](std::uint8_t mark) {
      for (std::size_t i = 0; i < all.size(); ++i)
        if (inside[i] != 0)
          for (const Index v : mesh_.face(all[i])) marked[in_.welded->of(v)] = mark;
      for (const Index v : in_.components->later_of(component_)) marked[v] = marked[in_.welded->of(v)];
    };
    mark_inside(1);
    for (std::size_t i = 0; i < all.size(); ++i) {
      const auto corners = mesh_.face(all[i]);
      if (inside[i] == 0 && std::none_of(corners.begin(), corners.end(), [&](Index v) { return marked[v] != 0; }))
        continue;
      faces_.push_back(all[i]);
      outside_.push_back(inside[i] != 0 ? 0 : 1);
    }
    mark_inside(0);
  }

  static Index most_common(std::vector<Index> materials) {
    std::sort(materials.begin(), materials.end());
    Index best = materials.front();
    std::size_t most = 0;
    for (std::size_t i = 0; i < materials.size();) {
      std::size_t j = i;
      while (j < materials.size() && materials[j] == materials[i]) ++j;
      if (j - i > most) {
        most = j - i;
        best = materials[i];
      }
      i = j;
    }
    return best;
  }

  /// Whether all sides are shorter; the limit is squared.
  bool is_fine(Index face, double limit) const {
    const auto corners = mesh_.face(face);
    for (std::size_t k = 0; k < corners.size(); ++k) {
      const Vec3& p = mesh_.positions[corners[k]];
      const Vec3& q = mesh_.positions[corners[k + 1 < corners.size() ? k + 1 : 0]];
      if (!(squared_length(q - p) < limit)) return false;
    }
    return true;
  }

  void list_edges() {
    normals_.clear();
    for (std::size_t i = 0; i < faces_.size(); ++i) {
      normals_.push_back(area_vector(mesh_.positions, mesh_.face(faces_[i])));
      add_sides(mesh_.face(faces_[i]), *in_.welded, static_cast<Index>(i), edges_);
    }
    sort_by_edge(edges_);
  }

  /// fn(sides) for each edge of more than one face.
  template <class Fn>
  void each_inner_edge(Fn&& fn) const {
    each_edge(edges_, [&](std::span<const FaceSide> uses) {
      if (uses.size() >= 2) fn(uses);
    });
  }

  bool goes_on(Index f, Index g) const {
    if (material_[f] != material_[g]) return false;
    const Vec3& a = normals_[f];
    const Vec3& b = normals_[g];
    return std::atan2(length(cross(a, b)), dot(a, b)) <= kCrease;
  }

  double edge_length(const FaceSide& e) const { return length(mesh_.positions[e.p] - mesh_.positions[e.q]); }

  double largest() const { return std::min(kLongestMm / in_.scale.mm_per_unit, kLargestShare * in_.scale.diagonal); }

  double flatness(std::span<const Index> local) const {
    Vec3 sum;
    double area = 0;
    for (const Index i : local) {
      sum += normals_[i];
      area += length(normals_[i]);
    }
    return area > 0 ? length(sum) / area : 1;
  }

  Box box_of(std::span<const Index> local) const {
    std::vector<Vec3> points;
    for (const Index i : local)
      for (const Index v : mesh_.face(faces_[i])) points.push_back(mesh_.positions[v]);
    return bounds(points);
  }

  /// Local faces by region, and for each face whether its region is small.
  std::vector<std::uint8_t> small_regions(UnionFind& smooth) const {
    std::vector<std::uint8_t> small(faces_.size(), 0);
    for_groups(smooth, {}, [&](std::span<const Index> group) {
      const Box box = box_of(group);
      const Vec3 size = box.max - box.min;
      if (std::max({size.x, size.y, size.z}) > largest() || 2 * group.size() > component_faces_) return;
      for (const Index i : group) small[i] = outside_[i] != 0 ? 0 : 1;
    });
    return small;
  }

  template <class Fn>
  void for_groups(UnionFind& regions, std::span<const std::uint8_t> only, Fn&& fn) const {
    std::vector<std::array<Index, 2>> order;
    for (Index i = 0; i < faces_.size(); ++i)
      if (only.empty() || only[i] != 0) order.push_back({regions.find(i), i});
    std::sort(order.begin(), order.end());
    std::vector<Index> group;
    for (std::size_t i = 0; i < order.size(); ++i) {
      group.push_back(order[i][1]);
      if (i + 1 < order.size() && order[i + 1][0] == order[i][0]) continue;
      fn(std::span<const Index>(group));
      group.clear();
    }
  }

  void judge(std::span<const std::uint8_t> small, UnionFind& blobs, std::vector<WeldedTrim>& out) {
    struct Tally {
      double border = 0, set_off = 0, other_material = 0, log_edge = 0, edges = 0;
    };
    std::vector<Tally> tally(faces_.size());
    each_inner_edge([&](std::span<const FaceSide> uses) {
      const double l = edge_length(uses[0]);
      for (const FaceSide& u : uses) {
        if (small[u.face] == 0 || !(l > 0)) continue;
        Tally& t = tally[blobs.find(u.face)];
        t.log_edge += std::log(l);
        t.edges += 1;
        for (const FaceSide& other : uses) {
          if (small[other.face] != 0) continue;
          t.border += l;
          if (!goes_on(other.face, u.face)) t.set_off += l;  // by a crease or another material
          if (material_[other.face] != material_[u.face]) t.other_material += l;
          break;
        }
      }
    });
    for_groups(blobs, small, [&](std::span<const Index> group) {
      if (out.size() >= kMost) return;
      const Tally& t = tally[blobs.find(group[0])];
      const Box box = box_of(group);
      const Vec3 size = box.max - box.min;
      const double longest = std::max({size.x, size.y, size.z});
      const bool other_material = t.other_material > 0.8 * t.border;
      const double edge = t.edges > 0 ? std::exp(t.log_edge / t.edges) : 0;
      const bool fine = edge < kFine * std::min(own_edge_, longest) && group.size() >= kFewestFine;
      if (!(t.set_off > 0.6 * t.border) || longest > largest() || group.size() < kFewest) return;
      // A patch lies flat, a pocket nearly so; a trim rises from the cloth.
      const double flat = flatness(group);
      if (!(other_material && flat < kFlat) && !(fine && flat < kLow)) return;
      WeldedTrim w;
      w.component = component_;
      for (const Index i : group) w.faces.push_back(faces_[i]);
      w.place = 0.5 * (box.min + box.max);
      w.length = longest;
      out.push_back(std::move(w));
    });
  }

  const RoleInput& in_;
  const SourceMesh& mesh_;
  Index component_;
  std::size_t component_faces_ = 0;
  double own_edge_ = 0;
  std::vector<Index> faces_, material_;
  std::vector<std::uint8_t> outside_;
  std::vector<Vec3> normals_;
  std::vector<FaceSide> edges_;
};

}  // namespace

std::vector<WeldedTrim> find_welded_trims(const RoleInput& input, std::span<const RoleVerdict> verdicts) {
  std::vector<WeldedTrim> out;
  std::vector<std::uint8_t> marked = filled_large<std::uint8_t>(input.mesh->positions.size(), 0);
  for (Index c = 0; c < verdicts.size(); ++c) {
    const bool large = input.shapes[c].extents[0] > 0.15 * input.scale.diagonal && input.shapes[c].face_count >= 20;
    if (verdicts[c].role == Role::Cloth && verdicts[c].confidence >= 0.85 && large) Finder(input, c, marked).find(out);
  }
  return out;
}

SourceMesh undo_cut(const CutMesh& cut) {
  SourceMesh mesh = cut.mesh;
  for (Index& v : mesh.corner_position)
    if (v >= cut.original_vertices) v = cut.double_of[v - cut.original_vertices];
  mesh.positions.resize(cut.original_vertices);
  if (!mesh.position_weights.empty()) mesh.position_weights.resize(cut.original_vertices);
  if (!mesh.colours.empty()) mesh.colours.resize(cut.original_vertices);
  if (!mesh.colour_alpha.empty()) mesh.colour_alpha.resize(cut.original_vertices);
  return mesh;
}

}  // namespace trimtack
