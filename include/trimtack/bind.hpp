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
};

/// One binding per trim of `trims`, in their order. A trim without any cloth is bound to the nearest
/// point anyway and reported. @error BadInput when the cloth has no usable triangle.
Result<BindTable> bind(const ClothIndex& cloth, const TrimShapes& trims, const Unit& unit, const BindOptions& options,
                       Report& report);

}  // namespace trimtack
