// SPDX-License-Identifier: MIT
/// Sizes as the trade names them.
#pragma once

#include <string>

namespace trimtack {

struct TradeSize {
  std::string name;       ///< "18L", "No. 5", or empty
  double confidence = 0;  ///< how well the measure fits, in 0..1
};

/// Line size of a round button or snap from its diameter: 1 ligne is 1/40 inch, 0.635 mm.
TradeSize ligne_size(double diameter_mm);
/// "9 mm" or "9.5 mm": rivets and small press fasteners go by their diameter.
TradeSize metric_size(double diameter_mm);
/// Gauge number of a zipper from the width of its closed chain: about the width in mm (3.1 to 3.5 mm is No. 3).
TradeSize zipper_gauge(double chain_width_mm);

}  // namespace trimtack
