// SPDX-License-Identifier: MIT
#include "support/garment_generator.hpp"

#include <algorithm>
#include <array>
#include <numbers>
#include <numeric>

#include "support/garment_maker.hpp"

namespace trimtack::testing {
namespace {

void shuffle(Random& random, std::vector<Index>& items) {
  for (std::size_t i = items.size(); i > 1; --i)
    std::swap(items[i - 1], items[static_cast<std::size_t>(random.pick(static_cast<int>(i)))]);
}

}  // namespace

Garment make_garment(std::uint64_t seed, const GarmentOptions& options) {
  GarmentMaker maker(seed, options);
  maker.sew();
  if (options.trims) maker.add_trims();
  return maker.write_out();
}

Garment disguised(const Garment& garment, std::uint64_t seed, const Disguise& what) {
  Random random(seed);
  Garment out = garment;
  SourceMesh& m = out.mesh;
  if (what.move) {
    const Mat3 r = random.rotation();
    const Vec3 t = (500.0 / garment.mm_per_unit) * random.direction();
    for (Vec3& p : m.positions) p = r * p + t;
  }
  if (what.unit) {
    constexpr std::array<double, 4> units{1, 10, 1000, 25.4};
    const double mm = units[static_cast<std::size_t>(random.pick(4))];
    const double scale = garment.mm_per_unit / mm;
    for (Vec3& p : m.positions) p = scale * p;
    out.mm_per_unit = mm;
  }
  if (what.no_names) {
    m.states.clear();
    m.objects.clear();
    m.groups.clear();
    m.materials.clear();
  }
  if (what.shuffle) {
    std::vector<Index> vertex(m.positions.size());
    std::iota(vertex.begin(), vertex.end(), Index{0});
    shuffle(random, vertex);
    std::vector<Vec3> positions(m.positions.size());
    for (std::size_t i = 0; i < vertex.size(); ++i) positions[vertex[i]] = m.positions[i];
    m.positions = std::move(positions);
    for (Index& v : m.corner_position) v = vertex[v];
    std::vector<Index> face(m.face_count());
    std::iota(face.begin(), face.end(), Index{0});
    shuffle(random, face);
    SourceMesh shuffled = m;
    shuffled.face_offsets.assign(1, 0);
    shuffled.corner_position.clear();
    shuffled.corner_texcoord.clear();
    std::vector<StateRun> states;
    for (std::size_t i = 0; i < face.size(); ++i) {
      const Index f = face[i];
      const Index n = m.face_offsets[f + 1] - m.face_offsets[f];
      const Index turn = static_cast<Index>(random.pick(static_cast<int>(n)));
      for (Index k = 0; k < n; ++k) {
        const Index c = m.face_offsets[f] + (k + turn) % n;
        shuffled.corner_position.push_back(m.corner_position[c]);
        if (!m.corner_texcoord.empty()) shuffled.corner_texcoord.push_back(m.corner_texcoord[c]);
      }
      shuffled.face_offsets.push_back(static_cast<Index>(shuffled.corner_position.size()));
      out.piece_of_face[i] = garment.piece_of_face[f];
      const FaceState state = state_of(garment.mesh, f);
      if (!what.no_names && (states.empty() || !(states.back().state == state)))
        states.push_back({static_cast<Index>(i), state});
    }
    shuffled.states = std::move(states);
    m = std::move(shuffled);
  }
  m.file = "disguised";
  return out;
}

}  // namespace trimtack::testing
