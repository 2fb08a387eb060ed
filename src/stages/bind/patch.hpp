// SPDX-License-Identifier: MIT
/// Grows the cloth vertices round an anchor along the mesh.
#pragma once

#include <array>
#include <span>
#include <unordered_set>
#include <vector>

#include "stages/bind/cloth_topology.hpp"
#include "trimtack/types.hpp"

namespace trimtack {

/// Where growing starts: a face and a point on it (its `share` of the anchor; bridging trims have several).
struct PatchSeed {
  Index face = kNone;
  Vec3 point;
};

/// One vertex of a grown patch in the anchor's tangent plane.
struct GrownVertex {
  Index vertex = kNone, welded = kNone;
  double u = 0, v = 0;         ///< unrolled along the mesh: direction and geodesic distance from the anchor
  double distance = 0;         ///< length of (u, v)
  double x = 0, y = 0, z = 0;  ///< rest position relative to the anchor along tangent_x, tangent_y, normal
};

/// The tangent plane that a patch is grown and fitted in.
struct AnchorFrame {
  Vec3 origin, x, y, normal;
};
/// Any right-handed frame about `normal`, chosen from the normal alone (so that it does not depend on numbering).
AnchorFrame frame_about(const Vec3& origin, const Vec3& normal);

/// Scratch for growing many patches on one cloth; one per thread.
class PatchGrower {
 public:
  explicit PatchGrower(const ClothTopology& topology);

  /// The vertices nearest to the anchor along the mesh, nearest first: at most max_count, and beyond max_distance
  /// only until there are enough_count; the corners of the seed faces are always there. One vertex stands for all that
  /// coincide with it. Never crosses to a layer that only touches, nor round a fold (normals more than 75 degrees off
  /// the anchor's). Cost: O(k log k) for k vertices. Ties: by position, then vertex number. Method: discrete
  /// exponential map (Schmidt, Grimm, Wyvill, "Interactive decal compositing with discrete exponential maps", SIGGRAPH
  /// 2006), with all corners of a face as neighbours so that it does not matter how a quad would be cut, and growing
  /// outwards only.
  std::span<const GrownVertex> grow(const AnchorFrame& frame, std::span<const PatchSeed> seeds, Index max_count,
                                    double max_distance, Index enough_count);
  /// Goes on from where growing stopped, to other limits: the same patch as if it had been grown to them at once.
  std::span<const GrownVertex> grow_on(Index max_count, double max_distance, Index enough_count);

 private:
  struct Candidate {
    double distance;
    Index slot;
  };
  /// A neighbour of the slot that is being expanded.
  struct Neighbour {
    Index vertex, welded;
  };
  void reset();
  void seed(const PatchSeed& seed);
  void reach(Index vertex, double u, double v, double distance, const Vec3& parent_normal);
  void add_reached(Index vertex, double u, double v, double distance, const Vec3& normal);
  void turn_axes(Index slot);
  void expand(Index slot);
  void list_steps(Index slot, Index face);
  bool is_listed(Index welded);
  void take_steps(Index slot, std::size_t first);
  void activate(Index slot, Index face);
  void activate_branching(Index slot);
  bool faces_anchor(Index face) const;
  bool overlaps_active(Index slot, Index face) const;
  bool later(const Candidate& p, const Candidate& q) const {
    return p.distance != q.distance ? p.distance > q.distance : before(reached_[q.slot], reached_[p.slot]);
  }
  bool before(const GrownVertex& p, const GrownVertex& q) const;
  const Vec3& position(Index vertex) const { return topology_->cloth->positions[vertex]; }

  const ClothTopology* topology_;
  AnchorFrame frame_;
  Index seed_slots_ = 0;
  bool seeds_face_anchor_ = false;     ///< all active faces do, then
  Vec3 axis_x_, axis_y_;               ///< the anchor's axes carried to the slot that is being expanded
  std::vector<Neighbour> steps_;       ///< of the expansion at hand, so far
  std::unordered_set<Index> listed_;   ///< where they go, once they are many
  std::vector<Index> slot_of_;         ///< per welded vertex, kNone when not reached
  std::vector<std::uint8_t> active_;   ///< per face
  std::vector<Index> active_faces_;    ///< faces that the patch has grown over
  std::vector<GrownVertex> reached_;   ///< per slot
  std::vector<Vec3> normal_;           ///< per slot: vertex normal, turned to the anchor's side
  std::vector<std::uint8_t> settled_;  ///< per slot
  std::vector<Candidate> heap_;
  std::vector<GrownVertex> settled_in_order_, out_;
};

}  // namespace trimtack
