// SPDX-License-Identifier: MIT
// Sizes of garments and haberdashery are physical: 1 ligne is 1/40 inch (0.635 mm), buttons run from about 9 to 50 mm;
// cloth is meshed at 3 to 20 mm (common practice, no source); clothes span some 0.2 to 2 m (a doll's coat to a gown).
#include "trimtack/units.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <vector>

namespace trimtack {
namespace {

struct Candidate {
  const char* name;
  double mm;
  double prior;  // how often exports use it (common practice, no source)
};
constexpr double kNoUnit = -6;
constexpr std::array<Candidate, 4> kCandidates{
    {{"mm", 1, 0.35}, {"cm", 10, 0.3}, {"m", 1000, 0.3}, {"in", 25.4, 0.05}}};

/// Log density (up to a constant) of a length whose logarithm has a flat top between low and high and normal flanks;
/// no single length says more than `least`, since any of them may be unusual.
double log_fit(double value, double low, double high, double sigma, double least) {
  const double x = std::log(value);
  const double d = x < std::log(low) ? std::log(low) - x : (x > std::log(high) ? x - std::log(high) : 0.0);
  return std::max(least, -0.5 * (d / sigma) * (d / sigma));
}

/// Parts of one garment are not independent witnesses: their mean counts, and half as much that of the quarter that
/// fits worst (tiny parts fit several units, a buckle half a metre wide fits none).
double joint_fit(std::span<const double> values, double mm, double low, double high, double sigma) {
  if (values.empty()) return 0;
  std::vector<double> fits;
  for (const double v : values) fits.push_back(log_fit(v * mm, low, high, sigma, -6));
  std::sort(fits.begin(), fits.end());
  const auto mean_of = [&](std::size_t count) {
    double sum = 0;
    for (std::size_t i = 0; i < count; ++i) sum += fits[i];
    return sum / static_cast<double>(count);
  };
  return mean_of(fits.size()) + 0.5 * mean_of((fits.size() + 3) / 4);
}

std::string format_mm(const char* what, double mm) {
  std::array<char, 96> buffer{};
  std::snprintf(buffer.data(), buffer.size(), "%s %.3g mm", what, mm);
  return buffer.data();
}

}  // namespace

std::optional<Unit> unit_named(const std::string& name) {
  for (const Candidate& c : kCandidates)
    if (name == c.name) return Unit{c.mm, c.name, 1.0, {}};
  return std::nullopt;
}

Unit deduce_unit(const UnitEvidence& evidence) {
  std::array<double, kCandidates.size()> score{};
  for (std::size_t i = 0; i < kCandidates.size(); ++i) {
    const double mm = kCandidates[i].mm;
    score[i] = std::log(kCandidates[i].prior);
    if (evidence.diagonal > 0) score[i] += log_fit(evidence.diagonal * mm, 500, 2000, 0.5, -6);
    if (evidence.cloth_spacing > 0) score[i] += log_fit(evidence.cloth_spacing * mm, 3, 22, 0.6, -5);
    score[i] += joint_fit(evidence.part_sizes, mm, 1.5, 35, 0.5);
    score[i] += joint_fit(evidence.part_thickness, mm, 0.4, 5, 0.5);
  }
  const std::size_t best = static_cast<std::size_t>(std::max_element(score.begin(), score.end()) - score.begin());
  // The garment may be in no real unit at all.
  double total = std::exp(kNoUnit - score[best]);
  for (const double s : score) total += std::exp(s - score[best]);
  Unit unit{kCandidates[best].mm, kCandidates[best].name, 1.0 / total, {}};
  if (evidence.diagonal > 0) unit.reasons.push_back(format_mm("garment spans", evidence.diagonal * unit.mm_per_unit));
  if (evidence.cloth_spacing > 0)
    unit.reasons.push_back(format_mm("cloth spacing", evidence.cloth_spacing * unit.mm_per_unit));
  if (!evidence.part_sizes.empty()) {
    std::vector<double> sizes(evidence.part_sizes.begin(), evidence.part_sizes.end());
    std::nth_element(sizes.begin(), sizes.begin() + static_cast<std::ptrdiff_t>(sizes.size() / 2), sizes.end());
    unit.reasons.push_back(format_mm("small parts", sizes[sizes.size() / 2] * unit.mm_per_unit));
  }
  return unit;
}

}  // namespace trimtack
