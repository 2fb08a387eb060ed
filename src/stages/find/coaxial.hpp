// SPDX-License-Identifier: MIT
/// Round parts that lie on one axis, as the two halves of a fastening do. Private to the search for trims.
#pragma once

#include <span>
#include <vector>

#include "trimtack/roles.hpp"

namespace trimtack {

struct Half {
  Index component = 0;
  bool thread = false;       ///< taken for stitching, as many small backs of rivets may be
  bool on_hardware = false;  ///< with the piece of hardware that it rests on
  bool plate = false;        ///< flat, but not round
  Vec3 middle, axis;
  Vec3 lean;  ///< from the middle to the centroid of the surface
  double radius = 0, half_depth = 0;
};

/// Two halves on one axis. Places along it count from the middle of the first.
struct Probe {
  const Half* a = nullptr;
  const Half* b = nullptr;
  Vec3 axis, side, other_side;
  double small = 0;     ///< smaller diameter
  double distance = 0;  ///< between the middles
  bool exact = false;   ///< to the accuracy of one piece of work
  double ring = 0;      ///< radius of the lines around the axis
  double low = 0, high = 0;
  double gap() const { return distance - a->half_depth - b->half_depth; }
};

/// Round flat parts without sewing holes among the candidates that are no cloth.
std::vector<Half> round_parts(const RoleInput& input, std::span<const RoleVerdict> verdicts,
                              std::span<const Index> candidates);

/// Flat parts that are not round, few of a kind: the caps of square snaps, the backs of magnets, counterplates.
std::vector<Half> plates(const RoleInput& input, std::span<const RoleVerdict> verdicts,
                         std::span<const Index> candidates);

/// Pairs on one axis, near each other, with no other half between them. They point into `halves`.
/// Cost: O(n log n).
std::vector<Probe> probes_of(std::span<const Half> halves);

}  // namespace trimtack
