// SPDX-License-Identifier: MIT
#include "stages/find/measure_index.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace trimtack {
namespace {

constexpr double kCellsToE = 100;  // a cell is 1 % wide
constexpr double kMostCells = 32;  // looked at one by one
constexpr std::size_t kFew = 16;   // things, which are all looked at sooner than cells are found

/// What rounding may add to a distance from a measure.
double with_slack(double measure, double reach) { return reach + 1e-9 * (std::abs(measure) + reach); }

double cell_of(double measure) { return std::floor(kCellsToE * std::log(measure)); }

/// Cells are within +-100 * 745: the logarithm of no double is larger.
std::uint64_t key_of(std::int32_t first_cell, std::int32_t second_cell) {
  return std::uint64_t{static_cast<std::uint32_t>(first_cell)} << 32U | static_cast<std::uint32_t>(second_cell);
}

struct CellRange {
  double first = 0, last = 0;  // beyond numbers where the measures are
  double count() const { return last - first + 1; }
  std::int32_t begin() const { return static_cast<std::int32_t>(first); }
  std::int32_t end() const { return static_cast<std::int32_t>(last) + 1; }
};

CellRange cells_within(double measure, double reach) {
  return {cell_of(measure - with_slack(measure, reach)), cell_of(measure + with_slack(measure, reach))};
}

}  // namespace

void MeasureIndex::add(double first, double second) {
  const auto number = static_cast<Index>(count_++);
  // What has no logarithm lies within no reach that is looked at by cells.
  const bool known = first > 0 && second > 0 && std::isfinite(first) && std::isfinite(second);
  if (!known) return;
  const auto row = static_cast<std::int32_t>(cell_of(first)), column = static_cast<std::int32_t>(cell_of(second));
  cells_[key_of(row, column)].push_back({first, second, number});
}

void MeasureIndex::find(double first, double first_reach, double second, double second_reach,
                        std::vector<Index>& out) const {
  out.clear();
  const auto give_all = [&] {
    out.resize(count_);
    std::iota(out.begin(), out.end(), Index{0});
  };
  if (count_ <= kFew) return give_all();
  const CellRange rows = cells_within(first, first_reach);
  const CellRange columns = cells_within(second, second_reach);
  if (!(rows.count() * columns.count() <= kMostCells)) return give_all();  // also where one has no logarithm
  for (std::int32_t row = rows.begin(); row != rows.end(); ++row)
    for (std::int32_t column = columns.begin(); column != columns.end(); ++column) {
      const auto cell = cells_.find(key_of(row, column));
      if (cell == cells_.end()) continue;
      for (const Thing& thing : cell->second)
        if (std::abs(thing.first - first) <= with_slack(first, first_reach) &&
            std::abs(thing.second - second) <= with_slack(second, second_reach))
          out.push_back(thing.number);
    }
  std::sort(out.begin(), out.end());
}

}  // namespace trimtack
