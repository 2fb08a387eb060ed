// SPDX-License-Identifier: MIT
// Finding the parts, measured on made-up garments whose truth is known (support/garment_generator.hpp). A small number
// runs with every test; `identify_many` runs hundreds (TRIMTACK_FIRST_SEED gives others). Seeds are printed with every
// fault.
#include "trimtack/identify.hpp"

#include <catch2/catch.hpp>
#include <cstdio>
#include <cstdlib>

#include "support/garment_score.hpp"

using namespace trimtack;
using namespace trimtack::testing;

namespace {

int garments() {
  const char* count = std::getenv("TRIMTACK_GARMENTS");
  return count != nullptr ? std::max(1, std::atoi(count)) : 40;
}

int first_seed() {
  const char* seed = std::getenv("TRIMTACK_FIRST_SEED");
  return seed != nullptr ? std::atoi(seed) : 1;
}

/// The calibration table, when many garments were asked for.
void print_table(const Score& total) {
  if (std::getenv("TRIMTACK_GARMENTS") == nullptr) return;
  std::printf("%zu components, %zu wrong, %zu of them silently, %zu uncertain; trims F1 %.4f, prototypes F1 %.4f\n",
              total.components, total.wrong, total.silent, total.uncertain, total.trims.f1(), total.prototypes.f1());
  for (const Bin& bin : total.bins)
    if (bin.count > 0)
      std::printf("| %.2f | %zu | %.3f |\n", bin.confidence / static_cast<double>(bin.count), bin.count,
                  static_cast<double>(bin.right) / static_cast<double>(bin.count));
  for (const std::string& fault : total.faults) std::printf("%.600s\n", fault.c_str());
}

Score run(const Garment& garment, bool use_names = true) {
  Report report;
  IdentifyOptions options;
  options.use_names = use_names;
  const Result<Parts> parts = identify(garment.mesh, options, report);
  REQUIRE(parts);
  return score(garment, parts.value());
}

}  // namespace

TEST_CASE("identify: parts of made-up garments, no component silently wrong") {
  Score total;
  for (int seed = first_seed(); seed < first_seed() + garments(); ++seed) {
    const Garment garment = make_garment(static_cast<std::uint64_t>(seed));
    const Score one = run(garment);
    for (const std::string& fault : one.faults) UNSCOPED_INFO(garment.story << ": " << fault);
    total.add(one);
  }
  const double wrong = static_cast<double>(total.wrong) / static_cast<double>(total.components);
  print_table(total);
  CAPTURE(total.components, total.wrong, total.silent, total.uncertain);
  CHECK(wrong <= 0.005);
  CHECK(total.silent == 0);
  CHECK(total.large_panels_lost == 0);
  CHECK(total.trims.f1() >= 0.99);
  CHECK(total.prototypes.f1() >= 0.99);
}

TEST_CASE("identify: a garment without trims is all cloth") {
  GarmentOptions plain;
  plain.trims = false;
  for (std::uint64_t seed = 500; seed < 510; ++seed) {
    const Score one = run(make_garment(seed, plain));
    CAPTURE(seed, one.faults);
    CHECK(one.silent == 0);
  }
}

TEST_CASE("identify: the same answers after moving, another unit, renumbering, and without names") {
  for (std::uint64_t seed = 700; seed < 712; ++seed) {
    const Garment plain = make_garment(seed);
    const Garment other = disguised(plain, seed + 1);
    Report report;
    IdentifyOptions options;
    options.use_names = false;
    const Result<Parts> a = identify(plain.mesh, options, report);
    const Result<Parts> b = identify(other.mesh, {}, report);
    REQUIRE(a);
    REQUIRE(b);
    // Roles by the truth's pieces, since component numbers differ.
    std::vector<std::array<Index, 2>> component(plain.pieces.size(), {kNone, kNone});
    for (std::size_t f = 0; f < plain.piece_of_face.size(); ++f)
      component[plain.piece_of_face[f]][0] = a->component_of_face[f];
    for (std::size_t f = 0; f < other.piece_of_face.size(); ++f)
      component[other.piece_of_face[f]][1] = b->component_of_face[f];
    std::size_t different = 0;
    std::size_t unsure = 0;  // may fall on either side
    for (const auto& [p, q] : component) {
      const Component& x = a->components[p];
      const Component& y = b->components[q];
      if (x.role != y.role && !x.uncertain && !y.uncertain) ++different;
      if (x.uncertain || y.uncertain) ++unsure;
    }
    CAPTURE(seed, plain.story);
    CHECK(different == 0);
    CHECK(a->trims.size() <= b->trims.size() + unsure);
    CHECK(b->trims.size() <= a->trims.size() + unsure);
  }
}
