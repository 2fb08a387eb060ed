// SPDX-License-Identifier: MIT
// Faces are joined across smooth edges of one material; what stays small and lies together is a candidate, and its
// border to the rest decides.
#include "trimtack/welded_trims.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <numbers>
#include <numeric>

#include "core/union_find.hpp"

namespace trimtack {
namespace {

constexpr double kCrease = 40.0 * std::numbers::pi / 180.0;
constexpr double kLongestMm = 60;
constexpr double kLargestShare = 0.12;  // of the garment
constexpr std::size_t kMost = 1000;

struct Edge {
  Index p, q, face;  // welded vertices p < q, face local to the component
};

Vec3 normal_of(const SourceMesh& mesh, Index f) {
  const auto corners = mesh.face(f);
  Vec3 n;
  for (std::size_t k = 1; k + 1 < corners.size(); ++k)
    n += cross(mesh.positions[corners[k]] - mesh.positions[corners[0]],
               mesh.positions[corners[k + 1]] - mesh.positions[corners[0]]);
  return n;
}

std::vector<Index> materials_of(const SourceMesh& mesh, std::span<const Index> faces) {
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
  Finder(const RoleInput& in, Index component) : in_(in), mesh_(*in.mesh), component_(component) {
    faces_ = in.components->faces_of(component);
    material_ = materials_of(mesh_, faces_);
    several_materials_ =
        std::adjacent_find(material_.begin(), material_.end(), std::not_equal_to<>()) != material_.end();
    const Detail& d = in.twin_details[in.families->twin_of_component[component]];
    worth_looking_ = several_materials_ || d.crease_share > 0 || d.non_manifold_edges > 0;
  }

  void find(std::vector<WeldedTrim>& out) {
    if (!worth_looking_) return;
    list_edges();
    UnionFind smooth(static_cast<Index>(faces_.size()));
    each_edge([&](std::span<const Edge> uses) {
      // Where more than two faces meet, those that go on smoothly belong together.
      for (std::size_t i = 0; i < std::min<std::size_t>(uses.size(), 8); ++i)
        for (std::size_t k = i + 1; k < std::min<std::size_t>(uses.size(), 8); ++k)
          if (goes_on(uses[i].face, uses[k].face)) smooth.join(uses[i].face, uses[k].face);
    });
    const std::vector<std::uint8_t> small = small_regions(smooth);
    UnionFind blobs(static_cast<Index>(faces_.size()));
    each_edge([&](std::span<const Edge> uses) {
      for (std::size_t k = 1; k < uses.size(); ++k)
        if (small[uses[0].face] != 0 && small[uses[k].face] != 0) blobs.join(uses[0].face, uses[k].face);
    });
    judge(small, blobs, out);
  }

 private:
  void list_edges() {
    normals_.clear();
    for (std::size_t i = 0; i < faces_.size(); ++i) {
      normals_.push_back(normal_of(mesh_, faces_[i]));
      const auto corners = mesh_.face(faces_[i]);
      for (std::size_t k = 0; k < corners.size(); ++k) {
        const Index p = in_.welded->to_welded[corners[k]];
        const Index q = in_.welded->to_welded[corners[(k + 1) % corners.size()]];
        if (p != q) edges_.push_back({std::min(p, q), std::max(p, q), static_cast<Index>(i)});
      }
    }
    std::sort(edges_.begin(), edges_.end(), [](const Edge& a, const Edge& b) {
      if (a.p != b.p) return a.p < b.p;
      return a.q != b.q ? a.q < b.q : a.face < b.face;
    });
  }

  template <class Fn>
  void each_edge(Fn&& fn) const {
    for (std::size_t i = 0; i < edges_.size();) {
      std::size_t j = i + 1;
      while (j < edges_.size() && edges_[j].p == edges_[i].p && edges_[j].q == edges_[i].q) ++j;
      if (j - i >= 2) fn(std::span<const Edge>(edges_.data() + i, j - i));
      i = j;
    }
  }

  bool goes_on(Index f, Index g) const {
    if (material_[f] != material_[g]) return false;
    const Vec3& a = normals_[f];
    const Vec3& b = normals_[g];
    return std::atan2(length(cross(a, b)), dot(a, b)) <= kCrease;
  }

  double edge_length(const Edge& e) const {
    return length(mesh_.positions[in_.welded->representative[e.p]] - mesh_.positions[in_.welded->representative[e.q]]);
  }

  double largest() const { return std::min(kLongestMm / in_.scale.mm_per_unit, kLargestShare * in_.scale.diagonal); }

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
      if (std::max({size.x, size.y, size.z}) > largest() || 2 * group.size() > faces_.size()) return;
      for (const Index i : group) small[i] = 1;
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
      double border = 0, other_material = 0, log_edge = 0, edges = 0;
    };
    std::vector<Tally> tally(faces_.size());
    each_edge([&](std::span<const Edge> uses) {
      const double l = edge_length(uses[0]);
      for (const Edge& u : uses) {
        if (small[u.face] == 0 || !(l > 0)) continue;
        Tally& t = tally[blobs.find(u.face)];
        t.log_edge += std::log(l);
        t.edges += 1;
        for (const Edge& other : uses) {
          if (small[other.face] != 0) continue;
          t.border += l;
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
      const double own_edge = in_.twin_details[in_.families->twin_of_component[component_]].mean_edge;
      const bool fine = edge < 0.5 * std::min(own_edge, longest) && group.size() >= 8;
      if (!(t.border > 0) || longest > largest() || !(other_material || fine)) return;
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
  std::span<const Index> faces_;
  std::vector<Index> material_;
  bool several_materials_ = false, worth_looking_ = false;
  std::vector<Vec3> normals_;
  std::vector<Edge> edges_;
};

}  // namespace

std::vector<WeldedTrim> find_welded_trims(const RoleInput& input, std::span<const Verdict> verdicts) {
  std::vector<WeldedTrim> out;
  for (Index c = 0; c < verdicts.size(); ++c) {
    const bool large = input.shapes[c].extents[0] > 0.15 * input.scale.diagonal && input.shapes[c].face_count >= 20;
    if (verdicts[c].role == Role::Cloth && large) Finder(input, c).find(out);
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
  return mesh;
}

}  // namespace trimtack
