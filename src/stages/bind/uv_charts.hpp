// SPDX-License-Identifier: MIT
/// The cloth's flat pattern as its UVs give it: charts, and places found by UV.
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "stages/bind/cloth_topology.hpp"
#include "trimtack/cloth_index.hpp"

namespace trimtack {

/// A pattern piece: faces that hang together in UV space.
struct UvChart {
  Vec2 low, high;
  Vec3 centre, normal;  ///< on the garment; centre in shares of its box; no normal: closed shells and tubes
  double area = 0;
};

struct UvPattern {
  const ClothTopology* topology = nullptr;
  Box box;         ///< of the cloth
  ClothMesh flat;  ///< one vertex per corner at (u, v, 0), triangles numbered as the cloth's
  std::unique_ptr<ClothIndex> index;
  std::vector<UvChart> charts;
  std::vector<Index> chart_of_face;
  double diagonal = 0;  ///< of all UVs

  Vec3 garment_place(const Vec3& p) const;
};

/// @return nothing when the cloth has no UVs
std::optional<UvPattern> build_pattern(const ClothTopology& topology);

Vec2 uv_at(const UvPattern& pattern, const Surface& surface);
/// The same pattern piece in another layout.
struct ChartMatch {
  Index chart = kNone;  ///< kNone: there is none
  int turn = 0;         ///< how its box lies against the old one: 4: u and v change places; then 1: u, 2: v is reversed
};

/// For each chart of `from` the chart of `to` that is the same pattern piece. Charts are matched by place on the
/// garment, direction and proportions, the best pairs first; of the eight ways to lay the one box on the other that one
/// is taken which leads places of the old piece to the same places on the garment.
std::vector<ChartMatch> match_charts(const UvPattern& from, const UvPattern& to);
/// Box to box, turned.
Vec2 mapped_uv(const UvChart& from, const UvChart& to, int turn, const Vec2& uv);
/// A frame along the new u and v as one along what the old u and v have become.
Mat3 turned_frame(const Mat3& frame, int turn);
/// The place with coordinates uv whose garment place and normal are nearest to the given ones (several places share a
/// UV where mirrored panels do), in `chart` when it is one. Triangle kNone: nothing within half a per cent of the
/// layout.
Surface place_of_uv(const UvPattern& pattern, const Vec2& uv, const Vec3& garment_place, const Vec3& normal,
                    Index chart);
/// Frame of the cloth at a place: columns along u, along v, normal. Nothing where the UVs have no area.
std::optional<Mat3> uv_frame(const UvPattern& pattern, const Surface& surface);

}  // namespace trimtack
