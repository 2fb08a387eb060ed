// SPDX-License-Identifier: MIT
#pragma once

#include "cli/common.hpp"
#include "trimtack/pipeline.hpp"
#include "trimtack/precision.hpp"

namespace trimtack::cli {

/// The most that rounding of the export's numbers may tilt a frame before it is reported, in degrees.
inline constexpr double kRoundingTiltDeg = 0.1;

/// Finding "positions-rounded" when the digits that the export was written with tilt frames by more than that: those of
/// the bindings, or without a table those on a triangle with the cloth's median edge.
/// @param precision  of the combined export's positions
void warn_of_precision(Session& session, const Precision& precision, const Garment& garment,
                       const BindTable* table = nullptr);

}  // namespace trimtack::cli
