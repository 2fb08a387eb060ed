// SPDX-License-Identifier: MIT
#include "cli/precision_warning.hpp"

#include <algorithm>
#include <cmath>

namespace trimtack::cli {

void warn_of_precision(Session& session, const Precision& precision, const Garment& garment, const BindTable* table) {
  if (!(precision.step > 0)) return;
  const double noise = rounding_noise(precision), mm = garment.parts.unit.mm_per_unit;
  double worst = 0;
  std::string what = "frames on this cloth";
  if (table == nullptr) {
    worst = triangle_tilt_deg(noise, median_edge(extract(garment.combined, garment.maps.cloth)));
  } else {
    std::size_t over = 0;
    for (const Binding& binding : table->bindings) {
      const double tilt = binding.jitter_deg_per_mm * noise * mm;
      worst = std::max(worst, tilt);
      over += tilt > kRoundingTiltDeg ? 1 : 0;
    }
    what = std::to_string(over) + " of " + plural(table->bindings.size(), "binding", "bindings");
  }
  if (!(worst > kRoundingTiltDeg) || !std::isfinite(worst)) return;
  const int more = static_cast<int>(std::ceil(std::log10(worst / kRoundingTiltDeg)));
  const std::string how = precision.text ? "to " + plural(static_cast<std::uint64_t>(std::max(precision.decimals, 0)),
                                                          "decimal", "decimals")
                                         : "to single precision";
  const std::string advice =
      precision.text ? "export at least " + plural(static_cast<std::uint64_t>(more), "more digit", "more digits") +
                           ", or in a smaller unit"
                     : "move the garment near the origin before the export";
  add(session.report(), {Severity::Warning, "positions-rounded",
                         "positions are rounded " + how + " (" + fixed(precision.step * mm, 4) +
                             " mm), which alone tilts " + what + " by up to " + fixed(worst, 2) + " degrees; " + advice,
                         garment.combined.file, 0, 1});
}

}  // namespace trimtack::cli
