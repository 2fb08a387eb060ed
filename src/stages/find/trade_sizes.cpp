// SPDX-License-Identifier: MIT
// Lines: charts round to whole or half millimetres, by up to 0.7 mm, so a size within 0.75 mm is a match ("Button Size
// Chart Converting Ligne to Metric mm"). Gauges: "How To Measure The Zipper Gauge Correctly".
#include "stages/find/trade_sizes.hpp"

#include <array>
#include <cmath>
#include <span>

namespace trimtack {
namespace {

constexpr double kMmPerLigne = 0.635;
constexpr std::array<int, 21> kLignes{10, 12, 13, 14, 15, 16, 18, 20, 22, 24, 26,
                                      28, 30, 32, 34, 36, 40, 44, 45, 50, 60};
constexpr std::array<int, 8> kGauges{2, 3, 4, 5, 6, 7, 8, 10};

TradeSize nearest(double value_mm, std::span<const int> sizes, double mm_per_size, double tolerance_mm) {
  TradeSize best;
  double least = tolerance_mm;
  int number = 0;
  for (const int size : sizes) {
    const double off = std::abs(value_mm - size * mm_per_size);
    if (off > least) continue;
    least = off;
    number = size;
  }
  if (number == 0) return best;
  best.name = std::to_string(number);
  best.confidence = std::exp(-2.0 * (least / tolerance_mm) * (least / tolerance_mm));
  return best;
}

}  // namespace

TradeSize ligne_size(double diameter_mm) {
  TradeSize size = nearest(diameter_mm, kLignes, kMmPerLigne, 0.75);
  if (!size.name.empty()) size.name += "L";
  return size;
}

TradeSize metric_size(double diameter_mm) {
  const int halves = static_cast<int>(std::lround(2 * diameter_mm));
  TradeSize size = {std::to_string(halves / 2) + (halves % 2 != 0 ? ".5 mm" : " mm"), 0};
  const double off = std::abs(diameter_mm - 0.5 * halves) / 0.25;
  size.confidence = std::exp(-off * off);
  return size;
}

TradeSize zipper_gauge(double chain_width_mm) {
  TradeSize size = nearest(chain_width_mm, kGauges, 1.0, 0.6);
  if (!size.name.empty()) size.name.insert(0, "No. ");
  return size;
}

}  // namespace trimtack
