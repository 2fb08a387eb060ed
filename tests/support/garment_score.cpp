// SPDX-License-Identifier: MIT
#include "support/garment_score.hpp"

#include <algorithm>
#include <cstdio>
#include <map>
#include <set>
#include <utility>

namespace trimtack::testing {
namespace {

double pairs_of(double n) { return 0.5 * n * (n - 1); }

/// Pairwise counts from labels of the same items.
Pairs compare(const std::vector<std::pair<Index, Index>>& labels) {
  std::map<std::pair<Index, Index>, double> joint;
  std::map<Index, double> truth;
  std::map<Index, double> found;
  for (const auto& [t, f] : labels) {
    joint[{t, f}] += 1;
    truth[t] += 1;
    found[f] += 1;
  }
  Pairs p;
  double same_truth = 0;
  double same_found = 0;
  for (const auto& [key, n] : joint) p.both += pairs_of(n);
  for (const auto& [key, n] : truth) same_truth += pairs_of(n);
  for (const auto& [key, n] : found) same_found += pairs_of(n);
  p.only_true = same_truth - p.both;
  p.only_found = same_found - p.both;
  return p;
}

/// The trims that lie in several found ones, or share one with others.
std::string torn_or_fused(const std::vector<std::pair<Index, Index>>& labels,
                          const std::map<Index, std::string>& makeup) {
  std::map<Index, std::set<Index>> found_of;
  std::map<Index, std::set<Index>> truth_of;
  for (const auto& [truth, found] : labels) {
    found_of[truth].insert(found);
    truth_of[found].insert(truth);
  }
  std::string out;
  for (const auto& [truth, found] : found_of)
    if (found.size() > 1 || truth_of[*found.begin()].size() > 1) out += "; " + makeup.at(truth);
  return out;
}

}  // namespace

void Score::add(const Score& other) {
  components += other.components;
  wrong += other.wrong;
  silent += other.silent;
  uncertain += other.uncertain;
  large_panels_lost += other.large_panels_lost;
  for (auto [mine, theirs] : {std::pair{&trims, &other.trims}, std::pair{&prototypes, &other.prototypes}}) {
    mine->both += theirs->both;
    mine->only_found += theirs->only_found;
    mine->only_true += theirs->only_true;
  }
  for (std::size_t i = 0; i < bins.size(); ++i) {
    bins[i].confidence += other.bins[i].confidence;
    bins[i].count += other.bins[i].count;
    bins[i].right += other.bins[i].right;
  }
  faults.insert(faults.end(), other.faults.begin(), other.faults.end());
}

Score score(const Garment& garment, const Parts& parts) {
  Score out;
  const std::size_t n = parts.components.size();
  // The piece of each component; one that holds cloth counts as cloth.
  std::vector<Index> piece(n, kNone);
  for (std::size_t f = 0; f < parts.component_of_face.size(); ++f) {
    Index& p = piece[parts.component_of_face[f]];
    const Index q = garment.piece_of_face[f];
    if (p == kNone || (garment.pieces[q].role == Role::Cloth && garment.pieces[p].role != Role::Cloth)) p = q;
  }
  std::vector<std::pair<Index, Index>> together;
  std::map<Index, Index> found_trim;  // of each true trim
  std::map<Index, std::string> makeup;
  for (std::size_t c = 0; c < n; ++c) {
    const Component& part = parts.components[c];
    const TruePiece& truth = garment.pieces[piece[c]];
    ++out.components;
    const bool right = part.role == truth.role;
    Bin& bin = out.bins[static_cast<std::size_t>(std::clamp((part.confidence - 0.5) * 20, 0.0, 9.0))];
    bin.confidence += part.confidence;
    ++bin.count;
    bin.right += right ? 1 : 0;
    if (part.uncertain) ++out.uncertain;
    if (!right) {
      ++out.wrong;
      if (!part.uncertain) ++out.silent;
      double size = 0;
      for (const IndexRange& r : part.vertices)
        for (Index v = r.first; v < r.end; ++v)
          size = std::max(size, length(garment.mesh.positions[v] - garment.mesh.positions[part.vertices[0].first]));
      if (truth.role == Role::Cloth && size * garment.mm_per_unit > 100) ++out.large_panels_lost;
      std::array<char, 256> text{};
      std::snprintf(text.data(), text.size(), "seed %llu component %zu: %s taken for %s at %.2f%s",
                    static_cast<unsigned long long>(garment.seed), c, truth.kind.c_str(), to_text(part.role),
                    part.confidence, part.uncertain ? " (uncertain)" : "");
      std::string line = text.data();
      for (const std::string& r : part.reasons) line += "; " + r;
      out.faults.push_back(line);
    }
    if (truth.role == Role::Trim) {
      together.push_back({truth.trim, part.trim != kNone ? part.trim : 1000000000U + static_cast<Index>(c)});
      if (part.trim != kNone) found_trim.try_emplace(truth.trim, part.trim);
      makeup[truth.trim] += (makeup[truth.trim].empty() ? truth.kind + ":" : std::string()) + " " +
                            (part.trim == kNone ? "cloth" : std::to_string(part.trim));
    }
  }
  out.trims = compare(together);
  std::vector<std::pair<Index, Index>> copies;
  for (const auto& [truth, found] : found_trim) {
    const TrueTrim& t = garment.trims[truth];
    if (t.shape != kNone) copies.push_back({t.shape, parts.trims[found].prototype});
  }
  out.prototypes = compare(copies);
  for (auto [what, pairs] : {std::pair{"trims", &out.trims}, std::pair{"prototypes", &out.prototypes}})
    if (pairs->f1() < 0.999) {
      std::array<char, 160> text{};
      std::snprintf(text.data(), text.size(), "seed %llu: %s F1 %.3f (%.0f right, %.0f merged wrongly, %.0f missed)",
                    static_cast<unsigned long long>(garment.seed), what, pairs->f1(), pairs->both, pairs->only_found,
                    pairs->only_true);
      out.faults.push_back(text.data());
      if (pairs == &out.trims) out.faults.back() += torn_or_fused(together, makeup);
    }
  return out;
}

}  // namespace trimtack::testing
