// SPDX-License-Identifier: MIT
// Sizes of garments and haberdashery are physical. Buttons: the ligne series, 1 ligne = 1/40 inch ("Button Size Chart
// Converting Ligne to Metric mm"; shirts 14L to 18L, jackets 24L to 36L, coats 40L and more). Stitches: 6 to 20 an inch
// (thread makers' tables of stitches per inch), mostly 8 to 12. Zipper elements: some 0.65 of the gauge number in mm,
// No. 3 to 10. Cloth is meshed at 3 to 20 mm and is 0.2 to 3 mm thick; clothes span 0.6 to 2 m, children's and
// bags, hats, gloves, shoes and bodices less, dolls' yet less (common practice, no source).
#include "trimtack/units.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "core/phrase.hpp"
#include "stages/find/trade_sizes.hpp"

namespace trimtack {
namespace {

struct Candidate {
  const char* name;
  double mm;
  double prior;  // how often exports use it (common practice, no source)
};
constexpr double kNoUnit = -9;
constexpr std::array<Candidate, 4> kCandidates{
    {{"mm", 1, 0.32}, {"cm", 10, 0.3}, {"m", 1000, 0.3}, {"in", 25.4, 0.08}}};

/// Range of a length in mm, as a logarithm with a flat top and normal flanks; `least` because any one length may be
/// unusual, `weight` because parts of one kind are no independent witnesses.
struct Range {
  double low, high, sigma, least, weight;
  const char* words;
};
constexpr std::array<Range, static_cast<std::size_t>(Gauge::Count)> kRanges{{
    {9, 26, 0.22, -5, 1.0, "buttons of"},         // Button
    {3, 26, 0.35, -4, 0.7, "round parts of"},     // RoundPart
    {1, 4, 0.35, -3, 0.5, "plates as thick as"},  // Plate
    {1.8, 4.0, 0.22, -6, 1.2, "stitches of"},     // Stitch
    {0.3, 1.0, 0.35, -3, 0.5, "thread of"},       // Thread
    {1.8, 6, 0.28, -5, 0.9, "elements of"},       // Element
    {1.5, 40, 0.5, -6, 0.7, "small parts of"},    // Part
}};
constexpr Range kSpacing{3, 22, 0.6, -5, 1, "cloth spacing"};
constexpr Range kThickness{0.25, 2.5, 0.4, -4, 0.7, "cloth as thick as"};

double log_fit(double mm, const Range& r) {
  const double x = std::log(mm);
  const double d = x < std::log(r.low) ? std::log(r.low) - x : (x > std::log(r.high) ? x - std::log(r.high) : 0.0);
  return std::max(r.least, -0.5 * (d / r.sigma) * (d / r.sigma));
}

/// Log density of what a garment spans: mostly an adult's, sometimes a child's or something small, seldom a doll's.
double garment_fit(double mm) {
  const auto share = [mm](double weight, double low, double high) {
    return weight * std::exp(log_fit(mm, {low, high, 0.2, -50, 1, ""}));
  };
  return std::log(std::max(1e-6, share(0.76, 650, 2000) + share(0.18, 220, 700) + share(0.06, 90, 380)));
}

double gauge_fit(Gauge gauge, double mm) {
  const Range& r = kRanges[static_cast<std::size_t>(gauge)];
  double fit = log_fit(mm, r);
  // On the series of the trade, rather than between two of its sizes: a little more.
  if (gauge == Gauge::Button) fit += 0.7 * (ligne_size(mm).confidence - 0.5);
  return fit;
}

/// Kinds of one gauge are not independent witnesses: their mean counts, and half as much that of the quarter that fits
/// worst (tiny parts fit several units, a buckle half a metre wide fits none).
double joint_fit(Gauge gauge, std::span<const Witness> witnesses, double mm) {
  std::vector<double> fits;
  for (const Witness& w : witnesses)
    if (w.gauge == gauge && w.length > 0) fits.push_back(gauge_fit(gauge, w.length * mm));
  if (fits.empty()) return 0;
  std::sort(fits.begin(), fits.end());
  const auto mean_of = [&](std::size_t count) {
    double sum = 0;
    for (std::size_t i = 0; i < count; ++i) sum += fits[i];
    return sum / static_cast<double>(count);
  };
  return kRanges[static_cast<std::size_t>(gauge)].weight *
         (mean_of(fits.size()) + 0.5 * mean_of((fits.size() + 3) / 4));
}

double score_at(double mm, const UnitEvidence& evidence) {
  double score = 0;
  if (evidence.diagonal > 0) score += garment_fit(evidence.diagonal * mm);
  if (evidence.cloth_spacing > 0) score += kSpacing.weight * log_fit(evidence.cloth_spacing * mm, kSpacing);
  if (evidence.panel_thickness > 0) score += kThickness.weight * log_fit(evidence.panel_thickness * mm, kThickness);
  for (std::size_t g = 0; g < kRanges.size(); ++g) score += joint_fit(static_cast<Gauge>(g), evidence.witnesses, mm);
  return score;
}

/// Doll's clothes made smaller as a whole, buttons and all, look like an adult's in another unit; so do a giant's.
struct Model {
  double scale, share;
};
constexpr std::array<Model, 5> kModels{{{1, 0.91}, {0.4, 0.03}, {0.25, 0.03}, {0.17, 0.02}, {3, 0.01}}};
constexpr std::size_t kGiant = 4;
using ModelScores = std::array<double, kModels.size()>;

ModelScores scores_of(const Candidate& candidate, const UnitEvidence& evidence) {
  ModelScores score{};
  for (std::size_t i = 0; i < kModels.size(); ++i)
    score[i] = std::log(candidate.prior * kModels[i].share) + score_at(candidate.mm / kModels[i].scale, evidence);
  return score;
}

double sum_of(const ModelScores& score) {
  const double most = *std::max_element(score.begin(), score.end());
  double sum = 0;
  for (const double s : score) sum += std::exp(s - most);
  return most + std::log(sum);
}

std::string format_mm(const std::string& what, double mm) { return what + phrase(" %.3g mm", {mm}); }

/// Median of the witnesses of one gauge, 0 without any.
double median_of(Gauge gauge, std::span<const Witness> witnesses) {
  std::vector<double> lengths;
  for (const Witness& w : witnesses)
    if (w.gauge == gauge && w.length > 0) lengths.push_back(w.length);
  if (lengths.empty()) return 0;
  const auto middle = lengths.begin() + static_cast<std::ptrdiff_t>(lengths.size() / 2);
  std::nth_element(lengths.begin(), middle, lengths.end());
  return *middle;
}

void add_reasons(const UnitEvidence& evidence, Unit& unit) {
  const double mm = unit.mm_per_unit;
  if (evidence.diagonal > 0) unit.reasons.push_back(format_mm("garment spans", evidence.diagonal * mm));
  if (evidence.cloth_spacing > 0) unit.reasons.push_back(format_mm("cloth spacing", evidence.cloth_spacing * mm));
  for (std::size_t g = 0; g < kRanges.size(); ++g) {
    const double length = median_of(static_cast<Gauge>(g), evidence.witnesses);
    if (length > 0) unit.reasons.push_back(format_mm(kRanges[g].words, length * mm));
  }
}

}  // namespace

std::optional<Unit> unit_named(const std::string& name) {
  for (const Candidate& c : kCandidates)
    if (name == c.name) return Unit{c.mm, c.name, 1.0, {}};
  return std::nullopt;
}

Unit deduce_unit(const UnitEvidence& evidence, std::vector<UnitChance>* chances) {
  std::array<double, kCandidates.size()> score{};
  std::array<ModelScores, kCandidates.size()> of_models{};
  for (std::size_t i = 0; i < kCandidates.size(); ++i) {
    of_models[i] = scores_of(kCandidates[i], evidence);
    score[i] = sum_of(of_models[i]);
  }
  const std::size_t best = static_cast<std::size_t>(std::max_element(score.begin(), score.end()) - score.begin());
  // The garment may be in no real unit at all.
  double total = std::exp(kNoUnit - score[best]);
  for (const double s : score) total += std::exp(s - score[best]);
  Unit unit{kCandidates[best].mm, kCandidates[best].name, 1.0 / total, {}};
  if (chances != nullptr)
    for (std::size_t i = 0; i < score.size(); ++i) {
      const double giant = std::exp(of_models[i][kGiant] - score[best]) / total;
      chances->push_back({kCandidates[i].mm, std::exp(score[i] - score[best]) / total - giant});
      chances->push_back({kCandidates[i].mm / kModels[kGiant].scale, giant});
    }
  add_reasons(evidence, unit);
  std::size_t second = best == 0 ? 1 : 0;
  for (std::size_t i = 0; i < score.size(); ++i)
    if (i != best && score[i] > score[second]) second = i;
  const double other = std::exp(score[second] - score[best]) / total;
  if (other >= 0.02) {
    unit.reasons.push_back(phrase("it could be " + std::string(kCandidates[second].name) + ", too (%.2g)", {other}));
  }
  return unit;
}

}  // namespace trimtack
