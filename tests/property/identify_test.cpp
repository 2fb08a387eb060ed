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

TEST_CASE("identify: faces given once more from the other side, as for hosts that show one side only, change nothing") {
  std::size_t components = 0, other = 0;
  for (std::uint64_t seed = 1; seed <= 12; ++seed) {
    const Garment garment = make_garment(seed);
    Garment doubled = garment;
    SourceMesh& mesh = doubled.mesh;
    mesh.face_offsets = {0};
    mesh.corner_position.clear();
    mesh.corner_texcoord.clear();
    mesh.corner_normal.clear();
    mesh.states.clear();
    doubled.piece_of_face.clear();
    for (Index f = 0; f < garment.mesh.face_count(); ++f) {
      const auto face = garment.mesh.face(f);
      mesh.corner_position.insert(mesh.corner_position.end(), face.begin(), face.end());
      mesh.face_offsets.push_back(static_cast<Index>(mesh.corner_position.size()));
      mesh.corner_position.insert(mesh.corner_position.end(), face.rbegin(), face.rend());
      mesh.face_offsets.push_back(static_cast<Index>(mesh.corner_position.size()));
      doubled.piece_of_face.insert(doubled.piece_of_face.end(), 2, garment.piece_of_face[f]);
    }
    Garment single = garment;
    single.mesh.corner_texcoord.clear();
    single.mesh.states.clear();
    Report report;
    const Result<Parts> once = identify(single.mesh, {}, report), twice = identify(mesh, {}, report);
    REQUIRE(once);
    REQUIRE(twice);
    REQUIRE(once->components.size() == twice->components.size());
    CHECK(once->unit.name == twice->unit.name);
    for (Index c = 0; c < once->components.size(); ++c) {
      const Component &a = once->components[c], &b = twice->components[c];
      ++components;
      if (a.role == b.role) continue;
      ++other;
      INFO("seed " << seed << ", component " << c << ": " << to_text(a.role) << " " << a.confidence << ", doubled "
                   << to_text(b.role) << " " << b.confidence << "; " << garment.story);
      CHECK((a.uncertain || b.uncertain));
    }
  }
  INFO(other << " of " << components);
  CHECK(other * 200 < components);
}
