// SPDX-License-Identifier: MIT
// Sizes of garments and haberdashery are physical: 1 ligne is 1/40 inch (0.635 mm), buttons run from about 9 to 50 mm;
// cloth is meshed at 3 to 20 mm (common practice, no source); clothes span some 0.2 to 2 m (a doll's coat to a gown).
#include "trimtack/units.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>

namespace trimtack {
namespace {

struct Candidate {
  const char* name;
  double mm;
  double prior;  // how often exports use it (common practice, no source)
};
constexpr std::array<Candidate, 4> kCandidates{
    {{"mm", 1, 0.35}, {"cm", 10, 0.3}, {"m", 1000, 0.3}, {"in", 25.4, 0.05}}};

/// Log density (up to a constant) of a length whose logarithm is normal with a flat top between low and high.
double log_fit(double value, double low, double high, double sigma) {
  const double x = std::log(value);
  const double d = x < std::log(low) ? std::log(low) - x : (x > std::log(high) ? x - std::log(high) : 0.0);
  return -0.5 * (d / sigma) * (d / sigma);
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
    if (evidence.diagonal > 0) score[i] += log_fit(evidence.diagonal * mm, 500, 2000, 0.45);
    if (evidence.cloth_spacing > 0) score[i] += log_fit(evidence.cloth_spacing * mm, 3, 22, 0.5);
    double sizes = 0;
    for (const double d : evidence.round_sizes) sizes += log_fit(d * mm, 7, 32, 0.4);
    // Buttons of one garment are not independent witnesses.
    if (!evidence.round_sizes.empty()) score[i] += 2 * sizes / static_cast<double>(evidence.round_sizes.size());
  }
  const std::size_t best = static_cast<std::size_t>(std::max_element(score.begin(), score.end()) - score.begin());
  double total = 0;
  for (const double s : score) total += std::exp(s - score[best]);
  Unit unit{kCandidates[best].mm, kCandidates[best].name, 1.0 / total, {}};
  if (evidence.diagonal > 0) unit.reasons.push_back(format_mm("garment spans", evidence.diagonal * unit.mm_per_unit));
  if (evidence.cloth_spacing > 0)
    unit.reasons.push_back(format_mm("cloth spacing", evidence.cloth_spacing * unit.mm_per_unit));
  if (!evidence.round_sizes.empty())
    unit.reasons.push_back(
        format_mm("round trims from",
                  *std::min_element(evidence.round_sizes.begin(), evidence.round_sizes.end()) * unit.mm_per_unit));
  return unit;
}

}  // namespace trimtack
