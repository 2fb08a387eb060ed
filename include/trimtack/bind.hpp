// SPDX-License-Identifier: MIT
/// The binding solver: footprint, layer, patch and weights per trim.
#pragma once

#include <map>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "trimtack/cloth.hpp"
#include "trimtack/cloth_index.hpp"
#include "trimtack/parallel.hpp"
#include "trimtack/report.hpp"
#include "trimtack/result.hpp"
#include "trimtack/table.hpp"

namespace trimtack {

enum class FrameChoice : std::uint8_t { Auto, Triangle, Patch };

struct BindOptions {
  FrameChoice frame = FrameChoice::Auto;
  double bend_radius_mm = 30;    ///< the tightest bend to expect
  double noise_mm = 0.05;        ///< vertex noise to expect (standard deviation)
  std::map<Index, Index> layer;  ///< trim id -> component id that must carry it
  /// Deformed cloths (each #V of cloth.obj) that show what the garment does; empty: the expected bend is used.
  std::vector<std::span<const Vec3>> frames;
  Executor executor;
  std::map<Index, Index> face;  ///< place in `trims` -> face of the cloth whose sheet must carry it (before `layer`)
  double gap_limit_mm = 1;      ///< how far a rigid trim may stand off its bent cloth before its length is reported
};

/// One binding per trim of `trims`, in their order. A trim without any cloth is bound to the nearest
/// point anyway and reported. @error BadInput when the cloth has no usable triangle, or a frame another number of
/// vertices. Reported: layer-not-cloth, trim-unbound (no area and no vertices), trim-too-long, cloth-pointed
/// (the anchor lies where the cloth comes to a point), stem-through-layers (its shank or thread may be sewn to the
/// layer beneath the one that it follows), trim-floats (nothing of it comes within 3 mm of the cloth). Cost: a few
/// dozen nearest-point queries and up to 26 small least-squares fits a trim. Threads: ranges of 256 trims on the
/// executor, the same bytes for any. Ties: geometry, then index.
Result<BindTable> bind(const ClothIndex& cloth, const TrimShapes& trims, const Unit& unit, const BindOptions& options,
                       Report& report);

/// How far a rigid part of length d stands off its cloth bent to radius r: r - sqrt(r^2 - d^2/4); r when d > 2 r.
double bend_standoff(double d, double r);
/// The least number of equal rigid pieces of a part of length d that stay within `limit` of a bend of radius r.
Index pieces_within(double d, double r, double limit);

/// Takes trims apart that are too long for their bend and made of several components: one piece a component, each with
/// the id of its trim and "NAME piece 2" for a name. Pieces overlapping along the trim by more than half stay together.
TrimShapes cut_long_trims(const TrimShapes& trims, const Unit& unit, const BindOptions& options, Report& report);

}  // namespace trimtack
